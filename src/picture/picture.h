/* A picture: a list of primitives on a page, without a renderer's knowledge.  What draws it:
 * picture_svg and picture_cells of picture_out.h.
 *
 * The page is measured in units from its upper left corner, x to the right, y down; places are kept
 * in tenths, so that the text form is the same everywhere.  Colours are roles, not values.  Every
 * text is as wide as a wide sans serif needs, by a table; picture_text tells whether its box is
 * free, so that labels can be laid out without a renderer.  Memory is bounded: what doesn't fit is
 * left out, and picture_whole says so. */
#ifndef PICTURE_PICTURE_H
#define PICTURE_PICTURE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    PICTURE_ITEMS = 4096,
    PICTURE_POINTS = 24576,
    PICTURE_TEXT = 32768,       /* bytes */
    PICTURE_BOXES = 512,        /* texts */
    PICTURE_COLUMNS_LEAST = 40, /* of a part of a screen */
    PICTURE_COLUMNS_MOST = 240,
};

enum picture_size {
    PICTURE_WIDE,   /* a screen, a printed page */
    PICTURE_NARROW, /* a phone */
    PICTURE_CELLS,  /* a terminal of 79 columns: a character is 8 by 16 units */
    PICTURE_SIZES
};

enum picture_role {
    ROLE_PAPER, /* the ground */
    ROLE_INK,
    ROLE_MUTED, /* second-rank text, axes */
    ROLE_GRID,
    ROLE_ACCENT, /* what the picture is about */
    ROLE_SECOND, /* and a second such thing */
    ROLE_WARN,
    ROLE_BAD,
    ROLE_GOOD,
    ROLE_BAND, /* areas: intervals, ranges */
    PICTURE_ROLES
};
const char *picture_role_name(enum picture_role role); /* "paper", ... */

enum picture_dash { DASH_SOLID, DASH_DASHED, DASH_DOTTED, DASH_DASHDOT };

enum picture_shape {
    SHAPE_DOT,
    SHAPE_RING,
    SHAPE_SQUARE,
    SHAPE_DIAMOND,
    SHAPE_UP, /* triangles */
    SHAPE_DOWN,
    SHAPE_CROSS,
    PICTURE_SHAPES
};

enum picture_face { FACE_TITLE, FACE_BODY, FACE_SMALL, PICTURE_FACES };

enum picture_anchor { ANCHOR_START, ANCHOR_MIDDLE, ANCHOR_END };

enum picture_kind {
    PICTURE_GROUP,    /* what follows, up to the next one; text: what it is */
    PICTURE_LINE,     /* through all points */
    PICTURE_SEGMENTS, /* points in pairs, one stretch each */
    PICTURE_AREA,     /* polygon, filled */
    PICTURE_BOX,      /* two corners, filled */
    PICTURE_MARK,     /* one point */
    PICTURE_WORDS,    /* one point: where the baseline's anchor stands */
    PICTURE_KINDS
};

struct picture_point {
    int32_t x, y; /* tenths of a unit */
};

struct picture_item {
    uint8_t kind, role;
    uint8_t dash;   /* of lines and segments */
    uint8_t shape;  /* of marks */
    uint8_t face;   /* of words */
    uint8_t anchor; /* likewise */
    int32_t width;  /* tenths: of lines, of a mark's radius, of words as planned */
    uint32_t point, points;
    uint32_t text; /* offset of a NUL-terminated text */
};

struct picture_rect {
    double left, top, right, bottom;
};

struct picture {
    enum picture_size size;
    double width, height; /* of the page; the height grows with what is drawn */
    int plot_rows;        /* of a plot in a part of a screen; 0: it is none */
    uint32_t items, points, text_bytes, boxes;
    bool dropping;         /* the newest item had no room: its points are left out too */
    uint64_t left_out;     /* items that had no room */
    uint32_t title, about; /* offsets in text: for people who don't see it */
    struct picture_item item[PICTURE_ITEMS];
    struct picture_point point[PICTURE_POINTS];
    struct picture_rect box[PICTURE_BOXES]; /* of the texts */
    char text[PICTURE_TEXT];
    struct picture_item nowhere; /* written where an item has no room, never read */
};

/* An empty page; the caller's storage. */
void picture_init(struct picture *p, enum picture_size size);
bool picture_whole(const struct picture *p); /* everything found room */

/* A part of a screen that is to show a picture of PICTURE_CELLS: so many columns, cut to the limits
 * above, and rows for a plot (1 or more).  The title is left to whoever shows it. */
struct picture_room {
    int columns, plot_rows;
};
/* Right after picture_init; room NULL: the usual page. */
void picture_fit(struct picture *p, const struct picture_room *room);

void picture_title(struct picture *p, const char *title);
void picture_about(struct picture *p, const char *format, ...)
    __attribute__((format(printf, 2, 3))); /* one sentence or two: what it shows */
void picture_group(struct picture *p, const char *what);

struct picture_pen {
    enum picture_role role;
    double width;
    enum picture_dash dash;
};
void picture_line(struct picture *p, struct picture_pen pen, double x1, double y1, double x2,
                  double y2);
/* A line through many points, or a polygon: begin, points, end.  Only one at a time. */
void picture_path(struct picture *p, enum picture_kind kind, struct picture_pen pen);
void picture_to(struct picture *p, double x, double y);
void picture_end(struct picture *p);

void picture_box(struct picture *p, enum picture_role role, struct picture_rect r);
/* Slanted lines over r, in place of a colour. */
void picture_hatch(struct picture *p, enum picture_role role, struct picture_rect r);
void picture_mark(struct picture *p, enum picture_role role, enum picture_shape shape, double x,
                  double y, double radius);

/* Width and height of a text, units. */
double picture_text_width(const struct picture *p, enum picture_face face, const char *text);
double picture_text_height(const struct picture *p, enum picture_face face);
/* Its box when its baseline's anchor stands at x, y. */
struct picture_rect picture_text_box(const struct picture *p, enum picture_face face,
                                     enum picture_anchor anchor, double x, double y,
                                     const char *text);
/* Whether a box lies on the page (any height) and touches no text's. */
bool picture_free(const struct picture *p, struct picture_rect r);

/* Sets a text wherever it is told; picture_text_fit only where its box is free. */
void picture_text(struct picture *p, enum picture_role role, enum picture_face face,
                  enum picture_anchor anchor, double x, double y, const char *text);
bool picture_text_fit(struct picture *p, enum picture_role role, enum picture_face face,
                      enum picture_anchor anchor, double x, double y, const char *text);

#endif
