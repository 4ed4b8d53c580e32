#include "view/grid.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

enum { FORMAT_MAX = 1024 };

/* Characters that take one column in every terminal that draws them at all.  The host's own width
 * table isn't asked, since it depends on the locale; what isn't listed shows as '?'. */
static const struct {
    uint32_t first, last;
} single_width[] = {
    {0x0020, 0x007E}, {0x00A0, 0x00AC}, {0x00AE, 0x02FF}, {0x0370, 0x0377}, {0x037A, 0x037F},
    {0x0384, 0x038A}, {0x038C, 0x038C}, {0x038E, 0x03A1}, {0x03A3, 0x0482}, {0x048A, 0x052F},
    {0x1E00, 0x1EFF}, {0x2010, 0x2027}, {0x2030, 0x205E}, {0x20A0, 0x20BF}, {0x2100, 0x218B},
    {0x2190, 0x2319}, {0x2500, 0x25FC}, {0x25FF, 0x25FF}, {0x2800, 0x28FF},
};

/* What stands for a character of ours in the ASCII look. */
static const struct {
    uint32_t rune;
    char ascii;
} plain_side[] = {
    {0x00A0, ' '}, {0x00B1, '~'}, {0x00B5, 'u'},  {0x00B7, '-'},  {0x00D7, 'x'},
    {0x2013, '-'}, {0x2014, '-'}, {0x2018, '\''}, {0x2019, '\''}, {0x2026, '~'},
    {0x03BC, 'u'}, {0x2212, '-'}, {0x2264, '<'},  {0x2265, '>'},
};

void grid_resize(struct grid *g, int rows, int columns) {
    g->rows = rows < 1 ? 1 : rows > GRID_ROWS_MAX ? GRID_ROWS_MAX : rows;
    g->columns = columns < 1 ? 1 : columns > GRID_COLUMNS_MAX ? GRID_COLUMNS_MAX : columns;
    grid_clear(g);
}

void grid_clear(struct grid *g) {
    size_t count = (size_t)g->rows * (size_t)g->columns;
    for (size_t i = 0; i < count; i++) {
        g->cell[i] = (struct cell){' ', TONE_PLAIN};
    }
}

static bool rune_is_single(uint32_t rune) {
    for (size_t i = 0; i < sizeof single_width / sizeof single_width[0]; i++) {
        if (rune <= single_width[i].last) {
            return rune >= single_width[i].first;
        }
    }
    return false;
}

static uint32_t rune_to_ascii(uint32_t rune) {
    if (rune < 0x7F) {
        return rune;
    }
    for (size_t i = 0; i < sizeof plain_side / sizeof plain_side[0]; i++) {
        if (plain_side[i].rune == rune) {
            return (unsigned char)plain_side[i].ascii;
        }
    }
    return '?';
}

static void grid_put(struct grid *g, int row, int column, enum tone tone, uint32_t rune) {
    if (row < 0 || column < 0 || row >= g->rows || column >= g->columns) {
        return;
    }
    if (!rune_is_single(rune)) {
        rune = '?';
    }
    if (g->ascii) {
        rune = rune_to_ascii(rune);
    }
    g->cell[row * g->columns + column] = (struct cell){rune, (uint8_t)tone};
}

/* Bytes that follow a lead byte, or -1 where it can't lead; *least is the smallest rune that needs
 * so many, so that overlong forms are told from real ones. */
static int utf8_follow(unsigned char lead, uint32_t *rune, uint32_t *least) {
    if (lead < 0x80) {
        *rune = lead;
        *least = 0;
        return 0;
    }
    if (lead >= 0xC2 && lead <= 0xDF) {
        *rune = lead & 0x1Fu;
        *least = 0x80;
        return 1;
    }
    if (lead >= 0xE0 && lead <= 0xEF) {
        *rune = lead & 0x0Fu;
        *least = 0x800;
        return 2;
    }
    if (lead >= 0xF0 && lead <= 0xF4) {
        *rune = lead & 0x07u;
        *least = 0x10000;
        return 3;
    }
    return -1;
}

/* Takes one character off the front; a byte that is no part of one comes out alone, as '?'. */
static uint32_t utf8_take(struct slice *s) {
    uint32_t rune = 0, least = 0;
    int follow = utf8_follow((unsigned char)s->at[0], &rune, &least);
    size_t len = follow < 0 ? 1 : (size_t)follow + 1;
    bool good = follow >= 0 && len <= s->len;
    for (size_t i = 1; good && i < len; i++) {
        unsigned char c = (unsigned char)s->at[i];
        good = (c & 0xC0u) == 0x80;
        rune = rune << 6 | (c & 0x3Fu);
    }
    good = good && rune >= least && rune <= 0x10FFFF && !(rune >= 0xD800 && rune <= 0xDFFF);
    *s = slice_sub(*s, good ? len : 1, s->len);
    return good ? rune : '?';
}

int grid_slice(struct grid *g, int row, int column, enum tone tone, struct slice text) {
    while (text.len > 0) {
        grid_put(g, row, column, tone, utf8_take(&text));
        column++;
    }
    return column;
}

int grid_text(struct grid *g, int row, int column, enum tone tone, const char *text) {
    return grid_slice(g, row, column, tone, slice_of(text));
}

int grid_format(struct grid *g, int row, int column, enum tone tone, const char *format, ...) {
    char text[FORMAT_MAX];
    va_list list;
    va_start(list, format);
    vsnprintf(text, sizeof text, format, list);
    va_end(list);
    return grid_text(g, row, column, tone, text);
}

void grid_glyph(struct grid *g, int row, int column, enum tone tone, uint32_t rune, char ascii) {
    grid_put(g, row, column, tone, g->ascii ? (unsigned char)ascii : rune);
}

struct cell grid_cell(const struct grid *g, int row, int column) {
    if (row < 0 || column < 0 || row >= g->rows || column >= g->columns) {
        return (struct cell){' ', TONE_PLAIN};
    }
    return g->cell[row * g->columns + column];
}

static size_t utf8_put(char *out, uint32_t rune) {
    if (rune < 0x80) {
        out[0] = (char)rune;
        return 1;
    }
    if (rune < 0x800) {
        out[0] = (char)(0xC0u | rune >> 6);
        out[1] = (char)(0x80u | (rune & 0x3Fu));
        return 2;
    }
    out[0] = (char)(0xE0u | rune >> 12);
    out[1] = (char)(0x80u | (rune >> 6 & 0x3Fu));
    out[2] = (char)(0x80u | (rune & 0x3Fu));
    return 3;
}

size_t grid_row_text(const struct grid *g, int row, char *out) {
    size_t len = 0, ink = 0;
    for (int column = 0; column < g->columns; column++) {
        uint32_t rune = grid_cell(g, row, column).rune;
        len += utf8_put(out + len, rune);
        if (rune != ' ') {
            ink = len;
        }
    }
    out[ink] = '\0';
    return ink;
}

int grid_columns_of(const char *text) {
    int columns = 0;
    struct slice rest = slice_of(text);
    while (rest.len > 0) {
        (void)utf8_take(&rest);
        columns++;
    }
    return columns;
}

void grid_fill(struct grid *g, int row, int column, int rows, int columns, enum tone tone) {
    for (int r = 0; r < rows; r++) {
        for (int c = 0; c < columns; c++) {
            grid_put(g, row + r, column + c, tone, ' ');
        }
    }
}
