/* Drives src/source by lines on standard input, one answer or more a line, for tests that must
 * stand outside the process:
 *   list | look PATH | open PATH SPEED | speed N | read LINES | close
 * read stops at LINES line ends or when there is nothing more to come. */
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "source/source.h"

static const char *const faults[] = {"ok",           "missing", "permission", "busy",  "directory",
                                     "not-readable", "speed",   "keyboard",   "system"};
static const char *const kinds[] = {"serial", "tty", "pipe", "file"};
static const char *const reads[] = {"bytes", "empty", "end", "gone"};

enum { DEADLINE_MS = 20000 };

static void list(void) {
    struct source_port ports[8];
    int count = source_list(ports, sizeof ports / sizeof *ports);
    for (int i = 0; i < count && i < 8; i++)
        printf("port %s %s %04x:%04x %s\n", ports[i].path, ports[i].device,
               (unsigned)ports[i].vendor, (unsigned)ports[i].product, ports[i].description);
    printf("listed %d\n", count);
}

static void look(const char *path) {
    struct source_error error;
    enum source_kind kind = source_look(path, &error);
    printf("look %s %s %s\n", faults[error.fault], kinds[kind],
           source_may_restart(path) ? "restarts" : "harmless");
}

static void identify(const char *path) {
    struct source_identity found;
    source_identify(path, &found);
    printf("identity '%s' '%s'\n", found.serial, found.name);
}

/* Keeps the source that is open already, if one is. */
static struct source *open_it(struct source *before, const char *path, int speed) {
    struct source *s;
    struct source_error error;
    struct source_wish wish = {path, speed};
    if (source_open(&s, &wish, &error) == SOURCE_OK)
        printf("open ok %s %d\n", kinds[source_kind(s)], source_speed(s));
    else
        printf("open %s %d %s\n", faults[error.fault], error.code, error.holder);
    if (!before)
        return s;
    source_close(s);
    return before;
}

static int print_bytes(const char *bytes, size_t len) {
    int lines = 0;
    for (size_t i = 0; i < len; i++)
        lines += bytes[i] == '\n';
    fwrite(bytes, 1, len, stdout);
    return lines;
}

static void read_lines(struct source *s, int wanted) {
    char buffer[512];
    size_t got;
    int lines = 0;
    enum source_read r = SOURCE_EMPTY;
    while (lines < wanted) {
        struct pollfd p = {.fd = source_fd(s), .events = POLLIN};
        if (poll(&p, 1, DEADLINE_MS) == 0)
            break;
        r = source_read(s, buffer, sizeof buffer, &got);
        lines += print_bytes(buffer, got);
        if (r == SOURCE_END || r == SOURCE_GONE)
            break;
    }
    printf("read %s %d\n", reads[r], lines);
}

static struct source *obey(struct source *s, char *line) {
    char *argument = strchr(line, ' ');
    if (argument)
        *argument++ = '\0';
    char *second = argument ? strchr(argument, ' ') : NULL;
    if (second)
        *second++ = '\0';
    if (strcmp(line, "list") == 0)
        list();
    else if (strcmp(line, "look") == 0 && argument)
        look(argument);
    else if (strcmp(line, "identify") == 0 && argument)
        identify(argument);
    else if (strcmp(line, "open") == 0 && second)
        return open_it(s, argument, atoi(second));
    else if (strcmp(line, "speed") == 0 && s && argument) {
        enum source_fault fault = source_set_speed(s, atoi(argument));
        printf("speed %s %d\n", faults[fault], source_speed(s));
    } else if (strcmp(line, "read") == 0 && s && argument)
        read_lines(s, atoi(argument));
    else if (strcmp(line, "close") == 0) {
        source_close(s);
        printf("closed\n");
        return NULL;
    } else
        printf("what?\n");
    return s;
}

int main(void) {
    struct source *s = NULL;
    char line[512];
    while (fgets(line, sizeof line, stdin)) {
        line[strcspn(line, "\n")] = '\0';
        s = obey(s, line);
        fflush(stdout);
    }
    source_close(s);
    return 0;
}
