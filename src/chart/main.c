/* airleash-chart png|pdf light|dark: a picture on standard input, its file on standard output.
 * Started by airleash, not by people. */
#include <stdlib.h>
#include <string.h>

#include "chart/chart.h"

enum { INPUT_MAX = 4 * 1024 * 1024, EXIT_USAGE = 2, EXIT_TROUBLE = 3 };

static int trouble(const char *why) {
    fprintf(stderr, "airleash-chart: %s\n", why);
    return EXIT_TROUBLE;
}

static int draw(struct picture *p, char *text, enum chart_form form, enum picture_theme theme) {
    const char *why;
    size_t len = fread(text, 1, INPUT_MAX, stdin);
    text[len] = '\0';
    if (ferror(stdin)) /* what there is of it may look whole */
        return trouble("can't read the picture");
    if (len == INPUT_MAX)
        return trouble("the picture is too large");
    unsigned line = chart_read(p, text, &why);
    if (line > 0) {
        fprintf(stderr, "airleash-chart: line %u: %s\n", line, why);
        return EXIT_TROUBLE;
    }
    if (!chart_draw(p, form, theme, stdout, &why))
        return trouble(why);
    return fflush(stdout) == 0 ? 0 : trouble("can't write to standard output");
}

int main(int argc, char **argv) {
    bool png = argc == 3 && strcmp(argv[1], "png") == 0;
    bool pdf = argc == 3 && strcmp(argv[1], "pdf") == 0;
    bool dark = argc == 3 && strcmp(argv[2], "dark") == 0;
    if (!(png || pdf) || !(dark || strcmp(argv[2], "light") == 0)) {
        fputs("usage: airleash-chart png|pdf light|dark < PICTURE > FILE\n"
              "It draws for airleash: see airleash chart --help\n",
              stderr);
        return EXIT_USAGE;
    }
    struct picture *p = malloc(sizeof *p);
    char *text = malloc(INPUT_MAX + 1);
    int status = p && text
                     ? draw(p, text, png ? CHART_PNG : CHART_PDF, dark ? THEME_DARK : THEME_LIGHT)
                     : trouble("no memory left");
    free(p);
    free(text);
    return status;
}
