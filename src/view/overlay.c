#include <stdio.h>
#include <string.h>

#include "view/air.h"
#include "view/keys.h"
#include "view/lay.h"
#include "view/parts.h"

enum { BOX_COLUMNS_MAX = 76, KEY_COLUMNS = 8, HELP_COLUMNS = 38 };

/* A box of so many inner rows over the lower part of the page, so that the link's state above it
 * stays in sight.  Returns the place inside the frame. */
static struct place box_open(struct grid *g, int inner_rows, int columns, enum tone tone,
                             bool heavy, const char *title) {
    int rows = inner_rows + 2;
    columns = columns > g->columns ? g->columns : columns;
    int most = g->rows > 6 ? g->rows - 2 : g->rows;
    rows = rows > most ? most : rows;
    int row = g->rows - rows - (g->rows > rows ? 1 : 0);
    int column = (g->columns - columns) / 2;
    lay_frame(g, row, column, rows, columns, tone, heavy);
    grid_fill(g, row + 1, column + 1, rows - 2, columns - 2, TONE_PLAIN);
    lay_format(g, row, column + 2, column + columns - 1, tone, " %s ", title);
    return (struct place){row + 1, column + 2, rows - 2, columns - 4};
}

static int wrapped_rows(const char *text, int width) {
    int rows = 0;
    struct slice rest = slice_of(text);
    while (rest.len > 0) {
        (void)lay_line(&rest, width);
        rows++;
    }
    return rows;
}

/* Leaves the last row free: what the person has to do stays in sight where the text is cut. */
static int wrapped_draw(struct grid *g, struct place in, const char *text) {
    struct slice rest = slice_of(text);
    int row = 0;
    for (; rest.len > 0 && row < in.rows - 1; row++) {
        grid_slice(g, in.row + row, in.column, TONE_PLAIN, lay_line(&rest, in.columns));
    }
    return row;
}

static int box_columns(const struct grid *g) {
    return g->columns < BOX_COLUMNS_MAX + 10 ? g->columns : BOX_COLUMNS_MAX;
}

static void answers_draw(struct grid *g, struct place in, const char *yes, const char *no) {
    int row = in.row + in.rows - 1, right = in.column + in.columns;
    int at = lay_text(g, row, in.column, right, TONE_KEY, "y") + 1;
    at = lay_text(g, row, at, right, TONE_PLAIN, yes) + 3;
    at = lay_text(g, row, at, right, TONE_KEY, "n") + 1;
    lay_text(g, row, at, right, TONE_PLAIN, no);
}

static void question_draw(struct grid *g, const char *title, const struct page *p) {
    const char *question = p->question != NULL ? p->question : "";
    int columns = box_columns(g);
    int rows = wrapped_rows(question, columns - 4);
    struct place in = box_open(g, rows + 2, columns, TONE_CAUTION, true, title);
    wrapped_draw(g, in, question);
    if (p->held)
        lay_text(g, in.row + in.rows - 1, in.column, in.column + in.columns, TONE_FAINT,
                 "Read this first ...");
    else
        answers_draw(g, in, "yes, go on", "no, go back");
}

static void entry_draw(struct grid *g, const struct page *p) {
    const char *question = p->question != NULL ? p->question : "";
    const char *entry = p->entry != NULL ? p->entry : "";
    int columns = box_columns(g), rows = wrapped_rows(question, columns - 4);
    struct place in = box_open(g, rows + 3, columns, TONE_MARK, false, "type");
    int right = in.column + in.columns;
    int row = in.row + wrapped_draw(g, in, question);
    int at = grid_text(g, row, in.column, TONE_KEY, "> ");
    at = lay_tail(g, row, at, right - 1, TONE_HEADING, entry);
    grid_glyph(g, row, at, TONE_BANNER, ' ', '_');
    if (in.rows > row - in.row + 2) {
        lay_text(g, row + 2, in.column, right, TONE_FAINT, "Enter takes it, Esc leaves it");
    }
}

static const struct {
    uint32_t rune;
    char ascii;
    const char *text;
} legend[] = {
    {0x2581, '_', "a second, no packet lost"},
    {0x2588, '7', "a second, most packets lost"},
    {0x00D7, 'X', "a second without a packet"},
    {0x00B7, '.', "a second not seen"},
    {0x25C6, 'O', "an output now"},
    {0x25C7, 'o', "the stick, where it differs"},
    {0x2503, '|', "its rest position"},
    {0x251C, '[', "the ends that it has reached"},
};
enum { LEGENDS = sizeof legend / sizeof legend[0] };

