#include "board/guard.h"

#include <avr/io.h>
#include <avr/wdt.h>

/* Not cleared by the C start-up code, which runs after save_flags. */
static uint8_t flags __attribute__((section(".noinit")));

void save_flags(void) __attribute__((naked, used, section(".init3")));

/* Before the C start-up code: a watchdog that has bitten stays on, with its shortest time. */
void save_flags(void) {
    flags = MCUSR;
#ifdef BOARD_CAUSE_IN_R2
    uint8_t copy;
    __asm__ volatile("mov %0, r2" : "=r"(copy));
    if (flags == 0)
        flags = copy;
#endif
    MCUSR = 0;
    wdt_disable();
}

/* Several flags may stand: a power-on sets others too, so that the order matters. */
const char *guard_cause(void) {
    if (flags & 1 << PORF)
        return "power";
    if (flags & 1 << BORF)
        return "brownout";
    if (flags & 1 << WDRF)
        return "watchdog";
    if (flags & 1 << EXTRF)
        return "reset";
    return "unknown";
}

void guard_init(void) {
    wdt_enable(WDTO_500MS);
}

void guard_alive(void) {
    wdt_reset();
}
