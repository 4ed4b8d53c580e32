#include "picture/sheet.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/whole.h"

static const struct metrics {
    double margin;            /* around the page */
    double labels, lanes;     /* left of a plot: for numbers alone, with names of lanes */
    double plot, lane, apart; /* heights */
    double right;             /* room at the right end, for half a label */
    int most_x;
} metrics[PICTURE_SIZES] = {
    [PICTURE_WIDE] = {14, 48, 128, 190, 15, 8, 16, 11},
    [PICTURE_NARROW] = {10, 42, 42, 150, 14, 8, 12, 5},
    [PICTURE_CELLS] = {0, 64, 144, 160, 16, 0, 24, 8},
};

/* Lanes of a part of a screen that is this narrow go by brief names. */
enum { BRIEF_COLUMNS = 64, BRIEF_LANES = 11 * 8, BRIEF_LABELS = 6 * 8 };

bool sheet_brief(const struct sheet *s) {
    return s->p->plot_rows > 0 && s->p->width < BRIEF_COLUMNS * 8;
}

static struct metrics of(const struct sheet *s) {
    enum { TICK_COLUMNS = 10, MOST_X = 16 };
    struct metrics m = metrics[s->p->size];
    if (s->p->plot_rows == 0)
        return m;
    int most = whole_i32(s->p->width / (8 * TICK_COLUMNS));
    m.plot = s->p->plot_rows * 16;
    m.most_x = most < MOST_X ? most : MOST_X;
    if (sheet_brief(s)) {
        m.lanes = BRIEF_LANES;
        m.labels = BRIEF_LABELS;
    }
    return m;
}

static double line_height(const struct sheet *s, enum picture_face face) {
    double height = picture_text_height(s->p, face);
    return s->p->size == PICTURE_CELLS ? height : height * 1.08;
}

/* The next baseline of a face, and on below it. */
static double baseline(struct sheet *s, enum picture_face face) {
    double y = s->y + 0.8 * picture_text_height(s->p, face);
    s->y += line_height(s, face);
    return y;
}

/* How many bytes of text fit, cut at a space where there is one. */
static size_t fitting(const struct sheet *s, enum picture_face face, const char *text,
                      double room) {
    char part[256];
    size_t best = 0, len = 0;
    while (text[len] && len + 1 < sizeof part) {
        size_t next = len + 1;
        while (((unsigned char)text[next] & 0xC0) == 0x80 && next + 1 < sizeof part)
            next++;
        memcpy(part, text, next);
        part[next] = '\0';
        if (picture_text_width(s->p, face, part) > room && len > 0)
            return best > 0 ? best : len;
        len = next;
        if (text[len] == ' ' || text[len] == '\0')
            best = len;
    }
    return best > 0 ? best : len;
}

void sheet_wrap(struct sheet *s, enum picture_role role, enum picture_face face, double left,
                const char *text) {
    double room = s->p->width - of(s).margin - left;
    while (*text) {
        char part[256];
        size_t len = fitting(s, face, text, room);
        snprintf(part, sizeof part, "%.*s", (int)len, text);
        picture_text(s->p, role, face, ANCHOR_START, left, baseline(s, face), part);
        text += len;
        text += *text == ' ';
    }
}

void sheet_words(struct sheet *s, enum picture_role role, const char *format, ...) {
    char text[600];
    va_list list;
    va_start(list, format);
    vsnprintf(text, sizeof text, format, list);
    va_end(list);
    sheet_wrap(s, role, FACE_BODY, of(s).margin, text);
}

void sheet_begin(struct sheet *s, struct picture *p, const char *title, bool lanes) {
    *s = (struct sheet){.p = p};
    s->y = of(s).margin;
    s->left = lanes ? of(s).lanes : of(s).labels;
    s->right = p->width - of(s).margin - of(s).right;
    picture_title(p, title);
    if (p->plot_rows == 0)
        sheet_wrap(s, ROLE_INK, FACE_TITLE, of(s).margin, title);
}

void sheet_end(struct sheet *s) {
    s->p->height = ceil(s->y + of(s).margin);
}

