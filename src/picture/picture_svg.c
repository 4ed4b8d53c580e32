#include <string.h>

#include "base/printable.h"
#include "picture/palette.h"
#include "picture/picture_out.h"

struct out {
    const struct picture *p;
    struct say to;
    bool group; /* one is open */
};

static void put_escaped(const struct out *o, const char *text) {
    struct slice rest = slice_of(text);
    while (rest.len > 0) {
        size_t len = printable_front(rest);
        if (len == 1 && strchr("&<>\"", rest.at[0]))
            say(&o->to, "&#%d;", rest.at[0]);
        else if (len == 0)
            say(&o->to, "?");
        else
            o->to.put(o->to.where, rest.at, len);
        rest = slice_sub(rest, len > 0 ? len : 1, rest.len);
    }
}

static double unit(int32_t tenths) {
    return (double)tenths / 10;
}

static struct picture_point at(const struct out *o, const struct picture_item *item, uint32_t i) {
    return o->p->point[item->point + i];
}

static void put_strokes(const struct out *o, const struct picture_item *item) {
    static const char *const dashes[] = {"", " stroke-dasharray=\"6 4\"",
                                         " stroke-dasharray=\"1.5 3.5\"",
                                         " stroke-dasharray=\"10 3 2 3\""};
    bool pairs = item->kind == PICTURE_SEGMENTS;
    say(&o->to, "<path class=\"s-%s\" stroke-width=\"%.1f\"%s d=\"",
        picture_role_name((enum picture_role)item->role), unit(item->width), dashes[item->dash]);
    for (uint32_t i = 0; i < item->points; i++)
        say(&o->to, "%s%.1f %.1f", i == 0 || (pairs && i % 2 == 0) ? "M" : "L",
            unit(at(o, item, i).x), unit(at(o, item, i).y));
    say(&o->to, "\"/>\n");
}

static void put_area(const struct out *o, const struct picture_item *item) {
    say(&o->to, "<path class=\"f-%s\" d=\"", picture_role_name((enum picture_role)item->role));
    for (uint32_t i = 0; i < item->points; i++)
        say(&o->to, "%s%.1f %.1f", i == 0 ? "M" : "L", unit(at(o, item, i).x),
            unit(at(o, item, i).y));
    say(&o->to, "Z\"/>\n");
}

static void put_box(const struct out *o, const struct picture_item *item) {
    struct picture_point a = at(o, item, 0), b = at(o, item, 1);
    say(&o->to, "<rect class=\"f-%s\" x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\"/>\n",
        picture_role_name((enum picture_role)item->role), unit(a.x), unit(a.y), unit(b.x - a.x),
        unit(b.y - a.y));
}

static void put_mark(const struct out *o, const struct picture_item *item) {
    const char *role = picture_role_name((enum picture_role)item->role);
    double x = unit(at(o, item, 0).x), y = unit(at(o, item, 0).y), r = unit(item->width);
    switch ((enum picture_shape)item->shape) {
    case SHAPE_DOT:
        say(&o->to, "<circle class=\"f-%s\" cx=\"%.1f\" cy=\"%.1f\" r=\"%.1f\"/>\n", role, x, y, r);
        return;
    case SHAPE_RING:
        say(&o->to,
            "<circle class=\"f-paper s-%s\" stroke-width=\"1.6\" cx=\"%.1f\" cy=\"%.1f\" "
            "r=\"%.1f\"/>\n",
            role, x, y, r);
        return;
    case SHAPE_CROSS:
        say(&o->to,
            "<path class=\"s-%s\" stroke-width=\"2.2\" d=\"M%.1f %.1fL%.1f %.1fM%.1f %.1fL%.1f "
            "%.1f\"/>\n",
            role, x - r, y - r, x + r, y + r, x - r, y + r, x + r, y - r);
        return;
    case SHAPE_SQUARE:
        say(&o->to, "<path class=\"f-%s\" d=\"M%.1f %.1fH%.1fV%.1fH%.1fZ\"/>\n", role, x - r, y - r,
            x + r, y + r, x - r);
        return;
    case SHAPE_DIAMOND:
        say(&o->to, "<path class=\"f-%s\" d=\"M%.1f %.1fL%.1f %.1fL%.1f %.1fL%.1f %.1fZ\"/>\n",
            role, x, y - r, x + r, y, x, y + r, x - r, y);
        return;
    case SHAPE_UP:
    case SHAPE_DOWN:
    case PICTURE_SHAPES:
        break;
    }
    double tip = item->shape == SHAPE_UP ? -r : r;
    say(&o->to, "<path class=\"f-%s\" d=\"M%.1f %.1fL%.1f %.1fL%.1f %.1fZ\"/>\n", role, x, y + tip,
        x + r, y - tip, x - r, y - tip);
}

