/* The facts under the loss: supply, transmitter, lines, radio, restarts, failsafe. */
#include <inttypes.h>
#include <stdio.h>

#include "view/figure.h"
#include "view/lay.h"
#include "view/parts.h"

/* One labelled fact; the longer wording where there is room for it. */
struct fact {
    const char *label;
    enum tone tone;
    char full[192], brief[128];
};

static void fact_supply(struct fact *f, const struct snapshot *s) {
    f->label = "supply";
    if (!s->supply_known && !s->supply_min_known) {
        f->tone = TONE_FAINT;
        snprintf(f->full, sizeof f->full, "unknown: lines carry no mv");
        return;
    }
    const char *low = s->alarm[ALARM_SUPPLY] ? " LOW" : "";
    f->tone = s->alarm[ALARM_SUPPLY] ? TONE_TROUBLE : TONE_PLAIN;
    double now = s->supply_mv / 1e3, least = s->supply_low_mv / 1e3;
    if (!s->supply_known) {
        snprintf(f->full, sizeof f->full, "lowest %.2f V%s, now ? (no mv)", least, low);
    } else if (s->supply_min_known) {
        snprintf(f->full, sizeof f->full, "%.2f V%s, lowest %.2f V", now, low, least);
    } else {
        snprintf(f->full, sizeof f->full, "%.2f V%s, lowest %.2f V, dips ? (no mvmin)", now, low,
                 least);
        snprintf(f->brief, sizeof f->brief, "%.2f V%s, lowest %.2f, dips ?", now, low, least);
    }
}

static void fact_transmitter(struct fact *f, const struct snapshot *s) {
    f->label = "transmitter";
    if (!s->transmitter_supply_known && !s->step_known) {
        f->tone = TONE_FAINT;
        snprintf(f->full, sizeof f->full, "unknown: no tmv or tstep");
        return;
    }
    char volts[32] = "supply ?", low[32] = "", power[32] = "power ?";
    if (s->transmitter_supply_known) {
        snprintf(volts, sizeof volts, "%.2f V", s->transmitter_mv / 1e3);
        snprintf(low, sizeof low, ", lowest %.2f V", s->transmitter_low_mv / 1e3);
    }
    if (s->step_known) {
        snprintf(power, sizeof power, "power %" PRIu32 "/%" PRIu32, s->step, s->steps);
    }
    f->tone = s->step_known && s->step < s->full_step ? TONE_CAUTION : TONE_PLAIN;
    snprintf(f->full, sizeof f->full, "%s%s, %s", volts, low, power);
    snprintf(f->brief, sizeof f->brief, "%s, %s", volts, power);
}

static void fact_lines(struct fact *f, const struct snapshot *s) {
    char missing[32] = "missing ?", bad[32];
    if (s->missing_known) {
        snprintf(missing, sizeof missing, "%" PRIu64 " missing", s->lines_missing);
    }
    f->label = "lines";
    f->tone = s->lines_damaged + s->lines_missing > s->lines_good / 50 ? TONE_CAUTION : TONE_PLAIN;
    snprintf(bad, sizeof bad, "%" PRIu64, s->lines_damaged);
    snprintf(f->full, sizeof f->full, "%" PRIu64 " good, %s damaged, %s%s", s->lines_good, bad,
             missing, s->missing_known ? "" : " (no n)");
    snprintf(f->brief, sizeof f->brief, "%" PRIu64 " good, %s bad, %s", s->lines_good, bad,
             missing);
}

static void fact_radio(struct fact *f, const struct snapshot *s) {
    static const char *const words[] = {
        [REGISTERS_OK] = "registers ok",
        [REGISTERS_DEFAULT] = "registers FORGOTTEN",
        [REGISTERS_ABSENT] = "chip ABSENT",
        [REGISTERS_DIFFER] = "registers DIFFER",
    };
    f->label = "radio";
    if (!s->registers_known && !s->rssi_known) {
        f->tone = TONE_FAINT;
        snprintf(f->full, sizeof f->full, "unknown: no reg or rssi");
        return;
    }
    const char *word = s->registers_known ? words[s->registers] : "registers ? (no reg)";
    char rssi[32] = "", noise[48] = "";
    if (s->rssi_known) {
        snprintf(rssi, sizeof rssi, ", %" PRId32 " dBm", s->rssi_dbm);
    }
    if (s->noise_known) {
        snprintf(noise, sizeof noise, ", noise %" PRIu64 "/%" PRIu64, s->noise_hits,
                 s->noise_looks);
    }
    f->tone = s->registers_known && s->registers != REGISTERS_OK ? TONE_TROUBLE : TONE_PLAIN;
    snprintf(f->full, sizeof f->full, "%s%s%s", word, rssi, noise);
    snprintf(f->brief, sizeof f->brief, "%s%s", word, rssi);
}

