/* What a report says beside packets and channels. */
#include "link/parts.h"

static const struct slice no_text = {"", 0};

static void take_lock(struct bench *b, const struct report *r, int64_t link_ms) {
    if (!report_has(r, KEY_LOCK))
        return;
    bool locked = r->lock != 0;
    if (b->lock_known && locked != b->locked)
        bench_happen(b, locked ? LOG_ENTRY_LOCKED : LOG_ENTRY_UNLOCKED, link_ms, 0, 0, no_text);
    b->lock_known = true;
    b->locked = locked;
}

/* A dip is a minimum well below the slow mean: 0.4 V, a tenth of the usual rail and far above what
 * the converter's steps make. */
static void find_dip(struct bench *b, int32_t low, int64_t link_ms) {
    enum { DIP_MV = 400, OVER_MV = 200 };
    int32_t mean = (int32_t)(b->supply_mean_16 / 16);
    if (!b->dip_open && low < mean - DIP_MV) {
        b->dip_open = true;
        bench_happen(b, LOG_ENTRY_SUPPLY_DIP, link_ms, low, 0, no_text);
    } else if (b->dip_open && low > mean - OVER_MV) {
        b->dip_open = false;
    }
}

static void take_supply(struct bench *b, const struct report *r, int64_t link_ms) {
    int32_t low, high;
    b->report_low_known = report_supply(r, &low, &high);
    if (!b->report_low_known)
        return;
    b->report_low_mv = low;
    if (!b->supply_low_known)
        b->supply_mean_16 = (int64_t)high * 16;
    b->supply_mean_16 += (int64_t)high - b->supply_mean_16 / 16;
    if (!b->supply_low_known || low < b->supply_low_mv) {
        b->supply_low_mv = low;
        b->supply_low_at_ms = link_ms;
    }
    if (high > b->supply_high_mv)
        b->supply_high_mv = high;
    find_dip(b, low, link_ms);
    b->supply_low_known = true;
    b->supply_min_known = b->supply_min_known || report_has(r, KEY_MVMIN);
    if (report_has(r, KEY_MV)) {
        b->supply_known = true;
        b->supply_mv = (int32_t)(r->mv < INT32_MAX ? r->mv : INT32_MAX);
    }
}

uint32_t bench_full_step(const struct bench *b, uint32_t steps) {
    return b->limits.transmit_steps_full > 0 ? (uint32_t)b->limits.transmit_steps_full : steps;
}

static void take_transmitter(struct bench *b, const struct report *r, int64_t link_ms) {
    if (report_has(r, KEY_TMV)) {
        b->transmitter_mv = (int32_t)r->tmv;
        if (!b->transmitter_supply_known || b->transmitter_mv < b->transmitter_low_mv)
            b->transmitter_low_mv = b->transmitter_mv;
        b->transmitter_supply_known = true;
    }
    if (report_has(r, KEY_TSTEP)) {
        uint32_t full = bench_full_step(b, r->tsteps);
        if (!b->step_known || b->step != r->tstep || b->steps != r->tsteps)
            bench_happen(b, LOG_ENTRY_POWER_STEP, link_ms, r->tstep, r->tsteps,
                         slice_of(r->tstep < full ? "reduced" : ""));
        b->step_known = true;
        b->step = r->tstep;
        b->steps = r->tsteps;
    }
}

/* How far a counter grew.  One that went back began anew in a restart that no other key told. */
static uint32_t grown(uint32_t now, uint32_t before) {
    return now >= before ? now - before : now;
}

static void take_registers(struct bench *b, const struct report *r, int64_t link_ms) {
    if (report_has(r, KEY_REG)) {
        if (b->registers_known ? b->registers != r->reg : r->reg != REGISTERS_OK)
            bench_happen(b, LOG_ENTRY_REGISTERS, link_ms, r->reg, 0, no_text);
        bool forgot = r->reg == REGISTERS_DEFAULT;
        bool before = b->registers_known && b->registers == REGISTERS_DEFAULT;
        if (forgot && !before && b->have_report && !b->fresh_boot) {
            b->settings_lost++;
            b->moment.radio_forgot = true;
            bench_restarted(b, RESTART_RADIO, BOOT_UNKNOWN, link_ms);
        }
        b->registers_known = true;
        b->registers = r->reg;
        b->registers_forgotten += r->reg == REGISTERS_DEFAULT;
    }
    if (report_has(r, KEY_REINIT)) {
        uint32_t fresh = b->reinit_based ? grown(r->reinit, b->reinit_base) : 0;
        if (fresh > 0)
            bench_happen(b, LOG_ENTRY_REINIT, link_ms, fresh, 0, no_text);
        b->reinit_base = r->reinit;
        b->reinit_based = true;
    }
}

void bench_take_refused(struct bench *b, const struct report *r) {
    b->refused += b->refused_based ? grown(r->refused, b->refused_base) : 0;
    b->refused_base = r->refused;
    b->refused_based = b->refused_known = true;
}

void bench_take_radio(struct bench *b, const struct report *r, int64_t link_ms) {
    struct window_cell *cell = window_at(&b->window, link_ms == TIME_UNKNOWN ? 0 : link_ms);
    take_lock(b, r, link_ms);
    take_supply(b, r, link_ms);
    take_transmitter(b, r, link_ms);
    take_registers(b, r, link_ms);
    if (report_has(r, KEY_REFUSED))
        bench_take_refused(b, r);
    if (report_has(r, KEY_RSSI)) {
        b->rssi_known = true;
        b->rssi_dbm = r->rssi_dbm;
    }
    if (report_has(r, KEY_HEARD)) {
        cell->heard_hits += r->heard_hits;
        cell->heard_looks += r->heard_looks;
    }
    if (report_has(r, KEY_NOISE)) {
        cell->noise_hits += r->noise_hits;
        cell->noise_looks += r->noise_looks;
    }
}
