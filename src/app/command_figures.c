#include <langinfo.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/commands.h"
#include "app/feed.h"
#include "app/fold.h"
#include "app/print_out.h"
#include "app/words.h"
#include "print/figures.h"
#include "print/picture_out.h"
#include "print/pictures.h"
#include "view/air.h"

/* The picture of the band, as the console draws it, in plain characters. */
static void print_band(const struct survey *s) {
    enum { COLUMNS = 79 };
    struct grid *g = malloc(sizeof *g);
    if (!g)
        return; /* the figures themselves have been printed */
    g->ascii = true;
    grid_resize(g, air_rows(s, COLUMNS), COLUMNS);
    air_draw(g, s, (struct place){0, 0, g->rows, COLUMNS});
    putchar('\n');
    for (int row = 0; row < g->rows; row++) {
        char text[4 * GRID_COLUMNS_MAX + 1];
        grid_row_text(g, row, text);
        puts(text);
    }
    free(g);
}

static int print(const struct options *o, const struct snapshot *s, const struct measures *m,
                 const struct figures_facts *facts) {
    if (!o->json) {
        figures_text(s, m, facts, o->all ? FIGURES_ALL : FIGURES_USUAL, print_out, NULL);
        if (facts->survey->sweeps > 0 && figures_wanted(facts, SECTION_BAND))
            print_band(facts->survey);
        return STATUS_ANSWER;
    }
    return print_out_json(figures_json(s, m, facts));
}

/* Of the long version: the course of the run, when there is one. */
static void take_course(void *context, const struct moment *m) {
    course_feed(context, m);
}

static void print_pictures(const struct snapshot *s, const struct measures *m,
                           const struct course *course) {
    struct picture *p = malloc(sizeof *p);
    struct picture_facts facts = {.s = s, .m = m, .course = course};
    bool ascii = strcmp(nl_langinfo(CODESET), "UTF-8") != 0;
    if (!p || course->end_ms <= 0) {
        free(p);
        return; /* the figures themselves have been printed */
    }
    putchar('\n');
    picture_loss(p, PICTURE_CELLS, &facts);
    picture_cells(p, ascii, print_out, NULL);
    if (course->silences > 0) {
        putchar('\n');
        picture_silences(p, PICTURE_CELLS, &facts);
        picture_cells(p, ascii, print_out, NULL);
    }
    free(p);
}

int command_figures(const struct options *o) {
    const char *path = o->operands[0];
    struct setup setup;
    int status = setup_init(&setup, o);
    if (status != STATUS_ANSWER)
        return status;
    struct fold fold;
    struct feed_facts fed;
    fold_init(&fold, &setup);
    struct course *course = o->all && !o->json && o->only == 0 ? malloc(sizeof *course) : NULL;
    if (course) {
        course_init(course);
        fold_watch(&fold, take_course, course);
    }
    fold.light = figures_sections_light(o->only);
    status = feed_wanted(path, fold.light ? (uint32_t)BENCH_LIGHT_KEYS : UINT32_MAX, fold_event,
                         &fold, &fed);
    struct snapshot s;
    if (fed.bytes > 0 && !fold_read(&fold, &s)) {
        status = print_out_no_memory();
    } else if (fed.bytes > 0) {
        struct figures_facts facts = {
            .file = path,
            .rate_from = setup_rate_from(&setup),
            .recording = fed.recording,
            .rows_bad = fed.rows_bad,
            .rows_missing = fold.rows_missing,
            .survey = &fold.survey,
            .only = o->only,
        };
        struct measures m;
        fold_measure(&fold, &m);
        int printed = print(o, &s, &m, &facts);
        if (course)
            print_pictures(&s, &m, course);
        status = status == STATUS_ANSWER ? printed : status;
        if (status == STATUS_ANSWER)
            status = fold_readable(&s, path);
    }
    free(course);
    fold_release(&fold);
    setup_release(&setup);
    return status;
}
