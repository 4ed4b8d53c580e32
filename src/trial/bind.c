/* The bind trial: does a link come about at all, is it this transmitter's, and if not, why? */
#include <stdio.h>

#include "base/text.h"
#include "judge/bind_parts.h"
#include "trial/kinds.h"

static const struct trial_step steps[BIND_STEPS] = {
    [BIND_CAUTION] =
        {.name = "caution",
         .say = "The transmitter will be switched on, off and on again, first 2 m\n"
                "away, then 5 m. Only the transmitter: the receiver stays on.",
         .caution = "Propeller off or wheels up: failsafe may be unproven, and then the motor\n"
                    "runs on. Antennas on both ends before power. Strong modules never nearer\n"
                    "than 0.3 m; local rules for power and frequency hold here too.",
         .ask = ASK_YES},
    [BIND_LOOK] = {.name = "look",
                   .say = "Touch nothing for a moment: what comes on the cable?",
                   .ask = ASK_NOTHING,
                   .waits = "lines of the receiver",
                   .least_s = 4,
                   .most_s = 12},
    [BIND_ON] = {.name = "on",
                 .say = "Switch the transmitter on, 2 m away, throttle low. Then press Enter.",
                 .ask = ASK_READY,
                 .waits = "packets, or Enter"},
    [BIND_OFF] = {.name = "off",
                  .say = "Switch the transmitter off, really off. Then press Enter.",
                  .caution = "Another sender may drive the model now: propeller off, model held.",
                  .ask = ASK_READY,
                  .waits = "no more packets, or Enter"},
    [BIND_AGAIN] = {.name = "again",
                    .say = "Switch the transmitter on again, at the same place. Then press Enter.",
                    .ask = ASK_READY,
                    .waits = "packets, or Enter"},
    [BIND_NEAR] = {.name = "near",
                   .say =
                       "Nothing came at 2 m. Hold the transmitter half a metre away, then Enter.",
                   .caution =
                       "Strong modules at their lowest power step, never nearer than 0.3 m.\n"
                       "Change antennas and modules with the power off only.",
                   .ask = ASK_READY,
                   .waits = "packets, or Enter"},
    [BIND_AWAY] = {.name = "away",
                   .say = "Take the transmitter 5 m away or more, nobody between. Then Enter.",
                   .ask = ASK_READY,
                   .waits = "Enter"},
    [BIND_RX_FIRST] = {.name = "rxfirst",
                       .say =
                           "If you like: switch the transmitter off and on, five times, some\n"
                           "seconds apart, the receiver staying on. Enter when done, or to skip.",
                       .caution =
                           "The motor must not be able to start: propeller off, throttle low.",
                       .ask = ASK_READY,
                       .waits = "starts of the transmitter, then Enter"},
    [BIND_TX_FIRST] = {.name = "txfirst",
                       .say =
                           "If you like: with the transmitter on, switch the receiver off and on\n"
                           "the same way. Enter when done, or to skip.",
                       .caution = "A battery just connected may start the motor at once.",
                       .ask = ASK_READY,
                       .waits = "starts of the receiver, then Enter"},
};

static void begin(void *state, const struct trial_rules *rules) {
    struct bind *b = state;
    b->rules = *rules;
    if (rules->ends != NULL)
        b->ends = *rules->ends;
    layout_init(&b->layout);
    b->boot_us = TIME_UNKNOWN;
    for (int i = 0; i < BIND_STEPS; i++)
        b->watch[i].from_us = b->watch[i].report_us = b->watch[i].packet_us = TIME_UNKNOWN;
}

/* --- the guide -------------------------------------------------------------------------------- */

/* How long the step has been watched by now: the moments alone don't tell when nothing comes. */
static int64_t watched_ms(const struct bind_watch *w, const struct trial_place *place) {
    int64_t now_us = place->now_us != TIME_UNKNOWN ? place->now_us : w->to_us;
    if (w->from_us == TIME_UNKNOWN || now_us < w->from_us)
        return 0;
    return (now_us - w->from_us) / 1000;
}

