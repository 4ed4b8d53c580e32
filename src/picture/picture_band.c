#include <math.h>
#include <stdio.h>

#include "base/percent.h"
#include "picture/pictures.h"
#include "picture/sheet.h"

enum { SHOWN_MHZ = 84 }; /* whole carriers of the band: 2400 to 2483 */

struct band_page {
    struct sheet sheet;
    const struct survey *survey;
    struct axis x, y;
    int carriers; /* shown */
};

static void draw_bars(struct band_page *b, struct picture_rect plot) {
    const struct survey *s = b->survey;
    for (int i = 0; i < b->carriers; i++) {
        double mhz = SURVEY_FROM_MHZ + i;
        double from = axis_at(&b->x, mhz - 0.45), to = axis_at(&b->x, mhz + 0.45);
        if (s->looks[i] == 0) {
            if (b->sheet.p->size != PICTURE_CELLS)
                picture_hatch(b->sheet.p, ROLE_MUTED,
                              (struct picture_rect){from, plot.top, to, plot.bottom});
            continue;
        }
        double share = 100 * (double)s->hits[i] / (double)s->looks[i];
        if (s->hits[i] > 0)
            picture_box(b->sheet.p, ROLE_ACCENT,
                        (struct picture_rect){from, axis_at(&b->y, share), to, plot.bottom});
    }
}

/* A carrier named above the bars, and the range of what a carrier there would hear. */
static void draw_spot(struct band_page *b, struct picture_rect lane, const struct survey_spot *spot,
                      enum picture_shape shape, enum picture_role role) {
    if (!spot->known)
        return;
    double middle = (lane.top + lane.bottom) / 2, mhz = spot->mhz;
    picture_line(b->sheet.p, (struct picture_pen){role, 2, DASH_SOLID},
                 axis_at(&b->x, mhz - SURVEY_AROUND_MHZ), middle,
                 axis_at(&b->x, mhz + SURVEY_AROUND_MHZ), middle);
    picture_mark(b->sheet.p, role, shape, axis_at(&b->x, mhz), middle, 5);
}

static void draw_wifi(struct band_page *b) {
    static const int usual[] = {1, 6, 11};
    struct picture_rect lane = sheet_lane(&b->sheet, "Wi-Fi");
    picture_group(b->sheet.p, "the usual Wi-Fi channels");
    for (int i = 0; i < 3; i++) {
        double centre = wifi_centre_mhz(usual[i]);
        double from = axis_at(&b->x, centre - WIFI_OFDM_HALF_MHZ);
        double to = axis_at(&b->x, centre + WIFI_OFDM_HALF_MHZ);
        char name[16];
        snprintf(name, sizeof name, "%d", usual[i]);
        picture_box(b->sheet.p, ROLE_BAND, (struct picture_rect){from, lane.top, to, lane.bottom});
        picture_text(
            b->sheet.p, ROLE_INK, FACE_SMALL, ANCHOR_MIDDLE, (from + to) / 2,
            (lane.top + lane.bottom) / 2 + 0.3 * picture_text_height(b->sheet.p, FACE_SMALL), name);
    }
}

static void say_spot(struct sheet *s, const char *what, const struct survey_spot *spot) {
    char span[PERCENT_SPAN_MAX];
    if (!spot->known)
        return;
    percent_span(span, spot->low, " to ", spot->high);
    sheet_words(s, ROLE_INK, "%s: %u MHz, %llu hits in %llu looks, %s %% (95 %%).", what, spot->mhz,
                (unsigned long long)spot->hits, (unsigned long long)spot->looks, span);
}

static void draw_spots(struct band_page *b, const struct survey_advice *advice) {
    struct picture_rect lane = sheet_lane(&b->sheet, "carriers");
    picture_group(b->sheet.p, "carriers to think about");
    draw_spot(b, lane, &advice->now, SHAPE_SQUARE, ROLE_INK);
    draw_spot(b, lane, &advice->second, SHAPE_RING, ROLE_GOOD);
    draw_spot(b, lane, &advice->best, SHAPE_DOT, ROLE_GOOD);
}

static void say_spots(struct sheet *s, const struct survey_advice *advice) {
    say_spot(s, "Quietest", &advice->best);
    say_spot(s, "Next", &advice->second);
    say_spot(s, "Yours", &advice->now);
}

static void draw(struct band_page *b) {
    struct survey_advice advice;
    struct sheet *s = &b->sheet;
    survey_advise(b->survey, &advice);
    if (!sheet_brief(s))
        say_spots(s, &advice);
    struct picture_rect plot = sheet_plot(s, 0.8, "looks that found a carrier, %");
    axis_linear(&b->x, SURVEY_FROM_MHZ, SURVEY_FROM_MHZ + b->carriers, sheet_most_x(s));
    b->x.from = SURVEY_FROM_MHZ - 1;
    b->x.to = SURVEY_FROM_MHZ + b->carriers;
    while (b->x.ticks > 0 && b->x.tick[b->x.ticks - 1] > b->x.to)
        b->x.ticks--;
    axis_place(&b->x, plot.left, plot.right);
    axis_linear(&b->y, 0, fmax(100 * survey_peak(b->survey), 1), 6);
    sheet_place_y(s, &b->y, plot);
    picture_group(s->p, "share of looks that found a carrier");
    sheet_grid_x(s, plot, &b->x);
    sheet_axis_y(s, plot, &b->y);
    draw_bars(b, plot);
    draw_wifi(b);
    draw_spots(b, &advice);
    s->y += 2;
    sheet_axis_x(s, (struct picture_rect){plot.left, plot.top, plot.right, s->y}, &b->x,
                 "carrier, MHz");
    const struct sheet_key keys[] = {
        {SAMPLE_MARK, ROLE_GOOD, SHAPE_DOT, "quietest"},
        {SAMPLE_MARK, ROLE_GOOD, SHAPE_RING, "next"},
        {SAMPLE_MARK, ROLE_INK, SHAPE_SQUARE, "yours"},
    };
    sheet_keys(s, keys, advice.now.known ? 3 : 2);
    if (sheet_brief(s))
        say_spots(s, &advice);
    sheet_words(s, ROLE_MUTED,
                "A look sees strong signals only, and only at the receiver's start: quiet is no "
                "proof. It hears your own transmitter too.");
}

void picture_band(struct picture *p, enum picture_size size, const struct picture_facts *facts) {
    struct band_page b = {.survey = facts->survey, .carriers = SHOWN_MHZ};
    picture_init(p, size);
    picture_fit(p, facts->room);
    sheet_begin(&b.sheet, p, "The band, as swept at the receiver's start", true);
    if (facts->file)
        sheet_words(&b.sheet, ROLE_MUTED, "%s", facts->file);
    for (int i = SHOWN_MHZ; i < SURVEY_MHZ; i++)
        if (b.survey->looks[i] > 0)
            b.carriers = i + 1;
    if (b.survey->sweeps == 0) {
        picture_about(p, "No sweep of the band is in this recording.");
        sheet_words(&b.sheet, ROLE_INK,
                    "No sweep is in it: the receiver prints one as air lines at its start, when a "
                    "jumper asks for it (set with the power off).");
    } else {
        picture_about(p, "Share of looks that found a carrier at each MHz, in %u sweep%s.",
                      b.survey->sweeps, b.survey->sweeps == 1 ? "" : "s");
        draw(&b);
    }
    sheet_end(&b.sheet);
}
