#include <stdio.h>
#include <string.h>

#include "print/picture_out.h"

struct out {
    const struct picture *p;
    say_put *put;
    void *where;
};

static void put_string(const struct out *o, const char *text) {
    o->put(o->where, text, strlen(text));
}

static void put_tenths(const struct out *o, int32_t tenths) {
    char text[24];
    int32_t size = tenths < 0 ? -tenths : tenths;
    int len = snprintf(text, sizeof text, " %s%d.%d", tenths < 0 ? "-" : "", size / 10, size % 10);
    o->put(o->where, text, (size_t)len);
}

static void put_points(const struct out *o, const struct picture_item *item) {
    for (uint32_t i = 0; i < item->points; i++) {
        put_tenths(o, o->p->point[item->point + i].x);
        put_tenths(o, o->p->point[item->point + i].y);
    }
}

static void put_count(const struct out *o, uint32_t count) {
    char text[16];
    int len = snprintf(text, sizeof text, " %u", count);
    o->put(o->where, text, (size_t)len);
}

/* Control characters of a name or a note end no line here. */
static void put_text(const struct out *o, const char *text) {
    o->put(o->where, " ", 1);
    for (; *text; text++) {
        char c = (unsigned char)*text < 0x20 || *text == 0x7F ? '?' : *text;
        o->put(o->where, &c, 1);
    }
}

static void put_item(const struct out *o, const struct picture_item *item) {
    static const char *const words[PICTURE_KINDS] = {"group", "line", "segments", "area",
                                                     "box",   "mark", "words"};
    static const char *const dashes[] = {" solid", " dashed", " dotted", " dashdot"};
    static const char *const faces[PICTURE_FACES] = {" title", " body", " small"};
    static const char *const anchors[] = {" start", " middle", " end"};
    put_string(o, words[item->kind]);
    if (item->kind != PICTURE_GROUP) {
        put_string(o, " ");
        put_string(o, picture_role_name((enum picture_role)item->role));
    }
    if (item->kind == PICTURE_LINE || item->kind == PICTURE_SEGMENTS) {
        put_tenths(o, item->width);
        put_string(o, dashes[item->dash]);
    }
    if (item->kind == PICTURE_LINE || item->kind == PICTURE_SEGMENTS || item->kind == PICTURE_AREA)
        put_count(o, item->points);
    if (item->kind == PICTURE_MARK) {
        put_string(o, " ");
        put_string(o, picture_shape_name((enum picture_shape)item->shape));
        put_tenths(o, item->width);
    }
    if (item->kind == PICTURE_WORDS) {
        put_string(o, faces[item->face]);
        put_string(o, anchors[item->anchor]);
        put_tenths(o, item->width);
    }
    put_points(o, item);
    if (item->kind == PICTURE_GROUP || item->kind == PICTURE_WORDS)
        put_text(o, o->p->text + item->text);
    put_string(o, "\n");
}

void picture_lines(const struct picture *p, say_put *put, void *where) {
    struct out o = {p, put, where};
    put_string(&o, "airleash-picture 1\npage");
    put_tenths(&o, (int32_t)(p->width * 10 + 0.5));
    put_tenths(&o, (int32_t)(p->height * 10 + 0.5));
    put_string(&o, "\ntitle");
    put_text(&o, p->text + p->title);
    put_string(&o, "\nabout");
    put_text(&o, p->text + p->about);
    put_string(&o, "\n");
    for (uint32_t i = 0; i < p->items; i++)
        put_item(&o, &p->item[i]);
    put_string(&o, "end\n");
}
