#include "console/charts_live.h"

#include <math.h>
#include <string.h>

#include "base/whole.h"
#include "picture/picture_out.h"
#include "picture/picture_walk.h"
#include "picture/pictures.h"

enum {
    APART_US = 500000, /* between two drawings of the same chart */
    PLOT_LEAST = 4,    /* rows; what doesn't fit then is scrolled to */
    PLOT_MOST = 40,
    PAGE_ROWS = 8,
};

void charts_live_begin(struct charts_live *l, const struct walk *walk) {
    course_init(&l->course);
    l->now.course = &l->course;
    l->now.walk = walk;
    if (!l->paused)
        l->shown = l->now;
    l->stale = true;
}

void charts_live_moment(struct charts_live *l, const struct moment *m) {
    course_feed(&l->course, m);
}

void charts_live_read(struct charts_live *l, const struct survey *survey, const struct measures *m,
                      double supply_alarm_mv) {
    l->now.survey = survey;
    l->now.m = *m;
    l->now.supply_alarm_mv = supply_alarm_mv;
    if (!l->paused)
        l->shown = l->now;
    l->stale = l->stale || !l->paused;
}

void charts_live_pause(struct charts_live *l, bool paused) {
    l->paused = paused;
    l->stale = true;
    l->shown = l->now;
    if (!paused)
        return;
    l->held.course = l->course;
    l->shown.course = &l->held.course;
    if (l->now.walk) {
        l->held.walk = *l->now.walk;
        l->shown.walk = &l->held.walk;
    }
    if (l->now.survey) {
        l->held.survey = *l->now.survey;
        l->shown.survey = &l->held.survey;
    }
}

/* --- each chart */

struct drawing {
    struct picture *p;
    const struct charts_run *run;
    const struct snapshot *s;
    struct picture_room room;
};

static struct picture_facts facts_of(const struct drawing *d) {
    static const struct survey none;
    return (struct picture_facts){.s = d->s,
                                  .m = &d->run->m,
                                  .course = d->run->course,
                                  .survey = d->run->survey ? d->run->survey : &none,
                                  .supply_alarm_mv = d->run->supply_alarm_mv,
                                  .room = &d->room};
}

static void draw_loss(const struct drawing *d) {
    struct picture_facts facts = facts_of(d);
    picture_loss(d->p, PICTURE_CELLS, &facts);
}

static void draw_outages(const struct drawing *d) {
    struct picture_facts facts = facts_of(d);
    picture_outages(d->p, PICTURE_CELLS, &facts);
}

static void draw_supply(const struct drawing *d) {
    struct picture_facts facts = facts_of(d);
    picture_supply(d->p, PICTURE_CELLS, &facts);
}

static void draw_walk(const struct drawing *d) {
    static const struct walk none;
    const struct walk *walk = d->run->walk ? d->run->walk : &none;
    struct reach_settings settings;
    struct reach reach;
    reach_settings_default(&settings);
    reach_find(walk->stop, walk->count, &settings, &reach);
    picture_walk(d->p, PICTURE_CELLS,
                 &(struct picture_walk){
                     .walk = walk, .reach = &reach, .acked = d->s->acked, .room = &d->room});
}

static void draw_band(const struct drawing *d) {
    struct picture_facts facts = facts_of(d);
    picture_band(d->p, PICTURE_CELLS, &facts);
}

static void draw_channels(const struct drawing *d) {
    struct picture_facts facts = facts_of(d);
    picture_channels(d->p, PICTURE_CELLS, &facts);
}

static void (*const charts[])(const struct drawing *d) = {draw_loss, draw_outages, draw_supply,
                                                          draw_walk, draw_band,    draw_channels};
enum { CHARTS = sizeof charts / sizeof charts[0] };

/* --- keys */

static void step(struct charts_live *l, int by) {
    l->which = (l->which + by + CHARTS) % CHARTS;
    l->scroll = 0;
    l->drawn_us = 0;
}

static void scroll(struct charts_live *l, int by) {
    int most = l->view.rows > l->rows ? l->view.rows - l->rows : 0;
    l->scroll += by;
    l->scroll = l->scroll > most ? most : l->scroll;
    l->scroll = l->scroll < 0 ? 0 : l->scroll;
}

