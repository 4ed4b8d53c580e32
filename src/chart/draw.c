#include <cairo/cairo-pdf.h>
#include <cairo/cairo.h>
#include <math.h>

#include "chart/chart.h"
#include "print/palette.h"

enum { PNG_SCALE = 2 }; /* pixels a unit: sharp on paper and on fine screens */
#define PDF_SCALE 0.65  /* points a unit: a wide page fits between the margins of A4 */

struct pen {
    cairo_t *c;
    const struct picture *p;
    enum picture_theme theme;
};

static void colour(const struct pen *pen, enum picture_role role) {
    uint32_t rgb = palette_colour(role, pen->theme);
    cairo_set_source_rgb(pen->c, (rgb >> 16) / 255.0, (rgb >> 8 & 0xFF) / 255.0,
                         (rgb & 0xFF) / 255.0);
}

static double x_of(const struct pen *pen, const struct picture_item *item, uint32_t i) {
    return pen->p->point[item->point + i].x / 10.0;
}

static double y_of(const struct pen *pen, const struct picture_item *item, uint32_t i) {
    return pen->p->point[item->point + i].y / 10.0;
}

static void path(const struct pen *pen, const struct picture_item *item) {
    for (uint32_t i = 0; i < item->points; i++) {
        if (i == 0 || (item->kind == PICTURE_SEGMENTS && i % 2 == 0))
            cairo_move_to(pen->c, x_of(pen, item, i), y_of(pen, item, i));
        else
            cairo_line_to(pen->c, x_of(pen, item, i), y_of(pen, item, i));
    }
}

static void strokes(const struct pen *pen, const struct picture_item *item) {
    static const double dashes[][4] = {
        [DASH_DASHED] = {6, 4, 6, 4},
        [DASH_DOTTED] = {1.5, 3.5, 1.5, 3.5},
        [DASH_DASHDOT] = {10, 3, 2, 3},
    };
    cairo_set_line_width(pen->c, item->width / 10.0);
    cairo_set_line_join(pen->c, CAIRO_LINE_JOIN_ROUND);
    cairo_set_dash(pen->c, dashes[item->dash], item->dash == DASH_SOLID ? 0 : 4, 0);
    path(pen, item);
    cairo_stroke(pen->c);
    cairo_set_dash(pen->c, NULL, 0, 0);
}

static void box(const struct pen *pen, const struct picture_item *item) {
    double x = x_of(pen, item, 0), y = y_of(pen, item, 0);
    cairo_rectangle(pen->c, x, y, x_of(pen, item, 1) - x, y_of(pen, item, 1) - y);
    cairo_fill(pen->c);
}

static void polygon(const struct pen *pen, const double (*corner)[2], int count, double x, double y,
                    double r) {
    for (int i = 0; i < count; i++)
        cairo_line_to(pen->c, x + r * corner[i][0], y + r * corner[i][1]);
    cairo_close_path(pen->c);
    cairo_fill(pen->c);
}

static void ring(const struct pen *pen, const struct picture_item *item, double x, double y,
                 double r) {
    cairo_arc(pen->c, x, y, r, 0, 2 * M_PI);
    colour(pen, ROLE_PAPER);
    cairo_fill_preserve(pen->c);
    colour(pen, (enum picture_role)item->role);
    cairo_set_line_width(pen->c, 1.6);
    cairo_stroke(pen->c);
}

static void mark(const struct pen *pen, const struct picture_item *item) {
    static const double square[4][2] = {{-1, -1}, {1, -1}, {1, 1}, {-1, 1}};
    static const double diamond[4][2] = {{0, -1}, {1, 0}, {0, 1}, {-1, 0}};
    static const double up[3][2] = {{0, -1}, {1, 1}, {-1, 1}};
    static const double down[3][2] = {{0, 1}, {1, -1}, {-1, -1}};
    double x = x_of(pen, item, 0), y = y_of(pen, item, 0), r = item->width / 10.0;
    cairo_new_path(pen->c);
    switch ((enum picture_shape)item->shape) {
    case SHAPE_DOT:
        cairo_arc(pen->c, x, y, r, 0, 2 * M_PI);
        cairo_fill(pen->c);
        break;
    case SHAPE_RING:
        ring(pen, item, x, y, r);
        break;
    case SHAPE_SQUARE:
        polygon(pen, square, 4, x, y, r);
        break;
    case SHAPE_DIAMOND:
        polygon(pen, diamond, 4, x, y, r);
        break;
    case SHAPE_UP:
        polygon(pen, up, 3, x, y, r);
        break;
    case SHAPE_DOWN:
        polygon(pen, down, 3, x, y, r);
        break;
    case SHAPE_CROSS:
        cairo_set_line_width(pen->c, 2.2);
        cairo_move_to(pen->c, x - r, y - r);
        cairo_line_to(pen->c, x + r, y + r);
        cairo_move_to(pen->c, x - r, y + r);
        cairo_line_to(pen->c, x + r, y - r);
        cairo_stroke(pen->c);
        break;
    case PICTURE_SHAPES:
        break;
    }
}

