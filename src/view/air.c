#include "view/air.h"

#include "base/text.h"
#include "base/whole.h"
#include "view/lay.h"

enum {
    BAR_ROWS = 6,
    SCALE_COLUMNS = 6, /* "100 % " before the bars */
    BAND_MHZ = 84,     /* whole carriers in the legal band: 2400 to 2483 */
    WORDS_MAX = 1000,
    EIGHTHS = 8,
};

static const char no_sweep[] =
    "No sweep of the band has come. The receiver makes one at its start, when a jumper asks for it "
    "(set with the power off), and prints it as air lines; never in a run, since a sweep deafens "
    "it.";
static const char caution[] =
    "One bit a look sees only strong signals, so quiet is no proof. A sweep shows the seconds at "
    "boot, "
    "never the run, and hears your own transmitter too. Looks are those within 2 MHz (95 % bound); "
    "Wi-Fi are the channels that cover it when they are in use.";

_Static_assert(SURVEY_AROUND_MHZ == 2, "the caution says so");

/* What a column of the picture stands for. */
struct scale {
    int first, count; /* carriers from 2400 MHz on, in the picture */
    int group;        /* carriers a column */
    int columns;
    double top; /* share of hits at full height */
};

static struct scale scale_of(const struct survey *s, int columns) {
    struct scale scale = {.count = BAND_MHZ, .top = 1};
    for (int i = BAND_MHZ; i < SURVEY_MHZ; i++)
        if (s->looks[i] > 0)
            scale.count = i + 1;
    int room = columns - SCALE_COLUMNS > 1 ? columns - SCALE_COLUMNS : 1;
    scale.group = (scale.count + room - 1) / room;
    scale.columns = (scale.count + scale.group - 1) / scale.group;
    static const double tops[] = {0.05, 0.1, 0.2, 0.3, 0.5};
    double peak = survey_peak(s);
    for (size_t i = sizeof tops / sizeof *tops; i > 0; i--)
        if (peak <= tops[i - 1])
            scale.top = tops[i - 1];
    return scale;
}

/* Of a column's carriers the greatest share: a narrow signal stays visible.  -1: none was looked
 * at. */
static double column_share(const struct survey *s, const struct scale *scale, int column) {
    double share = -1;
    for (int i = column * scale->group; i < (column + 1) * scale->group && i < scale->count; i++) {
        double one = s->looks[i] > 0 ? (double)s->hits[i] / (double)s->looks[i] : -1;
        share = one > share ? one : share;
    }
    return share;
}

/* The column of a frequency, cut to the picture. */
static int column_of(const struct scale *scale, double mhz) {
    int column = whole_i32((mhz - SURVEY_FROM_MHZ) / scale->group);
    return column < 0 ? 0 : column >= scale->columns ? scale->columns - 1 : column;
}

static void bar_draw(struct grid *g, int bottom, int column, double share, double top,
                     enum tone tone) {
    static const char plain[EIGHTHS + 1] = {' ', '.', '.', '.', ':', ':', ':', ':', '#'};
    int eighths = whole_i32(share / top * BAR_ROWS * EIGHTHS + 0.5);
    if (share > 0 && eighths == 0)
        eighths = 1;
    for (int row = bottom; eighths > 0; row--, eighths -= EIGHTHS) {
        int part = eighths < EIGHTHS ? eighths : EIGHTHS;
        grid_glyph(g, row, column, tone, 0x2580 + (uint32_t)part, plain[part]);
    }
}

static void bars_draw(struct grid *g, const struct survey *s, const struct scale *scale, int row,
                      int column) {
    int bottom = row + BAR_ROWS - 1;
    grid_format(g, row, column, TONE_FAINT, "%3.0f %%", 100 * scale->top);
    grid_text(g, bottom, column, TONE_FAINT, "  0 %");
    for (int c = 0; c < scale->columns; c++) {
        double share = column_share(s, scale, c);
        enum tone tone = c * scale->group < BAND_MHZ ? TONE_PLAIN : TONE_FAINT;
        if (share < 0)
            grid_glyph(g, bottom, column + SCALE_COLUMNS + c, TONE_FAINT, '?', '?');
        else
            bar_draw(g, bottom, column + SCALE_COLUMNS + c, share, scale->top, tone);
    }
}