struct picture_rect sheet_plot(struct sheet *s, double share, const char *measures) {
    s->y += of(s).apart;
    picture_text(s->p, ROLE_MUTED, FACE_SMALL, ANCHOR_START, of(s).margin, baseline(s, FACE_SMALL),
                 measures);
    if (s->p->size != PICTURE_CELLS)
        s->y += 0.6 * picture_text_height(s->p, FACE_SMALL); /* for the uppermost label */
    double height = of(s).plot * share;
    if (s->p->size == PICTURE_CELLS)
        height = ceil(height / 16) * 16;
    struct picture_rect plot = {s->left, s->y, s->right, s->y + height};
    s->y = plot.bottom;
    if (s->p->size != PICTURE_CELLS) /* the lowest label, before the name of a lane */
        s->y += 0.35 * picture_text_height(s->p, FACE_SMALL);
    return plot;
}

int sheet_most_x(const struct sheet *s) {
    return of(s).most_x;
}

/* On a terminal within the plot's first and last dots, not in the row below. */
void sheet_place_y(const struct sheet *s, struct axis *a, struct picture_rect plot) {
    double within = s->p->size == PICTURE_CELLS ? 2 : 0;
    axis_place(a, plot.bottom - within, plot.top + within);
}

static const struct picture_pen grid_pen = {ROLE_GRID, 1, DASH_SOLID};
static const struct picture_pen axis_pen = {ROLE_MUTED, 1, DASH_SOLID};

void sheet_axis_y(struct sheet *s, struct picture_rect plot, const struct axis *a) {
    double height = picture_text_height(s->p, FACE_SMALL);
    bool cells = s->p->size == PICTURE_CELLS;
    for (int i = 0; i < a->ticks; i++) {
        double y = axis_at(a, a->tick[i]);
        picture_line(s->p, grid_pen, plot.left, y, plot.right, y);
        /* On a terminal the row that the tick lies in, within the plot. */
        double row = fmax(ceil((y - plot.top) / height), 1) - 1;
        double base = cells ? plot.top + (row + 0.8) * height : y + 0.3 * height;
        picture_text_fit(s->p, ROLE_MUTED, FACE_SMALL, ANCHOR_END, plot.left - (cells ? 8 : 6),
                         base, a->label[i]);
    }
    picture_line(s->p, axis_pen, plot.left, plot.top, plot.left, plot.bottom - (cells ? 4 : 0));
}

void sheet_grid_x(struct sheet *s, struct picture_rect plot, const struct axis *a) {
    for (int i = 0; i < a->ticks; i++) {
        double x = axis_at(a, a->tick[i]);
        picture_line(s->p, grid_pen, x, plot.top, x, plot.bottom);
    }
}

void sheet_axis_x(struct sheet *s, struct picture_rect plot, const struct axis *a,
                  const char *measures) {
    double base = plot.bottom + (s->p->size == PICTURE_CELLS ? 0 : 5) +
                  0.8 * picture_text_height(s->p, FACE_SMALL);
    for (int i = 0; i < a->ticks; i++) {
        double x = axis_at(a, a->tick[i]);
        if (s->p->size != PICTURE_CELLS)
            picture_line(s->p, axis_pen, x, plot.bottom, x, plot.bottom + 4);
        picture_text_fit(s->p, ROLE_MUTED, FACE_SMALL, ANCHOR_MIDDLE, x, base, a->label[i]);
    }
    picture_line(s->p, axis_pen, plot.left, plot.bottom, plot.right, plot.bottom);
    s->y = base + 0.2 * picture_text_height(s->p, FACE_SMALL) + of(s).apart / 4;
    picture_text(s->p, ROLE_MUTED, FACE_SMALL, ANCHOR_END, plot.right, baseline(s, FACE_SMALL),
                 measures);
}

