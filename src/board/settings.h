/* What both ends must agree on, and the receiver's safe values.  Change the owner, the address and
 * the frequency before you use it: whoever keeps them as they are shares them with every other
 * builder who did.  Each can also be given to the compiler, as -DBOARD_RF_CH=26.
 */
#ifndef BOARD_SETTINGS_H
#define BOARD_SETTINGS_H

/* Carrier 2400 + RF_CH MHz.  Stay within 1 to 82 and within your local rules. */
#ifndef BOARD_RF_CH
#define BOARD_RF_CH 78
#endif

/* In the order on the air; the chip's registers take them the other way round. */
#ifndef BOARD_ADDRESS
#define BOARD_ADDRESS 0xB3, 0x1D, 0x76, 0xC4, 0x5A
#endif

/* Carried in each packet: one that has another number is refused. */
#ifndef BOARD_OWNER
#define BOARD_OWNER 0x7A19u
#endif

/* 250, 1000 or 2000 kbit/s.  250 reaches furthest. */
#ifndef BOARD_KBPS
#define BOARD_KBPS 250
#endif

/* Packets a second; the transmitter's timer makes them. */
#define BOARD_RATE 50

/* Safe values, channels 1 to 8: microseconds, or PRESET_HOLD, or PRESET_OFF for no pulses. */
#ifndef BOARD_PRESETS
#define BOARD_PRESETS 1500, 1500, 1000, 1500, 1500, 1500, 1000, 1000
#endif

#define BOARD_THROTTLE    3    /* channel, from 1; low is 1000 */
#define BOARD_LOW_US      1050 /* the throttle is low up to here */
#define BOARD_LOW_PACKETS 5    /* so many low ones in a row release it */
#define BOARD_HOLD_MS     500  /* outage until failsafe */

/* Milliseconds between reports, and between id lines. */
#ifndef BOARD_REPORT_MS
#define BOARD_REPORT_MS 50
#endif
#define BOARD_ID_MS 5000

/* Transmitter: ADC counts (0 to 1023) at the low end, at rest and at the high end, channels 1 to 6
 * in turn; low above high reverses the stick. */
#ifndef BOARD_STICKS
#define BOARD_STICKS                                                                               \
    0, 512, 1023, 0, 512, 1023, 0, 512, 1023, 0, 512, 1023, 0, 512, 1023, 0, 512, 1023
#endif

/* The band gap: 1100 mV +-9 %.  Compare mv with a meter once, and put here 1100 * meter / mv. */
#ifndef BOARD_BANDGAP_MV
#define BOARD_BANDGAP_MV 1100
#endif

#endif
