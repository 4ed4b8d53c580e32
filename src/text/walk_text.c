#include <stdio.h>
#include <string.h>

#include "base/percent.h"
#include "base/printable.h"
#include "text/reach_text.h"

struct out {
    const struct walk *w;
    const struct walk_facts *facts;
    struct say to;
};

static void text_head(const struct out *o) {
    const struct walk_facts *f = o->facts;
    const struct walk_limits *l = &o->w->limits;
    char file[256], fails[200];
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
    snprintf(fails, sizeof fails,
             "on failsafe, a restart, a gap over %lld ms%s, loss over %g %% (%g %% turned), or a "
             "lost link",
             (long long)walk_gap_limit(l),
             walk_gap_limit(l) > l->gap_ms ? " (3 packet intervals)" : "", 100 * l->loss_facing,
             100 * l->loss_turned);
    say(&o->to, "fails     ");
    say_filled(&o->to, 10, 10, fails);
}

static const char *loss_text(char out[static 24], const struct walk_loss *loss) {
    snprintf(out, 24, loss->known ? "%.2f" : "unknown", 100 * loss->rate);
    return out;
}

static const char *bounds_text(char out[static 24], const struct walk_loss *loss) {
    char span[PERCENT_SPAN_MAX];
    if (loss->high < 0) {
        snprintf(out, 24, "-");
    } else if (loss->low <= 0) {
        percent_text(span, loss->high);
        snprintf(out, 24, "under %.17s", span);
    } else {
        percent_span(span, loss->low, "-", loss->high);
        snprintf(out, 24, "%.23s", span);
    }
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

static void text_stop(const struct out *o, const struct walk_stop *s) {
    struct walk_loss loss;
    char rate[24], bounds[24], gap[24], failsafes[24], facing[WALK_FACING];
    char verdict[WALK_VERDICT_TEXT];
    walk_loss(s, &loss);
    say(&o->to, "%7.4g  %-10s %6.1f %8llu %7s  %-13s %7s %4s  ", s->distance_m,
        printable(facing, sizeof facing, s->facing), (double)(s->to_ms - s->from_ms) / 1000,
        (unsigned long long)(s->got + s->lost), loss_text(rate, &loss), bounds_text(bounds, &loss),
        gap_text(gap, s), failsafe_text(failsafes, s));
    walk_verdict_text(verdict, sizeof verdict, s, &o->w->limits);
    say(&o->to, "%s%s\n", verdict, s->open ? " (to the end)" : "");
}

static void text_stops(const struct out *o) {
    say(&o->to, "\n   at m  facing     time s  packets  loss %%  95 %%           gap ms   fs\n");
    for (uint32_t i = 0; i < o->w->count; i++)
        text_stop(o, &o->w->stop[i]);
    say(&o->to, "\n");
}

static void text_range(const struct out *o) {
    struct walk_plan p;
    char by[96], plan[160];
    walk_plan(o->w, o->facts->reach, o->facts->drive, &p);
    if (p.failed)
        say(&o->to, "failed    first at %g m\n", p.first_failed_m);
    else
        say(&o->to, "failed    no stop is shown to have failed\n");
    if (!p.held) {
        say(&o->to, "held      no stop is shown to hold, so no distance is planned\n");
        return;
    }
    walk_plan_words(by, sizeof by, &p);
    say(&o->to, "held      to %g m%s\n", p.held_to_m,
        p.failed ? "" : " at least, as far as that is shown");
    snprintf(plan, sizeof plan, "no farther than %.3g m for %s%s", p.planned_m,
             o->facts->drive ? "a boat or car" : "flying", by);
    say(&o->to, "plan      ");
    say_filled(&o->to, 10, 10, plan);
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
        "\nOn a walk: model held, propeller off or wheels free, a helper beside it; mind traffic, "
        "water\nand people. After a test at reduced power put the transmitter back to full. A "
        "range "
        "on the\nground is no clearance to fly: local rules first.\n");
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
    reach_text(facts, put, where);
    text_power(&o);
    text_caution(&o);
}
