/* Screens as text.  Without arguments but the folder: compares what is drawn with the files typed
 * out there and prints both where they differ.  --rebuild DIR writes them anew, --view NAME SIZE
 * shows one.  A file's first line says what it is; the screen follows between two rules. */
#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "charts.h"
#include "scenes.h"

enum { FILE_MAX = 1 << 18 };

struct shot {
    const char *scene;
    int rows, columns;
    bool ascii;
};

static const struct shot shots[] = {
    {"calm", 24, 80, false},
    {"calm", 24, 80, true},
    {"calm", 30, 100, false},
    {"calm", 50, 160, false},
    {"calm", 50, 160, true},
    {"failsafe", 24, 80, false},
    {"failsafe", 24, 80, true},
    {"failsafe", 50, 160, false},
    {"silent", 24, 80, false},
    {"thin", 24, 80, false},
    {"thin", 30, 100, true},
    {"bare", 24, 80, false},
    {"nothing", 24, 80, false},
    {"unbound", 24, 80, false},
    {"repeating", 24, 80, false},
    {"repeating", 20, 45, false},
    {"sixteen", 24, 80, false},
    {"sixteen", 50, 160, false},
    {"replay", 24, 80, false},
    {"replay", 30, 100, true},
    {"replay-end", 24, 80, false},
    {"far", 24, 80, false},
    {"far", 24, 80, true},
    {"far-failsafe", 24, 80, false},
    {"far-failsafe", 50, 160, false},
    {"help", 24, 80, false},
    {"help", 24, 80, true},
    {"help", 50, 160, false},
    {"caution", 24, 80, false},
    {"caution", 24, 80, true},
    {"entry", 24, 80, false},
    {"paused", 24, 80, false},
    {"paused", 30, 100, false},
    {"calm", 12, 40, false},
    {"failsafe", 5, 20, true},
    {"caution", 10, 40, false},
    {"way", 24, 80, false},
    {"stop", 24, 80, true},
    {"stop", 50, 160, false},
    {"stop", 14, 60, false},
    {"band", 24, 80, false},
    {"band", 24, 80, true},
    {"band", 50, 160, false},
    {"band", 12, 40, false},
    {"band-none", 24, 80, false},
    {"trials", 24, 80, false},
    {"trials", 24, 80, true},
    {"trial-caution", 24, 80, false},
    {"trial-which", 24, 80, false},
    {"trial-stay", 24, 80, false},
    {"trial-stay", 24, 80, true},
    {"trial-stay", 50, 160, false},
    {"trial-stay", 40, 100, false},
    {"trial-leaving", 24, 80, false},
    {"trial-outcome", 24, 80, false},
    {"trial-scrolled", 24, 80, false},
    {"trial-stay", 14, 60, false},
    {"trial-stay", 15, 50, false},
    {"trial-caution", 20, 45, false},
    {"trial-leaving", 20, 45, false},
    {"trial-leaving", 50, 160, false},
    {"chart-loss", 24, 80, false},
    {"chart-loss", 24, 80, true},
    {"chart-loss", 12, 40, false},
    {"chart-loss", 12, 40, true},
    {"chart-loss", 50, 160, false},
    {"chart-loss", 11, 39, false},
    {"chart-early", 24, 80, false},
    {"chart-down", 12, 40, false},
    {"chart-replay", 24, 80, false},
    {"chart-replay", 12, 40, false},
    {"chart-outages", 24, 80, false},
    {"chart-outages", 12, 40, false},
    {"chart-supply", 24, 80, false},
    {"chart-supply", 50, 160, false},
    {"chart-walk", 24, 80, false},
    {"chart-walk", 24, 80, true},
    {"chart-walk", 12, 40, false},
    {"chart-walk", 50, 160, true},
    {"chart-band", 24, 80, false},
    {"chart-band", 12, 40, false},
    {"chart-channels", 50, 160, false},
    {"chart-nothing", 24, 80, false},
    {"chart-help", 24, 80, false},
    {"chart-help", 12, 40, false},
    {"chart-help-replay", 24, 80, true},
    {"chart-no-loss", 24, 80, false},
    {"chart-no-outages", 24, 80, false},
    {"chart-no-supply", 12, 40, false},
    {"chart-no-walk", 24, 80, false},
    {"chart-no-band", 24, 80, true},
};
enum { SHOTS = sizeof shots / sizeof shots[0] };

