/* Pictures: axes, colours, and over every fixture and scene, in every size, that nothing overlaps,
 * nothing leaves the page, and that the bins of a course
 * hold every packet.
 *
 * usage: test_picture CAPTURE...
 *
 * What is right: steps of 1, 2 and 5 by their definition; contrast by WCAG 2.1, "relative
 * luminance" and "contrast ratio" (4.5 for text, 1.4.3; 3 for graphics, 1.4.11; from memory),
 * where black on white gives 21; sums by the bench's own counts. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "picture/axis.h"
#include "picture/palette.h"
#include "picture/picture_compare.h"
#include "picture/picture_paper.h"
#include "picture/picture_trials.h"
#include "picture/picture_walk.h"
#include "picture/pictures.h"
#include "simulator/simulator.h"
#include "telemetry/telemetry.h"

static char **captures;
static int capture_count;

/* --- axes */

static void steps_are_one_two_five(void **state) {
    (void)state;
    near("10 in 5", axis_step(10, 5), 2, 1e-12);
    near("10 in 4", axis_step(10, 4), 5, 1e-12);
    near("0.3 in 3", axis_step(0.3, 3), 0.1, 1e-12);
    near("7 in 7", axis_step(7, 7), 1, 1e-12);
    for (double span = 1e-4; span < 1e7; span *= 1.37)
        for (int most = 1; most < 13; most++) {
            double step = axis_step(span, most), power = pow(10, floor(log10(step) + 1e-9));
            double part = step / power;
            assert_true(step * most >= span * (1 - 1e-6));
            assert_true(fabs(part - 1) < 1e-6 || fabs(part - 2) < 1e-6 || fabs(part - 5) < 1e-6);
        }
}

static void linear_axes_hold_their_values(void **state) {
    struct axis a;
    (void)state;
    axis_linear(&a, 0, 49, 6);
    assert_int_equal(a.ticks, 6);
    assert_string_equal(a.label[5], "50");
    axis_linear(&a, 4.68, 5.12, 6);
    near("from", a.from, 4.6, 1e-9);
    assert_string_equal(a.label[0], "4.6");
    for (double low = -37; low < 40; low += 3.7)
        for (double span = 1e-3; span < 1e5; span *= 3.1)
            for (int most = 3; most < 12; most++) {
                axis_linear(&a, low, low + span, most);
                assert_true(a.ticks >= 2 && a.ticks <= most);
                assert_true(a.from <= low + 1e-9 * span && a.to >= low + span * (1 - 1e-9));
            }
    axis_linear(&a, 5, 5, 4); /* nothing to span */
    assert_true(a.from < 5 && a.to > 5);
}

static void log_axes_tick_round_values(void **state) {
    struct axis a;
    (void)state;
    axis_log(&a, 1, 1000, 11);
    assert_int_equal(a.ticks, 10); /* 1 2 5 10 20 50 100 200 500 1000 */
    assert_string_equal(a.label[4], "20");
    axis_place(&a, 0, 300);
    near("10", axis_at(&a, 10), 100, 1e-9);
    near("100", axis_at(&a, 100), 200, 1e-9);
    near("below", axis_at(&a, 0.1), 0, 1e-9);
    near("above", axis_at(&a, 1e5), 300, 1e-9);
    axis_log(&a, 0.05, 2, 5);
    assert_true(a.ticks <= 5);
    assert_string_equal(a.label[0], "0.1");
}

