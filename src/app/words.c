#include "app/words.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/printable.h"

const char words_caution[] =
    "Opening a port can restart the receiver, and a motor may start then.\n"
    "Before you say yes: propeller off or wheels off the ground; nothing and\n"
    "nobody near what moves; transmitter on, throttle low.";

struct errno_words {
    int code;
    const char *format; /* %s: the path */
};

const char words_release[] = "Release the port, so that another program can flash the board?\n"
                             "Flashing restarts the board, and a motor may start then.\n"
                             "Before you say yes: propeller off or wheels off the ground, and the\n"
                             "model's battery disconnected for as long as you flash.";

static const char *told(const char *fact) {
    return fact[0] != '\0' ? fact : "missing";
}

void words_reopening(char out[static WORDS_MAX], enum source_match match,
                     const struct source_identity *first, const struct source_identity *now) {
    char which[256];
    bool serial = strcmp(first->serial, now->serial) != 0;
    if (match == MATCH_SAME)
        snprintf(which, sizeof which, "The same board (USB serial number %.40s).", now->serial);
    else if (match == MATCH_UNKNOWN)
        snprintf(which, sizeof which, "Is this the same board? It has no %s that would tell.",
                 now->serial[0] == '\0' ? "USB serial number" : "name under /dev/serial/by-id");
    else
        snprintf(which, sizeof which, "THIS IS ANOTHER BOARD: its %s is %.60s, it was %.60s.",
                 serial ? "USB serial number" : "name", told(serial ? now->serial : now->name),
                 told(serial ? first->serial : first->name));
    snprintf(out, WORDS_MAX, "%s\n%s", which, words_caution);
}

static void put_errno(char *out, const struct errno_words *table, size_t count, const char *path,
                      int code, const char *doing) {
    for (size_t i = 0; i < count; i++)
        if (table[i].code == code) {
            struct text t;
            text_init(&t, out, WORDS_MAX);
            const char *gap = strstr(table[i].format, "%s");
            text_slice(&t, (struct slice){table[i].format, (size_t)(gap - table[i].format)});
            text_string(&t, path);
            text_string(&t, gap + 2);
            return;
        }
    snprintf(out, WORDS_MAX, "can't %s '%s': %s", doing, path, strerror(code));
}

static const struct errno_words reading[] = {
    {ENOENT, "there is no '%s': check its name and its folder"},
    {ENOTDIR, "there is no '%s': a part of its path is no folder"},
    {EACCES, "not allowed to read '%s': see its permissions with ls -l, or ask its owner"},
    {EPERM, "not allowed to read '%s': see its permissions with ls -l, or ask its owner"},
    {EISDIR, "'%s' is a directory: name a file in it"},
    {EIO, "reading '%s' failed (input/output error): is the disk or card failing? Copy the file "
          "elsewhere and try that"},
    {ENAMETOOLONG, "the name '%s' is too long"},
};

void words_reading(char out[static WORDS_MAX], const char *path, int code) {
    put_errno(out, reading, sizeof reading / sizeof reading[0], path, code, "read");
}

static const struct errno_words writing[] = {
    {EEXIST, "'%s' exists already and is left as it is: choose another name"},
    {ENOENT, "can't create '%s': its folder doesn't exist; make it first"},
    {ENOTDIR, "can't create '%s': a part of its path is no folder"},
    {EISDIR, "'%s' is a directory: name a file in it"},
    {EACCES, "not allowed to write '%s': choose a folder of yours, such as your home"},
    {EPERM, "not allowed to write '%s': choose a folder of yours, such as your home"},
    {EROFS, "can't write '%s': its disk is read-only; choose a folder on another one"},
    {ENOSPC, "can't write '%s': the disk is full; free some room, or choose another disk"},
    {EDQUOT, "can't write '%s': your share of the disk is used up; free some room"},
    {EFBIG, "can't write '%s': files can't grow any larger there"},
    {EIO, "writing '%s' failed (input/output error): the disk or card may be failing; choose "
          "another one"},
    {ENAMETOOLONG, "the name '%s' is too long"},
    {ETXTBSY, "'%s' is a program that is running: choose another name"},
};

void words_writing(char out[static WORDS_MAX], const char *path, int code) {
    put_errno(out, writing, sizeof writing / sizeof writing[0], path, code, "write");
}