static void help_key(struct grid *g, const struct key_row *key, struct place at) {
    char name[8], also[8] = "", both[20];
    if (at.rows == 0)
        return;
    keys_name(key->key, name);
    if (key->also != PRESS_NONE && key->also != ' ') {
        keys_name(key->also, also);
    }
    snprintf(both, sizeof both, "%s%s%s", name, also[0] != '\0' ? " " : "", also);
    lay_text(g, at.row, at.column, at.column + KEY_COLUMNS - 1, TONE_KEY, both);
    lay_text(g, at.row, at.column + KEY_COLUMNS, at.column + at.columns, TONE_PLAIN, key->help);
}

/* First a place's own keys; on a chart, then those of the console that go on working there. */
enum told { TOLD_NOT, TOLD_FIRST, TOLD_THEN };

static enum told key_told(const struct page *p, const struct key_row *key) {
    unsigned where = page_keys(p), console = p->replay == REPLAY_NONE ? IN_LIVE : IN_REPLAY;
    if ((key->where & where) != 0)
        return TOLD_FIRST;
    bool through = where == IN_CHARTS && (key->where & console) != 0;
    return through && page_action(p, key->key) == key->action ? TOLD_THEN : TOLD_NOT;
}

static void legend_draw(struct grid *g, int i, struct place at) {
    if (at.rows == 0)
        return;
    grid_glyph(g, at.row, at.column, TONE_PLAIN, legend[i].rune, legend[i].ascii);
    lay_text(g, at.row, at.column + KEY_COLUMNS, at.column + at.columns, TONE_FAINT,
             legend[i].text);
}

/* The place of the at-th line of the help, in columns of so many rows; rows 0: it has no room. */
static struct place help_place(struct place in, int across, int rows, int at) {
    int width = in.columns / across, row = at % rows;
    return (struct place){in.row + row, in.column + at / rows * width, row < in.rows ? 1 : 0,
                          width - 1};
}

static void help_draw(struct grid *g, const struct page *p) {
    int legends = page_keys(p) == IN_CHARTS ? 0 : LEGENDS; /* a chart has its own */
    int all = legends, at = 0;
    for (size_t i = 0; i < key_rows_count; i++)
        all += key_told(p, &key_rows[i]) != TOLD_NOT ? 1 : 0;
    int across = g->columns >= 2 * HELP_COLUMNS + 4 ? 2 : 1;
    int rows = (all + across - 1) / across;
    bool cut = rows + 2 > g->rows;
    struct place in = box_open(g, rows, across * HELP_COLUMNS + 4, TONE_HEADING, false,
                               cut ? "keys (Esc; larger screens show more)" : "keys (Esc closes)");
    for (enum told part = TOLD_FIRST; part <= TOLD_THEN; part++)
        for (size_t i = 0; i < key_rows_count; i++)
            if (key_told(p, &key_rows[i]) == part)
                help_key(g, &key_rows[i], help_place(in, across, rows, at++));
    for (int i = 0; i < legends; i++)
        legend_draw(g, i, help_place(in, across, rows, at++));
}

static void band_draw(struct grid *g, const struct survey *survey) {
    static const struct survey none;
    const struct survey *s = survey != NULL ? survey : &none;
    int most = SURVEY_MHZ + 10; /* a column a carrier, and its frame */
    int columns = g->columns < most ? g->columns : most;
    struct place in = box_open(g, air_rows(s, columns - 4), columns, TONE_MARK, false, "the band");
    air_draw(g, s, in);
}

void overlay_draw(struct grid *g, const struct snapshot *s, const struct page *p) {
    (void)s;
    switch (p->overlay) {
    case OVERLAY_HELP:
        help_draw(g, p);
        break;
    case OVERLAY_BAND:
        band_draw(g, p->survey);
        break;
    case OVERLAY_CAUTION:
        question_draw(g, "CAUTION", p);
        break;
    case OVERLAY_LEAVE:
        question_draw(g, "BEFORE YOU QUIT", p);
        break;
    case OVERLAY_ENTRY:
        entry_draw(g, p);
        break;
    case OVERLAY_NONE:
        break;
    }
}
