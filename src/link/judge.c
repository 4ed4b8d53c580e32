/* State word and alarms. */
#include "link/parts.h"

#include "base/whole.h"

static const struct slice no_text = {"", 0};

enum {
    SPAN_MS = 10000,
    THIN_PACKETS = 50,    /* fewer in 10 s say nothing of thinness */
    FIVE_VOLT_MV = 4500,  /* a rail above it is a 5 V one, */
    FIVE_VOLT_LOW = 4000, /* and a 16 MHz board on it is out of its range well before brown-out
                             (common practice) */
    SUPPLY_BACK_MV = 150,
};

int32_t bench_supply_limit(const struct bench *b) {
    if (b->limits.supply_low_mv > 0)
        return b->limits.supply_low_mv;
    return b->supply_high_mv > FIVE_VOLT_MV ? FIVE_VOLT_LOW : 0;
}

/* The newest report does. */
static bool tells_of_packets(const struct bench *b) {
    const uint32_t keys = 1u << KEY_GOT | 1u << KEY_PAT | 1u << KEY_SEQ | 1u << KEY_AGE;
    return (b->last.has & keys) != 0;
}

bool bench_reports_come(const struct bench *b) {
    return b->have_report && !b->port_away && !b->lines_gone && !b->reports_gone;
}

bool bench_sees_packets(const struct bench *b) {
    return bench_reports_come(b) && b->heard_boot && !b->outage.open;
}

enum link_state bench_state(const struct bench *b) {
    if (b->lines_gone || b->port_away || b->lines.good == 0)
        return STATE_NO_LINES;
    if (!b->have_report)
        return STATE_UNKNOWN;
    if (b->reports_gone)
        return STATE_NO_REPORTS;
    if (!b->heard_boot && tells_of_packets(b))
        return STATE_NEVER_HEARD;
    if (b->failsafe.known && b->failsafe.active)
        return STATE_FAILSAFE;
    if (b->outage.open)
        return STATE_OUTAGE;
    if (b->lock_known && b->locked)
        return STATE_LOCKED;
    if (!tells_of_packets(b))
        return STATE_UNKNOWN;
    return b->lossy ? STATE_LOSSY : STATE_LINKED;
}

static void set(struct bench *b, enum alarm alarm, bool cause, bool calm, int64_t now_ms,
                int64_t hold_ms) {
    if (!cause && !b->alarms.state[alarm].raised)
        return; /* as nearly always */
    int change = alarms_set(&b->alarms, alarm, cause, calm, now_ms, hold_ms);
    if (change != 0)
        bench_happen(b, LOG_ENTRY_ALARM, b->alarms.state[alarm].changed_ms, alarm, change > 0,
                     no_text);
}

/* Loss over 10 s: lossy above the limit, no longer lossy below half of it, which takes packets:
 * that lost ones leave the 10 s while none comes says nothing. */
static void judge_loss(struct bench *b, int64_t now_ms) {
    const struct window_ten *ten = &b->window.ten;
    double packets = (double)(ten->got + ten->lost);
    double loss = packets > 0 ? (double)ten->lost / packets : 0;
    bool enough = packets >= THIN_PACKETS && bench_sees_packets(b);
    bool cause = enough && loss > b->limits.lossy_share;
    bool calm = enough && loss < b->limits.lossy_share / 2;
    b->lossy = cause || (b->lossy && !calm);
    set(b, ALARM_LOSS, cause, calm, now_ms, ALARM_CLEAR_MS);
}

/* A receiver that prints more than seven tenths of what its line can carry soon waits for it. */
static void judge_load(struct bench *b, int64_t now_ms) {
    static const double full = 0.7;
    if (b->speed == 0 || window_covered(&b->window, SPAN_MS) < SPAN_MS)
        return;
    double load =
        (double)b->window.ten.bytes * 10.0 / (SPAN_MS / 1000.0) / b->speed; /* ten bits a byte */
    if (load > b->load_peak)
        b->load_peak = load;
    if (load > full && !b->load_told)
        bench_happen(b, LOG_ENTRY_CROWDED, now_ms, whole_i64(load * 100 + 0.5), b->speed, no_text);
    b->load_told = load > full || (b->load_told && load > full - 0.1);
}

static void judge_supply(struct bench *b, int64_t now_ms) {
    int32_t limit = bench_supply_limit(b);
    int32_t low = b->report_low_mv;
    bool known = b->report_low_known && limit > 0;
    set(b, ALARM_SUPPLY, known && low < limit, known && low > limit + SUPPLY_BACK_MV, now_ms,
        ALARM_CLEAR_MS);
}

void bench_judge(struct bench *b, int64_t now_ms) {
    if (bench_reports_come(b)) { /* what was last told of the link stands while nothing is told */
        if (b->window.begin_ms != TIME_UNKNOWN && b->window.head != b->judged_cell) {
            b->judged_cell = b->window.head;
            judge_loss(b, now_ms);
            judge_load(b, now_ms);
        }
        judge_supply(b, now_ms);
        bool failsafe = b->failsafe.known && b->failsafe.active && b->heard_boot;
        set(b, ALARM_FAILSAFE, failsafe, true, now_ms, ALARM_CLEAR_MS);
        set(b, ALARM_OUTAGE, b->outage.open, true, now_ms, ALARM_CLEAR_MS);
        set(b, ALARM_RADIO, b->registers_known && b->registers != REGISTERS_OK, true, now_ms,
            ALARM_CLEAR_MS);
    }
    set(b, ALARM_RECEIVER_RESTART, false, true, now_ms, ALARM_EVENT_MS);
    set(b, ALARM_TRANSMITTER_RESTART, false, true, now_ms, ALARM_EVENT_MS);
    set(b, ALARM_NO_LINES, b->lines_gone && !b->port_away, true, now_ms, 0);
    /* Where the lines are gone too, that says it. */
    bool raised = b->alarms.state[ALARM_NO_REPORTS].raised;
    set(b, ALARM_NO_REPORTS, b->reports_gone && !b->port_away && (raised || !b->lines_gone), true,
        now_ms, 0);
    set(b, ALARM_PORT, b->port_away, true, now_ms, 0);
}