static void time_axes_tick_round_times(void **state) {
    static const struct {
        double ms;
        int most;
        const char *last, *unit;
    } cases[] = {
        {9000, 11, "9", "seconds"},
        {60000, 11, "60", "seconds"},
        {210000, 11, "3:30", "minutes:seconds"},
        {3600e3, 11, "60:00", "minutes:seconds"},
        {6 * 3600e3, 11, "6:00", "hours:minutes"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct axis a;
        axis_time(&a, cases[i].ms, cases[i].most);
        assert_true(a.ticks >= 2 && a.ticks <= cases[i].most);
        assert_string_equal(a.label[a.ticks - 1], cases[i].last);
        assert_string_equal(a.unit, cases[i].unit);
    }
    struct axis year;
    axis_time(&year, 365 * 86400e3, 8);
    assert_true(year.ticks <= 8);
}

/* --- colours */

static double linear(uint32_t channel) {
    double c = channel / 255.0;
    return c <= 0.03928 ? c / 12.92 : pow((c + 0.055) / 1.055, 2.4);
}

static double luminance(uint32_t rgb) {
    return 0.2126 * linear(rgb >> 16) + 0.7152 * linear(rgb >> 8 & 0xFF) +
           0.0722 * linear(rgb & 0xFF);
}

static double contrast(uint32_t a, uint32_t b) {
    double x = luminance(a), y = luminance(b);
    return (fmax(x, y) + 0.05) / (fmin(x, y) + 0.05);
}

static void colours_stand_out(void **state) {
    (void)state;
    near("black on white", contrast(0, 0xFFFFFF), 21, 1e-9);
    for (int theme = THEME_LIGHT; theme <= THEME_DARK; theme++) {
        uint32_t paper = palette_colour(ROLE_PAPER, (enum picture_theme)theme);
        for (int role = ROLE_INK; role < PICTURE_ROLES; role++) {
            double seen =
                contrast(palette_colour((enum picture_role)role, (enum picture_theme)theme), paper);
            if (role == ROLE_GRID)
                assert_true(seen > 1.1);
            else if (role == ROLE_BAND)
                assert_true(seen > 1.3);
            else if (seen < 4.5)
                fail_msg("%s: %.2f", picture_role_name((enum picture_role)role), seen);
            /* Curves and marks over a band. */
            uint32_t band = palette_colour(ROLE_BAND, (enum picture_theme)theme);
            if (role == ROLE_INK || role == ROLE_ACCENT || role == ROLE_BAD)
                assert_true(
                    contrast(palette_colour((enum picture_role)role, (enum picture_theme)theme),
                             band) > 3);
        }
    }
}

/* --- runs */

struct run {
    struct telemetry telemetry;
    struct bench *bench;
    struct course course;
    struct survey survey;
    struct snapshot s;
    struct measures m;
    struct walk walk;
    struct reach reach;
};

static void take(void *context, const struct event *e) {
    struct run *r = context;
    bench_feed(r->bench, e);
    course_feed(&r->course, bench_moment(r->bench));
    survey_feed(&r->survey, e);
    walk_feed(&r->walk, bench_moment(r->bench));
}

static void feed(void *context, const char *bytes, size_t len) {
    telemetry_feed(&((struct run *)context)->telemetry, bytes, len, TIME_UNKNOWN);
}

static struct run *run_new(void) {
    struct run *r = calloc(1, sizeof *r);
    struct bench_limits limits;
    struct walk_limits walk;
    assert_non_null(r);
    bench_limits_default(&limits);
    walk_limits_default(&walk);
    r->bench = bench_new(&limits);
    course_init(&r->course);
    survey_init(&r->survey);
    walk_init(&r->walk, &walk);
    telemetry_init(&r->telemetry, take, r);
    return r;
}

static void run_end(struct run *r) {
    struct reach_settings settings;
    telemetry_end(&r->telemetry, TIME_UNKNOWN);
    bench_read(r->bench, &r->s);
    bench_measure(r->bench, &r->m);
    reach_settings_default(&settings);
    reach_find(r->walk.stop, r->walk.count, &settings, &r->reach);
}

static void run_free(struct run *r) {
    bench_free(r->bench);
    free(r);
}

static void run_file(struct run *r, const char *path) {
    char block[4096];
    size_t got;
    FILE *file = fopen(path, "rb");
    if (file == NULL)
        fail_msg("%s can't be opened", path);
    while ((got = fread(block, 1, sizeof block, file)) > 0)
        feed(r, block, got);
    fclose(file);
}

/* --- what holds of every picture */

static void nothing_overlaps(const struct picture *p, const char *what) {
    for (uint32_t i = 0; i < p->boxes; i++) {
        const struct picture_rect *a = &p->box[i];
        if (a->left < -0.01 || a->right > p->width + 0.01 || a->top < -0.01 ||
            a->bottom > p->height + 0.01)
            fail_msg("%s: a text leaves the page", what);
        for (uint32_t j = 0; j < i; j++) {
            const struct picture_rect *b = &p->box[j];
            if (a->left < b->right && a->right > b->left && a->top < b->bottom - 0.01 &&
                a->bottom > b->top + 0.01)
                fail_msg("%s: texts %u and %u overlap", what, j, i);
        }
    }
}

static void nothing_leaves_the_page(const struct picture *p, const char *what) {
    assert_true(p->items > 0 && p->height > 0);
    for (uint32_t i = 0; i < p->items; i++) {
        const struct picture_item *item = &p->item[i];
        for (uint32_t k = 0; k < item->points; k++) {
            struct picture_point at = p->point[item->point + k];
            if (at.x < 0 || at.y < 0 || at.x > p->width * 10 || at.y > p->height * 10)
                fail_msg("%s: item %u, a %d, leaves the page at %d %d", what, i, item->kind, at.x,
                         at.y);
        }
    }
}

/* A sample of the key: a short level line with its words right after it. */
static const struct picture_item *key_line(const struct picture *p, uint32_t i) {
    const struct picture_item *line = &p->item[i], *words = line + 1;
    if (i + 1 >= p->items || line->kind != PICTURE_LINE || line->points != 2 ||
        words->kind != PICTURE_WORDS || words->anchor != ANCHOR_START)
        return NULL;
    struct picture_point a = p->point[line->point], b = p->point[line->point + 1];
    int32_t gap = p->point[words->point].x - b.x;
    return a.y == b.y && b.x - a.x < 250 && gap > 0 && gap < 150 ? line : NULL;
}

/* Without colours the key still tells its lines apart: printed in grey, or by weak eyes. */
static void keys_differ_in_grey(const struct picture *p, const char *what) {
    for (uint32_t i = 0; i < p->items; i++) {
        const struct picture_item *a = key_line(p, i);
        for (uint32_t j = 0; a && j < i; j++) {
            const struct picture_item *b = key_line(p, j);
            if (b && b->dash == a->dash && b->width == a->width)
                fail_msg("%s: the keys \"%s\" and \"%s\" differ in colour alone", what,
                         p->text + b[1].text, p->text + a[1].text);
        }
    }
}

struct bytes {
    char *at;
    size_t len;
};

static void put(void *where, const char *bytes, size_t len) {
    struct bytes *b = where;
    b->at = realloc(b->at, b->len + len + 1);
    assert_non_null(b->at);
    memcpy(b->at + b->len, bytes, len);
    b->len += len;
    b->at[b->len] = '\0';
}

static void fits_a_terminal(const struct picture *p, const char *what) {
    int most = (int)(p->width / 8);
    for (int ascii = 0; ascii < 2; ascii++) {
        struct bytes rows = {0};
        assert_true(picture_cells(p, ascii != 0, put, &rows));
        int columns = 0;
        for (size_t i = 0; i < rows.len; i++) {
            unsigned char c = (unsigned char)rows.at[i];
            columns = c == '\n' ? 0 : columns + ((c & 0xC0) != 0x80);
            if (columns > most || (ascii && c > 0x7E) || (c < 0x20 && c != '\n'))
                fail_msg("%s: a row of %d columns, byte %u", what, columns, c);
        }
        free(rows.at);
    }
}

typedef void drawing(struct picture *p, enum picture_size size, const struct run *r,
                     const struct picture_room *room);

static struct picture_facts facts_of(const struct run *r, const struct picture_room *room) {
    return (struct picture_facts){.file = "a recording with a rather long name, of the lake.csv",
                                  .s = &r->s,
                                  .m = &r->m,
                                  .course = &r->course,
                                  .survey = &r->survey,
                                  .supply_alarm_mv = 4000,
                                  .room = room};
}

static void draw_loss(struct picture *p, enum picture_size size, const struct run *r,
                      const struct picture_room *room) {
    struct picture_facts facts = facts_of(r, room);
    picture_loss(p, size, &facts);
}

static void draw_supply(struct picture *p, enum picture_size size, const struct run *r,
                        const struct picture_room *room) {
    struct picture_facts facts = facts_of(r, room);
    picture_supply(p, size, &facts);
}

static void draw_channels(struct picture *p, enum picture_size size, const struct run *r,
                          const struct picture_room *room) {
    struct picture_facts facts = facts_of(r, room);
    picture_channels(p, size, &facts);
}

static void draw_outages(struct picture *p, enum picture_size size, const struct run *r,
                         const struct picture_room *room) {
    struct picture_facts facts = facts_of(r, room);
    picture_outages(p, size, &facts);
}

static void draw_band(struct picture *p, enum picture_size size, const struct run *r,
                      const struct picture_room *room) {
    struct picture_facts facts = facts_of(r, room);
    picture_band(p, size, &facts);
}

static void draw_walk(struct picture *p, enum picture_size size, const struct run *r,
                      const struct picture_room *room) {
    picture_walk(p, size,
                 &(struct picture_walk){.walk = &r->walk, .reach = &r->reach, .room = room});
}

static const struct {
    const char *name;
    drawing *draw;
} drawings[] = {{"loss", draw_loss},       {"supply", draw_supply}, {"channels", draw_channels},
                {"outages", draw_outages}, {"band", draw_band},     {"walk", draw_walk}};

static void check_picture(struct picture *p, const char *what) {
    if (!picture_whole(p))
        fail_msg("%s: %llu things had no room", what, (unsigned long long)p->left_out);
    nothing_overlaps(p, what);
    nothing_leaves_the_page(p, what);
    keys_differ_in_grey(p, what);
    if (p->size == PICTURE_CELLS)
        fits_a_terminal(p, what);
}

/* Parts of a screen: the least, odd ones, and larger than any screen. */
static const struct picture_room rooms[] = {{40, 1}, {47, 5}, {100, 12}, {240, 60}};
enum { ROOMS = sizeof rooms / sizeof rooms[0] };

static void check_rooms(struct picture *p, const struct run *r, const char *name, drawing *draw) {
    for (size_t i = 0; i < ROOMS; i++) {
        char what[160];
        snprintf(what, sizeof what, "%s in %d columns, plots of %d rows", name, rooms[i].columns,
                 rooms[i].plot_rows);
        draw(p, PICTURE_CELLS, r, &rooms[i]);
        assert_int_equal(p->width, rooms[i].columns * 8);
        assert_true(picture_whole(p));
        nothing_overlaps(p, what);
        nothing_leaves_the_page(p, what);
        fits_a_terminal(p, what);
    }
}

static void check_run(const struct run *r, const char *name) {
    struct picture *p = malloc(sizeof *p);
    assert_non_null(p);
    for (size_t i = 0; i < sizeof drawings / sizeof drawings[0]; i++)
        for (int size = 0; size < PICTURE_SIZES; size++) {
            char what[128];
            snprintf(what, sizeof what, "%s, %s, size %d", name, drawings[i].name, size);
            drawings[i].draw(p, (enum picture_size)size, r, NULL);
            check_picture(p, what);
            if (size == PICTURE_CELLS)
                check_rooms(p, r, what, drawings[i].draw);
        }
    free(p);
}

/* Every packet is in one bin, every outage in one of lengths and on the lane. */
static void check_course(const struct run *r, const char *name) {
    const struct course *c = &r->course;
    uint64_t got = 0, lost = 0, least = 0, most = 0, spans = 0;
    for (uint32_t i = 0; i < c->bins; i++) {
        got += c->bin[i].got;
        lost += c->bin[i].lost;
    }
    for (uint32_t i = 0; i < COURSE_LENGTHS; i++) {
        least += c->at_least[i];
        most += c->at_most[i];
    }
    spans = c->lane[COURSE_OUTAGE].count + c->lane[COURSE_OUTAGE].more;
    if (r->s.total.known && got + lost + c->untimed != r->s.total.got + r->s.total.lost)
        fail_msg("%s: %llu packets in bins", name, (unsigned long long)(got + lost));
    if (r->s.total.known && c->untimed == 0)
        assert_int_equal(lost, r->s.total.lost);
    assert_int_equal(c->outages, r->s.outages);
    assert_int_equal(least, c->outages);
    assert_int_equal(most, c->outages);
    assert_int_equal(spans, c->outages);
    assert_int_equal(c->lane[COURSE_RECEIVER].count,
                     r->s.receiver_restarts + r->s.opening_restarts);
    int64_t silent = 0, binned = 0;
    for (uint32_t i = 0; i < c->lane[COURSE_OUTAGE].count; i++)
        silent += c->lane[COURSE_OUTAGE].span[i].to_ms - c->lane[COURSE_OUTAGE].span[i].from_ms;
    if (c->lane[COURSE_OUTAGE].open)
        silent += c->lane[COURSE_OUTAGE].now.to_ms - c->lane[COURSE_OUTAGE].now.from_ms;
    for (uint32_t i = 0; i < c->bins; i++)
        binned += c->bin[i].on_ms[COURSE_OUTAGE];
    if (c->lane[COURSE_OUTAGE].more == 0)
        assert_int_equal(binned, silent);
}

static void fixtures_draw(void **state) {
    (void)state;
    assert_true(capture_count > 3);
    for (int i = 0; i < capture_count; i++) {
        struct run *r = run_new();
        run_file(r, captures[i]);
        run_end(r);
        check_course(r, captures[i]);
        check_run(r, captures[i]);
        run_free(r);
    }
}

/* A mark at each change of the model's distance, as a walker would set it: by hand here. */
static void scenes_draw(void **state) {
    (void)state;
    for (int scene = 0; scene < (int)simulator_scene_count; scene++) {
        struct run *r = run_new();
        struct simulator *p = simulator_new(scene, 7, feed, r);
        assert_non_null(p);
        for (int s = 0; s < (int)simulator_scenes[scene].seconds; s += 10) {
            simulator_run(p, (int64_t)s * 1000000);
            struct event mark = {.kind = EVENT_MARK, .host_us = TIME_UNKNOWN};
            mark.mark.type = MARK_STOP;
            mark.mark.distance_m = 3 + s * 0.4;
            take(r, &mark);
        }
        simulator_free(p);
        run_end(r);
        check_course(r, simulator_scenes[scene].name);
        check_run(r, simulator_scenes[scene].name);
        run_free(r);
    }
}

/* Nine hours in two ticks of the clock, and more outages than a lane has room for. */
static void long_runs_keep_their_sums(void **state) {
    (void)state;
    struct run *r = run_new();
    unsigned got = 0;
    feed(r, "id end=rx rate=50\n", 18);
    for (int i = 0; i < 4000; i++) {
        char line[128];
        unsigned lost = i % 5 == 0 ? 30 : 0; /* 0.6 s at 50 a second */
        got += 50;
        int len = snprintf(line, sizeof line, "rx n=%d t=%d ch=1500 got=%u lost=%d age=%d gap=%u\n",
                           i + 1, 1000 + i * 8000, got, (i / 5 + 1) * 30, i % 5 == 0 ? 0 : 5,
                           lost ? 640 : 20);
        feed(r, line, (size_t)len);
    }
    run_end(r);
    assert_true(r->course.bin_ms >= 32000000 / COURSE_BINS);
    assert_true(r->s.outages > COURSE_SPANS);
    check_course(r, "long");
    check_run(r, "long");
    run_free(r);
}

static void nothing_draws_too(void **state) {
    (void)state;
    struct run *r = run_new();
    run_end(r);
    check_run(r, "nothing");
    run_free(r);
}

/* Verdicts and numbers as they may come, with no regard to each other. */
static void comparisons_draw(void **state) {
    (void)state;
    struct picture *p = malloc(sizeof *p);
    struct sample *s = calloc(3, sizeof *s);
    const struct sample *all[6];
    struct compare found = {.alike = 1};
    assert_true(p && s);
    for (int i = 0; i < 6; i++)
        all[i] = &s[i % 3];
    for (int i = 0; i < 3; i++) {
        s[i].counted = true;
        s[i].got = 1000;
        s[i].lost = (uint64_t)(i * 70);
    }
    for (int size = 0; size < PICTURE_SIZES; size++)
        for (int verdict = 0; verdict <= COMPARE_REFUSED; verdict++)
            for (int doubt = 0; doubt <= COMPARE_ORDER; doubt++) {
                struct side_samples a = {all, (uint32_t)doubt + 1},
                                    b = {all + 1, 1 + (uint32_t)size};
                found.verdict = (enum compare_verdict)verdict;
                found.lack =
                    verdict == COMPARE_REFUSED ? COMPARE_LACKS_TIME : COMPARE_LACKS_NOTHING;
                found.doubt = (enum compare_doubt)doubt;
                found.a.rate = 0.02 * doubt;
                found.a.loss = (struct stat_interval){0.01 * doubt, 0.05 * doubt};
                found.b.rate = 1e-5;
                found.b.loss = (struct stat_interval){0, 1e-4};
                found.difference.rate = 1e-5 - 0.02 * doubt;
                found.difference.limits = (struct stat_interval){-0.05 * doubt, 1e-4};
                picture_compare(p, (enum picture_size)size,
                                &(struct picture_compare){&found, &a, &b});
                check_picture(p, "compare");
            }
    free(s);
    free(p);
}

struct trialled {
    struct run *run;
    struct book *book;
    struct snapshot s;
};

static void take_trial(void *context, const struct event *e) {
    struct trialled *t = context;
    bench_feed(t->run->bench, e);
    bool wants = book_wants(t->book, e);
    if (wants)
        bench_read(t->run->bench, &t->s);
    book_feed(t->book, bench_moment(t->run->bench), wants ? &t->s : NULL);
}

static void say_trial(struct trialled *t, const char *text) {
    struct event e = {.kind = EVENT_ANSWER, .host_us = TIME_UNKNOWN};
    e.text = slice_of(text);
    take_trial(t, &e);
}

static void draw_trials(const struct trialled *t, const char *what) {
    struct picture *p = malloc(sizeof *p);
    assert_non_null(p);
    for (int size = 0; size < PICTURE_SIZES; size++) {
        picture_trials(p, (enum picture_size)size,
                       &(struct picture_trials){"a walk on the pond.csv", t->book});
        check_picture(p, what);
    }
    free(p);
}

static void feed_trial(void *context, const char *bytes, size_t len) {
    telemetry_feed(&((struct trialled *)context)->run->telemetry, bytes, len, TIME_UNKNOWN);
}

static void trials_draw(void **state) {
    static const struct {
        int at_s;
        const char *row;
    } rows[] = {{1, "failsafe begin"},      {2, "failsafe answer=yes"},
                {2, "failsafe step=which"}, {3, "failsafe answer=channel 2"},
                {3, "failsafe step=low"},   {5, "failsafe step=raise"},
                {9, "failsafe step=off"},   {14, "failsafe step=stay"},
                {19, "failsafe step=on"},   {26, "failsafe step=lower"},
                {29, "failsafe end"}};
    (void)state;
    struct trial_rules rules;
    trial_rules_default(&rules);
    struct trialled t = {.run = run_new(), .book = book_new(&rules)};
    assert_non_null(t.book);
    telemetry_init(&t.run->telemetry, take_trial, &t);
    draw_trials(&t, "no trial");
    struct simulator *p = simulator_new(simulator_scene_find("failsafe"), 1, feed_trial, &t);
    assert_non_null(p);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        simulator_run(p, (int64_t)rows[i].at_s * 1000000);
        say_trial(&t, rows[i].row);
        draw_trials(&t, rows[i].row);
    }
    assert_int_equal(book_count(t.book), 1);
    simulator_free(p);
    book_free(t.book);
    run_free(t.run);
}

