#include <stdio.h>
#include <string.h>

#include "view/figure.h"
#include "view/lay.h"
#include "view/parts.h"

enum { LETTER_ROWS = 5 };

/* Letters five cells high, drawn for this view: only what its words and figures need. */
static const struct letter {
    char c;
    const char *row[LETTER_ROWS];
} letters[] = {
    {'A', {" ### ", "#   #", "#####", "#   #", "#   #"}},
    {'C', {" ####", "#    ", "#    ", "#    ", " ####"}},
    {'D', {"#### ", "#   #", "#   #", "#   #", "#### "}},
    {'E', {"#####", "#    ", "###  ", "#    ", "#####"}},
    {'F', {"#####", "#    ", "###  ", "#    ", "#    "}},
    {'H', {"#   #", "#   #", "#####", "#   #", "#   #"}},
    {'I', {"#####", "  #  ", "  #  ", "  #  ", "#####"}},
    {'K', {"#   #", "#  # ", "###  ", "#  # ", "#   #"}},
    {'L', {"#    ", "#    ", "#    ", "#    ", "#####"}},
    {'N', {"#   #", "##  #", "# # #", "#  ##", "#   #"}},
    {'O', {" ### ", "#   #", "#   #", "#   #", " ### "}},
    {'P', {"#### ", "#   #", "#### ", "#    ", "#    "}},
    {'R', {"#### ", "#   #", "#### ", "#  # ", "#   #"}},
    {'S', {" ####", "#    ", " ### ", "    #", "#### "}},
    {'T', {"#####", "  #  ", "  #  ", "  #  ", "  #  "}},
    {'U', {"#   #", "#   #", "#   #", "#   #", " ### "}},
    {'V', {"#   #", "#   #", "#   #", " # # ", "  #  "}},
    {'W', {"#   #", "#   #", "# # #", "## ##", "#   #"}},
    {'0', {" ### ", "#   #", "#   #", "#   #", " ### "}},
    {'1', {"  #  ", " ##  ", "  #  ", "  #  ", " ### "}},
    {'2', {"#### ", "    #", " ### ", "#    ", "#####"}},
    {'3', {"#### ", "    #", " ### ", "    #", "#### "}},
    {'4', {"#  # ", "#  # ", "#####", "   # ", "   # "}},
    {'5', {"#####", "#    ", "#### ", "    #", "#### "}},
    {'6', {" ### ", "#    ", "#### ", "#   #", " ### "}},
    {'7', {"#####", "    #", "   # ", "  #  ", "  #  "}},
    {'8', {" ### ", "#   #", " ### ", "#   #", " ### "}},
    {'9', {" ### ", "#   #", " ####", "    #", " ### "}},
    {'%', {"##  #", "## # ", "  #  ", " # ##", "#  ##"}},
    {'.', {"  ", "  ", "  ", "##", "##"}},
    {'?', {"#### ", "    #", "  ## ", "     ", "  #  "}},
    {'<', {"   # ", "  #  ", " #   ", "  #  ", "   # "}},
    {'>', {" #   ", "  #  ", "   # ", "  #  ", " #   "}},
    {' ', {"   ", "   ", "   ", "   ", "   "}},
};

static const struct letter *letter_of(char c) {
    for (size_t i = 0; i < sizeof letters / sizeof letters[0]; i++) {
        if (letters[i].c == c) {
            return &letters[i];
        }
    }
    return NULL;
}

/* Draws one letter and returns the column after it. */
static int letter_draw(struct grid *g, const struct letter *letter, int row, int column, int scale,
                       enum tone tone) {
    int width = (int)strlen(letter->row[0]);
    for (int r = 0; r < LETTER_ROWS * scale; r++) {
        for (int c = 0; c < width * scale; c++) {
            if (letter->row[r / scale][c / scale] != ' ') {
                grid_glyph(g, row + r, column + c, tone, 0x2588, '#');
            }
        }
    }
    return column + (width + 1) * scale;
}

