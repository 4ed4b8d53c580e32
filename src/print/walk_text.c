#include <stdio.h>
#include <string.h>

#include "base/printable.h"
#include "print/reach.h"

enum { FEW_PACKETS = 300 };

struct out {
    const struct walk *w;
    const struct walk_facts *facts;
    struct say to;
};

static void text_head(const struct out *o) {
    const struct walk_facts *f = o->facts;
    const struct walk_limits *l = &o->w->limits;
    char file[256];
    say(&o->to, "file      %s%s\n", printable(file, sizeof file, f->file),
        f->recording ? "" : " (a capture of lines)");
    if (f->by_switch > 0)
        say(&o->to, "stops     by the switch on channel %u\n", f->by_switch);
    else
        say(&o->to, "stops     by the marks of the recording%s\n",
            f->amendments > 0 ? ", as amended" : "");
    if (f->evidence != EVIDENCE_NONE)
        say(&o->to, "loss      by %s%s\n",
            f->evidence == EVIDENCE_PATTERN    ? "pat"
            : f->evidence == EVIDENCE_COUNTERS ? "got and lost"
            : f->evidence == EVIDENCE_SEQUENCE ? "got and seq"
                                               : "got and the packet rate",
            f->acked ? ", after retries: not to be compared with a link without" : "");
    if (f->marks_unused > 0)
        say(&o->to, "          %u mark%s of the recording left out\n", f->marks_unused,
            f->marks_unused == 1 ? "" : "s");
    if (f->amendments_refused > 0)
        say(&o->to, "          %u amendment%s can't be read or name no mark\n",
            f->amendments_refused, f->amendments_refused == 1 ? "" : "s");
    if (f->beyond_plan > 0)
        say(&o->to,
            "          %llu more press%s after the plan's last stop: give a longer --plan\n",
            (unsigned long long)f->beyond_plan, f->beyond_plan == 1 ? "" : "es");
    if (f->plan_left > 0 && o->w->count > 0)
        say(&o->to,
            "          %u of the plan's stops unmarked: were it a press that nothing got through "
            "of, later\n          stops would be farther out than is said here\n",
            f->plan_left);
    if (o->w->marks_untimed > 0)
        say(&o->to, "          %llu mark%s came before the first report and can't be placed\n",
            (unsigned long long)o->w->marks_untimed, o->w->marks_untimed == 1 ? "" : "s");
    if (o->w->marks_no_place > 0)
        say(&o->to, "          %llu stop%s without a distance left out\n",
            (unsigned long long)o->w->marks_no_place, o->w->marks_no_place == 1 ? "" : "s");
    if (o->w->passed_over > 0)
        say(&o->to, "          %u more than %d stops: those are left out\n", o->w->passed_over,
            WALK_STOPS_MAX);
    say(&o->to,
        "fails     on failsafe, a restart, a gap over %lld ms, loss over %g %% (%g %% turned),\n"
        "          or a lost link\n",
        (long long)l->gap_ms, 100 * l->loss_facing, 100 * l->loss_turned);
}

static const char *loss_text(char out[static 24], const struct walk_loss *loss) {
    snprintf(out, 24, loss->known ? "%.2f" : "unknown", 100 * loss->rate);
    return out;
}

static const char *bounds_text(char out[static 24], const struct walk_loss *loss) {
    if (loss->high < 0)
        snprintf(out, 24, "-");
    else if (loss->low <= 0)
        snprintf(out, 24, "under %.2f", 100 * loss->high);
    else
        snprintf(out, 24, "%.2f-%.2f", 100 * loss->low, 100 * loss->high);
    return out;
}

static const char *gap_text(char out[static 24], const struct walk_stop *s) {
    if (s->longest_gap_ms == TIME_UNKNOWN)
        snprintf(out, 24, "unknown");
    else
        snprintf(out, 24, "%lld", (long long)s->longest_gap_ms);
    return out;
}

static const char *failsafe_text(char out[static 24], const struct walk_stop *s) {
    snprintf(out, 24, s->failsafe_known ? "%llu" : "?", (unsigned long long)s->failsafes);
    return out;
}