static const struct errno_words sources[] = {
    [SOURCE_OK] = {0, "'%s' is open"},
    [SOURCE_MISSING] = {0,
                        "there is no '%s': is it plugged in? List the ports with: airleash ports"},
    [SOURCE_PERMISSION] = {0,
                           "not allowed to open '%s': for a serial port add yourself to the group "
                           "dialout (sudo adduser YOU dialout) and log in again; for a file see "
                           "its permissions with ls -l"},
    [SOURCE_BUSY] = {0, "'%s' is in use by another program: close that one first"},
    [SOURCE_DIRECTORY] = {0, "'%s' is a directory: name a port or a file in it"},
    [SOURCE_NOT_READABLE] = {0, "'%s' can't be read as a stream of bytes: name a port, a pipe or a "
                                "file"},
    [SOURCE_KEYBOARD] = {0, "'%s' is the keyboard and screen of a person, no receiver: name its "
                            "port, or pipe lines in"},
    [SOURCE_SPEED] = {0, "'%s' can't do this speed: try another --speed, or --speed auto"},
};

void words_source(char out[static WORDS_MAX], const char *path, const struct source_error *error) {
    struct errno_words row = {0};
    if (error->fault == SOURCE_BUSY && error->holder[0]) {
        snprintf(out, WORDS_MAX, "'%.128s' is in use by %s: close that program first", path,
                 error->holder);
        return;
    }
    if (error->fault < sizeof sources / sizeof sources[0])
        row = sources[error->fault];
    if (row.format)
        put_errno(out, &row, 1, path, 0, "open");
    else
        words_reading(out, path, error->code);
}

const char *words_session(enum session_fault fault) {
    static const char *const words[] = {
        [SESSION_HEADER] = ("no column is named kind: keep the recording's first line, and commas, "
                            "semicolons or tabs between the columns"),
        [SESSION_UTF16] = "saved as UTF-16: save it as CSV with the character set UTF-8",
        [SESSION_TWICE] = "two columns have this name: delete or rename one",
        [SESSION_MANY] = "too many columns: delete those that you don't need",
        [SESSION_FIELDS] = "wrong number of fields",
        [SESSION_QUOTE] = "a quote out of place",
        [SESSION_KIND] = "unknown kind of row",
        [SESSION_VALUE] = "a value that can't stand there",
        [SESSION_LACK] = "this kind of row needs a column that the file lacks",
        [SESSION_LONG] = "longer than any row can be",
        [SESSION_TORN] = "the last row is torn (power cut or kill?) and was passed over",
    };
    _Static_assert(sizeof words / sizeof words[0] == SESSION_FAULTS, "words for each fault");
    return words[fault];
}

void words_say(const char *format, ...) {
    char line[WORDS_MAX + 256], safe[2 * sizeof line];
    va_list list;
    va_start(list, format);
    int len = vsnprintf(line, sizeof line, format, list);
    va_end(list);
    if (len < 0)
        return;
    /* Names of files can hold anything: nothing of it reaches the terminal raw. */
    struct text t;
    text_init(&t, safe, sizeof safe);
    struct slice rest = slice_of(line);
    while (rest.len > 0) {
        size_t good = printable_front(rest);
        if (good > 0)
            text_slice(&t, slice_sub(rest, 0, good));
        else
            text_format(&t, "\\x%02X", (unsigned char)rest.at[0]);
        rest = slice_sub(rest, good > 0 ? good : 1, rest.len);
    }
    fprintf(stderr, "airleash: %s\n", safe);
}

void words_lines(const char *text) {
    char line[WORDS_MAX], safe[WORDS_MAX];
    struct slice rest = slice_of(text);
    while (rest.len > 0) {
        struct slice one = slice_cut(&rest, '\n');
        snprintf(line, sizeof line, "%.*s", (int)one.len, one.at);
        fprintf(stderr, "%s\n", printable(safe, sizeof safe, line));
    }
}

void words_size(char *out, size_t size, uint64_t bytes) {
    if (bytes < 1000)
        snprintf(out, size, "%u bytes", (unsigned)bytes);
    else if (bytes < 1000000)
        snprintf(out, size, "%.1f kB", (double)bytes / 1e3);
    else
        snprintf(out, size, "%.1f MB", (double)bytes / 1e6);
}

bool words_ask(const char *question) {
    char answer[32] = "";
    fprintf(stderr, "%s ", question);
    fflush(stderr);
    if (!fgets(answer, sizeof answer, stdin))
        return false;
    return words_is_yes(answer);
}

bool words_is_yes(const char *typed) {
    size_t len = strcspn(typed, "\r\n");
    return (len == 3 && strncmp(typed, "yes", 3) == 0) || (len == 1 && *typed == 'y');
}