/* The legal band as a ruler from end to end, numbers beneath. */
static void ruler_draw(struct grid *g, const struct scale *scale, int row, int column, int right) {
    int from = column + SCALE_COLUMNS, edge = from + column_of(scale, BAND_HIGH_MHZ);
    for (int c = from; c <= edge; c++)
        grid_glyph(g, row, c, TONE_FAINT, 0x2500, '-');
    for (int mhz = SURVEY_FROM_MHZ; mhz < SURVEY_FROM_MHZ + scale->count; mhz += 20) {
        int c = from + column_of(scale, mhz);
        grid_glyph(g, row, c, TONE_FAINT, 0x253C, '+');
        if (c + 4 <= right)
            grid_format(g, row + 1, c, TONE_FAINT, "%d", mhz);
    }
    grid_glyph(g, row, from, TONE_HEADING, 0x251C, '[');
    grid_glyph(g, row, edge, TONE_HEADING, 0x2524, ']');
    lay_text(g, row, edge + 2, right, TONE_FAINT, "the band ends at 2483.5 MHz");
}

/* The usual Wi-Fi channels, as wide as they are. */
static void wifi_draw(struct grid *g, const struct scale *scale, int row, int column, int right) {
    static const int channels[] = {1, 6, 11};
    int from = column + SCALE_COLUMNS;
    lay_text(g, row, column, right, TONE_FAINT, "Wi-Fi");
    for (size_t i = 0; i < sizeof channels / sizeof *channels; i++) {
        double centre = wifi_centre_mhz(channels[i]);
        int first = from + column_of(scale, centre - WIFI_OFDM_HALF_MHZ);
        int to = from + column_of(scale, centre + WIFI_OFDM_HALF_MHZ) - 1;
        for (int c = first; c <= to; c++)
            grid_glyph(g, row, c, TONE_FAINT, c == first || c == to ? 0x2534 : 0x2500,
                       c == first || c == to ? '+' : '-');
        grid_format(g, row, from + column_of(scale, centre), TONE_PLAIN, "%d", channels[i]);
    }
}

/* --- words ------------------------------------------------------------------------------------ */

static void say_spot(struct text *t, const char *name, const struct survey_spot *spot) {
    if (!spot->known)
        return;
    text_format(t, "%-10s %u MHz, heard in %llu of %llu looks (under %.2g %%)", name, spot->mhz,
                (unsigned long long)spot->hits, (unsigned long long)spot->looks, 100 * spot->high);
    for (int i = 0; i < spot->wifi_count; i++)
        text_format(t, "%s %d", i > 0 ? "" : ", Wi-Fi", spot->wifi[i]);
    text_char(t, '\n');
}

static void say_advice(struct text *t, const struct survey *s) {
    struct survey_advice a;
    survey_advise(s, &a);
    if (!a.best.known)
        text_string(t, "Too few looks inside 2400-2483.5 MHz to suggest a carrier.\n");
    else if (a.best.hits > 0)
        text_string(t, "No carrier is quiet.\n");
    say_spot(t, "Quietest", &a.best);
    say_spot(t, "Runner-up", &a.second);
    say_spot(t, "Now on", &a.now);
    if (a.now.known && !band_holds(a.now.mhz, a.width_mhz))
        text_string(t, "That leaves 2400-2483.5 MHz, the band that is open to such links.\n");
    text_string(t, caution);
}

static void words_of(const struct survey *s, char *out) {
    struct text t;
    text_init(&t, out, WORDS_MAX);
    if (s->sweeps == 0)
        text_string(&t, no_sweep);
    else
        say_advice(&t, s);
}

static int words_draw(struct grid *g, const char *words, struct place at) {
    struct slice rest = slice_of(words);
    int row = 0;
    for (; rest.len > 0 && row < at.rows; row++)
        grid_slice(g, at.row + row, at.column, TONE_PLAIN, lay_line(&rest, at.columns));
    return row;
}

enum { PICTURE_ROWS = 1 + BAR_ROWS + 3 };

int air_rows(const struct survey *s, int columns) {
    char words[WORDS_MAX];
    words_of(s, words);
    struct slice rest = slice_of(words);
    int rows = s->sweeps > 0 ? PICTURE_ROWS : 0;
    for (; rest.len > 0; rows++)
        (void)lay_line(&rest, columns);
    return rows;
}

int air_draw(struct grid *g, const struct survey *s, struct place at) {
    char words[WORDS_MAX];
    words_of(s, words);
    int row = at.row, right = at.column + at.columns;
    if (s->sweeps > 0 && at.rows > PICTURE_ROWS) {
        struct scale scale = scale_of(s, at.columns);
        lay_format(g, row, at.column, right, TONE_HEADING,
                   "Carriers heard at boot, share of looks, %u sweep%s; a column is %d MHz",
                   s->sweeps, s->sweeps == 1 ? "" : "s", scale.group);
        bars_draw(g, s, &scale, row + 1, at.column);
        ruler_draw(g, &scale, row + 1 + BAR_ROWS, at.column, right);
        wifi_draw(g, &scale, row + 3 + BAR_ROWS, at.column, right);
        row += PICTURE_ROWS;
    }
    struct place below = {row, at.column, at.rows - (row - at.row), at.columns};
    return row - at.row + words_draw(g, words, below);
}