/* Columns at scale 1; -1 where a letter isn't there. */
static int big_columns(const char *text) {
    int columns = 0;
    for (size_t i = 0; text[i] != '\0'; i++) {
        const struct letter *letter = letter_of(text[i]);
        if (letter == NULL) {
            return -1;
        }
        columns += (int)strlen(letter->row[0]) + 1;
    }
    return columns;
}

/* The text in big letters; plain where they would not fit, or where a letter isn't there. */
static void big_text(struct grid *g, int row, int scale, enum tone tone, const char *text) {
    int columns = big_columns(text), column = 1;
    while (scale > 0 && columns * scale >= g->columns) {
        scale--;
    }
    if (columns < 0 || scale == 0) {
        lay_text(g, row, column, g->columns, tone, text);
        return;
    }
    for (size_t i = 0; text[i] != '\0'; i++) {
        column = letter_draw(g, letter_of(text[i]), row, column, scale, tone);
    }
}

/* Solid colour behind big solid letters would hide them: a ground of its own becomes plain ink. */
static enum tone big_tone(enum tone tone) {
    return tone == TONE_GOOD ? TONE_GOOD : TONE_HEADING;
}

static void far_figures(const struct snapshot *s, char *loss, char *outage) {
    figure_share(loss, &s->last_10s);
    if (!s->last_10s.known || s->last_10s.got + s->last_10s.lost == 0) {
        snprintf(loss, FIGURE_MAX, "?");
    }
    if (s->outage_ms == TIME_UNKNOWN) {
        snprintf(outage, FIGURE_MAX, "?");
    } else if (s->outage_ms < 100000) {
        snprintf(outage, FIGURE_MAX, "%.1f S", (double)s->outage_ms / 1e3);
    } else {
        snprintf(outage, FIGURE_MAX, "%.0f S", (double)s->outage_ms / 1e3);
    }
}

static void caption_draw(struct grid *g, int row, enum tone tone, const char *text) {
    lay_text(g, row, 1, g->columns, tone, text);
}

/* What stands above the last lines of the page, as far as there is room for it. */
static void far_banners(struct grid *g, const struct page *p, int row) {
    int last = g->rows - (p->replay != REPLAY_NONE ? 2 : 1);
    banners_draw(g, p, row, last - row);
}

void far_draw(struct grid *g, const struct snapshot *s, const struct page *p) {
    const struct state_look *look = state_look_of(s->state);
    char word[NAME_MAX_BYTES], loss[FIGURE_MAX], outage[FIGURE_MAX], message[128];
    state_word(word, s->state);
    far_figures(s, loss, outage);
    strip_message(message, sizeof message, s, p->port == LINK_ENDED || p->replay == REPLAY_ENDED);
    int scale = (g->rows - 6) / (3 * (LETTER_ROWS + 1));
    scale = scale < 1 ? 1 : scale;
    int block = LETTER_ROWS * scale + 1, row = 2;
    /* a bar of the state's own colour and glyph over the whole width, seen before it is read */
    for (int c = 0; c < g->columns; c++) {
        grid_glyph(g, 1, c, look->tone, c % 4 == 1 ? look->rune : ' ',
                   c % 4 == 1 ? look->ascii : ' ');
    }
    big_text(g, row, scale, big_tone(look->tone), word);
    caption_draw(g, row + block, TONE_HEADING, "LOSS OVER 10 s");
    big_text(g, row + block + 1, scale, TONE_HEADING, loss);
    caption_draw(g, row + 2 * block + 1, TONE_HEADING, "OUTAGE FOR");
    big_text(g, row + 2 * block + 2, scale, s->silent_at_end ? TONE_HEADING : TONE_FAINT, outage);
    if (message[0] != '\0') {
        lay_format(g, row + 2 * block + 1, 14, g->columns, TONE_TROUBLE, " %s ", message);
    }
    far_banners(g, p, row + 3 * block + 1);
}