static struct grid grid;
static struct scene scene;
static char drawn[FILE_MAX], expected[FILE_MAX];

static void shot_name(char *out, size_t size, const struct shot *shot) {
    snprintf(out, size, "%s-%dx%d%s.txt", shot->scene, shot->columns, shot->rows,
             shot->ascii ? "-ascii" : "");
}

static void shot_draw(const struct shot *shot) {
    char row[4 * GRID_COLUMNS_MAX + 1];
    size_t len = 0;
    grid.ascii = shot->ascii;
    grid_resize(&grid, shot->rows, shot->columns);
    if (scene_make(&scene, shot->scene)) {
        page_draw(&grid, &scene.s, &scene.p);
    } else if (!charts_shot(shot->scene, &grid)) {
        fprintf(stderr, "no scene %s\n", shot->scene);
        exit(2);
    }
    for (int r = 0; r < grid.rows; r++) {
        grid_row_text(&grid, r, row);
        len += (size_t)snprintf(drawn + len, sizeof drawn - len, "%s\n", row);
    }
}

static bool file_read(const char *path) {
    FILE *f = fopen(path, "rb");
    size_t len = f != NULL ? fread(expected, 1, sizeof expected - 1, f) : 0;
    expected[len] = '\0';
    if (f != NULL) {
        fclose(f);
    }
    return f != NULL;
}

static bool file_write(const char *path) {
    FILE *f = fopen(path, "wb");
    bool good = f != NULL && fwrite(drawn, 1, strlen(drawn), f) == strlen(drawn);
    return f != NULL && fclose(f) == 0 && good;
}

/* Rows that differ, both versions, each behind its number. */
static void difference_print(const char *name) {
    const char *a = expected, *b = drawn;
    printf("--- %s: expected (-) and drawn (+)\n", name);
    for (int row = 1; *a != '\0' || *b != '\0'; row++) {
        size_t a_len = strcspn(a, "\n"), b_len = strcspn(b, "\n");
        if (a_len == b_len && memcmp(a, b, a_len) == 0) {
            printf("%3d   %.*s\n", row, (int)a_len, a);
        } else {
            printf("%3d - %.*s\n%3d + %.*s\n", row, (int)a_len, a, row, (int)b_len, b);
        }
        a += a_len + (a[a_len] != '\0' ? 1 : 0);
        b += b_len + (b[b_len] != '\0' ? 1 : 0);
    }
}

static int all_shots(const char *dir, bool rebuild) {
    int failed = 0;
    for (int i = 0; i < SHOTS; i++) {
        char name[96], path[4096];
        shot_name(name, sizeof name, &shots[i]);
        snprintf(path, sizeof path, "%s/%s", dir, name);
        shot_draw(&shots[i]);
        if (rebuild) {
            failed += file_write(path) ? 0 : 1;
        } else if (!file_read(path)) {
            printf("--- %s: no such file; --rebuild writes it\n", path);
            failed++;
        } else if (strcmp(expected, drawn) != 0) {
            difference_print(name);
            failed++;
        }
    }
    printf("%d screens, %d %s\n", SHOTS, failed, rebuild ? "not written" : "differ");
    return failed == 0 ? 0 : 1;
}

int main(int argc, char **argv) {
    if (argc == 3 && strcmp(argv[1], "--rebuild") == 0) {
        return all_shots(argv[2], true);
    }
    if (argc == 5 && strcmp(argv[1], "--view") == 0) {
        struct shot shot = {argv[2], atoi(argv[4]), atoi(argv[3]), getenv("ASCII") != NULL};
        shot_draw(&shot);
        fputs(drawn, stdout);
        return 0;
    }
    if (argc == 2) {
        return all_shots(argv[1], false);
    }
    fprintf(stderr, "usage: %s DIR | --rebuild DIR | --view SCENE COLUMNS ROWS\n", argv[0]);
    return 2;
}
