#include "picture/picture.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/whole.h"
#include "picture/palette.h"

void picture_init(struct picture *p, enum picture_size size) {
    static const double widths[PICTURE_SIZES] = {800, 360, 79 * 8};
    p->size = size;
    p->width = widths[size];
    p->height = 0;
    p->plot_rows = 0;
    p->items = p->points = p->boxes = 0;
    p->text_bytes = 1; /* offset 0 is the empty text */
    p->text[0] = '\0';
    p->title = p->about = 0;
    p->left_out = 0;
    p->dropping = false;
}

void picture_fit(struct picture *p, const struct picture_room *room) {
    if (!room || p->size != PICTURE_CELLS)
        return;
    int columns = room->columns < PICTURE_COLUMNS_LEAST  ? PICTURE_COLUMNS_LEAST
                  : room->columns > PICTURE_COLUMNS_MOST ? PICTURE_COLUMNS_MOST
                                                         : room->columns;
    p->width = columns * 8;
    p->plot_rows = room->plot_rows > 0 ? room->plot_rows : 1;
}

bool picture_whole(const struct picture *p) {
    return p->left_out == 0;
}

/* Offset of a copy, 0 (the empty text) where there is no room. */
static uint32_t keep_text(struct picture *p, const char *text) {
    size_t size = strlen(text) + 1;
    if (size > PICTURE_TEXT - p->text_bytes) {
        p->left_out++;
        return 0;
    }
    uint32_t at = p->text_bytes;
    memcpy(p->text + at, text, size);
    p->text_bytes += (uint32_t)size;
    return at;
}

void picture_title(struct picture *p, const char *title) {
    p->title = keep_text(p, title);
}

void picture_about(struct picture *p, const char *format, ...) {
    char text[512];
    va_list list;
    va_start(list, format);
    vsnprintf(text, sizeof text, format, list);
    va_end(list);
    p->about = keep_text(p, text);
}

static struct picture_item *add(struct picture *p, enum picture_kind kind, enum picture_role role) {
    p->dropping = p->items == PICTURE_ITEMS;
    if (p->dropping) {
        p->left_out++;
        return &p->nowhere;
    }
    struct picture_item *item = &p->item[p->items++];
    *item = (struct picture_item){
        .kind = (uint8_t)kind, .role = (uint8_t)role, .point = p->points, .points = 0};
    return item;
}

static int32_t tenths(double units) {
    return whole_i32(floor(units * 10 + 0.5));
}

void picture_to(struct picture *p, double x, double y) {
    if (p->points == PICTURE_POINTS || p->dropping) {
        p->left_out++;
        return;
    }
    p->point[p->points++] = (struct picture_point){tenths(x), tenths(y)};
    if (p->items > 0)
        p->item[p->items - 1].points++;
}

void picture_group(struct picture *p, const char *what) {
    uint32_t text = keep_text(p, what);
    add(p, PICTURE_GROUP, ROLE_INK)->text = text;
}

void picture_path(struct picture *p, enum picture_kind kind, struct picture_pen pen) {
    struct picture_item *item = add(p, kind, pen.role);
    item->dash = (uint8_t)pen.dash;
    item->width = tenths(pen.width);
}

/* A path of a single point shows nothing, one of none is nothing. */
void picture_end(struct picture *p) {
    if (!p->dropping && p->items > 0 && p->item[p->items - 1].points < 2) {
        p->items--;
        p->points = p->item[p->items].point;
    }
}

void picture_line(struct picture *p, struct picture_pen pen, double x1, double y1, double x2,
                  double y2) {
    picture_path(p, PICTURE_LINE, pen);
    picture_to(p, x1, y1);
    picture_to(p, x2, y2);
    picture_end(p);
}

void picture_box(struct picture *p, enum picture_role role, struct picture_rect r) {
    add(p, PICTURE_BOX, role);
    picture_to(p, r.left, r.top);
    picture_to(p, r.right, r.bottom);
}

void picture_hatch(struct picture *p, enum picture_role role, struct picture_rect r) {
    const double apart = p->size == PICTURE_CELLS ? 8 : 5;
    double height = r.bottom - r.top;
    picture_path(p, PICTURE_SEGMENTS, (struct picture_pen){role, 1, DASH_SOLID});
    /* On lines that are the same over the whole page, so that neighbours join. */
    for (double x = ceil((r.left + r.top) / apart) * apart - r.top; x < r.right + height;
         x += apart) {
        double up = x > r.right ? x - r.right : 0; /* the upper end is cut by that much */
        double down = x - height < r.left ? r.left - (x - height) : 0;
        if (up + down >= height)
            continue;
        picture_to(p, x - up, r.top + up);
        picture_to(p, x - height + down, r.bottom - down);
    }
    picture_end(p);
}

