/* Charts of the run so far in the console: the course over time fed like any study, and a picture
 * of it, drawn into cells a few times a second while it is looked at. */
#ifndef CONSOLE_CHARTS_LIVE_H
#define CONSOLE_CHARTS_LIVE_H

#include "link/measure.h"
#include "picture/picture.h"
#include "study/course.h"
#include "study/survey.h"
#include "study/walk.h"
#include "view/charts.h"
#include "view/keys.h"

enum { CHART_CELLS = PICTURE_COLUMNS_MOST * 200 };

/* What the charts tell of. */
struct charts_run {
    const struct course *course;
    const struct walk *walk;     /* NULL: none */
    const struct survey *survey; /* of the band */
    struct measures m;
    double supply_alarm_mv; /* 0: none */
};

struct charts_held { /* of the picture that a pause holds */
    struct course course;
    struct walk walk;
    struct survey survey;
};

struct charts_live {
    struct course course;
    struct charts_run now, shown; /* shown: the same, but for a pause */
    struct charts_held held;
    bool paused, open;
    int which, scroll;
    bool stale; /* something changed since it was drawn, at: */
    int64_t drawn_us;
    int rows, columns; /* and for that much room */
    struct picture picture;
    struct cell cell[CHART_CELLS];
    struct charts_view view;
};

/* A run begins (anew: a replay went back); what is looked at stays.  l: zeroed before the first
 * time, large, so that the caller allocates it.  walk: the caller's, NULL for none. */
void charts_live_begin(struct charts_live *l, const struct walk *walk);

/* After each event; allocates nothing. */
void charts_live_moment(struct charts_live *l, const struct moment *m);

/* New figures to draw by; survey is the caller's and lives as long as l. */
void charts_live_read(struct charts_live *l, const struct survey *survey, const struct measures *m,
                      double supply_alarm_mv);

/* Holds what is shown, or lets it go on. */
void charts_live_pause(struct charts_live *l, bool paused);

/* True when it was for here. */
bool charts_live_action(struct charts_live *l, enum action action);

/* The chart for so much room (0: too little), drawn anew when it is due, at clock time now_us; NULL
 * while none is looked at.  s: the snapshot that the page shows. */
const struct charts_view *charts_live_view(struct charts_live *l, const struct snapshot *s,
                                           int rows, int columns, bool ascii, int64_t now_us);

#endif