static bool radio_gone(const struct bind_watch *w) {
    return w->reg_reports > 0 && w->reg[REGISTERS_OK] == 0;
}

static int after_look(const struct bind *b, const struct trial_place *place) {
    const struct bind_watch *w = &b->watch[BIND_LOOK];
    int64_t watched = watched_ms(w, place);
    if (watched < BIND_WATCH_MS)
        return TRIAL_STAY;
    bool reports = w->reports > 0 && w->lines * 10 >= w->damaged;
    if (reports)
        return radio_gone(w) ? TRIAL_GO_END : BIND_ON;
    return watched < 2 * BIND_WATCH_MS ? TRIAL_STAY : TRIAL_GO_END;
}

static int after_again(const struct bind *b) {
    const struct bind_watch *w = &b->watch[BIND_AGAIN];
    if (w->got >= BIND_PACKETS || b->watch[BIND_ON].got >= BIND_PACKETS)
        return BIND_AWAY;
    bool refused = w->refused > 0 || b->watch[BIND_ON].refused > 0;
    return refused || bind_energy(b) == ENERGY_FOLLOWS ? TRIAL_GO_END : BIND_NEAR;
}

static int next(const void *state, const struct snapshot *s, const struct trial_place *place) {
    const struct bind *b = state;
    enum bind_step step = (enum bind_step)place->step;
    const struct bind_watch *w = &b->watch[step];
    (void)s;
    if (step == BIND_CAUTION)
        return place->answered && place->answer != 0 ? BIND_LOOK : TRIAL_STAY;
    if (step == BIND_LOOK)
        return after_look(b, place);
    if (step == BIND_RX_FIRST || step == BIND_TX_FIRST)
        return !place->answered ? TRIAL_STAY : step == BIND_RX_FIRST ? BIND_TX_FIRST : TRIAL_GO_END;
    if (!place->skipped && watched_ms(w, place) < BIND_WATCH_MS)
        return TRIAL_STAY;
    if (step == BIND_AGAIN)
        return after_again(b);
    if (step == BIND_NEAR)
        return TRIAL_GO_END;
    return (int)step + 1;
}

/* --- what is shown meanwhile ------------------------------------------------------------------ */

static void line(struct trial_pane *out, const char *text) {
    if (out->lines < TRIAL_LINES_MAX)
        snprintf(out->line[out->lines++], sizeof out->line[0], "%s", text);
}

/* Before the watch begins: what the link does anyway. */
static void waiting_lines(const struct snapshot *s, struct trial_pane *out) {
    char buffer[96];
    struct text text;
    text_init(&text, buffer, sizeof buffer);
    text_format(&text, "cable    %.0f reports a second", s->line_hz);
    line(out, buffer);
    text_clear(&text);
    text_format(&text, "link     %s", link_state_name(s->state));
    if (s->outage_ms != TIME_UNKNOWN)
        text_format(&text, ", the last packet %.1f s ago", (double)s->outage_ms / 1000);
    line(out, buffer);
}

static void cable_line(const struct bind_watch *w, struct trial_pane *out) {
    char buffer[96];
    struct text text;
    text_init(&text, buffer, sizeof buffer);
    text_format(&text, "cable    %llu bytes, %llu lines, %llu damaged, %llu reports",
                (unsigned long long)w->bytes, (unsigned long long)w->lines,
                (unsigned long long)w->damaged, (unsigned long long)w->reports);
    line(out, buffer);
}

static void radio_line(const struct bind_watch *w, const struct snapshot *s,
                       struct trial_pane *out) {
    static const char *const words[] = {
        [REGISTERS_OK] = "answers and keeps its settings",
        [REGISTERS_DEFAULT] = "has forgotten its settings",
        [REGISTERS_ABSENT] = "does not answer",
        [REGISTERS_DIFFER] = "holds other settings than were written",
    };
    char buffer[96];
    struct text text;
    text_init(&text, buffer, sizeof buffer);
    text_format(&text, "radio    %s", s->registers_known ? words[s->registers] : "? (no reg)");
    if (w->noise_looks > 0)
        text_format(&text, "; carrier %.1f %% of looks",
                    100.0 * (double)w->noise_hits / (double)w->noise_looks);
    else
        text_string(&text, "; carrier ?");
    line(out, buffer);
}

