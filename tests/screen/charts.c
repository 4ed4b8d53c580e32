#include "charts.h"

#include <stdlib.h>
#include <string.h>

#include "console/charts_live.h"
#include "link/bench.h"
#include "simulator/simulator.h"
#include "telemetry/telemetry.h"
#include "view/page.h"

enum { OUTAGES = 1, SUPPLY, WALK, BAND, CHANNELS }; /* presses of Right */

static const struct shot {
    const char *name, *scene; /* NULL: nothing came */
    int seconds, which, down;
    enum replay_mode replay;
    bool reduced;
} shots[] = {
    {"chart-loss", "demo", 210, 0, 0, REPLAY_NONE, false},
    {"chart-early", "demo", 4, 0, 0, REPLAY_NONE, false},
    {"chart-down", "demo", 210, 0, 5, REPLAY_NONE, false},
    {"chart-replay", "demo", 100, 0, 0, REPLAY_RUNNING, true},
    {"chart-outages", "demo", 210, OUTAGES, 0, REPLAY_NONE, false},
    {"chart-supply", "demo", 210, SUPPLY, 0, REPLAY_NONE, false},
    {"chart-walk", "walk", 250, WALK, 0, REPLAY_NONE, false},
    {"chart-band", "survey", 30, BAND, 0, REPLAY_NONE, false},
    {"chart-channels", "demo", 210, CHANNELS, 0, REPLAY_NONE, false},
    {"chart-nothing", NULL, 0, 0, 0, REPLAY_NONE, false},
    {"chart-help", "demo", 210, 0, 0, REPLAY_NONE, false},
    {"chart-help-replay", "demo", 100, 0, 0, REPLAY_PAUSED, false},
    {"chart-no-loss", "bare", 30, 0, 0, REPLAY_NONE, false},
    {"chart-no-outages", "bare", 30, OUTAGES, 0, REPLAY_NONE, false},
    {"chart-no-supply", "bare", 30, SUPPLY, 0, REPLAY_NONE, false},
    {"chart-no-walk", "demo", 30, WALK, 0, REPLAY_NONE, false},
    {"chart-no-band", "demo", 30, BAND, 0, REPLAY_NONE, false},
};

/* When whoever walks in the scene "walk" stands still, by the switch. */
static const struct {
    int64_t from_s;
    double metres;
} stops[] = {{4, 5},    {25, 10},  {50, 20},  {75, 30}, {100, 40},
             {121, 45}, {142, 50}, {163, 55}, {184, 60}};
enum { STOPS = sizeof stops / sizeof stops[0], STAY_S = 15 };

static struct charts_live charts;
static struct run {
    struct bench *bench;
    struct telemetry telemetry;
    struct walk walk;
    struct survey survey;
    struct snapshot s;
    int64_t now_us;
} run;

static void take_event(void *context, const struct event *event) {
    (void)context;
    bench_feed(run.bench, event);
    survey_feed(&run.survey, event);
    walk_feed(&run.walk, bench_moment(run.bench));
    charts_live_moment(&charts, bench_moment(run.bench));
}

static void take_bytes(void *context, const char *bytes, size_t len) {
    (void)context;
    telemetry_feed(&run.telemetry, bytes, len, run.now_us);
}

static void mark(enum mark_type type, double metres) {
    struct event e = {.kind = EVENT_MARK, .host_us = run.now_us};
    e.mark.type = type;
    e.mark.distance_m = metres;
    take_event(NULL, &e);
}

static void mark_due(const char *scene, int *next) {
    bool leaves = *next % 2 == 1;
    if (strcmp(scene, "walk") != 0 || *next == 2 * STOPS)
        return;
    int64_t due_s = stops[*next / 2].from_s + (leaves ? STAY_S : 0);
    if (run.now_us < due_s * 1000000)
        return;
    mark(leaves ? MARK_LEAVE : MARK_STOP, leaves ? -1 : stops[*next / 2].metres);
    ++*next;
}

static void live_through(const char *scene, int seconds) {
    struct simulator *p = simulator_new(simulator_scene_find(scene), 1, take_bytes, NULL);
    int next = 0;
    for (; p && run.now_us <= (int64_t)seconds * 1000000; run.now_us = simulator_next_us(p)) {
        mark_due(scene, &next);
        simulator_run(p, run.now_us);
    }
    bench_advance(run.bench, (int64_t)seconds * 1000000);
    simulator_free(p);
}

static void begin(void) {
    struct bench_limits limits;
    struct walk_limits walk;
    memset(&run, 0, sizeof run);
    memset(&charts, 0, sizeof charts);
    bench_limits_default(&limits);
    walk_limits_default(&walk);
    run.bench = bench_new(&limits);
    if (!run.bench)
        exit(3);
    walk_init(&run.walk, &walk);
    survey_init(&run.survey);
    telemetry_init(&run.telemetry, take_event, NULL);
    charts_live_begin(&charts, &run.walk);
}

static void draw(const struct shot *shot, struct grid *g) {
    struct measures m;
    struct page p = {.source = "/dev/ttyUSB0", .port = LINK_OPEN, .sound = true};
    int rows, columns;
    p.replay = shot->replay;
    p.replay_at_us = (int64_t)shot->seconds * 1000000;
    p.replay_length_us = 210000000;
    p.replay_pace = 1;
    p.reduced_power = shot->reduced;
    bench_read(run.bench, &run.s);
    bench_measure(run.bench, &m);
    charts_live_read(&charts, &run.survey, &m, charts.course.supply_highest_mv > 4500 ? 4000 : 0);
    charts_live_action(&charts, ACTION_CHARTS);
    for (int i = 0; i < shot->which; i++)
        charts_live_action(&charts, ACTION_CHART_NEXT);
    page_chart_room(g->rows, g->columns, &p, &rows, &columns);
    charts_live_view(&charts, &run.s, rows, columns, g->ascii, 1);
    for (int i = 0; i < shot->down; i++)
        charts_live_action(&charts, ACTION_CHART_DOWN);
    p.charts = charts_live_view(&charts, &run.s, rows, columns, g->ascii, 1);
    p.overlay = strstr(shot->name, "help") ? OVERLAY_HELP : OVERLAY_NONE;
    page_draw(g, &run.s, &p);
}

bool charts_shot(const char *name, struct grid *g) {
    for (size_t i = 0; i < sizeof shots / sizeof shots[0]; i++) {
        if (strcmp(shots[i].name, name) != 0)
            continue;
        begin();
        if (shots[i].scene)
            live_through(shots[i].scene, shots[i].seconds);
        draw(&shots[i], g);
        bench_free(run.bench);
        return true;
    }
    return false;
}
