/* A walk's marks, listed and mended.  A change is an `about` row appended to the recording: what is
 * there stays as it is, and a program that knows nothing of amendments reads the file as before. */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "app/commands.h"
#include "app/io.h"
#include "app/print_out.h"
#include "app/walk_file.h"
#include "app/words.h"
#include "base/printable.h"
#include "session/session.h"

/* --- the list --------------------------------------------------------------------------------- */

static void list_mark(const struct kept_mark *m, uint32_t number) {
    char at[32] = "before it";
    if (m->at_ms != TIME_UNKNOWN)
        snprintf(at, sizeof at, "%.3f", (double)m->at_ms / 1000);
    printf("%4u %11s  ", number, at);
    if (m->type == MARK_LEAVE)
        fputs("leave", stdout);
    else if (m->type == MARK_FACING) {
        char facing[64];
        printf("facing %s",
               printable(facing, sizeof facing, m->facing[0] ? m->facing : "the receiver"));
    } else if (m->distance_m < 0)
        fputs("stop, no distance", stdout);
    else
        printf("stop %g m", m->distance_m);
    puts(m->struck ? "  (struck out)" : m->moved ? "  (moved)" : m->added ? "  (added)" : "");
}

static void list(const struct walk_run *run) {
    if (run->marks.count == 0)
        puts("no marks of a walk: --add SECONDS:METRES adds one");
    else
        puts("  no        at s  mark");
    for (uint32_t i = 0; i < run->marks.count; i++)
        list_mark(&run->marks.mark[i], i + 1);
    if (run->marks.passed_over > 0)
        printf("and %u more than there is room for\n", run->marks.passed_over);
    if (run->marks.refused > 0)
        printf("%u amendments can't be read or name no mark: they are left out\n",
               run->marks.refused);
}

/* --- changes ---------------------------------------------------------------------------------- */

enum { CHANGES = 3 };

struct change {
    uint32_t count;
    struct amendment list[CHANGES];
};

static bool wanted(const struct options *o, struct change *c) {
    const char *texts[CHANGES] = {
        [AMEND_ADD] = o->add, [AMEND_MOVE] = o->move, [AMEND_STRIKE] = o->strike};
    *c = (struct change){0};
    for (int kind = 0; kind < CHANGES; kind++)
        if (texts[kind])
            amendment_parse((enum amendment_kind)kind, slice_of(texts[kind]), &c->list[c->count++]);
    return c->count > 0;
}

/* Takes effect on the list in memory; false, with words, where it can't. */
static bool try_change(struct walk_run *run, const struct amendment *a) {
    if (a->kind != AMEND_STRIKE && (run->length_ms == TIME_UNKNOWN || a->at_ms > run->length_ms)) {
        if (run->length_ms == TIME_UNKNOWN)
            words_say("the recording has no times, so a mark can't be placed in it");
        else
            words_say("%.3f s lies behind the recording's end, which is at %.3f s",
                      (double)a->at_ms / 1000, (double)run->length_ms / 1000);
        return false;
    }
    if (marks_amend(&run->marks, a))
        return true;
    if (a->kind == AMEND_ADD)
        words_say("a walk has no room for more than %d marks", MARKS_MAX);
    else
        words_say("there is no mark %u: airleash stops lists them", a->mark);
    return false;
}

static void change_row(const struct session_layout *layout, struct text *out,
                       const struct amendment *a) {
    char value[AMENDMENT_TEXT];
    struct text text;
    struct event e = {.kind = EVENT_ABOUT, .host_us = TIME_UNKNOWN};
    text_init(&text, value, sizeof value);
    amendment_text(a, &text);
    e.about.key = slice_of(amendment_key(a->kind));
    e.about.value = text_view(&text);
    session_row_in(layout, out, &e);
}

/* Whether some program has the file open for writing, as far as the system tells (a lease is
 * refused then). */
static bool being_written(const char *path) {
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    bool busy = fd >= 0 && fcntl(fd, F_SETLEASE, F_RDLCK) != 0 && errno == EAGAIN;
    if (fd >= 0)
        close(fd);
    return busy;
}

/* A torn last row gets a line end first, or it would swallow ours. */
static bool write_rows(int fd, off_t end, char line_end, const struct text *rows) {
    char last = line_end;
    if (end > 0 && (lseek(fd, end - 1, SEEK_SET) < 0 || io_read(fd, &last, 1) < 0))
        return false;
    return (last == line_end || io_write(fd, "\r\n", line_end == '\n' ? 2 : 1)) &&
           io_write(fd, rows->at, rows->len) && io_sync(fd);
}

/* All of the rows or none: a part of one would be a torn row in the middle of the next change. */
static int append(const char *path, char line_end, const struct text *rows) {
    char why[WORDS_MAX];
    int fd = open(path, O_RDWR | O_APPEND | O_CLOEXEC);
    off_t end = fd >= 0 ? lseek(fd, 0, SEEK_END) : -1;
    bool good = end >= 0 && write_rows(fd, end, line_end, rows), back = true;
    int code = errno;
    if (!good && end >= 0)
        back = ftruncate(fd, end) == 0;
    if (fd >= 0 && !io_close(fd) && good) {
        code = errno;
        good = false;
    }
    if (good)
        return STATUS_ANSWER;
    words_writing(why, path, code);
    words_say("%s%s", why, back ? "" : "; a torn row may stand at its end now");
    return STATUS_TROUBLE;
}

static int change(const char *path, struct walk_run *run, const struct change *c) {
    char buffer[CHANGES * SESSION_ROW_MAX];
    struct text rows;
    text_init(&rows, buffer, sizeof buffer);
    for (uint32_t i = 0; i < c->count; i++) {
        if (!try_change(run, &c->list[i]))
            return STATUS_USAGE;
        change_row(&run->fed.layout, &rows, &c->list[i]);
    }
    if (!session_layout_has_note(&run->fed.layout)) {
        words_say("%s has no column note, which marks are amended in: amend the recording as "
                  "airleash wrote it",
                  path);
        return STATUS_TROUBLE;
    }
    if (being_written(path)) {
        words_say("%s is being recorded into: amend its marks when that has ended", path);
        return STATUS_TROUBLE;
    }
    return append(path, run->fed.layout.form.line_end, &rows);
}

int command_stops(const struct options *o) {
    const char *path = o->operands[0];
    struct change c;
    bool changing = wanted(o, &c);
    struct walk_run *run = malloc(sizeof *run);
    if (!run)
        return print_out_no_memory();
    int status = walk_file_read(o, path, WALK_MARKS, run);
    if (status == STATUS_ANSWER && !run->fed.recording) {
        words_say("%s is a capture of lines, which can hold no marks: airleash record %s --out "
                  "FILE.csv makes a recording of it",
                  path, path);
        status = STATUS_TROUBLE;
    } else if (status == STATUS_ANSWER && changing && strcmp(path, "-") == 0) {
        words_say("marks can be amended in a file only: give its name");
        status = STATUS_USAGE;
    } else if (status == STATUS_ANSWER && changing)
        status = change(path, run, &c);
    if (status == STATUS_ANSWER)
        list(run);
    free(run);
    return status;
}
