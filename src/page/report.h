/* A recording on one page: HTML for people, without a network, without scripts, and well-formed as
 * XML.  Equal recordings give equal pages: no time on it but the recording's own.  A section is
 * there where the recording holds something for it. */
#ifndef PAGE_REPORT_H
#define PAGE_REPORT_H

#include "picture/picture.h"
#include "study/course.h"
#include "study/reach.h"
#include "text/budget_text.h"
#include "text/causes_text.h"
#include "text/figures_text.h"
#include "text/walk_text.h"
#include "trial/book.h"
#include "trial/ends.h"
#include "trial/layout.h"

struct report_fact { /* a fact of the recording as it came: its about rows, its model file */
    const char *key, *value;
};

/* Draws the picture of that name ("loss", "walk", ...); false: there is none. */
typedef bool report_draw(void *drawing, const char *name, enum picture_size size,
                         struct picture *canvas);

struct report_facts {
    const char *program; /* "airleash 1.2" */
    const char *model;   /* as the model file calls it; "": it doesn't */
    const struct figures_facts *figures;
    const struct snapshot *s;
    const struct measures *m;
    const struct course *course;
    double supply_alarm_mv;  /* 0: none */
    bool by_usb;             /* the model file says that USB feeds the board */
    const struct walk *walk; /* NULL: none */
    const struct walk_facts *walked;
    const struct reach *reach;
    const struct budget_inputs *paper; /* NULL: nothing to set against it */
    const struct budget_facts *field;  /* what is */
    const struct book *book;
    const struct ends *ends;
    const struct layout *layout; /* of the values in the packets */
    const struct causes_facts *causes;
    const struct report_fact *fact;
    uint32_t facts, facts_left_out;
    report_draw *draw; /* NULL: no pictures */
    void *drawing;
    struct picture *canvas; /* to draw on, the caller's */
};

void report_html(const struct report_facts *facts, say_put *put, void *where);

#endif
