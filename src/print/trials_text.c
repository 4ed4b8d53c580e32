#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/printable.h"
#include "base/text.h"
#include "print/ends.h"
#include "print/trials.h"

const char trials_footer[] = "A clean bench result is no clearance to fly or to run: local rules "
                             "and licensed practice go first.";

enum { WIDTH = 80 };

struct page_out {
    figures_put *put;
    void *where;
};

static void say(struct page_out *out, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

static void say(struct page_out *out, const char *format, ...) {
    char line[400];
    va_list values;
    va_start(values, format);
    int len = vsnprintf(line, sizeof line, format, values);
    va_end(values);
    if (len > 0)
        out->put(out->where, line, (size_t)len < sizeof line ? (size_t)len : sizeof line - 1);
}

static void moment_text(char *out, size_t size, int64_t ms) {
    if (ms == TIME_UNKNOWN)
        snprintf(out, size, "-:--:--");
    else
        snprintf(out, size, "%lld:%02lld:%02lld", (long long)(ms / 3600000),
                 (long long)(ms / 60000 % 60), (long long)(ms / 1000 % 60));
}

/* A sentence in lines of at most `width`, those after the first indented. */
static void say_wrapped(struct page_out *out, const char *text, int indent, int width) {
    while (*text != '\0') {
        const char *line = text;
        size_t len = text_fill(line, (size_t)(width - indent), &text);
        say(out, "%.*s\n", (int)len, line);
        if (*text != '\0')
            say(out, "%*s", indent, "");
    }
}

static void say_finding(struct page_out *out, const struct trial_finding *f) {
    enum { INDENT = 14 };
    char text[sizeof f->text + 60];
    snprintf(text, sizeof text, "%s%s%s%s", f->text, f->missing != NULL ? " (key: " : "",
             f->missing != NULL ? f->missing : "", f->missing != NULL ? ")" : "");
    say(out, "  %-10s  ", trial_verdict_name(f->verdict));
    say_wrapped(out, text, INDENT, WIDTH);
}

static void say_entry(struct page_out *out, const struct book_entry *e) {
    char begun[32], ended[32];
    const struct trial_kind *kind = trial_kinds[e->id];
    moment_text(begun, sizeof begun, e->begun_ms);
    moment_text(ended, sizeof ended, e->ended_ms);
    say(out, "%s\n", kind->title);
    say(out, "  from %s to %s%s%s\n", begun, ended,
        e->ended  ? ""
        : e->quit ? ", left before its end"
                  : ", not ended",
        e->port_lost ? ", the port was lost meanwhile" : "");
    say(out, "  %s: ", trial_verdict_name(e->outcome.verdict));
    say_wrapped(out, e->outcome.headline, 4, 98);
    for (uint32_t i = 0; i < e->outcome.count; i++)
        say_finding(out, &e->outcome.finding[i]);
    if (e->outcome.next[0] != '\0') {
        say(out, "  next: ");
        say_wrapped(out, e->outcome.next, 8, 98);
    }
    say(out, "\n");
}

static void say_stands(struct page_out *out, const struct book *book) {
    say(out, "What stands\n");
    for (int i = 0; i < TRIALS; i++) {
        const char *stale;
        if (trial_kinds[i] == NULL)
            continue;
        enum trial_verdict verdict = book_stands(book, (enum trial_id)i, &stale);
        if (stale != NULL)
            say(out, "  %-10s  unproven: %s; try it again\n", trial_kinds[i]->name, stale);
        else
            say(out, "  %-10s  %s\n", trial_kinds[i]->name, trial_verdict_name(verdict));
    }
}

/* Where there is something to compare, or binding was the question. */
static bool wants_ends(const struct book *book, const struct ends *ends) {
    if (ends == NULL)
        return false;
    return (ends->receiver.known && ends->transmitter.known) ||
           book_stands(book, TRIAL_BIND, NULL) != TRIAL_NOT_TRIED;
}

void trials_text(const struct book *book, const struct trials_facts *facts, figures_put *put,
                 void *where) {
    struct page_out out = {put, where};
    uint32_t count = book_count(book);
    struct book_entry entry;
    char file[256];
    say(&out, "%s: guided trials\n\n", printable(file, sizeof file, facts->file));
    if (count == 0)
        say(&out, "%s\n\n",
            facts->recording ? "No guided trial was recorded. In the console v lists them."
                             : "A raw capture has no guided trials: record with the console.");
    for (uint32_t i = 0; i < count; i++) {
        book_entry(book, i, &entry);
        say_entry(&out, &entry);
    }
    if (wants_ends(book, facts->ends))
        ends_print(facts->ends, put, where);
    say_stands(&out, book);
    say(&out, "\n");
    say_wrapped(&out, trials_footer, 0, WIDTH);
}
