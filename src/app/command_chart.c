/* Pictures: into a file, or as characters on the terminal. */
#include <langinfo.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/commands.h"
#include "app/gallery.h"
#include "app/print_out.h"
#include "app/rsvg.h"
#include "app/words.h"

static const struct {
    const char *ending;
    const char *drawn; /* so rsvg-convert calls it; NULL: ours */
} forms[] = {{".svg", NULL}, {".png", "png"}, {".pdf", "pdf"}};
enum { FORMS = sizeof forms / sizeof forms[0] };

static int form_of(const char *path) {
    size_t len = strlen(path);
    for (int i = 0; i < FORMS; i++) {
        size_t ending = strlen(forms[i].ending);
        if (len > ending && strcmp(path + len - ending, forms[i].ending) == 0)
            return i;
    }
    return -1;
}

static int show(const struct picture *p, bool ascii) {
    bool plain = ascii || strcmp(nl_langinfo(CODESET), "UTF-8") != 0;
    if (picture_cells(p, plain, print_out, NULL))
        return STATUS_ANSWER;
    return print_out_no_memory();
}

static int write_file(const struct picture *p, const struct options *o, int form) {
    struct bytes bytes = {0};
    char why[WORDS_MAX];
    enum picture_theme theme = o->dark ? THEME_DARK : THEME_LIGHT;
    int status = STATUS_ANSWER;
    if (forms[form].drawn == NULL)
        picture_svg(p, theme, bytes_put, &bytes);
    else
        status = rsvg_draw(p, forms[form].drawn, theme, &bytes);
    if (status == STATUS_ANSWER && !whole_file_write(o->out, o->force, &bytes, why)) {
        words_say("%s", why);
        status = STATUS_TROUBLE;
    }
    free(bytes.at);
    return status;
}

static int draw(struct gallery *g, struct picture *p, const struct options *o, int form) {
    int row = o->what >= 0 ? o->what : gallery_first(g);
    enum picture_size size = !o->out ? PICTURE_CELLS : o->narrow ? PICTURE_NARROW : PICTURE_WIDE;
    int status = gallery_draw(g, row, p, size);
    if (status != STATUS_ANSWER)
        return status;
    if (!picture_whole(p))
        words_say("this picture has more in it than there is room for: some is left out");
    return o->out ? write_file(p, o, form) : show(p, o->ascii);
}

static int refuse(const struct options *o, int *form) {
    char why[WORDS_MAX];
    *form = o->out ? form_of(o->out) : 0;
    if (*form < 0) {
        words_say("'%s' ends in none of .svg, .png, .pdf: which picture it is to be, is told by "
                  "its ending",
                  o->out);
        fputs("See: airleash chart --help\n", stderr);
        return STATUS_USAGE;
    }
    if (o->out && !whole_file_may(o->out, o->force, why)) {
        words_say("%s", why);
        return STATUS_TROUBLE;
    }
    return STATUS_ANSWER;
}

static int usage(const char *why) {
    words_say("%s", why);
    fputs("See: airleash chart --help\n", stderr);
    return STATUS_USAGE;
}

/* One recording, or two sets with --with between them. */
static int check_operands(const struct options *o) {
    bool sets = o->what >= 0 && o->what == gallery_find("compare");
    if (sets && o->with < 0)
        return usage("a comparison needs --with between the recordings before and those after the "
                     "change: airleash chart before.csv --with after.csv");
    if (o->with == 0 || o->with == o->operand_count)
        return usage("there must be recordings before and after --with");
    if (o->with < 0 && o->operand_count > 1)
        return usage("chart takes one recording, or two sets with --with between them");
    if (o->with >= 0 && o->what >= 0 && !sets)
        return usage("with --with chart draws the comparison: leave --what out");
    return STATUS_ANSWER;
}

static int read_and_draw(struct gallery *g, struct picture *p, const struct options *o, int form) {
    int status = STATUS_ANSWER;
    if (o->with >= 0)
        return draw(g, p, o, form);
    status = gallery_read(g, o->operands[0]);
    /* A file that looks whole must not show only what could be read. */
    if (!g->facts.s || (g->fed.broken && o->out))
        return status;
    int drawn = draw(g, p, o, form);
    return status == STATUS_ANSWER ? drawn : status;
}

int command_chart(const struct options *o) {
    int form, status = check_operands(o);
    if (status == STATUS_ANSWER)
        status = refuse(o, &form);
    if (status != STATUS_ANSWER)
        return status;
    struct gallery *g = malloc(sizeof *g);
    struct picture *p = malloc(sizeof *p);
    if (g && p) {
        gallery_init(g, o);
        status = read_and_draw(g, p, o, form);
        gallery_release(g);
    } else {
        status = print_out_no_memory();
    }
    free(g);
    free(p);
    return status;
}
