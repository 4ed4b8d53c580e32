/* A screen of the console as SVG: a scene of the simulated receiver, folded up to one moment and
 * drawn as the console draws it.
 *
 * usage: readme_screen SCENE SECONDS ROWS COLUMNS SOURCE > screen.svg
 *
 * SOURCE is what the top line calls the port.  Each stretch of one tone is as long as its cells,
 * whatever the font; colours are the pictures', light or dark as the reader's desktop is. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "link/bench.h"
#include "picture/palette.h"
#include "simulator/simulator.h"
#include "telemetry/telemetry.h"
#include "view/page.h"

enum { CELL_WIDTH = 9, ROW_HEIGHT = 19, FONT = 15, EDGE = 12 };

static struct grid grid;
static struct telemetry telemetry;
static int64_t now_us;

static void take_bytes(void *context, const char *bytes, size_t len) {
    (void)context;
    telemetry_feed(&telemetry, bytes, len, now_us);
}

static void take_event(void *context, const struct event *event) {
    bench_feed(context, event);
}

static bool fold(struct bench *bench, const char *scene, int seconds) {
    int index = simulator_scene_find(scene);
    struct simulator *p = index >= 0 ? simulator_new(index, 1, take_bytes, NULL) : NULL;
    struct event opened = {.kind = EVENT_PORT, .port.change = PORT_OPENED};
    if (!p)
        return false;
    telemetry_init(&telemetry, take_event, bench);
    bench_feed(bench, &opened);
    for (; now_us <= (int64_t)seconds * 1000000; now_us = simulator_next_us(p))
        simulator_run(p, now_us);
    bench_advance(bench, (int64_t)seconds * 1000000);
    simulator_free(p);
    return true;
}

static const char *tone_class(unsigned tone) {
    static const char *const names[TONES] = {
        [TONE_PLAIN] = "plain", [TONE_FAINT] = "faint",     [TONE_HEADING] = "heading",
        [TONE_GOOD] = "good",   [TONE_CAUTION] = "caution", [TONE_TROUBLE] = "trouble",
        [TONE_MARK] = "mark",   [TONE_KEY] = "key",         [TONE_BANNER] = "banner"};
    return names[tone];
}

static void put_style(enum picture_theme theme) {
    static const struct {
        const char *name;
        enum picture_role role;
        bool bold;
    } tones[] = {
        {"plain", ROLE_INK, false},   {"faint", ROLE_MUTED, false}, {"heading", ROLE_INK, true},
        {"good", ROLE_GOOD, false},   {"caution", ROLE_WARN, true}, {"trouble", ROLE_BAD, true},
        {"mark", ROLE_SECOND, false}, {"key", ROLE_ACCENT, false},  {"banner", ROLE_WARN, true}};
    printf("rect{fill:#%06X}\n", palette_colour(ROLE_PAPER, theme));
    for (size_t i = 0; i < sizeof tones / sizeof tones[0]; i++)
        printf(".%s{fill:#%06X%s}\n", tones[i].name, palette_colour(tones[i].role, theme),
               tones[i].bold ? ";font-weight:bold" : "");
}

static void put_rune(uint32_t rune) {
    if (rune == '&' || rune == '<' || rune == '>')
        printf("&#%u;", rune);
    else if (rune < 0x80)
        putchar((int)rune);
    else
        printf("&#x%X;", rune);
}

/* Stretches of one tone without two blanks in a row, so that each stands on its cells. */
static void put_row(int row) {
    for (int from = 0; from < grid.columns;) {
        struct cell first = grid_cell(&grid, row, from);
        int to = from + 1;
        if (first.rune == ' ') {
            from++;
            continue;
        }
        while (to < grid.columns && grid_cell(&grid, row, to).tone == first.tone &&
               (grid_cell(&grid, row, to).rune != ' ' ||
                (to + 1 < grid.columns && grid_cell(&grid, row, to + 1).rune != ' ' &&
                 grid_cell(&grid, row, to + 1).tone == first.tone)))
            to++;
        printf("<text class=\"%s\" x=\"%d\" y=\"%d\" textLength=\"%d\" "
               "lengthAdjust=\"spacingAndGlyphs\">",
               tone_class(first.tone), EDGE + from * CELL_WIDTH, EDGE + row * ROW_HEIGHT + FONT,
               (to - from) * CELL_WIDTH);
        for (int c = from; c < to; c++)
            put_rune(grid_cell(&grid, row, c).rune);
        printf("</text>\n");
        from = to;
    }
}

static void put_svg(const char *scene, int seconds) {
    int width = 2 * EDGE + grid.columns * CELL_WIDTH, height = 2 * EDGE + grid.rows * ROW_HEIGHT;
    printf("<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" viewBox=\"0 0 %d %d\" "
           "width=\"%d\" height=\"%d\">\n<title>The console, %d s into the scene %s</title>\n"
           "<style>\ntext{font:%dpx monospace;white-space:pre}\n",
           width, height, width, height, seconds, scene, FONT);
    put_style(THEME_LIGHT);
    printf("@media (prefers-color-scheme:dark){\n");
    put_style(THEME_DARK);
    printf("}\n</style>\n<rect width=\"%d\" height=\"%d\" rx=\"6\"/>\n", width, height);
    for (int row = 0; row < grid.rows; row++)
        put_row(row);
    printf("</svg>\n");
}

int main(int argc, char **argv) {
    if (argc != 6) {
        fputs("usage: readme_screen SCENE SECONDS ROWS COLUMNS SOURCE\n", stderr);
        return 2;
    }
    struct bench_limits limits;
    bench_limits_default(&limits);
    struct bench *bench = bench_new(&limits);
    struct snapshot *s = malloc(sizeof *s);
    if (!bench || !s || !fold(bench, argv[1], atoi(argv[2])))
        return 3;
    bench_read(bench, s);
    grid_resize(&grid, atoi(argv[3]), atoi(argv[4]));
    page_draw(&grid, s, &(struct page){.source = argv[5], .port = LINK_OPEN, .sound = true});
    put_svg(argv[1], atoi(argv[2]));
    bench_free(bench);
    free(s);
    return 0;
}
