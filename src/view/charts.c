#include "view/charts.h"

#include <stdio.h>

#include "view/figure.h"
#include "view/lay.h"
#include "view/parts.h"

/* Where the chart goes; above it the link in a row and a heading, below it the keys. */
static struct place place_of(int rows, int columns, const struct page *p) {
    bool small = page_is_small(rows, columns);
    int banners = banners_draw(NULL, p, 0, small ? 1 : 4);
    int above = (small ? 0 : 1) + banners + 2, below = !small && p->replay != REPLAY_NONE ? 2 : 1;
    return (struct place){above, 0, rows - above - below, columns};
}

void page_chart_room(int rows, int columns, const struct page *p, int *room_rows,
                     int *room_columns) {
    struct place at = place_of(rows, columns, p);
    bool fits = at.rows >= CHART_ROWS_LEAST && at.columns >= CHART_COLUMNS_LEAST;
    *room_rows = fits ? at.rows : 0;
    *room_columns = fits ? at.columns : 0;
}

static void state_draw(struct grid *g, const struct snapshot *s, const struct page *p, int row) {
    const struct state_look *look = state_look_of(s->state);
    char word[NAME_MAX_BYTES], loss[FIGURE_MAX], message[128];
    state_word(word, s->state);
    bool told = figure_recent(loss, s, &s->last_10s);
    strip_message(message, sizeof message, s, p->port == LINK_ENDED || p->replay == REPLAY_ENDED);
    grid_glyph(g, row, 0, look->tone, look->rune, look->ascii);
    int column = lay_text(g, row, 2, g->columns, look->tone, word) + 2;
    column = lay_format(g, row, column, g->columns,
                        told && figure_few(&s->last_10s) ? TONE_FAINT : TONE_PLAIN,
                        told ? "loss 10 s %s" : "%s", loss);
    if (message[0] != '\0')
        lay_format(g, row, column + 2, g->columns, TONE_TROUBLE, " %s ", message);
}

static int most_scroll(const struct charts_view *v, int rows) {
    return v->rows > rows ? v->rows - rows : 0;
}

static void heading_draw(struct grid *g, const struct charts_view *v, int row, int rows) {
    int most = most_scroll(v, rows), skip = v->scroll < most ? v->scroll : most;
    char where[40], more[40] = "";
    if (skip < most)
        snprintf(more, sizeof more, "%d more: Down ", most - skip);
    else if (most > 0)
        snprintf(more, sizeof more, "end; Up: above ");
    snprintf(where, sizeof where, "%s %d of %d", more, v->number, v->count);
    int right = g->columns - grid_columns_of(where);
    lay_heading(g, row, 0, right - 1, v->title);
    lay_text(g, row, right, g->columns, TONE_FAINT, where);
}

static void cells_draw(struct grid *g, const struct charts_view *v, struct place at) {
    int most = most_scroll(v, at.rows), skip = v->scroll < most ? v->scroll : most;
    for (int r = 0; r < at.rows && r + skip < v->rows; r++)
        for (int c = 0; c < at.columns && c < v->columns; c++) {
            const struct cell *cell = &v->cell[(r + skip) * v->columns + c];
            grid_glyph(g, at.row + r, at.column + c, (enum tone)cell->tone, cell->rune,
                       cell->rune < 0x7F ? (char)cell->rune : '?');
        }
}

void charts_draw(struct grid *g, const struct snapshot *s, const struct page *p) {
    const struct charts_view *v = p->charts;
    bool small = page_is_small(g->rows, g->columns);
    struct place at = place_of(g->rows, g->columns, p);
    int rows, columns;
    page_chart_room(g->rows, g->columns, p, &rows, &columns);
    if (!small)
        top_draw(g, s, p);
    int row = small ? 0 : 1;
    row += banners_draw(g, p, row, small ? 1 : 4);
    state_draw(g, s, p, row);
    if (rows > 0) {
        heading_draw(g, v, at.row - 1, at.rows);
        cells_draw(g, v, at);
    } else {
        lay_text(g, row + 1, 0, g->columns, TONE_PLAIN, "too small for a chart: 40x12 shows it");
    }
    if (row + 2 < g->rows)
        bottom_draw(g, p);
}
