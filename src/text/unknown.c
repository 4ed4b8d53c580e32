#include "text/unknown.h"

#include <stdio.h>

static const char no_reports[] = "no report came";
static const char one_report[] = "one report only";
static const char no_packet[] = "no packet was received";

static const char *link_time(const struct snapshot *s) {
    return s->link_ms == TIME_UNKNOWN ? "t" : NULL;
}

/* Packets are counted from one report to the next; got alone, against the packet rate. */
static const char *got(const struct snapshot *s) {
    if (s->evidence != EVIDENCE_NONE || s->total.got > 0)
        return NULL;
    if (s->reports < 2)
        return one_report;
    return s->got_told ? "rate" : "got";
}

static const char *lost(const struct snapshot *s) {
    if (s->total.known && s->total.got + s->total.lost + s->lost_estimated > 0)
        return NULL;
    if (s->lost_why)
        return s->lost_why;
    if (s->reports < 2)
        return one_report;
    return s->total.known ? no_packet : "lost";
}

static const char *refused(const struct snapshot *s) {
    return s->refused_known ? NULL : "refused";
}

static const char *missing_lines(const struct snapshot *s) {
    return s->missing_known ? NULL : "n";
}

static const char *outages(const struct snapshot *s) {
    if (s->longest_gap_ms != TIME_UNKNOWN)
        return NULL;
    if (link_time(s))
        return link_time(s);
    if (got(s))
        return got(s);
    return s->heard ? "age" : no_packet;
}

static const char *receiver_restarts(const struct snapshot *s) {
    /* Boot lines tell of restarts too, but only those that weren't lost. */
    return s->uptime_ms == TIME_UNKNOWN && !s->missing_known ? "t" : NULL;
}

static const char *transmitter_restarts(const struct snapshot *s) {
    return s->transmitter_restarts_known ? NULL : "tboot";
}

static const char *failsafe(const struct snapshot *s) {
    return s->failsafe_known ? NULL : "fs";
}

static const char *supply(const struct snapshot *s) {
    return s->supply_known ? NULL : "mv";
}

static const char *supply_low(const struct snapshot *s) {
    return s->supply_min_known ? NULL : "mvmin";
}

static const char *transmitter_supply(const struct snapshot *s) {
    return s->transmitter_supply_known ? NULL : "tmv";
}

static const char *step(const struct snapshot *s) {
    return s->step_known ? NULL : "tstep";
}

static const char *rssi(const struct snapshot *s) {
    return s->rssi_known ? NULL : "rssi";
}

static const char *registers(const struct snapshot *s) {
    return s->registers_known ? NULL : "reg";
}

static const char *load(const struct snapshot *s) {
    if (s->load_peak >= 0)
        return NULL;
    return s->speed == 0 ? "the speed of the port" : "ten seconds of reports";
}

double figures_changes_hz(const struct snapshot *s, const struct channel_state *c) {
    if (s->link_ms == TIME_UNKNOWN || s->link_ms < 1000)
        return -1;
    return (double)c->changes * 1000.0 / (double)s->link_ms;
}

typedef const char *why(const struct snapshot *s);

static why *const whys[FIGURES] = {
    [FIGURE_LINK_TIME] = link_time,
    [FIGURE_GOT] = got,
    [FIGURE_LOST] = lost,
    [FIGURE_REFUSED] = refused,
    [FIGURE_MISSING_LINES] = missing_lines,
    [FIGURE_OUTAGES] = outages,
    [FIGURE_RECEIVER_RESTARTS] = receiver_restarts,
    [FIGURE_TRANSMITTER_RESTARTS] = transmitter_restarts,
    [FIGURE_FAILSAFE] = failsafe,
    [FIGURE_SUPPLY] = supply,
    [FIGURE_SUPPLY_LOW] = supply_low,
    [FIGURE_TRANSMITTER_SUPPLY] = transmitter_supply,
    [FIGURE_STEP] = step,
    [FIGURE_RSSI] = rssi,
    [FIGURE_REGISTERS] = registers,
    [FIGURE_LOAD] = load,
};

const char *unknown_why(const struct snapshot *s, enum figure figure) {
    return s->reports == 0 ? no_reports : whys[figure](s);
}

/* Damage that only the values show. */
bool unknown_damage(char *out, size_t size, const struct snapshot *s) {
    const uint64_t *damaged = s->damaged;
    uint64_t seen = damaged[DAMAGE_BAD_NUMBER] + damaged[DAMAGE_RANGE] + damaged[DAMAGE_COUNTERS];
    if (seen == 0 || damaged[DAMAGE_BAD_CHECKSUM] + damaged[DAMAGE_NO_CHECKSUM] > 0)
        return false;
    snprintf(out, size,
             "%llu damaged %s left out because %s values are wrong or contradict the lines around. "
             "Where a line has no checksum, a wrong digit that contradicts nothing can't be seen.",
             (unsigned long long)seen, seen == 1 ? "line was" : "lines were",
             seen == 1 ? "its" : "their");
    return true;
}