/* A font wider than was planned for is squeezed into its place, so that nothing ever overlaps. */
static void words(const struct pen *pen, const struct picture_item *item) {
    const char *text = pen->p->text + item->text;
    cairo_text_extents_t extents;
    cairo_select_font_face(pen->c, "sans", CAIRO_FONT_SLANT_NORMAL,
                           item->face == FACE_TITLE ? CAIRO_FONT_WEIGHT_BOLD
                                                    : CAIRO_FONT_WEIGHT_NORMAL);
    cairo_set_font_size(pen->c, palette_face_size((enum picture_face)item->face));
    cairo_text_extents(pen->c, text, &extents);
    double planned = item->width / 10.0;
    double squeeze = extents.x_advance > planned ? planned / extents.x_advance : 1;
    static const double shifts[] = {0, 0.5, 1};
    double shift = shifts[item->anchor] * extents.x_advance * squeeze;
    cairo_save(pen->c);
    cairo_translate(pen->c, x_of(pen, item, 0) - shift, y_of(pen, item, 0));
    cairo_scale(pen->c, squeeze, 1);
    cairo_move_to(pen->c, 0, 0);
    cairo_text_path(pen->c, text);
    colour(pen, ROLE_PAPER);
    cairo_set_line_width(pen->c, 3);
    cairo_stroke(pen->c); /* so that lines behind it don't cross it */
    colour(pen, (enum picture_role)item->role);
    cairo_move_to(pen->c, 0, 0);
    cairo_show_text(pen->c, text);
    cairo_restore(pen->c);
}

static void item_draw(const struct pen *pen, const struct picture_item *item) {
    colour(pen, (enum picture_role)item->role);
    switch ((enum picture_kind)item->kind) {
    case PICTURE_LINE:
    case PICTURE_SEGMENTS:
        strokes(pen, item);
        break;
    case PICTURE_AREA:
        path(pen, item);
        cairo_close_path(pen->c);
        cairo_fill(pen->c);
        break;
    case PICTURE_BOX:
        box(pen, item);
        break;
    case PICTURE_MARK:
        mark(pen, item);
        break;
    case PICTURE_WORDS:
        words(pen, item);
        break;
    case PICTURE_GROUP:
    case PICTURE_KINDS:
        break;
    }
}

static cairo_status_t put(void *where, const unsigned char *bytes, unsigned len) {
    return fwrite(bytes, 1, len, where) == len ? CAIRO_STATUS_SUCCESS : CAIRO_STATUS_WRITE_ERROR;
}

/* Letters as they are measured, wherever they stand: no rounding to pixels. */
static void fonts_plain(cairo_t *c) {
    cairo_font_options_t *options = cairo_font_options_create();
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_set_font_options(c, options);
    cairo_font_options_destroy(options);
}

static cairo_surface_t *surface_new(const struct picture *p, enum chart_form form, FILE *out,
                                    double *scale) {
    if (form == CHART_PNG) {
        *scale = PNG_SCALE;
        return cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)ceil(p->width * *scale),
                                          (int)ceil(p->height * *scale));
    }
    *scale = PDF_SCALE;
    cairo_surface_t *s =
        cairo_pdf_surface_create_for_stream(put, out, p->width * *scale, p->height * *scale);
    /* Equal pictures make equal files: no date of today. */
    cairo_pdf_surface_set_metadata(s, CAIRO_PDF_METADATA_CREATE_DATE, "2000-01-01T00:00:00Z");
    cairo_pdf_surface_set_metadata(s, CAIRO_PDF_METADATA_TITLE, p->text + p->title);
    cairo_pdf_surface_set_metadata(s, CAIRO_PDF_METADATA_SUBJECT, p->text + p->about);
    return s;
}

bool chart_draw(const struct picture *p, enum chart_form form, enum picture_theme theme, FILE *out,
                const char **why) {
    double scale;
    cairo_surface_t *surface = surface_new(p, form, out, &scale);
    struct pen pen = {cairo_create(surface), p, theme};
    fonts_plain(pen.c);
    cairo_scale(pen.c, scale, scale);
    colour(&pen, ROLE_PAPER);
    cairo_paint(pen.c);
    for (uint32_t i = 0; i < p->items; i++)
        item_draw(&pen, &p->item[i]);
    cairo_status_t status = cairo_status(pen.c);
    cairo_destroy(pen.c);
    if (status == CAIRO_STATUS_SUCCESS && form == CHART_PNG)
        status = cairo_surface_write_to_png_stream(surface, put, out);
    cairo_surface_finish(surface);
    if (status == CAIRO_STATUS_SUCCESS)
        status = cairo_surface_status(surface);
    cairo_surface_destroy(surface);
    *why = cairo_status_to_string(status);
    return status == CAIRO_STATUS_SUCCESS;
}
