/* A picture on a terminal: two by four dots a cell (braille), or one character a cell. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "picture/picture_out.h"

#include "base/whole.h"

enum { ROWS_MAX = 200, DOT = 4 };

struct cell {
    uint32_t text; /* a character set over the dots; 0: none */
    uint8_t dots;  /* bit y * 2 + x */
    char plain;    /* in ASCII; 0: nothing drawn */
    uint8_t role;  /* of what was drawn last */
};

struct canvas {
    const struct picture *p;
    bool ascii;
    int rows, columns;
    struct cell *cell;
};

static void dot(struct canvas *c, int x, int y, char plain, uint8_t role) {
    if (x < 0 || y < 0 || x >= 2 * c->columns || y >= 4 * c->rows)
        return;
    struct cell *cell = &c->cell[y / 4 * c->columns + x / 2];
    cell->dots |= (uint8_t)(1u << (y % 4 * 2 + x % 2));
    cell->plain = plain;
    cell->role = role;
}

static void dot_clear(struct canvas *c, int x, int y) {
    if (x < 0 || y < 0 || x >= 2 * c->columns || y >= 4 * c->rows)
        return;
    struct cell *cell = &c->cell[y / 4 * c->columns + x / 2];
    cell->dots &= (uint8_t) ~(1u << (y % 4 * 2 + x % 2));
    if (cell->dots == 0)
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
    return whole_i32(floor(tenths / (10 * DOT)));
}

/* Whether a broken line shows at a dot: by the place, so that a curve of short pieces keeps its
 * rhythm, the same in each row of cells.  In ASCII a cell is too coarse for gaps between dashes. */
