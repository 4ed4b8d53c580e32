#include <math.h>
#include <string.h>

#include "base/percent.h"
#include "base/printable.h"
#include "text/compare_text.h"

enum { NAMES_SHOWN = 4 };

struct out {
    const struct compare *c;
    const struct side_samples *a, *b;
    const struct compare_walk *w;
    struct say to;
};

static void text_side(struct out *o, const char *label, const struct side *s,
                      const struct side_samples *samples) {
    char name[SAMPLE_NAME], span[PERCENT_SPAN_MAX];
    say(&o->to, "%-9s", label);
    for (uint32_t i = 0; i < samples->count && i < NAMES_SHOWN; i++)
        say(&o->to, "%s %s", i > 0 ? "," : "",
            printable(name, sizeof name, samples->sample[i]->name));
    if (samples->count > NAMES_SHOWN)
        say(&o->to, " and %u more", samples->count - NAMES_SHOWN);
    say(&o->to, "\n");
    if (!s->counted)
        return;
    percent_span(span, s->loss.low, " to ", s->loss.high);
    say(&o->to, "%-9s %.2f %% lost", "", 100 * s->rate);
    if (o->c->lack == COMPARE_LACKS_NOTHING)
        say(&o->to, " (%s %%)", span);
    say(&o->to, ", %llu of %llu packets in %.1f min\n", (unsigned long long)s->lost,
        (unsigned long long)(s->got + s->lost), s->minutes);
}

static void text_undecided(struct out *o) {
    const struct compare *c = o->c;
    if (!c->tested)
        say(&o->to, "%-9s too short: %u and %u blocks of %.0f s, it takes %d a side\n", "",
            c->a.blocks, c->b.blocks, (double)c->block_ms / 1000, SIDE_BLOCKS_LEAST);
    if (c->more_minutes > 0)
        say(&o->to,
            "%-9s about %.*f more minutes of each would likely decide it, if both go on like "
            "this\n",
            "next", c->more_minutes < 10 ? 1 : 0, c->more_minutes);
    else
        say(&o->to,
            "%-9s not within an hour of each: the difference is too small for that, or none\n",
            "next");
}

static void text_differs(struct out *o) {
    static const char *const doubts[] = {
        [COMPARE_NO_DOUBT] = "",
        [COMPARE_SINGLE] = "but a single pair can't tell it from drift",
        [COMPARE_SCATTER] = "but the recordings of a side differ among themselves nearly as much",
        [COMPARE_ORDER] = "but all of one side came before all of the other: that can be drift",
    };
    static const char *const nexts[] = {
        [COMPARE_NO_DOUBT] = "",
        [COMPARE_SINGLE] = "change it back and record again, in turns: A, B, B, A; nothing else "
                           "may change, not even where you stand",
        [COMPARE_SCATTER] = "record more pairs, in turns; from four a side on whole recordings "
                            "are compared",
        [COMPARE_ORDER] = "record again in turns: A, B, B, A",
    };
    const struct compare *c = o->c;
    say(&o->to, "%-9s differs: B loses %s, %s\n", "verdict",
        c->difference.rate < 0 ? "less" : "more", doubts[c->doubt]);
    say(&o->to, "%-9s %s\n", "next", nexts[c->doubt]);
}

static void text_verdict(struct out *o) {
    const struct compare *c = o->c;
    switch (c->verdict) {
    case COMPARE_HELPED:
        say(&o->to, "%-9s helped: B loses less, time after time\n", "verdict");
        break;
    case COMPARE_WORSE:
        say(&o->to, "%-9s made it worse: B loses more, time after time\n", "verdict");
        break;
    case COMPARE_DIFFERS:
        text_differs(o);
        break;
    case COMPARE_ALIKE:
        say(&o->to, "%-9s no difference larger than %.2f points (95 %%)\n", "verdict",
            100 * c->largest);
        break;
    case COMPARE_UNDECIDED:
        if (c->difference.rate != 0)
            say(&o->to, "%-9s undecided: the difference may be chance\n", "verdict");
        else
            say(&o->to,
                "%-9s undecided: no difference seen, but up to %.2f points aren't ruled out\n",
                "verdict", 100 * c->largest);
        text_undecided(o);
        break;
    case COMPARE_REFUSED:
        say(&o->to, "%-9s not compared: %s\n", "verdict", compare_lack_words(c));
        break;
    }
}

static void text_loss(struct out *o) {
    const struct compare *c = o->c;
    if (c->lack != COMPARE_LACKS_NOTHING)
        return;
    char span[PERCENT_SPAN_MAX];
    percent_between(span, 100 * c->difference.limits.low, " to ", 100 * c->difference.limits.high,
                    true);
    say(&o->to, "%-9s %+.2f points (%s, 95 %%)", "B - A", 100 * c->difference.rate, span);
    percent_between(span, c->ratio.limits.low, " to ", c->ratio.limits.high, false);
    if (c->ratio.known && c->ratio.high_known)
        say(&o->to, "; B / A %.2f (%s)", c->ratio.value, span);
    else if (c->ratio.known)
        say(&o->to, "; B / A %.2f (from %.2f on, without limit)", c->ratio.value,
            c->ratio.limits.low);
    say(&o->to, "\n");
    if (!c->tested)
        return;
    say(&o->to, "%-9s p = %.4f, by dealing out anew %s%.0f s blocks (%u and %u)%s\n", "chance",
        c->p, c->a.recordings == c->b.recordings && c->a.recordings > 1 ? "within each pair " : "",
        (double)c->block_ms / 1000, c->a.blocks, c->b.blocks,
        c->whole ? " and whole recordings" : "");
}

