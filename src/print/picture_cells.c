/* A picture on a terminal: two by four dots a cell (braille), or one character a cell. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "print/picture_out.h"

enum { COLUMNS = 79, ROWS_MAX = 200, DOTS_X = 2 * COLUMNS, DOT = 4 };

struct cell {
    uint8_t dots; /* bit y * 2 + x */
    char plain;   /* in ASCII; 0: nothing drawn */
    char text[5]; /* set over both; UTF-8 */
};

struct canvas {
    const struct picture *p;
    bool ascii;
    int rows;
    struct cell *cell;
};

static void dot(struct canvas *c, int x, int y, char plain) {
    if (x < 0 || y < 0 || x >= DOTS_X || y >= 4 * c->rows)
        return;
    struct cell *cell = &c->cell[y / 4 * COLUMNS + x / 2];
    cell->dots |= (uint8_t)(1u << (y % 4 * 2 + x % 2));
    cell->plain = plain;
}

static void dot_clear(struct canvas *c, int x, int y) {
    if (x < 0 || y < 0 || x >= DOTS_X || y >= 4 * c->rows)
        return;
    struct cell *cell = &c->cell[y / 4 * COLUMNS + x / 2];
    cell->dots &= (uint8_t) ~(1u << (y % 4 * 2 + x % 2));
    cell->plain = 0;
}

static char plain_of(enum picture_role role) {
    static const char plain[PICTURE_ROLES] = {
        [ROLE_PAPER] = ' ',  [ROLE_INK] = '*',    [ROLE_MUTED] = '.', [ROLE_GRID] = '.',
        [ROLE_ACCENT] = '*', [ROLE_SECOND] = '+', [ROLE_WARN] = '!',  [ROLE_BAD] = '#',
        [ROLE_GOOD] = 'o',   [ROLE_BAND] = ':'};
    return plain[role];
}

static struct picture_point point(const struct canvas *c, const struct picture_item *item,
                                  uint32_t i) {
    return c->p->point[item->point + i];
}

static int dot_of(double tenths) {
    return (int)floor(tenths / (10 * DOT));
}

/* Whether a broken line shows at a dot: by the place, so that a curve of short pieces keeps its
 * rhythm, the same in each row of cells.  In ASCII a cell is too coarse for gaps between dashes. */
static bool shows(const struct canvas *c, const struct picture_item *item, int x, int y, int step) {
    switch ((enum picture_dash)item->dash) {
    case DASH_DASHED:
        return c->ascii || (x + 2 * y) % 4 < 2;
    case DASH_DOTTED:
        return (x + y) % 2 == 0 || (c->ascii && step % 4 < 2);
    case DASH_SOLID:
        break;
    }
    return true;
}

static void stroke(struct canvas *c, const struct picture_item *item, struct picture_point a,
                   struct picture_point b) {
    int x1 = dot_of(a.x), y1 = dot_of(a.y), x2 = dot_of(b.x), y2 = dot_of(b.y);
    int steps = abs(x2 - x1) > abs(y2 - y1) ? abs(x2 - x1) : abs(y2 - y1);
    char plain = plain_of((enum picture_role)item->role);
    if (item->role == ROLE_MUTED)
        plain = y1 == y2 ? '-' : x1 == x2 ? '|' : '.';
    else if (item->dash == DASH_DASHED)
        plain = '~'; /* beside a solid line of the same role */
    for (int i = 0; i <= steps; i++) {
        double share = steps > 0 ? (double)i / steps : 0;
        int x = x1 + (int)lround(share * (x2 - x1)), y = y1 + (int)lround(share * (y2 - y1));
        if (shows(c, item, x, y, i))
            dot(c, x, y, plain);
    }
}

static void strokes(struct canvas *c, const struct picture_item *item) {
    uint32_t step = item->kind == PICTURE_SEGMENTS ? 2 : 1;
    if (item->role == ROLE_GRID)
        return; /* too many dots for what it says */
    for (uint32_t i = 0; i + 1 < item->points; i += step)
        stroke(c, item, point(c, item, i), point(c, item, i + 1));
}

static void fill_dot(struct canvas *c, enum picture_role role, int x, int y) {
    if (role == ROLE_PAPER)
        dot_clear(c, x, y);
    else if ((role != ROLE_BAND && role != ROLE_GRID) || (x % 2 == 0 && y % 2 == 0))
        dot(c, x, y, plain_of(role));
}

static bool inside(const struct canvas *c, const struct picture_item *item, double x, double y) {
    bool in = false;
    for (uint32_t i = 0, j = item->points - 1; i < item->points; j = i++) {
        struct picture_point a = point(c, item, i), b = point(c, item, j);
        if ((a.y > y) != (b.y > y) && x < (double)(b.x - a.x) * (y - a.y) / (b.y - a.y) + a.x)
            in = !in;
    }
    return in;
}

