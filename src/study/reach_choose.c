#include <math.h>
#include <string.h>

#include "study/reach_parts.h"

/* Stops of another heading or transmit power lie on another curve. */
static bool is_same_curve(const struct walk_stop *a, const struct walk_stop *b) {
    if (strcmp(a->facing, b->facing) != 0 || a->step_known != b->step_known)
        return false;
    return !a->step_known || (a->step == b->step && a->steps == b->steps);
}

static bool has_packets(const struct walk_stop *s) {
    return s->distance_m > 0 && ((s->counted && s->got + s->lost > 0) || s->died);
}

static uint32_t count_like(const struct walk_stop *stops, uint32_t count,
                           const struct walk_stop *one) {
    uint32_t like = 0;
    for (uint32_t i = 0; i < count; i++)
        like += has_packets(&stops[i]) && is_same_curve(&stops[i], one);
    return like;
}

/* The stop whose curve has the most stops; of equals the one that faces, then the first. */
static const struct walk_stop *choose_curve(const struct walk_stop *stops, uint32_t count) {
    const struct walk_stop *best = NULL;
    uint32_t most = 0;
    for (uint32_t i = 0; i < count; i++) {
        uint32_t like = has_packets(&stops[i]) ? count_like(stops, count, &stops[i]) : 0;
        bool faces = like == most && best && best->facing[0] != '\0' && stops[i].facing[0] == '\0';
        if (like > most || (like > 0 && faces)) {
            best = &stops[i];
            most = like;
        }
    }
    return best;
}

/* Packets a ms, of the stops at which the link lived; 0 unknown. */
static double rate_of(const struct walk_stop *stops, uint32_t count) {
    double packets = 0, ms = 0;
    for (uint32_t i = 0; i < count; i++) {
        if (stops[i].died || !stops[i].counted)
            continue;
        packets += (double)(stops[i].got + stops[i].lost);
        ms += (double)(stops[i].to_ms - stops[i].from_ms);
    }
    return ms > 0 ? packets / ms : 0;
}

/* An outage that never ended is in no count, yet a curve without it would be too good. */
static double missing_at(const struct walk_stop *s, double rate) {
    double expected = rate * (double)(s->to_ms - s->from_ms);
    return s->died ? fmax(0, round(expected - (double)(s->got + s->lost))) : 0;
}

static void insert(struct reach_points *points, const struct reach_point *p) {
    uint32_t i = points->count++;
    for (; i > 0 && points->at[i - 1].x > p->x; i--)
        points->at[i] = points->at[i - 1];
    points->at[i] = *p;
}

void reach_choose(const struct walk_stop *stops, uint32_t count, struct reach_points *points,
                  struct reach *out) {
    const struct walk_stop *curve = choose_curve(stops, count);
    double rate = rate_of(stops, count);
    points->count = 0;
    for (uint32_t i = 0; i < count && i < WALK_STOPS_MAX; i++) {
        const struct walk_stop *s = &stops[i];
        double missing = missing_at(s, rate), packets = (double)(s->got + s->lost) + missing;
        if (!curve || !has_packets(s) || !is_same_curve(s, curve) || !(packets > 0))
            continue;
        out->assumed_lost += missing;
        struct reach_point p = {s, log10(s->distance_m), (double)s->lost + missing, packets};
        insert(points, &p);
    }
    out->stops = points->count;
    out->left_out = count - points->count;
    if (points->count == 0)
        return;
    memcpy(out->facing, curve->facing, sizeof out->facing);
    out->step_known = curve->step_known;
    out->step = curve->step;
    out->steps = curve->steps;
    out->nearest_m = points->at[0].stop->distance_m;
    out->farthest_m = points->at[points->count - 1].stop->distance_m;
}
