/* Eight servo pulses, one after the other, a frame every 20 ms, by Timer1 at 16 MHz.
 *
 * An interrupt arrives SERVO_EARLY ticks before an edge, reads the timer, and waits the exact
 * number of cycles that are left; both ports are then written by one instruction each.  A pulse's
 * width is therefore exact to the cycle (62.5 ns) whatever else goes on, as long as no other
 * interrupt holds the processor for longer than SERVO_EARLY leaves; nothing in these firmwares
 * disables interrupts.
 */
#ifndef BOARD_SERVO_H
#define BOARD_SERVO_H

#include <stdint.h>

#define SERVO_EARLY    240 /* ticks: 15 us */
#define SERVO_LOWEST   500 /* microseconds; eight of the longest leave 2.4 ms of the frame */
#define SERVO_HIGHEST  2200
#define SERVO_FRAME_US 20000

/* Call servo_set before: the first frame begins 2 ms later. */
void servo_init(void);

/* Widths of channels 1 to 8 from the next frame on, microseconds; PRESET_OFF (uplink.h), or
 * anything below SERVO_LOWEST, for no pulse. */
void servo_set(const uint16_t *us);

/* Edges that came late, since another interrupt held the processor too long.  Stops at 255. */
uint8_t servo_late(void);

#endif
