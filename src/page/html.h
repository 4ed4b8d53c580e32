/* A page of HTML that is well-formed XML too, written piece by piece.
 *
 * Markup comes from literals of ours alone; whatever else goes onto the page goes through html_say,
 * html_element or a cell, which escape it.  Every byte is checked on its way out: broken UTF-8,
 * control characters and those that turn the direction of writing become U+FFFD. */
#ifndef PAGE_HTML_H
#define PAGE_HTML_H

#include <stddef.h>
#include <stdint.h>

#include "text/figures_text.h"

struct html { /* the caller's: put and where set, the rest zero */
    say_put *put;
    void *where;
    unsigned char held[4]; /* of a character that isn't whole yet */
    unsigned have, need;
};

/* Literals only: goes out as it is. */
void html_markup(struct html *h, const char *markup);

/* Text as printf, escaped; cut at HTML_SAY_MAX bytes, at a whole character. */
enum { HTML_SAY_MAX = 2048 };
void html_say(struct html *h, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* <element>text</element>; element is a literal and may have attributes: "p class=\"note\"". */
void html_element(struct html *h, const char *element, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* A say_put for markup that others made; where is the struct html.  It escapes
 * nothing, but checks the bytes as above. */
void html_pass(void *h, const char *bytes, size_t len);

/* A table: a caption, heads, rows whose first cell is their head.  Roles are spelled out, since a
 * narrow screen shows each row as a block of its own, with the heads repeated. */
struct html_table {
    struct html *h;
    const char *const *heads; /* NULL at the end */
    unsigned column;          /* of the next cell */
};
void html_table_begin(struct html_table *t, struct html *h, const char *caption,
                      const char *const *heads);
void html_row_begin(struct html_table *t);
void html_cell(struct html_table *t, const char *format, ...) __attribute__((format(printf, 2, 3)));
/* The same with markup inside: what is said between belongs to the cell. */
void html_cell_begin(struct html_table *t);
void html_cell_end(struct html_table *t);
void html_row_end(struct html_table *t);
void html_table_end(struct html_table *t);

#endif