/* The field as a walk that ended at m says it, in each way of knowing. */
static void paper_by_walk(struct picture *p, enum picture_size size, const struct budget_inputs *in,
                          double m) {
    for (int known = MISSING_NOTHING_TOLD; known <= MISSING_AT_LEAST; known++) {
        bool least = known == MISSING_BETWEEN || known == MISSING_AT_MOST;
        bool most = known == MISSING_BETWEEN || known == MISSING_AT_LEAST;
        struct budget_walk walk = {
            .file = "walk.csv",
            .reach = {.verdict = known == MISSING_INTERVAL ? REACH_CLOSED : REACH_FEW,
                      .m = m,
                      .low_m = 0.8 * m,
                      .high_m = 1.3 * m,
                      .at_least_m = least ? 0.7 * m : 0,
                      .at_most_m = most ? 1.9 * m : INFINITY}};
        walk.known = missing_by_walk(&walk.range, in, &walk.reach);
        assert_int_equal(walk.known, known);
        struct budget_facts field = {.walk = &walk};
        picture_paper(p, size,
                      &(struct picture_paper){.file = "walk.csv", .in = in, .field = &field});
        check_picture(p, "paper by a walk");
    }
}

static void paper_draws(void **state) {
    (void)state;
    struct picture *p = malloc(sizeof *p);
    struct budget_inputs in;
    assert_non_null(p);
    budget_defaults(&in);
    in.power_dbm = 0;
    in.sensitivity_dbm = -94;
    for (int size = 0; size < PICTURE_SIZES; size++)
        for (double m = 0.5; m < 3000; m *= 1.7) {
            struct missing range, level;
            missing_by_range(&range, &in, m, m, m, false);
            in.distance_m = m;
            missing_by_level(&level, &in, m, -80);
            struct budget_facts field = {
                .walked_m = m, .level_dbm = -80, .by_range = &range, .by_level = &level};
            picture_paper(p, (enum picture_size)size,
                          &(struct picture_paper){.in = &in, .field = &field});
            check_picture(p, "paper");
        }
    for (int size = 0; size < PICTURE_SIZES; size++)
        for (double m = 0.7; m < 3000; m *= 6)
            paper_by_walk(p, (enum picture_size)size, &in, m);
    picture_paper(p, PICTURE_WIDE, &(struct picture_paper){.in = &in});
    check_picture(p, "paper alone");
    free(p);
}

