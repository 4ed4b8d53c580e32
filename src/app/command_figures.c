#include <langinfo.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/commands.h"
#include "app/feed.h"
#include "app/fold.h"
#include "app/print_out.h"
#include "app/words.h"
#include "picture/picture_out.h"
#include "picture/pictures.h"
#include "text/figures_text.h"
#include "view/air.h"
#include "json/json.h"

/* The picture of the band, as the console draws it, in plain characters. */
static int print_band(const struct survey *s) {
    enum { COLUMNS = 79 };
    struct grid *g = malloc(sizeof *g);
    if (!g)
        return print_out_no_memory(); /* the figures themselves have been printed */
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
    return STATUS_ANSWER;
}

static int print(const struct options *o, const struct snapshot *s, const struct measures *m,
                 const struct figures_facts *facts) {
    if (!o->json) {
        figures_text(s, m, facts, o->all ? FIGURES_ALL : FIGURES_USUAL, print_out, NULL);
        if (facts->survey->sweeps > 0 && figures_wanted(facts, SECTION_BAND))
            return print_band(facts->survey);
        return STATUS_ANSWER;
    }
    return print_out_json(figures_json(s, m, facts));
}

/* Of the long version: the course of the run, when there is one. */
static void take_course(void *context, const struct moment *m) {
    course_feed(context, m);
}

static int print_pictures(const struct snapshot *s, const struct measures *m,
                          const struct course *course) {
    if (course->end_ms <= 0)
        return STATUS_ANSWER;
    struct picture *p = malloc(sizeof *p);
    struct picture_facts facts = {.s = s, .m = m, .course = course};
    bool ascii = strcmp(nl_langinfo(CODESET), "UTF-8") != 0;
    if (!p)
        return print_out_no_memory();
    putchar('\n');
    picture_loss(p, PICTURE_CELLS, &facts);
    bool drawn = picture_cells(p, ascii, print_out, NULL);
    if (course->outages > 0) {
        putchar('\n');
        picture_outages(p, PICTURE_CELLS, &facts);
        drawn = picture_cells(p, ascii, print_out, NULL) && drawn;
    }
    free(p);
    return drawn ? STATUS_ANSWER : print_out_no_memory();
}

/* What the file held; course is NULL where no pictures are wanted, read what reading it gave. */
static int answer(const struct options *o, struct fold *fold, const struct feed_facts *fed,
                  const struct course *course, int read) {
    struct snapshot s;
    if (!fold_read(fold, &s))
        return print_out_no_memory();
    struct figures_facts facts = {
        .file = o->operands[0],
        .rate_from = setup_rate_from(fold->setup),
        .recording = fed->recording,
        .cut = fed->broken != 0,
        .rows_bad = fed->rows_bad,
        .rows_missing = fold->rows_missing,
        .survey = &fold->survey,
        .only = o->only,
    };
    struct measures m;
    fold_measure(fold, &m);
    int status = print(o, &s, &m, &facts);
    if (status == STATUS_ANSWER && course)
        status = print_pictures(&s, &m, course);
    if (read != STATUS_ANSWER)
        return read; /* which was said */
    return status == STATUS_ANSWER ? fold_readable(&s, o->operands[0]) : status;
}

/* Reads the file and answers, also with what could be read of one that failed. */
static int read_and_answer(const struct options *o, struct fold *fold, struct course *course) {
    struct feed_facts fed;
    if (course) {
        course_init(course);
        fold_watch(fold, take_course, course);
    }
    fold->light = figures_sections_light(o->only);
    int status = feed_wanted(o->operands[0], fold->light ? (uint32_t)BENCH_LIGHT_KEYS : UINT32_MAX,
                             fold_event, fold, &fed);
    return fed.bytes > 0 ? answer(o, fold, &fed, course, status) : status;
}

int command_figures(const struct options *o) {
    struct setup setup;
    int status = setup_init(&setup, o);
    if (status != STATUS_ANSWER)
        return status;
    struct fold fold;
    fold_init(&fold, &setup);
    bool pictures = o->all && !o->json && o->only == 0;
    struct course *course = pictures ? malloc(sizeof *course) : NULL;
    status = pictures && !course ? print_out_no_memory() : read_and_answer(o, &fold, course);
    free(course);
    fold_release(&fold);
    setup_release(&setup);
    return status;
}
