/* Why the controller started, and the watchdog that starts it again when the program hangs. */
#ifndef BOARD_GUARD_H
#define BOARD_GUARD_H

#include <stdint.h>

/* "power", "reset", "brownout", "watchdog" or "unknown".  Many boot loaders clear the flags before
 * this program runs: then it is unknown.  Newer ones leave a copy in register r2:
 * -DBOARD_CAUSE_IN_R2 takes it from there where the flags are gone. */
const char *guard_cause(void);

/* Half a second without guard_alive restarts the controller. */
void guard_init(void);
void guard_alive(void);

#endif
