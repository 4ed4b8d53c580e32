/* What the pictures share: a page filled from the top, plots with axes, lanes of events below. */
#ifndef PICTURE_SHEET_H
#define PICTURE_SHEET_H

#include "picture/axis.h"
#include "picture/picture.h"

struct sheet {
    struct picture *p;
    double y;           /* free from here down */
    double left, right; /* of plots */
};

/* Title of the page; left: what a plot leaves for its labels, besides that of lanes. */
void sheet_begin(struct sheet *s, struct picture *p, const char *title, bool lanes);
/* The page ends below what was drawn. */
void sheet_end(struct sheet *s);

/* Text over the page's width, as many lines as it takes. */
void sheet_words(struct sheet *s, enum picture_role role, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
/* The same from `left` on; y moves. */
void sheet_wrap(struct sheet *s, enum picture_role role, enum picture_face face, double left,
                const char *text);

/* A plot of the usual height times `share`; what the left axis measures stands above it. */
struct picture_rect sheet_plot(struct sheet *s, double share, const char *measures);

/* Grid and labels of a plot; the grid comes before what is drawn over it.  The lower axis takes
 * place below: y moves. */
int sheet_most_x(const struct sheet *s); /* ticks that have room */
void sheet_place_y(const struct sheet *s, struct axis *a, struct picture_rect plot);
void sheet_axis_y(struct sheet *s, struct picture_rect plot, const struct axis *a);
void sheet_grid_x(struct sheet *s, struct picture_rect plot, const struct axis *a);
void sheet_axis_x(struct sheet *s, struct picture_rect plot, const struct axis *a,
                  const char *measures);

/* A narrow part of a screen: lanes have names of 10 columns, and words come below the plot. */
bool sheet_brief(const struct sheet *s);

/* A lane: a strip with its name, to draw events into. */
struct picture_rect sheet_lane(struct sheet *s, const char *name);

/* A label within a plot near x, y: the first free place about it; none free: none. */
bool sheet_label(struct sheet *s, enum picture_role role, struct picture_rect plot, double x,
                 double y, const char *text);

/* A line of the key: a sample and what it means; one after the other, in as many rows as needed.
 */
enum sheet_sample {
    SAMPLE_LINE,
    SAMPLE_DASHED,
    SAMPLE_DOTTED,
    SAMPLE_DASHDOT,
    SAMPLE_AREA,
    SAMPLE_HATCH,
    SAMPLE_MARK
};
struct sheet_key {
    enum sheet_sample sample;
    enum picture_role role;
    enum picture_shape shape;
    const char *text;
};
void sheet_keys(struct sheet *s, const struct sheet_key *keys, int count);

#endif