bool charts_live_action(struct charts_live *l, enum action action) {
    bool last = l->which == CHARTS - 1;
    switch (action) {
    case ACTION_CHARTS:
        l->open = true;
        l->which = CHARTS - 1;
        step(l, 1);
        return true;
    case ACTION_CHARTS_CLOSE:
        l->open = false;
        return true;
    case ACTION_CHART_NEXT_OR_CLOSE:
        l->open = !last;
        step(l, 1);
        return true;
    case ACTION_CHART_NEXT:
    case ACTION_CHART_BEFORE:
        step(l, action == ACTION_CHART_NEXT ? 1 : -1);
        return true;
    case ACTION_CHART_UP:
    case ACTION_CHART_DOWN:
        scroll(l, action == ACTION_CHART_UP ? -1 : 1);
        return true;
    case ACTION_CHART_PAGE_UP:
    case ACTION_CHART_PAGE_DOWN:
        scroll(l, action == ACTION_CHART_PAGE_UP ? -PAGE_ROWS : PAGE_ROWS);
        return true;
    default:
        return false;
    }
}

/* --- drawing */

static enum tone tone_of(enum picture_role role) {
    static const enum tone tones[PICTURE_ROLES] = {
        [ROLE_PAPER] = TONE_PLAIN,  [ROLE_INK] = TONE_PLAIN,    [ROLE_MUTED] = TONE_FAINT,
        [ROLE_GRID] = TONE_FAINT,   [ROLE_ACCENT] = TONE_PLAIN, [ROLE_SECOND] = TONE_HEADING,
        [ROLE_WARN] = TONE_HEADING, [ROLE_BAD] = TONE_HEADING,  [ROLE_GOOD] = TONE_GOOD,
        [ROLE_BAND] = TONE_FAINT,
    };
    return tones[role];
}

static void take_cell(void *where, int row, int column, uint32_t rune, enum picture_role role) {
    struct charts_live *l = where;
    if (row < l->view.rows && column < l->view.columns)
        l->cell[row * l->view.columns + column] = (struct cell){rune, (uint8_t)tone_of(role)};
}

static int rows_of(const struct picture *p) {
    return (int)lround(p->height / 16); /* a lane leaves two units below itself */
}

static int draw_at(struct drawing *d, int which, int plot_rows) {
    d->room.plot_rows = plot_rows;
    charts[which](d);
    return rows_of(d->p);
}

/* The tallest plot with which all of it fits, or the least one. */
static void fit(struct drawing *d, int which, int rows) {
    int low = PLOT_LEAST, high = PLOT_LEAST + rows - draw_at(d, which, PLOT_LEAST);
    high = high < PLOT_MOST ? high : PLOT_MOST;
    if (high > low && draw_at(d, which, high) <= rows) /* where there is one plot */
        return;
    while (low < high) {
        int middle = (low + high + 1) / 2;
        if (draw_at(d, which, middle) <= rows)
            low = middle;
        else
            high = middle - 1;
    }
    draw_at(d, which, low);
}

static void draw(struct charts_live *l, const struct snapshot *s, bool ascii) {
    struct drawing d = {&l->picture, &l->shown, s, {l->columns, PLOT_LEAST}};
    fit(&d, l->which, l->rows);
    int columns = whole_i32(l->picture.width / 8), rows = rows_of(&l->picture);
    int most = CHART_CELLS / (columns > 0 ? columns : 1);
    l->view = (struct charts_view){.title = l->picture.text + l->picture.title,
                                   .number = l->which + 1,
                                   .count = CHARTS,
                                   .rows = rows < most ? rows : most,
                                   .columns = columns,
                                   .cell = l->cell};
    for (int i = 0; i < l->view.rows * columns; i++)
        l->cell[i] = (struct cell){' ', TONE_PLAIN};
    picture_each_cell(&l->picture, ascii, take_cell, l);
}

const struct charts_view *charts_live_view(struct charts_live *l, const struct snapshot *s,
                                           int rows, int columns, bool ascii, int64_t now_us) {
    bool moved = rows != l->rows || columns != l->columns || l->drawn_us == 0;
    if (!l->open)
        return NULL;
    if (rows > 0 && (moved || (l->stale && now_us - l->drawn_us >= APART_US))) {
        l->rows = rows;
        l->columns = columns;
        draw(l, s, ascii);
        l->stale = false;
        l->drawn_us = now_us;
    }
    scroll(l, 0); /* the room may have grown */
    l->view.scroll = l->scroll;
    return &l->view;
}
