/* Any bytes as a file given to the commands that read one, each run as a whole in this process: the
 * studies, the trials judged again, the marks amended, pictures, the report.
 *
 * The first line: a letter that picks one of `runs`, then options divided by spaces; the rest is
 * the file.  Options are taken only where they name no other file.  What is printed holds no
 * control character, JSON is JSON, the page is well-formed, and the status is one of ours. */
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "app/commands.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum { WORDS = 40 };

#define FILE_HERE "@" /* the input's file */
#define SVG_HERE  "%" /* a picture beside it */

static const char *const runs[][7] = {
    {"figures", FILE_HERE},
    {"figures", FILE_HERE, "--json", "--all"},
    {"causes", FILE_HERE, "--all"},
    {"causes", FILE_HERE, "--json"},
    {"walk", FILE_HERE},
    {"walk", FILE_HERE, "--json"},
    {"stops", FILE_HERE},
    {"judge", FILE_HERE},
    {"judge", FILE_HERE, "--json"},
    {"compare", FILE_HERE, "--with", FILE_HERE},
    {"compare", FILE_HERE, "--json", "--with", FILE_HERE},
    {"compare", FILE_HERE, "--walk", FILE_HERE, "--with", FILE_HERE},
    {"model", FILE_HERE},
    {"chart", FILE_HERE},
    {"chart", FILE_HERE, "--force", "--out", SVG_HERE},
    {"chart", FILE_HERE, "--with", FILE_HERE},
    {"report", FILE_HERE, "--out", "-"},
    {"budget", "--walk", FILE_HERE},
    {"judge", FILE_HERE, "--other", FILE_HERE},
    {"walk", FILE_HERE, "--switch", "6"},
    {"figures", FILE_HERE, "--model", FILE_HERE},
};
enum { RUNS = sizeof runs / sizeof runs[0] };

static char path[64], svg[72];
static int out_fd = -1;

static void clean_up(void) {
    unlink(path);
    unlink(svg);
}

/* Standard output goes into memory; standard error is libFuzzer's, ours goes nowhere. */
static void set_up(void) {
    const char *folder = getenv("TMPDIR");
    snprintf(path, sizeof path, "%.40s/fuzz-%d", folder != NULL ? folder : "/tmp", (int)getpid());
    snprintf(svg, sizeof svg, "%s.svg", path);
    atexit(clean_up);
    out_fd = memfd_create("out", MFD_CLOEXEC);
    FILE *nowhere = fopen("/dev/null", "w");
    if (out_fd < 0 || nowhere == NULL || dup2(out_fd, STDOUT_FILENO) < 0)
        abort();
    stderr = nowhere;
}

static bool write_file(const char *bytes, size_t len) {
    FILE *file = fopen(path, "w");
    bool whole = file != NULL && fwrite(bytes, 1, len, file) == len;
    return file != NULL && fclose(file) == 0 && whole;
}

/* An option that is whole, known, and names no file. */
static bool harmless(const char *word) {
    size_t len = strcspn(word, "=");
    if (strncmp(word, "--", 2) != 0)
        return false;
    for (size_t i = 0; i < option_row_count; i++) {
        const struct option_row *row = &option_rows[i];
        if (strlen(row->name) + 2 == len && strncmp(row->name, word + 2, len - 2) == 0 &&
            ((row->values != NULL && strcmp(row->values, "@file") == 0) ||
             strcmp(row->name, "on-alarm") == 0))
            return false;
    }
    for (size_t i = 0; i < option_row_count; i++) {
        const struct option_row *row = &option_rows[i];
        if (strlen(row->name) + 2 == len && strncmp(row->name, word + 2, len - 2) == 0)
            return row->argument == NULL || word[len] == '=';
    }
    return false;
}

static int words_of(const char *const *run, char *more, char **argv) {
    int argc = 0;
    for (; *run != NULL; run++)
        argv[argc++] = strcmp(*run, FILE_HERE) == 0  ? path
                       : strcmp(*run, SVG_HERE) == 0 ? svg
                                                     : (char *)*run;
    for (char *word; (word = strsep(&more, " ")) != NULL && argc < WORDS;)
        if (harmless(word))
            argv[argc++] = word;
    argv[argc] = NULL;
    return argc;
}

/* --- what was printed ------------------------------------------------------------------------- */

static void hold(bool right) {
    if (!right)
        abort();
}

/* Every element is closed, in turn, but for <!doctype>. */
static void check_page(const char *at) {
    const char *open[64];
    size_t depth = 0;
    while ((at = strchr(at, '<')) != NULL) {
        const char *end = strchr(at, '>');
        hold(end != NULL);
        if (at[1] == '/') {
            size_t len = (size_t)(end - at) - 2;
            hold(depth > 0 && strncmp(open[depth - 1], at + 2, len) == 0);
            depth--;
        } else if (at[1] != '!' && end[-1] != '/') {
            hold(depth < sizeof open / sizeof open[0]);
            open[depth++] = at + 1;
        }
        at = end;
    }
    hold(depth == 0);
}

static void check_json(const char *text) {
    json_t *json = json_loads(text, 0, NULL);
    hold(json != NULL);
    json_decref(json);
}

static void check_printed(const struct options *o) {
    fflush(stdout);
    off_t len = lseek(out_fd, 0, SEEK_END);
    char *text = len > 0 ? malloc((size_t)len + 1) : NULL;
    if (text != NULL && pread(out_fd, text, (size_t)len, 0) == (ssize_t)len) {
        text[len] = '\0';
        for (off_t i = 0; i < len; i++)
            hold(((unsigned char)text[i] >= 0x20 || text[i] == '\n') && text[i] != 0x7F);
        if (o->json)
            check_json(text);
        if (o->command == COMMAND_REPORT)
            check_page(text);
    }
    free(text);
    rewind(stdout);
    hold(ftruncate(out_fd, 0) == 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    const uint8_t *line_end = size > 0 ? memchr(data, '\n', size) : NULL;
    char first[512], *argv[WORDS + 1];
    size_t len = line_end != NULL ? (size_t)(line_end - data) : 0;
    if (out_fd < 0)
        set_up();
    if (len == 0 || len >= sizeof first || !write_file((const char *)line_end + 1, size - len - 1))
        return 0;
    memcpy(first, data, len);
    first[len] = '\0';
    int argc = words_of(runs[(unsigned char)(first[0] - 'a') % RUNS], first + 1, argv);
    const struct command *c = command_find(argv[0]);
    struct options o;
    if (options_parse(&o, (enum command_id)(c - commands), argc, argv) != PARSED_RUN)
        return 0;
    int status = c->run(&o);
    hold(status >= STATUS_ANSWER && status <= STATUS_TROUBLE);
    check_printed(&o);
    return 0;
}
