/* A kind of trial under a test's hands: lines in, its pane out.  For what the whole drive doesn't
 * show.  Needs <cmocka.h> and what it asks for included first. */
#ifndef TESTS_UNIT_TRIAL_WATCH_H
#define TESTS_UNIT_TRIAL_WATCH_H

#include <stdlib.h>
#include <string.h>

#include "telemetry/telemetry.h"
#include "trial/trial.h"

struct watched {
    const struct trial_kind *kind;
    void *state;
    struct bench *bench;
    struct snapshot s;
    struct trial_place place;
    bool enter;
};

static inline void watch_event(void *context, const struct event *event) {
    struct watched *w = context;
    bench_feed(w->bench, event);
    bench_read(w->bench, &w->s);
    const struct moment *m = bench_moment(w->bench);
    w->place.now_ms = m->link_ms;
    w->kind->take(w->state, m, &w->s, &w->place, w->enter);
    w->enter = false;
}

static inline void watch_lines(struct watched *w, const char *text, struct trial_pane *pane) {
    struct telemetry t;
    telemetry_init(&t, watch_event, w);
    telemetry_feed(&t, text, strlen(text), TIME_UNKNOWN);
    telemetry_end(&t, TIME_UNKNOWN);
    memset(pane, 0, sizeof *pane);
    pane->progress = -1;
    w->kind->pane(w->state, &w->s, &w->place, pane);
}

static inline void watch_begin(struct watched *w, const struct trial_kind *kind,
                               const struct trial_rules *rules) {
    memset(w, 0, sizeof *w);
    w->kind = kind;
    w->state = calloc(1, kind->size);
    w->bench = bench_new(&rules->bench);
    w->place.since_ms = w->place.since_us = w->place.now_us = TIME_UNKNOWN;
    kind->begin(w->state, rules);
}

static inline void watch_step(struct watched *w, uint32_t step) {
    w->place.step = step;
    w->place.since_ms = w->place.now_ms;
    w->enter = true;
}

static inline void watch_end(struct watched *w) {
    bench_free(w->bench);
    free(w->state);
}

static inline bool pane_says(const struct trial_pane *pane, const char *words) {
    for (uint32_t i = 0; i < pane->lines; i++)
        if (strstr(pane->line[i], words) != NULL)
            return true;
    return false;
}

#endif