static void say_ends(struct out *o, const struct worth *w) {
    say(&o->to, "%-9s ", "");
    if (isfinite(w->low_db) && isfinite(w->high_db))
        say(&o->to, "%+.1f to %+.1f dB", w->low_db, w->high_db);
    else if (isfinite(w->low_db))
        say(&o->to, "from %+.1f dB on, without limit", w->low_db);
    else if (isfinite(w->high_db))
        say(&o->to, "up to %+.1f dB, without limit the other way", w->high_db);
    else
        say(&o->to, "without limit either way");
    say(&o->to, " within all intervals%s\n",
        w->low_db <= 0 && w->high_db >= 0 ? ": it may be nothing at all" : "");
}

/* In decibels, which don't depend on where the two were recorded. */
static void text_worth(struct out *o) {
    const struct worth *w = &o->w->worth;
    const char *lack = compare_worth_lack(o->w);
    char name[SAMPLE_NAME];
    if (lack) {
        say(&o->to, "%-9s can't tell in dB by %s: %s\n", "worth",
            printable(name, sizeof name, o->w->file), lack);
        return;
    }
    if (w->n_known)
        say(&o->to, "%-9s as if B got %.1f dB %s (n = %.2f)", "worth", fabs(w->db),
            w->db < 0 ? "less" : "more", w->n);
    else
        say(&o->to, "%-9s as if B got %.1f to %.1f dB %s (free space to near the ground)", "worth",
            fabs(w->free_db), fabs(w->ground_db), w->free_db < 0 ? "less" : "more");
    say(&o->to, "\n%-9s or stood at %.2f times the distance, by the curve of %s\n", "", w->distance,
        printable(name, sizeof name, o->w->file));
    say_ends(o, w);
}

static void text_unknown(struct out *o, const char *side, const char *why) {
    if (strchr(why, ' '))
        say(&o->to, "can't tell: %s's %s\n", side, why);
    else
        say(&o->to, "can't tell without %s (%s's lines)\n", why, side);
}

static void text_figure(struct out *o, enum compare_figure_id id) {
    const struct compare_figure *f = &o->c->figure[id];
    const struct compare_row *row = &compare_rows[id];
    const char *no_a = compare_unknown(o->c, id, o->a, f->known_a);
    const char *no_b = compare_unknown(o->c, id, o->b, f->known_b);
    say(&o->to, "%-9s ", row->name);
    if (no_a || no_b) {
        text_unknown(o, no_a ? "A" : "B", no_a ? no_a : no_b);
        return;
    }
    say(&o->to, "A %.*f, B %.*f%s: ", row->decimals, row->times * f->a, row->decimals,
        row->times * f->b, row->unit);
    if (!f->tested)
        say(&o->to, "too short to tell\n");
    else if (f->answer == COMPARE_SAME)
        say(&o->to, "no difference shown\n");
    else
        say(&o->to, "B is %s (p = %.4f)\n", compare_answer_name(f->answer), f->p);
}

static void text_counts(struct out *o) {
    const struct side *a = &o->c->a, *b = &o->c->b;
    if (a->failsafe_known && b->failsafe_known)
        say(&o->to, "%-9s entered: A %llu, B %llu times\n", "failsafe",
            (unsigned long long)a->failsafes, (unsigned long long)b->failsafes);
    else
        say(&o->to, "%-9s can't tell without fs (%s's lines)\n", "failsafe",
            a->failsafe_known ? "B" : "A");
    if (a->registers_known && b->registers_known)
        say(&o->to, "%-9s forgotten: A %llu, B %llu times\n", "registers",
            (unsigned long long)a->settings_lost, (unsigned long long)b->settings_lost);
    else
        say(&o->to, "%-9s can't tell without reg (%s's lines)\n", "registers",
            a->registers_known ? "B" : "A");
    say(&o->to, "%-9s receiver: A %llu, B %llu", "restarts",
        (unsigned long long)a->receiver_restarts, (unsigned long long)b->receiver_restarts);
    if (a->transmitter_restarts_known && b->transmitter_restarts_known)
        say(&o->to, "; transmitter: A %llu, B %llu\n", (unsigned long long)a->transmitter_restarts,
            (unsigned long long)b->transmitter_restarts);
    else
        say(&o->to, "; transmitter: can't tell without tboot or seq\n");
}

void compare_text(const struct compare *c, const struct side_samples *a,
                  const struct side_samples *b, const struct compare_walk *w, say_put *put,
                  void *where) {
    struct out o = {c, a, b, w, {put, where}};
    text_side(&o, "A", &c->a, a);
    text_side(&o, "B", &c->b, b);
    text_verdict(&o);
    text_loss(&o);
    if (w)
        text_worth(&o);
    const char *note;
    for (unsigned i = 0; (note = compare_note(c, i)) != NULL; i++)
        say(&o.to, "%-9s %s\n", "note", note);
    say(&o.to, "\n");
    for (int i = 0; i < COMPARE_FIGURES; i++)
        text_figure(&o, (enum compare_figure_id)i);
    text_counts(&o);
}
