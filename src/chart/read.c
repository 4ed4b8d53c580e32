#include <stdlib.h>
#include <string.h>

#include "chart/chart.h"

struct line {
    char *rest; /* what is not taken yet */
    const char *why;
};

/* The next word, or "" at the end. */
static char *word(struct line *l) {
    char *begin = l->rest;
    l->rest += strcspn(l->rest, " ");
    if (*l->rest == ' ')
        *l->rest++ = '\0';
    return begin;
}

static const char *const bad_number = "a number was expected";

/* A number with one decimal, in tenths. */
static int32_t tenths(struct line *l) {
    char *text = word(l), *end;
    bool minus = *text == '-';
    long whole = strtol(text + minus, &end, 10);
    if (end == text + minus || end[0] != '.' || end[1] < '0' || end[1] > '9' || end[2] ||
        whole < 0 || whole > 1000000) {
        l->why = bad_number;
        return 0;
    }
    int32_t value = (int32_t)whole * 10 + (end[1] - '0');
    return minus ? -value : value;
}

static uint32_t count(struct line *l) {
    char *text = word(l), *end;
    unsigned long value = strtoul(text, &end, 10);
    if (end == text || *end || value > PICTURE_POINTS) {
        l->why = bad_number;
        return 0;
    }
    return (uint32_t)value;
}

static uint8_t one_of(struct line *l, const char *const *names, int number) {
    const char *text = word(l);
    for (int i = 0; i < number; i++)
        if (strcmp(names[i], text) == 0)
            return (uint8_t)i;
    l->why = "a word that is not known";
    return 0;
}

static uint8_t role(struct line *l) {
    const char *names[PICTURE_ROLES];
    for (int i = 0; i < PICTURE_ROLES; i++)
        names[i] = picture_role_name((enum picture_role)i);
    return one_of(l, names, PICTURE_ROLES);
}

static uint8_t shape(struct line *l) {
    const char *names[PICTURE_SHAPES];
    for (int i = 0; i < PICTURE_SHAPES; i++)
        names[i] = picture_shape_name((enum picture_shape)i);
    return one_of(l, names, PICTURE_SHAPES);
}

static uint32_t keep(struct picture *p, struct line *l) {
    size_t size = strlen(l->rest) + 1;
    if (size > PICTURE_TEXT - p->text_bytes) {
        l->why = "too much text";
        return 0;
    }
    uint32_t at = p->text_bytes;
    memcpy(p->text + at, l->rest, size);
    p->text_bytes += (uint32_t)size;
    return at;
}

static void points(struct picture *p, struct picture_item *item, struct line *l, uint32_t number) {
    item->point = p->points;
    item->points = number;
    if (number > PICTURE_POINTS - p->points) {
        l->why = "too many points";
        return;
    }
    for (uint32_t i = 0; i < number && !l->why; i++) {
        int32_t x = tenths(l), y = tenths(l);
        p->point[p->points++] = (struct picture_point){x, y};
    }
}

static void read_item(struct picture *p, struct picture_item *item, struct line *l) {
    static const char *const dashes[] = {"solid", "dashed", "dotted", "dashdot"};
    static const char *const faces[] = {"title", "body", "small"};
    static const char *const anchors[] = {"start", "middle", "end"};
    uint32_t number = item->kind == PICTURE_BOX ? 2 : 1;
    if (item->kind == PICTURE_GROUP) {
        item->text = keep(p, l);
        return;
    }
    item->role = role(l);
    if (item->kind == PICTURE_LINE || item->kind == PICTURE_SEGMENTS) {
        item->width = tenths(l);
        item->dash = one_of(l, dashes, 4);
    }
    if (item->kind == PICTURE_LINE || item->kind == PICTURE_SEGMENTS || item->kind == PICTURE_AREA)
        number = count(l);
    if (item->kind == PICTURE_MARK) {
        item->shape = shape(l);
        item->width = tenths(l);
    }
    if (item->kind == PICTURE_WORDS) {
        item->face = one_of(l, faces, 3);
        item->anchor = one_of(l, anchors, 3);
        item->width = tenths(l);
    }
    points(p, item, l, number);
    if (item->kind == PICTURE_WORDS)
        item->text = keep(p, l);
}

static void read_line(struct picture *p, struct line *l, char *name) {
    static const char *const words[PICTURE_KINDS] = {"group", "line", "segments", "area",
                                                     "box",   "mark", "words"};
    if (strcmp(name, "page") == 0) {
        p->width = tenths(l) / 10.0;
        p->height = tenths(l) / 10.0;
    } else if (strcmp(name, "title") == 0) {
        p->title = keep(p, l);
    } else if (strcmp(name, "about") == 0) {
        p->about = keep(p, l);
    } else if (p->items == PICTURE_ITEMS) {
        l->why = "too many things";
    } else {
        struct picture_item *item = &p->item[p->items++];

        struct line kind = {name, NULL};
        *item = (struct picture_item){.kind = one_of(&kind, words, PICTURE_KINDS)};
        l->why = kind.why;
        if (!l->why)
            read_item(p, item, l);
    }
}

unsigned chart_read(struct picture *p, char *text, const char **why) {
    memset(p, 0, sizeof *p);
    p->text_bytes = 1;
    bool ended = false;
    unsigned number = 0;
    for (char *next = text; *next && !ended;) {
        struct line l = {next, NULL};
        number++;
        next += strcspn(next, "\n");
        if (*next)
            *next++ = '\0';
        if (number == 1 && strcmp(l.rest, "airleash-picture 1") != 0)
            l.why = "not a picture of this version";
        char *name = number == 1 ? l.rest : word(&l);
        ended = strcmp(name, "end") == 0;
        if (number > 1 && !ended)
            read_line(p, &l, name);
        *why = l.why;
        if (l.why)
            return number;
    }
    *why = ended && p->width > 0 && p->height > 0 ? NULL : "it ends too early";
    return *why ? number + 1 : 0;
}