/* The verdict with what it rests on: "failed: gap over 200 ms", "held, few packets". */
static void verdict_text(const struct out *o, const struct walk_stop *s) {
    unsigned unsure, faults = walk_judge(s, &o->w->limits, &unsure);
    char words[64];
    walk_fault_words(words, sizeof words, faults);
    say(&o->to, "%s%s%s", walk_verdict(faults, s), words[0] ? ": " : "", words);
    if (s->died)
        say(&o->to, ", silent for %.1f s or more", (double)s->dead_ms / 1000);
    if ((unsure & WALK_LOSS) != 0)
        say(&o->to, s->got + s->lost < FEW_PACKETS ? ", few packets" : ", loss unsure");
    if ((unsure & WALK_GAP) != 0)
        say(&o->to, s->longest_gap_ms == TIME_UNKNOWN ? ", gaps unknown without age or gap"
                                                      : ", gap perhaps too long");
    if ((unsure & WALK_FAILSAFE) != 0)
        say(&o->to, ", failsafe unknown without fs");
    say(&o->to, s->open ? " (to the end)\n" : "\n");
}

static void text_stop(const struct out *o, const struct walk_stop *s) {
    struct walk_loss loss;
    char rate[24], bounds[24], gap[24], failsafes[24], facing[WALK_FACING];
    walk_loss(s, &loss);
    say(&o->to, "%7.4g  %-10s %6.1f %8llu %7s  %-13s %7s %4s  ", s->distance_m,
        printable(facing, sizeof facing, s->facing), (double)(s->to_ms - s->from_ms) / 1000,
        (unsigned long long)(s->got + s->lost), loss_text(rate, &loss), bounds_text(bounds, &loss),
        gap_text(gap, s), failsafe_text(failsafes, s));
    verdict_text(o, s);
}

static void text_stops(const struct out *o) {
    say(&o->to, "\n   at m  facing     time s  packets  loss %%  95 %%           gap ms   fs\n");
    for (uint32_t i = 0; i < o->w->count; i++)
        text_stop(o, &o->w->stop[i]);
    say(&o->to, "\n");
}

static void text_range(const struct out *o) {
    struct walk_plan p;
    const char *use = o->facts->drive ? "a boat or car" : "flying";
    const char *share = o->facts->drive ? "half" : "a quarter";
    walk_plan(o->w, o->facts->drive, &p);
    if (p.failed)
        say(&o->to, "failed    first at %g m\n", p.first_failed_m);
    else
        say(&o->to, "failed    nowhere\n");
    if (p.held)
        say(&o->to, "held      to %g m%s\n", p.held_to_m,
            p.failed ? "" : " at least, as far as you walked");
    else
        say(&o->to, "held      nowhere\n");
    if (p.planned_m >= 0)
        say(&o->to, "plan      no farther than %.3g m for %s: %s of %s (common practice)\n",
            p.planned_m, use, share, p.failed ? "that first failure" : "what was walked");
}

/* Reduced power says less about the model's range than it seems. */
static void text_power(const struct out *o) {
    uint32_t least = UINT32_MAX, full = o->facts->full_step;
    for (uint32_t i = 0; i < o->w->count; i++) {
        const struct walk_stop *s = &o->w->stop[i];
        if (!s->step_known || s->step >= least)
            continue;
        least = s->step;
    }
    if (full > 0 && least < full)
        say(&o->to, "power     step %u of %u: reduced. Put the transmitter back to full power\n",
            least, full);
}

static void text_none(const struct out *o) {
    if (o->facts->by_switch > 0)
        say(&o->to,
            "\nNo stop was found: a stop is channel %u held at its other end for 0.7 to 3 s\n"
            "and back.\n",
            o->facts->by_switch);
    else
        say(&o->to, "\nNo stop was marked. A raw capture or a forgotten mark: --switch CH finds\n"
                    "stops that a switch of the transmitter marked, and airleash stops FILE.csv\n"
                    "--add SECONDS:METRES adds one.\n");
}

static void text_caution(const struct out *o) {
    say(&o->to,
        "\nOn a walk mind the way and keep clear of people. After a test at reduced power put "
        "the\ntransmitter back to full. A range on the ground is no clearance to fly: local "
        "rules first.\n");
}

void walk_text(const struct walk *w, const struct walk_facts *facts, say_put *put, void *where) {
    struct out o = {w, facts, {put, where}};
    text_head(&o);
    if (w->count == 0) {
        text_none(&o);
        return;
    }
    text_stops(&o);
    text_range(&o);
    reach_text(w, facts, put, where);
    text_power(&o);
    text_caution(&o);
}