static void put_words(const struct out *o, const struct picture_item *item) {
    static const char *const anchors[] = {"", " text-anchor=\"middle\"", " text-anchor=\"end\""};
    static const char *const faces[PICTURE_FACES] = {"title", "body", "small"};
    say(&o->to, "<text class=\"t-%s %s\"%s x=\"%.1f\" y=\"%.1f\">",
        picture_role_name((enum picture_role)item->role), faces[item->face], anchors[item->anchor],
        unit(at(o, item, 0).x), unit(at(o, item, 0).y));
    put_escaped(o, o->p->text + item->text);
    say(&o->to, "</text>\n");
}

static void put_group(struct out *o, const struct picture_item *item) {
    say(&o->to, "%s<g><title>", o->group ? "</g>\n" : "");
    put_escaped(o, o->p->text + item->text);
    say(&o->to, "</title>\n");
    o->group = true;
}

static void put_item(struct out *o, const struct picture_item *item) {
    switch ((enum picture_kind)item->kind) {
    case PICTURE_GROUP:
        put_group(o, item);
        break;
    case PICTURE_LINE:
    case PICTURE_SEGMENTS:
        put_strokes(o, item);
        break;
    case PICTURE_AREA:
        put_area(o, item);
        break;
    case PICTURE_BOX:
        put_box(o, item);
        break;
    case PICTURE_MARK:
        put_mark(o, item);
        break;
    case PICTURE_WORDS:
        put_words(o, item);
        break;
    case PICTURE_KINDS:
        break;
    }
}

void picture_style(enum picture_theme theme, say_put *put, void *where) {
    struct out o = {NULL, {put, where}, false};
    say(&o.to,
        ".picture text{font-family:sans-serif;stroke-width:3px;stroke-linejoin:round;"
        "paint-order:stroke;stroke:#%06X}\n.picture path{stroke-linejoin:round}\n",
        palette_colour(ROLE_PAPER, theme));
    static const char *const faces[PICTURE_FACES] = {"title", "body", "small"};
    for (int i = 0; i < PICTURE_FACES; i++)
        say(&o.to, ".picture .%s{font-size:%gpx%s}\n", faces[i],
            palette_face_size((enum picture_face)i), i == FACE_TITLE ? ";font-weight:bold" : "");
    /* A ring is filled with paper: fills come after strokes, which say none. */
    for (int i = 0; i < PICTURE_ROLES; i++)
        say(&o.to, ".picture .s-%s{stroke:#%06X;fill:none}\n",
            picture_role_name((enum picture_role)i), palette_colour((enum picture_role)i, theme));
    for (int i = 0; i < PICTURE_ROLES; i++) {
        const char *name = picture_role_name((enum picture_role)i);
        uint32_t colour = palette_colour((enum picture_role)i, theme);
        say(&o.to, ".picture .f-%s,.picture .t-%s{fill:#%06X}\n", name, name, colour);
    }
}

static void put_all(struct out *o, const char *prefix, const enum picture_theme *theme) {
    const struct picture *p = o->p;
    say(&o->to,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"picture\" role=\"img\" "
        "viewBox=\"0 0 %.1f %.1f\"",
        p->width, p->height);
    if (theme)
        say(&o->to, " width=\"%.1f\" height=\"%.1f\"", p->width, p->height);
    say(&o->to, " aria-labelledby=\"%stitle %sabout\">\n<title id=\"%stitle\">", prefix, prefix,
        prefix);
    put_escaped(o, p->text + p->title);
    say(&o->to, "</title>\n<desc id=\"%sabout\">", prefix);
    put_escaped(o, p->text + p->about);
    say(&o->to, "</desc>\n");
    if (theme) {
        say(&o->to, "<style>\n");
        picture_style(*theme, o->to.put, o->to.where);
        say(&o->to, "</style>\n<rect class=\"f-paper\" width=\"%.1f\" height=\"%.1f\"/>\n",
            p->width, p->height);
    }
    for (uint32_t i = 0; i < p->items; i++)
        put_item(o, &p->item[i]);
    say(&o->to, "%s</svg>\n", o->group ? "</g>\n" : "");
}

void picture_svg(const struct picture *p, enum picture_theme theme, say_put *put, void *where) {
    struct out o = {p, {put, where}, false};
    put_all(&o, "", &theme);
}

void picture_svg_within(const struct picture *p, const char *prefix, say_put *put, void *where) {
    struct out o = {p, {put, where}, false};
    put_all(&o, prefix, NULL);
}