struct picture_rect sheet_lane(struct sheet *s, const char *name) {
    const struct metrics m = of(s);
    bool above = s->p->size == PICTURE_NARROW;
    s->y += m.apart / 2;
    double base = above ? baseline(s, FACE_SMALL)
                        : s->y + m.lane / 2 + 0.3 * picture_text_height(s->p, FACE_SMALL);
    picture_text(s->p, ROLE_INK, FACE_SMALL, ANCHOR_START, m.margin, base, name);
    s->y += above ? 1 : 0;
    struct picture_rect lane = {s->left, s->y, s->right, s->y + m.lane};
    s->y = lane.bottom;
    picture_line(s->p, grid_pen, lane.left, (lane.top + lane.bottom) / 2, lane.right,
                 (lane.top + lane.bottom) / 2);
    return lane;
}

bool sheet_label(struct sheet *s, enum picture_role role, struct picture_rect plot, double x,
                 double y, const char *text) {
    static const struct {
        double dx, dy;
        enum picture_anchor anchor;
    } places[] = {{1, -1, ANCHOR_START}, {-1, -1, ANCHOR_END},   {1, 1, ANCHOR_START},
                  {-1, 1, ANCHOR_END},   {0, -2, ANCHOR_MIDDLE}, {0, 2, ANCHOR_MIDDLE}};
    double away = s->p->size == PICTURE_CELLS ? 12 : 7;
    double height = picture_text_height(s->p, FACE_SMALL);
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
        double at_x = x + places[i].dx * away;
        double at_y = y + places[i].dy * away + (places[i].dy > 0 ? height * 0.6 : 0);
        struct picture_rect box =
            picture_text_box(s->p, FACE_SMALL, places[i].anchor, at_x, at_y, text);
        if (box.left < plot.left || box.right > plot.right || box.top < plot.top ||
            box.bottom > plot.bottom)
            continue;
        if (picture_text_fit(s->p, role, FACE_SMALL, places[i].anchor, at_x, at_y, text))
            return true;
    }
    return false;
}

static void sample(struct sheet *s, const struct sheet_key *key, double x, double middle,
                   double width) {
    width -= s->p->size == PICTURE_CELLS ? 4 : 0; /* the last dot counts */
    struct picture_rect r = {x, middle - 5, x + width, middle + 5};
    enum picture_dash dash = key->sample == SAMPLE_DASHED    ? DASH_DASHED
                             : key->sample == SAMPLE_DOTTED  ? DASH_DOTTED
                             : key->sample == SAMPLE_DASHDOT ? DASH_DASHDOT
                                                             : DASH_SOLID;
    switch (key->sample) {
    case SAMPLE_AREA:
        picture_box(s->p, key->role, r);
        break;
    case SAMPLE_HATCH:
        picture_hatch(s->p, key->role, r);
        break;
    case SAMPLE_MARK:
        picture_mark(s->p, key->role, key->shape, x + width / 2, middle, 4.5);
        break;
    default:
        picture_line(s->p, (struct picture_pen){key->role, 2, dash}, x, middle, x + width, middle);
        break;
    }
}

void sheet_keys(struct sheet *s, const struct sheet_key *keys, int count) {
    double width = s->p->size == PICTURE_CELLS ? 24 : 22;
    double gap = s->p->size == PICTURE_CELLS ? 8 : 6;
    double x = of(s).margin, end = s->p->width - of(s).margin;
    s->y += of(s).apart / 2;
    double base = baseline(s, FACE_SMALL);
    for (int i = 0; i < count; i++) {
        double text = picture_text_width(s->p, FACE_SMALL, keys[i].text);
        if (x > of(s).margin && x + width + gap + text > end) {
            x = of(s).margin;
            base = baseline(s, FACE_SMALL);
        }
        sample(s, &keys[i], x, base - 0.3 * picture_text_height(s->p, FACE_SMALL), width);
        picture_text(s->p, ROLE_MUTED, FACE_SMALL, ANCHOR_START, x + width + gap, base,
                     keys[i].text);
        x += width + gap + text + 2 * gap + 6;
        if (s->p->size == PICTURE_CELLS)
            x = ceil(x / 16) * 16; /* where dashes begin */
    }
    s->y += of(s).apart / 4;
}
