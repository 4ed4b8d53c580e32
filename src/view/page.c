#include "view/page.h"

#include <stdio.h>

#include "view/figure.h"
#include "view/lay.h"
#include "view/parts.h"
#include "view/trial.h"

enum {
    FULL_COLUMNS = 80, /* below these the small page is drawn */
    FULL_ROWS = 18,
    LOG_ENTRIES_LEAST = 3,
    LOG_ENTRIES_ROOMY = 10,
    WALK_LEAST = 6, /* rows of the walk's pane with one line of finished stops */
    WALK_MOST = 8,
    TRIAL_ROOMY = 18,
};

/* The log_entries, under the walk's pane while there is one. */
static void below_draw(struct grid *g, const struct snapshot *s, const struct page *p,
                       struct place at) {
    if (p->walk != NULL) {
        int rows = at.rows < WALK_MOST + LOG_ENTRIES_LEAST ? at.rows : WALK_MOST;
        walk_draw(g, p->walk, (struct place){at.row, at.column, rows, at.columns});
        at.row += rows;
        at.rows -= rows;
    }
    if (at.rows > 0)
        log_entries_draw(g, s, p, at);
}

/* Where there is no room for the page: the state first, then what else fits. */
static void small_draw(struct grid *g, const struct snapshot *s, const struct page *p) {
    const struct state_look *look = state_look_of(s->state);
    char word[NAME_MAX_BYTES], loss[FIGURE_MAX];
    bool ended = p->port == LINK_ENDED || p->replay == REPLAY_ENDED;
    int last = g->rows > 3 ? g->rows - 1 : g->rows; /* rows for all but the keys */
    state_word(word, s->state);
    grid_glyph(g, 0, 0, look->tone, look->rune, look->ascii);
    int at = grid_text(g, 0, 2, look->tone, word) + 2;
    bool told = figure_recent(loss, s, &s->last_10s);
    lay_format(g, g->rows > 1 ? 1 : 0, g->rows > 1 ? 0 : at, g->columns,
               told && figure_few(&s->last_10s) ? TONE_FAINT : TONE_PLAIN,
               told ? "loss 10 s %s" : "%s", loss);
    int row = 2;
    if (row < last) {
        row += banners_draw(g, p, row, last - row > 4 ? 4 : 1);
    }
    struct place rest = {row, 0, last - row, g->columns};
    if (p->trial != NULL) {
        rest = (struct place){row, 0, last - row, g->columns};
        trial_draw(g, p->trial, rest);
        row = last;
    } else {
        row += strip_brief(g, s, ended, rest);
    }
    rest = (struct place){row, 0, last - row, g->columns};
    if (rest.rows > 1 && rest.columns > 30) {
        below_draw(g, s, p, rest);
    }
    if (last < g->rows) {
        lay_text(g, last, 0, g->columns, TONE_FAINT,
                 p->notice != NULL          ? p->notice
                 : page_keys(p) == IN_TRIAL ? "? help  all of it needs 80x24"
                                            : "q quit  ? help  all of it needs 80x24");
    }
}

/* Channels and log_entries share what the strip leaves; channels come first, but never take the
 * last few lines of log_entries. */
static void lower_draw(struct grid *g, const struct snapshot *s, const struct page *p,
                       struct place at) {
    int wanted = channels_rows(s);
    if (at.columns >= WIDE) {
        int left = at.columns / 2;
        struct place channels = {at.row, 0, at.rows, left - 1};
        struct place log_entries = {at.row, left + 1, at.rows, at.columns - left - 1};
        channels_draw(g, s, channels);
        below_draw(g, s, p, log_entries);
        return;
    }
    int most = at.rows - (p->walk != NULL ? WALK_LEAST : LOG_ENTRIES_LEAST);
    int rows = wanted < most ? wanted : most;
    if (2 * wanted <= at.rows - LOG_ENTRIES_ROOMY - (p->walk != NULL ? WALK_MOST : 0)) {
        rows = 2 * wanted - 1; /* a second row for each channel */
    }
    struct place channels = {at.row, 0, rows, at.columns};
    struct place log_entries = {at.row + rows, 0, at.rows - rows, at.columns};
    channels_draw(g, s, channels);
    below_draw(g, s, p, log_entries);
}

/* A trial takes the place of the log_entries, and of the channels where both don't fit. */
static void trial_lower_draw(struct grid *g, const struct snapshot *s, const struct page *p,
                             struct place at) {
    int channels = channels_rows(s);
    struct place trial = at, other = at;
    if (at.columns >= WIDE) {
        other.columns = at.columns / 2 - 1;
        trial.column = other.columns + 2;
        trial.columns = at.columns - trial.column;
        channels_draw(g, s, other);
    } else if (at.rows - channels >= TRIAL_ROOMY) {
        other.rows = channels;
        trial.row += channels;
        trial.rows -= channels;
        channels_draw(g, s, other);
    }
    trial_draw(g, p->trial, trial);
}

static void full_draw(struct grid *g, const struct snapshot *s, const struct page *p) {
    top_draw(g, s, p);
    int row = 1 + banners_draw(g, p, 1, 4);
    int bottom = bottom_draw(g, p);
    struct place strip = {row, 0, g->rows - row, g->columns};
    row += strip_draw(g, s, p, strip);
    struct place lower = {row, 0, g->rows - row - bottom, g->columns};
    if (p->trial != NULL) {
        trial_lower_draw(g, s, p, lower);
    } else {
        lower_draw(g, s, p, lower);
    }
}

static unsigned page_mode(const struct page *p) {
    return p->replay != REPLAY_NONE ? IN_REPLAY : IN_LIVE;
}

unsigned page_keys(const struct page *p) {
    const struct trial_view *v = p->trial;
    if (v != NULL && (v->show != TRIAL_SHOW_STEP || v->live)) {
        return v->show == TRIAL_SHOW_STEP ? IN_TRIAL : IN_TRIALS;
    }
    return p->charts != NULL ? IN_CHARTS : page_mode(p);
}

enum action page_action(const struct page *p, int key) {
    unsigned where = page_keys(p);
    enum action action = keys_action(key, where);
    return action == ACTION_NONE && where == IN_CHARTS ? keys_action(key, page_mode(p)) : action;
}

bool page_is_small(int rows, int columns) {
    return columns < FULL_COLUMNS || rows < FULL_ROWS;
}

void page_draw(struct grid *g, const struct snapshot *s, const struct page *p) {
    grid_clear(g);
    if (p->charts != NULL && p->trial == NULL) {
        charts_draw(g, s, p);
    } else if (page_is_small(g->rows, g->columns)) {
        small_draw(g, s, p);
    } else if (p->far && p->trial == NULL) {
        top_draw(g, s, p);
        far_draw(g, s, p);
        bottom_draw(g, p);
    } else {
        full_draw(g, s, p);
    }
    overlay_draw(g, s, p);
}