static void fill(struct canvas *c, const struct picture_item *item) {
    int32_t low = INT32_MAX, high = INT32_MIN, left = INT32_MAX, right = INT32_MIN;
    for (uint32_t i = 0; i < item->points; i++) {
        struct picture_point a = point(c, item, i);
        low = a.y < low ? a.y : low;
        high = a.y > high ? a.y : high;
        left = a.x < left ? a.x : left;
        right = a.x > right ? a.x : right;
    }
    for (int y = dot_of(low); y <= dot_of(high); y++)
        for (int x = dot_of(left); x <= dot_of(right); x++) {
            double at_x = (x + 0.5) * 10 * DOT, at_y = (y + 0.5) * 10 * DOT;
            bool in = item->kind == PICTURE_BOX
                          ? at_x >= left && at_x <= right && at_y >= low && at_y <= high
                          : inside(c, item, at_x, at_y);
            if (in)
                fill_dot(c, (enum picture_role)item->role, x, y);
        }
}

static void write_at(struct canvas *c, int row, int column, const char *text) {
    for (; *text && row >= 0 && row < c->rows && column < COLUMNS; column++) {
        size_t len = 1;
        while (len < 4 && ((unsigned char)text[len] & 0xC0) == 0x80)
            len++;
        bool control = (unsigned char)*text < 0x20 || *text == 0x7F;
        bool foreign = c->ascii && (unsigned char)*text > 0x7F;
        struct cell *cell = column >= 0 ? &c->cell[row * COLUMNS + column] : NULL;
        if (cell && (control || foreign)) {
            memcpy(cell->text, "?", 2);
        } else if (cell) {
            memcpy(cell->text, text, len);
            cell->text[len] = '\0';
        }
        text += len;
    }
}

static void mark(struct canvas *c, const struct picture_item *item) {
    static const char *const shapes[PICTURE_SHAPES] = {"●", "○", "■", "◆", "▲", "▼", "×"};
    static const char *const plain[PICTURE_SHAPES] = {"o", "O", "#", "*", "^", "v", "x"};
    struct picture_point a = point(c, item, 0);
    write_at(c, dot_of(a.y) / 4, dot_of(a.x) / 2,
             c->ascii ? plain[item->shape] : shapes[item->shape]);
}

static void words(struct canvas *c, const struct picture_item *item) {
    struct picture_point a = point(c, item, 0);
    double shift = item->anchor == ANCHOR_START    ? 0
                   : item->anchor == ANCHOR_MIDDLE ? item->width / 2.0
                                                   : item->width;
    int column = (int)lround((a.x - shift) / 80), row = (int)lround((a.y - 128) / 160.0);
    write_at(c, row, column, c->p->text + item->text);
}

static void draw(struct canvas *c, const struct picture_item *item) {
    switch ((enum picture_kind)item->kind) {
    case PICTURE_LINE:
    case PICTURE_SEGMENTS:
        strokes(c, item);
        break;
    case PICTURE_AREA:
    case PICTURE_BOX:
        fill(c, item);
        break;
    case PICTURE_MARK:
        mark(c, item);
        break;
    case PICTURE_WORDS:
        words(c, item);
        break;
    case PICTURE_GROUP:
    case PICTURE_KINDS:
        break;
    }
}

/* Braille (Unicode chapter 21.1): U+2800 and a bit a dot: 1 2 3 7 down the left column, 4 5 6 8
 * down the right one. */
static void braille(char *out, uint8_t dots) {
    static const uint8_t bit[8] = {0x01, 0x08, 0x02, 0x10, 0x04, 0x20, 0x40, 0x80};
    unsigned code = 0x2800;
    for (int i = 0; i < 8; i++)
        if (dots >> i & 1)
            code |= bit[i];
    out[0] = (char)(0xE0 | code >> 12);
    out[1] = (char)(0x80 | (code >> 6 & 0x3F));
    out[2] = (char)(0x80 | (code & 0x3F));
    out[3] = '\0';
}

static void put_row(const struct canvas *c, int row, picture_put *put, void *where) {
    const struct cell *cell = &c->cell[row * COLUMNS];
    int last = COLUMNS;
    while (last > 0 && !cell[last - 1].text[0] && cell[last - 1].dots == 0)
        last--;
    for (int i = 0; i < last; i++) {
        char text[5] = " ";
        if (cell[i].text[0])
            memcpy(text, cell[i].text, sizeof text);
        else if (cell[i].dots && c->ascii)
            text[0] = cell[i].plain;
        else if (cell[i].dots)
            braille(text, cell[i].dots);
        put(where, text, strlen(text));
    }
    put(where, "\n", 1);
}

bool picture_cells(const struct picture *p, bool ascii, picture_put *put, void *where) {
    struct canvas c = {.p = p, .ascii = ascii, .rows = (int)ceil(p->height / 16)};
    if (c.rows > ROWS_MAX)
        c.rows = ROWS_MAX;
    c.cell = calloc((size_t)c.rows * COLUMNS + 1, sizeof *c.cell);
    if (!c.cell)
        return false;
    for (uint32_t i = 0; i < p->items; i++)
        draw(&c, &p->item[i]);
    for (int row = 0; row < c.rows; row++)
        put_row(&c, row, put, where);
    free(c.cell);
    return true;
}
