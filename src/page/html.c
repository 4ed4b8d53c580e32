#include "page/html.h"

#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

/* --- bytes out: only whole and harmless characters -------------------------------------------- */

static void replace(struct html *h) {
    h->put(h->where, "\xEF\xBF\xBD", 3);
}

static uint32_t code_point(const unsigned char *at, unsigned len) {
    uint32_t code = at[0] & (0xFFu >> (len + 1));
    for (unsigned i = 1; i < len; i++)
        code = code << 6 | (at[i] & 0x3Fu);
    return code;
}

/* Whole by its bytes: is it a character that XML 1.0 (2.2) allows, in its shortest form (Unicode,
 * 3.9), and none that steers? */
static bool harmless(uint32_t code, unsigned len) {
    static const uint32_t least[] = {0, 0, 0x80, 0x800, 0x10000};
    static const struct {
        uint32_t from, to;
    } refused[] = {
        {0x80, 0x9F},   /* controls */
        {0x61C, 0x61C}, /* marks and overrides of direction */
        {0x200E, 0x200F}, {0x2028, 0x202E}, {0x2066, 0x2069},
        {0xD800, 0xDFFF}, /* surrogates */
        {0xFEFF, 0xFEFF}, {0xFFFE, 0xFFFF}, {0x110000, UINT32_MAX},
    };
    if (code < least[len])
        return false;
    for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++)
        if (code >= refused[i].from && code <= refused[i].to)
            return false;
    return true;
}

static void first_byte(struct html *h, unsigned char c) {
    if (c < 0x80) {
        bool plain = (c >= 0x20 && c != 0x7F) || c == '\n';
        char byte = (char)c;
        if (plain)
            h->put(h->where, &byte, 1);
        else
            replace(h);
        return;
    }
    h->need = c >= 0xC2 && c <= 0xDF   ? 2
              : c >= 0xE0 && c <= 0xEF ? 3
              : c >= 0xF0 && c <= 0xF4 ? 4
                                       : 0;
    h->held[0] = c;
    h->have = 1;
    if (h->need == 0)
        replace(h);
}

static void pass_byte(struct html *h, unsigned char c) {
    if (h->need == 0) {
        first_byte(h, c);
        return;
    }
    if ((c & 0xC0) != 0x80) { /* the one before broke off */
        h->need = 0;
        replace(h);
        first_byte(h, c);
        return;
    }
    h->held[h->have++] = c;
    if (h->have < h->need)
        return;
    if (harmless(code_point(h->held, h->need), h->need))
        h->put(h->where, (const char *)h->held, h->need);
    else
        replace(h);
    h->need = 0;
}

void html_pass(void *where, const char *bytes, size_t len) {
    struct html *h = where;
    for (size_t i = 0; i < len; i++)
        pass_byte(h, (unsigned char)bytes[i]);
}

void html_markup(struct html *h, const char *markup) {
    html_pass(h, markup, strlen(markup));
}

/* --- text ------------------------------------------------------------------------------------- */

static const char *entity(char c) {
    switch (c) {
    case '&':
        return "&amp;";
    case '<':
        return "&lt;";
    case '>':
        return "&gt;";
    case '"':
        return "&quot;";
    case '\'':
        return "&#39;";
    case '\n': /* text of ours has none: no line of a page is somebody else's */
        return "\xEF\xBF\xBD";
    default:
        return NULL;
    }
}

static void escape(struct html *h, const char *text) {
    for (; *text; text++) {
        const char *instead = entity(*text);
        if (instead)
            html_markup(h, instead);
        else
            html_pass(h, text, 1);
    }
}

/* A character that was cut in two at the end goes. */
static void drop_torn_end(char *text, size_t len) {
    size_t from = len;
    while (from > 0 && len - from < 3 && ((unsigned char)text[from - 1] & 0xC0) == 0x80)
        from--;
    if (from > 0 && ((unsigned char)text[from - 1] & 0x80) != 0)
        text[from - 1] = '\0';
}

static void say_list(struct html *h, const char *format, va_list list) {
    char text[HTML_SAY_MAX];
    int len = vsnprintf(text, sizeof text, format, list);
    if (len < 0)
        return;
    if ((size_t)len >= sizeof text)
        drop_torn_end(text, sizeof text - 1);
    escape(h, text);
}

void html_say(struct html *h, const char *format, ...) {
    va_list list;
    va_start(list, format);
    say_list(h, format, list);
    va_end(list);
}

static void close_element(struct html *h, const char *element) {
    html_markup(h, "</");
    html_pass(h, element, strcspn(element, " "));
    html_markup(h, ">");
}

void html_element(struct html *h, const char *element, const char *format, ...) {
    va_list list;
    html_markup(h, "<");
    html_markup(h, element);
    html_markup(h, ">");
    va_start(list, format);
    say_list(h, format, list);
    va_end(list);
    close_element(h, element);
    html_markup(h, "\n");
}

/* --- tables ----------------------------------------------------------------------------------- */

void html_table_begin(struct html_table *t, struct html *h, const char *caption,
                      const char *const *heads) {
    *t = (struct html_table){.h = h, .heads = heads};
    html_markup(h, "<table role=\"table\">");
    html_element(h, "caption", "%s", caption);
    html_markup(h, "<thead role=\"rowgroup\"><tr role=\"row\">");
    for (; *heads; heads++)
        html_element(h, "th scope=\"col\" role=\"columnheader\"", "%s", *heads);
    html_markup(h, "</tr></thead>\n<tbody role=\"rowgroup\">\n");
}

void html_row_begin(struct html_table *t) {
    t->column = 0;
    html_markup(t->h, "<tr role=\"row\">");
}

void html_cell_begin(struct html_table *t) {
    if (t->column == 0) {
        html_markup(t->h, "<th scope=\"row\" role=\"rowheader\">");
        return;
    }
    html_markup(t->h, "<td role=\"cell\" data-head=\"");
    html_say(t->h, "%s", t->heads[t->column]);
    html_markup(t->h, "\">");
}

void html_cell_end(struct html_table *t) {
    html_markup(t->h, t->column++ == 0 ? "</th>" : "</td>");
}

void html_cell(struct html_table *t, const char *format, ...) {
    va_list list;
    html_cell_begin(t);
    va_start(list, format);
    say_list(t->h, format, list);
    va_end(list);
    html_cell_end(t);
}

void html_row_end(struct html_table *t) {
    html_markup(t->h, "</tr>\n");
}

void html_table_end(struct html_table *t) {
    html_markup(t->h, "</tbody></table>\n");
}
