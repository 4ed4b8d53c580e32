#include "view/lay.h"

#include <stdarg.h>
#include <stdio.h>

enum { FORMAT_MAX = 512 };

/* The first `columns` characters; UTF-8 continuation bytes go with their lead. */
static struct slice head_of(struct slice s, int columns) {
    size_t at = 0;
    for (int c = 0; c < columns && at < s.len; c++) {
        at++;
        while (at < s.len && ((unsigned char)s.at[at] & 0xC0u) == 0x80) {
            at++;
        }
    }
    return slice_sub(s, 0, at);
}

int lay_text(struct grid *g, int row, int column, int right, enum tone tone, const char *text) {
    int room = right - column;
    if (room <= 0) {
        return column;
    }
    if (grid_columns_of(text) <= room) {
        return grid_text(g, row, column, tone, text);
    }
    int end = grid_slice(g, row, column, tone, head_of(slice_of(text), room - 1));
    grid_glyph(g, row, end, tone, 0x2026, '~');
    return end + 1;
}

int lay_format(struct grid *g, int row, int column, int right, enum tone tone, const char *format,
               ...) {
    char text[FORMAT_MAX];
    va_list list;
    va_start(list, format);
    vsnprintf(text, sizeof text, format, list);
    va_end(list);
    return lay_text(g, row, column, right, tone, text);
}

int lay_tail(struct grid *g, int row, int column, int right, enum tone tone, const char *text) {
    int room = right - column, over = grid_columns_of(text) - room;
    if (room <= 0) {
        return column;
    }
    if (over <= 0) {
        return grid_text(g, row, column, tone, text);
    }
    struct slice whole = slice_of(text);
    size_t skip = head_of(whole, over + 1).len;
    grid_glyph(g, row, column, tone, 0x2026, '~');
    return grid_slice(g, row, column + 1, tone, slice_sub(whole, skip, whole.len));
}

int lay_right(struct grid *g, int row, int least, int right, enum tone tone, const char *text) {
    int column = right - grid_columns_of(text);
    if (column < least) {
        return right;
    }
    grid_text(g, row, column, tone, text);
    return column;
}

void lay_heading(struct grid *g, int row, int column, int right, const char *title) {
    int at = lay_text(g, row, column, right, TONE_HEADING, title) + 1;
    for (; at < right; at++) {
        grid_glyph(g, row, at, TONE_FAINT, 0x2500, '-');
    }
}

/* Corners from the top left clockwise, then the horizontal and the vertical. */
static const struct {
    uint32_t rune[6];
    char ascii[6];
} frames[2] = {
    {{0x250C, 0x2510, 0x2518, 0x2514, 0x2500, 0x2502}, {'+', '+', '+', '+', '-', '|'}},
    {{0x2554, 0x2557, 0x255D, 0x255A, 0x2550, 0x2551}, {'#', '#', '#', '#', '#', '#'}},
};

static void frame_part(struct grid *g, int row, int column, enum tone tone, bool heavy, int part) {
    grid_glyph(g, row, column, tone, frames[heavy].rune[part], frames[heavy].ascii[part]);
}

void lay_frame(struct grid *g, int row, int column, int rows, int columns, enum tone tone,
               bool heavy) {
    int bottom = row + rows - 1, last = column + columns - 1;
    grid_fill(g, row, column, rows, columns, tone);
    for (int c = column + 1; c < last; c++) {
        frame_part(g, row, c, tone, heavy, 4);
        frame_part(g, bottom, c, tone, heavy, 4);
    }
    for (int r = row + 1; r < bottom; r++) {
        frame_part(g, r, column, tone, heavy, 5);
        frame_part(g, r, last, tone, heavy, 5);
    }
    frame_part(g, row, column, tone, heavy, 0);
    frame_part(g, row, last, tone, heavy, 1);
    frame_part(g, bottom, last, tone, heavy, 2);
    frame_part(g, bottom, column, tone, heavy, 3);
}

struct slice lay_line(struct slice *rest, int width) {
    struct slice paragraph = slice_sub(*rest, 0, slice_find(*rest, '\n'));
    struct slice line = head_of(paragraph, width < 1 ? 1 : width);
    size_t used = line.len;
    if (line.len < paragraph.len && paragraph.at[line.len] != ' ') {
        size_t space = line.len;
        while (space > 0 && paragraph.at[space - 1] != ' ') {
            space--;
        }
        used = space > 0 ? space : line.len; /* a word longer than the line is cut */
        line = slice_sub(line, 0, space > 0 ? space - 1 : line.len);
    }
    bool ended = used == paragraph.len;
    while (used < paragraph.len && paragraph.at[used] == ' ') {
        used++;
    }
    if (ended && used < rest->len) {
        used++; /* the newline */
    }
    *rest = slice_sub(*rest, used, rest->len);
    return line;
}
