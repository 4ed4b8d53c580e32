#include <math.h>
#include <stdio.h>

#include "radio/chip.h"
#include "text/reach_text.h"

struct out {
    const struct walk_facts *facts;
    const struct reach *r;
    struct say to;
};

/* A length with three figures at least. */
struct words {
    char at[24];
};

static struct words metres(double m) {
    struct words w;
    snprintf(w.at, sizeof w.at, m >= 100 ? "%.0f" : m >= 10 ? "%.1f" : "%.2f", m);
    return w;
}

static void say_bounds(const struct out *o, double limit) {
    const struct reach *r = o->r;
    if (r->at_least_m > 0)
        say(&o->to, "          at least %s m%s: 19 in 20 such bounds hold\n",
            metres(r->at_least_m).at,
            r->at_least_m >= r->farthest_m ? ", as far as you walked" : "");
    if (isfinite(r->at_most_m))
        say(&o->to, "          at most %s m: beyond, more than %g %% are lost on average\n",
            metres(r->at_most_m).at, limit);
    if (r->at_least_m <= 0 && isinf(r->at_most_m))
        say(&o->to, "          no distance is shown to be near enough, or too far\n");
}

/* The range is the mean's: what that means for one place. */
static void say_places(const struct out *o) {
    const struct reach *r = o->r;
    if (r->at_least_m <= 0 && r->verdict != REACH_CLOSED)
        return;
    say(&o->to, "%10s", "");
    say_filled(&o->to, 10, 10,
               "It is the average over places: where the range ends, about 3 or 4 places in 10 are "
               "already worse. It holds for stops in different places only.");
}

static void say_stops(const struct out *o) {
    const struct reach *r = o->r;
    if (r->stops > 0)
        say(&o->to, "          by %u stop%s of %.4g to %.4g m%s%s", r->stops,
            r->stops == 1 ? "" : "s", r->nearest_m, r->farthest_m,
            r->facing[0] ? ", heading: " : "", r->facing);
    if (r->stops > 0 && r->left_out > 0)
        say(&o->to, "; %u of another heading or power, or without packets, left out", r->left_out);
    if (r->stops > 0)
        say(&o->to, "\n");
    if (r->fit.known)
        say(&o->to,
            "          allowed for: bursts, %.2g packets of a stop counting as one, and places "
            "that "
            "differ by\n          about %.1f dB\n",
            r->fit.bursts, r->fit.spread_db);
    if (r->assumed_lost > 0)
        say(&o->to,
            "          where the link died, %.0f packets that must have been lost are assumed (in "
            "no count)\n",
            r->assumed_lost);
}

static void text_limit(const struct out *o) {
    const struct reach *r = o->r;
    double limit = 100 * r->loss_limit;
    if (r->verdict == REACH_CLOSED) {
        say(&o->to, "range     %g %% of the packets are lost at %s m (95 %%: %s to %s m)\n", limit,
            metres(r->m).at, metres(r->low_m).at, metres(r->high_m).at);
    } else {
        say(&o->to, "range     no distance for %g %% loss: %s\n", limit, reach_word(r->verdict));
        say(&o->to, "%10s", "");
        say_filled(&o->to, 10, 10, reach_reason(r->verdict));
    }
    say_bounds(o, limit);
    say_places(o);
    say_stops(o);
}

static void text_exponent(const struct out *o) {
    const struct reach_exponent *e = &o->r->exponent;
    if (e->known)
        say(&o->to,
            "level     falls by %.0f dB for ten times the distance (n = %.2f; free space 2, near "
            "the ground 4),\n          scattered by %.1f dB; only packets that arrived have one, "
            "so n is rather too small\n",
            10 * e->n, e->n, e->sigma_db);
    if (e->margin_known)
        say(&o->to, "          at the farthest stop that has one, %.1f dB over the sensitivity\n",
            e->margin_db);
    else if (e->known)
        say(&o->to,
            "          how much that is over the sensitivity: --sensitivity-dbm would tell\n");
}

static void text_flip(const struct out *o) {
    const struct reach_flip *f = &o->r->flip;
    if (f->known)
        say(&o->to,
            "carrier   detected in less than half of the looks from %s m on (stops at %.4g and "
            "%.4g m):\n          a second estimate, of where about %d dBm arrive on chips like the "
            "nRF24L01+\n",
            metres(f->m).at, f->low_m, f->high_m, CHIP_CARRIER_DBM);
}

/* --- full power ------------------------------------------------------------------------------- */

static const char *why_not_shown(enum reduced_kind kind) {
    static const char *const why[] = {
        [REDUCED_NO_DB] = "how many dB a step is isn't known: give the whole by --full-power-db",
        [REDUCED_AMPLIFIED] = "amplifiers saturate, so a step isn't 6 dB. Compare both powers on "
                              "one spot: stops\n          at one distance where rssi is there, or "
                              "a meter, and --full-power-db",
    };
    return why[kind];
}

static void say_full_range(const struct out *o) {
    const struct reach_full *f = &o->facts->reduced->full;
    bool low = f->low_m > 0, high = isfinite(f->high_m);
    if (low && high)
        say(&o->to, "%s to %s m", metres(f->low_m).at, metres(f->high_m).at);
    else
        say(&o->to, low ? "%s m or more" : "%s m or less", metres(low ? f->low_m : f->high_m).at);
    if (f->fitted_m > 0)
        say(&o->to, ", %s m by the level's own fall", metres(f->fitted_m).at);
    say(&o->to, "\n          as an estimate: ");
    if (low)
        say(&o->to, "near the ground, 40 dB for ten times the distance%s", high ? "; " : "");
    if (high)
        say(&o->to, "in free space, 20 dB");
    say(&o->to, ".\n          Nobody walked that: walk it at full power before you rely on it\n");
}

static const char *db_from(enum reduced_kind kind) {
    return kind == REDUCED_GIVEN     ? "as given"
           : kind == REDUCED_ON_SPOT ? "measured on one spot"
                                     : "6 dB a step, each within 4 dB; --full-power-db says "
                                       "otherwise";
}

static void text_full_power(const struct out *o) {
    const struct reduced *d = o->facts->reduced;
    if (d->kind == REDUCED_NOT || d->kind == REDUCED_NO_STEP)
        return;
    say(&o->to, "at full   ");
    if (d->kind < REDUCED_GIVEN) {
        say(&o->to, "not shown: %s\n", why_not_shown(d->kind));
        return;
    }
    say(&o->to, "%.3g dB more (%s):\n          ", d->db, db_from(d->kind));
    if (d->full_known)
        say_full_range(o);
    else
        say(&o->to, "not shown, since the walk bounds no range\n");
}

void reach_text(const struct walk_facts *facts, say_put *put, void *where) {
    struct out o = {facts, facts->reach, {put, where}};
    text_limit(&o);
    text_exponent(&o);
    text_flip(&o);
    text_full_power(&o);
}