/* --- the picture itself */

static void full_pictures_say_so(void **state) {
    (void)state;
    struct picture *p = malloc(sizeof *p);
    assert_non_null(p);
    picture_init(p, PICTURE_WIDE);
    for (int i = 0; i < PICTURE_ITEMS; i++)
        picture_line(p, (struct picture_pen){ROLE_INK, 1, DASH_SOLID}, 0, 0, i, 1);
    assert_true(picture_whole(p));
    picture_line(p, (struct picture_pen){ROLE_INK, 1, DASH_SOLID}, 0, 0, 1, 1);
    assert_false(picture_whole(p));
    picture_init(p, PICTURE_WIDE);
    for (int i = 0; i < 2 * PICTURE_BOXES; i++)
        picture_text(p, ROLE_INK, FACE_BODY, ANCHOR_START, 0, 0, "a text that is kept");
    assert_false(picture_whole(p));
    free(p);
}

static void texts_make_way(void **state) {
    (void)state;
    struct picture *p = malloc(sizeof *p);
    assert_non_null(p);
    picture_init(p, PICTURE_NARROW);
    assert_true(picture_text_fit(p, ROLE_INK, FACE_BODY, ANCHOR_START, 10, 50, "first"));
    assert_false(picture_text_fit(p, ROLE_INK, FACE_BODY, ANCHOR_START, 15, 52, "second"));
    assert_false(picture_text_fit(p, ROLE_INK, FACE_BODY, ANCHOR_END, 10, 90, "off the page"));
    assert_true(picture_text_fit(p, ROLE_INK, FACE_BODY, ANCHOR_START, 15, 80, "below"));
    assert_int_equal(p->boxes, 2);
    free(p);
}

int main(int argc, char **argv) {
    captures = argv + 1;
    capture_count = argc - 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(steps_are_one_two_five),
        cmocka_unit_test(linear_axes_hold_their_values),
        cmocka_unit_test(log_axes_tick_round_values),
        cmocka_unit_test(time_axes_tick_round_times),
        cmocka_unit_test(colours_stand_out),
        cmocka_unit_test(full_pictures_say_so),
        cmocka_unit_test(texts_make_way),
        cmocka_unit_test(fixtures_draw),
        cmocka_unit_test(scenes_draw),
        cmocka_unit_test(long_runs_keep_their_sums),
        cmocka_unit_test(nothing_draws_too),
        cmocka_unit_test(paper_draws),
        cmocka_unit_test(comparisons_draw),
        cmocka_unit_test(trials_draw),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