static void fact_restarts(struct fact *f, const struct snapshot *s) {
    char sender[32] = "?", ours[40] = "";
    if (s->transmitter_restarts_known) {
        snprintf(sender, sizeof sender, "%" PRIu64, s->transmitter_restarts);
    }
    if (s->opening_restarts > 0) {
        snprintf(ours, sizeof ours, " (+%" PRIu64 " by opening)", s->opening_restarts);
    }
    f->label = "restarts";
    f->tone = s->alarm[ALARM_RECEIVER_RESTART] || s->alarm[ALARM_TRANSMITTER_RESTART] ? TONE_TROUBLE
                                                                                      : TONE_PLAIN;
    snprintf(f->full, sizeof f->full, "receiver %" PRIu64 "%s, transmitter %s",
             s->receiver_restarts, ours, sender);
    snprintf(f->brief, sizeof f->brief, "receiver %" PRIu64 ", transmitter %s",
             s->receiver_restarts, sender);
}

/* The newest failsafe's length as the pair that the reports allow; empty where nobody saw it. */
static void failsafe_length(char *out, size_t size, const struct snapshot *s) {
    out[0] = '\0';
    if (s->failsafe_count == 0) {
        return;
    }
    const struct failsafe_event *e = &s->failsafe_events[s->failsafe_count - 1];
    if (e->unseen || e->enter.low_ms == TIME_UNKNOWN || e->enter.high_ms == TIME_UNKNOWN) {
        return;
    }
    if (s->failsafe && s->now_ms != TIME_UNKNOWN) {
        char span[FIGURE_MAX];
        figure_span(span, s->now_ms - e->enter.high_ms);
        snprintf(out, size, ", now for %s", span);
    } else if (e->leave.low_ms != TIME_UNKNOWN && e->leave.high_ms != TIME_UNKNOWN) {
        snprintf(out, size, ", last %.2f-%.2f s",
                 (double)(e->leave.low_ms - e->enter.high_ms) / 1e3,
                 (double)(e->leave.high_ms - e->enter.low_ms) / 1e3);
    }
}

static void fact_failsafe(struct fact *f, const struct snapshot *s) {
    f->label = "failsafe";
    if (!s->failsafe_known) {
        f->tone = TONE_FAINT;
        snprintf(f->full, sizeof f->full, "unknown: lines carry no fs");
        return;
    }
    char last[FIGURE_MAX + 16], times[32] = "never";
    failsafe_length(last, sizeof last, s);
    if (s->failsafe_entries > 0) {
        snprintf(times, sizeof times, "%" PRIu64 "x", s->failsafe_entries);
    }
    f->tone = s->failsafe ? TONE_TROUBLE : TONE_PLAIN;
    if (s->failsafe && s->failsafe_entries == 0) {
        snprintf(f->full, sizeof f->full, "ON since the start");
    } else {
        snprintf(f->full, sizeof f->full, "%s%s%s", s->failsafe ? "ON, " : "", times, last);
    }
}

typedef void fact_write(struct fact *f, const struct snapshot *s);

int facts_draw(struct grid *g, const struct snapshot *s, struct place at) {
    static fact_write *const facts[] = {fact_supply, fact_transmitter, fact_lines,
                                        fact_radio,  fact_restarts,    fact_failsafe};
    enum { FACTS = sizeof facts / sizeof facts[0], LABEL = 12 };
    int across = at.columns >= WIDE ? 3 : 2;
    int width = at.columns / across;
    for (int i = 0; i < FACTS; i++) {
        struct fact f = {0};
        facts[i](&f, s);
        int left = i % across == 0;
        int column = at.column + i % across * width + (across == 2 && !left ? 1 : 0);
        int label = across == 2 && left ? 9 : LABEL;
        int right = i % across == across - 1 ? at.column + at.columns : column + width;
        const char *text =
            f.brief[0] != '\0' && grid_columns_of(f.full) > right - column - label - 1 ? f.brief
                                                                                       : f.full;
        lay_text(g, at.row + i / across, column, right, TONE_HEADING, f.label);
        lay_text(g, at.row + i / across, column + label, right, f.tone, text);
    }
    return FACTS / across;
}

void supply_draw(struct grid *g, const struct snapshot *s, int row, int column, int right) {
    struct fact f = {0};
    fact_supply(&f, s);
    lay_text(g, row, column, right, TONE_HEADING, f.label);
    lay_text(g, row, column + 10, right, f.tone, f.full);
}