void picture_mark(struct picture *p, enum picture_role role, enum picture_shape shape, double x,
                  double y, double radius) {
    struct picture_item *item = add(p, PICTURE_MARK, role);
    item->shape = (uint8_t)shape;
    item->width = tenths(radius);
    picture_to(p, x, y);
}

/* Advance widths of DejaVu Sans, 1/1000 of its size, from the space on: a wide face, so that most
 * others need less (measured with cairo 1.16, unhinted); its bold for titles. */
static const uint16_t regular[95] = {
    318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361,  318, 337, 636, 636, 636,
    636, 636, 636, 636, 636, 636, 636, 337, 337, 838, 838, 838, 531, 1000, 684, 686, 698, 770, 632,
    575, 775, 752, 295, 295, 656, 557, 863, 748, 787, 603, 787, 695, 635,  611, 732, 684, 989, 685,
    611, 685, 390, 337, 390, 838, 500, 500, 613, 635, 550, 635, 615, 352,  635, 634, 278, 278, 579,
    278, 974, 634, 612, 635, 635, 411, 521, 392, 634, 592, 818, 592, 592,  525, 636, 337, 636, 838};
static const uint16_t bold[95] = {
    348,  456, 521, 838, 696, 1002, 872, 306,  457, 457, 523, 838, 380, 415,  380, 365,
    696,  696, 696, 696, 696, 696,  696, 696,  696, 696, 400, 400, 838, 838,  838, 580,
    1000, 774, 762, 734, 830, 683,  683, 821,  837, 372, 372, 775, 637, 995,  837, 850,
    733,  850, 770, 720, 682, 812,  774, 1103, 771, 724, 725, 457, 365, 457,  838, 500,
    500,  675, 716, 593, 716, 678,  435, 716,  712, 343, 343, 665, 343, 1042, 712, 687,
    716,  716, 493, 595, 478, 712,  652, 924,  645, 652, 582, 712, 365, 712,  838};
enum { ELSE_WIDTH = 1100 }; /* of what isn't in the table: some scripts are as wide */

double picture_text_width(const struct picture *p, enum picture_face face, const char *text) {
    double sum = 0;
    const uint16_t *widths = face == FACE_TITLE ? bold : regular;
    for (const unsigned char *c = (const unsigned char *)text; *c; c++) {
        if ((*c & 0xC0) == 0x80) /* within a character of UTF-8 */
            continue;
        if (p->size == PICTURE_CELLS)
            sum += 8;
        else if (*c >= 0x20 && *c < 0x7F)
            sum += widths[*c - 0x20] * palette_face_size(face) / 1000;
        else
            sum += ELSE_WIDTH * palette_face_size(face) / 1000;
    }
    return sum;
}

double picture_text_height(const struct picture *p, enum picture_face face) {
    return p->size == PICTURE_CELLS ? 16 : palette_face_size(face) * 1.25;
}

struct picture_rect picture_text_box(const struct picture *p, enum picture_face face,
                                     enum picture_anchor anchor, double x, double y,
                                     const char *text) {
    double width = picture_text_width(p, face, text), height = picture_text_height(p, face);
    double left = anchor == ANCHOR_START ? x : anchor == ANCHOR_MIDDLE ? x - width / 2 : x - width;
    return (struct picture_rect){left, y - height * 0.8, left + width, y + height * 0.2};
}

bool picture_free(const struct picture *p, struct picture_rect r) {
    const double apart = p->size == PICTURE_CELLS ? 4 : 1;
    if (r.left < 0 || r.top < 0 || r.right > p->width)
        return false;
    for (uint32_t i = 0; i < p->boxes; i++) {
        const struct picture_rect *b = &p->box[i];
        if (r.left < b->right + apart && r.right > b->left - apart && r.top < b->bottom &&
            r.bottom > b->top)
            return false;
    }
    return true;
}

void picture_text(struct picture *p, enum picture_role role, enum picture_face face,
                  enum picture_anchor anchor, double x, double y, const char *text) {
    if (text[0] == '\0')
        return;
    if (p->boxes == PICTURE_BOXES) {
        p->left_out++;
        return;
    }
    p->box[p->boxes++] = picture_text_box(p, face, anchor, x, y, text);
    uint32_t kept = keep_text(p, text);
    struct picture_item *item = add(p, PICTURE_WORDS, role);
    item->face = (uint8_t)face;
    item->anchor = (uint8_t)anchor;
    item->width = tenths(picture_text_width(p, face, text));
    item->text = kept;
    picture_to(p, x, y);
}

bool picture_text_fit(struct picture *p, enum picture_role role, enum picture_face face,
                      enum picture_anchor anchor, double x, double y, const char *text) {
    if (!picture_free(p, picture_text_box(p, face, anchor, x, y, text)))
        return false;
    picture_text(p, role, face, anchor, x, y, text);
    return true;
}