static void packet_line(const struct bind_watch *w, struct trial_pane *out) {
    char buffer[96];
    struct text text;
    text_init(&text, buffer, sizeof buffer);
    text_format(&text, "packets  %llu came", (unsigned long long)w->got);
    if (bind_loss(w) >= 0)
        text_format(&text, ", %.1f %% lost", 100 * bind_loss(w));
    if (w->refused_known)
        text_format(&text, ", %llu rejected", (unsigned long long)w->refused);
    if (bind_two_senders(w))
        text_string(&text, "; two senders");
    line(out, buffer);
}

static void order_line(const char *what, const struct bind_order *o, struct trial_pane *out) {
    char buffer[96];
    struct text text;
    text_init(&text, buffer, sizeof buffer);
    text_format(&text, "starts   %lu of the %s", (unsigned long)o->starts, what);
    if (o->linked > 0)
        text_format(&text, ", first packet after %.0f to %.0f ms", o->low, o->high);
    line(out, buffer);
}

/* What differs comes first, a line each with its remark; the rest stands two on a line. */
static void ends_lines(const struct ends *ends, struct trial_pane *out) {
    char buffer[96];
    struct text text;
    uint32_t halves = 0;
    text_init(&text, buffer, sizeof buffer);
    ends_text(ends, -1, &text);
    line(out, buffer);
    for (uint32_t i = 0; i < ENDS_ROWS; i++) {
        struct ends_row row;
        ends_row(ends, i, &row);
        text_clear(&text);
        ends_text(ends, (int)i, &text);
        if (row.mark == ENDS_DIFFERS)
            line(out, buffer);
    }
    text_clear(&text);
    for (uint32_t i = 0; i < ENDS_ROWS; i++) {
        struct ends_row row;
        ends_row(ends, i, &row);
        if (row.mark == ENDS_DIFFERS)
            continue;
        text_string(&text, halves % 2 == 1 ? " " : "");
        ends_half(ends, i, &text);
        if (halves++ % 2 == 0)
            continue;
        line(out, buffer);
        text_clear(&text);
    }
    if (text.len > 0)
        line(out, buffer);
}

static void pane(const void *state, const struct snapshot *s, const struct trial_place *place,
                 struct trial_pane *out) {
    const struct bind *b = state;
    const struct bind_watch *w = &b->watch[b->step];
    bool orders = b->step == BIND_RX_FIRST || b->step == BIND_TX_FIRST;
    if (b->step == BIND_CAUTION)
        return;
    if (w->from_us == TIME_UNKNOWN || orders) {
        waiting_lines(s, out);
    } else {
        cable_line(w, out);
        radio_line(w, s, out);
        packet_line(w, out);
    }
    if (b->step == BIND_RX_FIRST)
        order_line("transmitter", &b->rx_first, out);
    if (b->step == BIND_TX_FIRST)
        order_line("receiver", &b->tx_first, out);
    if (b->ends.receiver.known || b->ends.transmitter.known)
        ends_lines(&b->ends, out);
    out->seen = b->step == BIND_LOOK ? w->reports > 0 : w->from_us != TIME_UNKNOWN;
    if (!orders && w->from_us != TIME_UNKNOWN) {
        double part = (double)watched_ms(w, place) / BIND_WATCH_MS;
        out->progress = part < 1 ? part : 1;
    }
}

const struct trial_kind trial_bind = {
    .name = "bind",
    .title = "Bind: is there a link at all, and is it yours?",
    .about = "no link, or whose: from the cable up to 5 m",
    .steps = steps,
    .step_count = BIND_STEPS,
    .size = sizeof(struct bind),
    .begin = begin,
    .take = bind_take,
    .next = next,
    .pane = pane,
    .judge = bind_judge,
};
