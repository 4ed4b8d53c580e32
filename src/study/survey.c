#include "study/survey.h"

#include <string.h>

#include "radio/chip.h"
#include "stat/proportion.h"

static const uint32_t widest_kbps = 2000;

void survey_init(struct survey *s) {
    memset(s, 0, sizeof *s);
}

static void take_air(struct survey *s, const struct air_sweep *air) {
    s->lines++;
    if (s->sweeps == 0 || air->from_mhz <= s->top_mhz)
        s->sweeps++;
    for (uint32_t i = 0; i < air->count; i++) {
        uint64_t mhz = air->from_mhz + (uint64_t)i * air->step_mhz;
        if (mhz < SURVEY_FROM_MHZ || mhz >= SURVEY_FROM_MHZ + SURVEY_MHZ) {
            s->outside += air->per;
            continue;
        }
        s->hits[mhz - SURVEY_FROM_MHZ] += air->hits[i];
        s->looks[mhz - SURVEY_FROM_MHZ] += air->per;
        s->top_mhz = (uint32_t)mhz;
    }
}

static void take_identity(struct survey *s, const struct identity *id) {
    if (id->transmitter)
        return;
    if (identity_has(id, ID_MHZ))
        s->mhz = id->mhz;
    if (identity_has(id, ID_KBPS))
        s->kbps = id->kbps;
}

void survey_feed(struct survey *s, const struct event *event) {
    if (event->kind == EVENT_AIR)
        take_air(s, &event->air);
    else if (event->kind == EVENT_ID)
        take_identity(s, &event->id);
}

double survey_peak(const struct survey *s) {
    double peak = -1;
    for (int i = 0; i < SURVEY_MHZ; i++) {
        double share = s->looks[i] > 0 ? (double)s->hits[i] / (double)s->looks[i] : -1;
        if (share > peak)
            peak = share;
    }
    return peak;
}

void survey_wifi(const struct survey *s, int channel, uint64_t *hits, uint64_t *looks) {
    *hits = *looks = 0;
    for (int i = 0; i < SURVEY_MHZ; i++) {
        double mhz = SURVEY_FROM_MHZ + i;
        if (mhz <= BAND_HIGH_MHZ && wifi_covers(channel, mhz, WIFI_OFDM_HALF_MHZ)) {
            *hits += s->hits[i];
            *looks += s->looks[i];
        }
    }
}

static uint32_t clear_mhz(const struct survey *s, int at) {
    for (int away = 0; away < SURVEY_CLEAR_MHZ; away++) {
        bool below = at - away >= 0 && s->hits[at - away] > 0;
        bool above = at + away < SURVEY_MHZ && s->hits[at + away] > 0;
        if (below || above)
            return (uint32_t)away;
    }
    return SURVEY_CLEAR_MHZ;
}

static struct survey_spot spot_at(const struct survey *s, int at) {
    struct survey_spot spot = {.mhz = (uint32_t)(SURVEY_FROM_MHZ + at)};
    for (int i = at - SURVEY_AROUND_MHZ; i <= at + SURVEY_AROUND_MHZ; i++)
        if (i >= 0 && i < SURVEY_MHZ) {
            spot.hits += s->hits[i];
            spot.looks += s->looks[i];
        }
    struct stat_interval share = stat_wilson(spot.hits, spot.looks, 0.95);
    spot.low = share.low;
    spot.high = share.high;
    spot.known = s->looks[at] >= SURVEY_LOOKS_LEAST;
    spot.clear_mhz = clear_mhz(s, at);
    spot.wifi_count = wifi_over(spot.wifi, spot.mhz, WIFI_OFDM_HALF_MHZ);
    return spot;
}

static int usual_wifi(const struct survey_spot *spot) {
    int usual = 0;
    for (int i = 0; i < spot->wifi_count; i++)
        usual += spot->wifi[i] == 1 || spot->wifi[i] == 6 || spot->wifi[i] == 11;
    return usual;
}

/* Whether a is a better place than b. */
static bool quieter(const struct survey_spot *a, const struct survey_spot *b) {
    if (!b->known)
        return true;
    double share_a = (double)a->hits / (double)a->looks;
    double share_b = (double)b->hits / (double)b->looks;
    if (share_a < share_b || share_a > share_b)
        return share_a < share_b;
    if (a->clear_mhz != b->clear_mhz)
        return a->clear_mhz > b->clear_mhz;
    return usual_wifi(a) < usual_wifi(b);
}

static bool apart(const struct survey_spot *from, uint32_t mhz) {
    if (!from->known)
        return true;
    uint32_t away = mhz > from->mhz ? mhz - from->mhz : from->mhz - mhz;
    return away >= SURVEY_APART_MHZ;
}

/* The quietest one that lies far enough from `from`. */
static struct survey_spot quietest(const struct survey *s, double width_mhz,
                                   const struct survey_spot *from) {
    struct survey_spot best = {.known = false};
    for (int i = 0; i < SURVEY_MHZ; i++) {
        struct survey_spot spot = spot_at(s, i);
        if (spot.known && band_holds(spot.mhz, width_mhz) && apart(from, spot.mhz) &&
            quieter(&spot, &best))
            best = spot;
    }
    return best;
}

void survey_advise(const struct survey *s, struct survey_advice *out) {
    const struct survey_spot nowhere = {.known = false};
    uint32_t kbps = chip_has_rate(s->kbps) ? s->kbps : widest_kbps;
    memset(out, 0, sizeof *out);
    out->width_mhz = chip_width_most_mhz(kbps);
    out->best = quietest(s, out->width_mhz, &nowhere);
    if (out->best.known)
        out->second = quietest(s, out->width_mhz, &out->best);
    if (s->mhz >= SURVEY_FROM_MHZ && s->mhz < SURVEY_FROM_MHZ + SURVEY_MHZ)
        out->now = spot_at(s, (int)(s->mhz - SURVEY_FROM_MHZ));
}