static bool shows(const struct canvas *c, const struct picture_item *item, int x, int y, int step) {
    switch ((enum picture_dash)item->dash) {
    case DASH_DASHED:
        return c->ascii || (x + 2 * y) % 4 < 2;
    case DASH_DOTTED:
        return (x + y) % 2 == 0 || (c->ascii && step % 4 < 2);
    case DASH_DASHDOT:
        return c->ascii || (x + 2 * y) % 4 < 3;
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
    else if (item->dash == DASH_DASHDOT)
        plain = '='; /* beside a dotted one */
    for (int i = 0; i <= steps; i++) {
        double share = steps > 0 ? (double)i / steps : 0;
        int x = x1 + (int)lround(share * (x2 - x1)), y = y1 + (int)lround(share * (y2 - y1));
        if (shows(c, item, x, y, i))
            dot(c, x, y, plain, item->role);
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
        dot(c, x, y, plain_of(role), (uint8_t)role);
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

/* A box narrower than a dot has the one in which its middle lies: a carrier must not fall between
 * two. */
static bool in_box(int32_t left, int32_t right, int x, double at_x) {
    bool thin = right - left < 10 * DOT;
    return thin ? x == dot_of((left + right) / 2.0) : at_x >= left && at_x <= right;
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
                          ? in_box(left, right, x, at_x) && at_y >= low && at_y <= high
                          : inside(c, item, at_x, at_y);
            if (in)
                fill_dot(c, (enum picture_role)item->role, x, y);
        }
}

/* One character of UTF-8, its bytes well formed; *text moves behind it. */
static uint32_t rune_of(const char **text) {
    const unsigned char *at = (const unsigned char *)*text;
    size_t len = 1;
    uint32_t rune = at[0] < 0x80 ? at[0]
                                 : at[0] & (at[0] < 0xE0   ? 0x1F
                                            : at[0] < 0xF0 ? 0x0F
                                                           : 0x07);
    for (; len < 4 && (at[len] & 0xC0) == 0x80; len++)
        rune = rune << 6 | (at[len] & 0x3F);
    *text += len;
    return rune;
}

static void write_at(struct canvas *c, int row, int column, const char *text, uint8_t role) {
    for (; *text && row >= 0 && row < c->rows && column < c->columns; column++) {
        uint32_t rune = rune_of(&text);
        bool control = rune < 0x20 || (rune >= 0x7F && rune < 0xA0);
        bool foreign = c->ascii && rune > 0x7F;
        if (column < 0)
            continue;
        struct cell *cell = &c->cell[row * c->columns + column];
        cell->text = control || foreign ? '?' : rune;
        cell->role = role;
    }
}

static void mark(struct canvas *c, const struct picture_item *item) {
    static const char *const shapes[PICTURE_SHAPES] = {"●", "○", "■", "◆", "▲", "▼", "×"};
    static const char *const plain[PICTURE_SHAPES] = {"o", "O", "#", "*", "^", "v", "x"};
    struct picture_point a = point(c, item, 0);
    write_at(c, dot_of(a.y) / 4, dot_of(a.x) / 2,
             c->ascii ? plain[item->shape] : shapes[item->shape], item->role);
}

static void words(struct canvas *c, const struct picture_item *item) {
    struct picture_point a = point(c, item, 0);
    double shift = item->anchor == ANCHOR_START    ? 0
                   : item->anchor == ANCHOR_MIDDLE ? item->width / 2.0
                                                   : item->width;
    int column = (int)lround((a.x - shift) / 80), row = (int)lround((a.y - 128) / 160.0);
    write_at(c, row, column, c->p->text + item->text, item->role);
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
static uint32_t braille(uint8_t dots) {
    static const uint8_t bit[8] = {0x01, 0x08, 0x02, 0x10, 0x04, 0x20, 0x40, 0x80};
    uint32_t code = 0x2800;
    for (int i = 0; i < 8; i++)
        if (dots >> i & 1)
            code |= bit[i];
    return code;
}

static uint32_t shown(const struct canvas *c, const struct cell *cell) {
    if (cell->text)
        return cell->text;
    if (cell->dots == 0)
        return ' ';
    return c->ascii ? (unsigned char)cell->plain : braille(cell->dots);
}

bool picture_each_cell(const struct picture *p, bool ascii, picture_take *take, void *where) {
    struct canvas c = {.p = p,
                       .ascii = ascii,
                       .rows = whole_i32(ceil(p->height / 16)),
                       .columns = whole_i32(p->width / 8)};
    if (c.rows > ROWS_MAX)
        c.rows = ROWS_MAX;
    c.cell = calloc((size_t)c.rows * (size_t)c.columns + 1, sizeof *c.cell);
    if (!c.cell)
        return false;
    for (uint32_t i = 0; i < p->items; i++)
        draw(&c, &p->item[i]);
    for (int i = 0; i < c.rows * c.columns; i++) {
        const struct cell *cell = &c.cell[i];
        if (cell->text || cell->dots)
            take(where, i / c.columns, i % c.columns, shown(&c, cell),
                 (enum picture_role)cell->role);
    }
    free(c.cell);
    return true;
}

/* --- as rows of text */

struct rows {
    say_put *put;
    void *where;
    int row, column;
    size_t len; /* of the row so far */
    char line[4 * PICTURE_COLUMNS_MOST + 1];
};

static void add_rune(struct rows *r, uint32_t rune) {
    char *to = r->line + r->len;
    if (rune < 0x80) {
        to[0] = (char)rune;
        r->len++;
        return;
    }
    size_t len = rune < 0x800 ? 2 : rune < 0x10000 ? 3 : 4;
    for (size_t i = len - 1; i > 0; i--, rune >>= 6)
        to[i] = (char)(unsigned char)(0x80 | (rune & 0x3F));
    to[0] = (char)(unsigned char)(rune | (len == 2 ? 0xC0 : len == 3 ? 0xE0 : 0xF0));
    r->len += len;
}

static void go_to(struct rows *r, int row, int column) {
    for (; r->row < row; r->row++) {
        r->line[r->len++] = '\n';
        r->put(r->where, r->line, r->len);
        r->len = 0;
        r->column = 0;
    }
    for (; r->column < column; r->column++)
        add_rune(r, ' ');
}

static void take_cell(void *where, int row, int column, uint32_t rune, enum picture_role role) {
    struct rows *r = where;
    (void)role;
    go_to(r, row, column);
    add_rune(r, rune);
    r->column++;
}

bool picture_cells(const struct picture *p, bool ascii, say_put *put, void *where) {
    struct rows r = {.put = put, .where = where};
    if (!picture_each_cell(p, ascii, take_cell, &r))
        return false;
    int rows = whole_i32(ceil(p->height / 16));
    go_to(&r, rows < ROWS_MAX ? rows : ROWS_MAX, 0);
    return true;
}
