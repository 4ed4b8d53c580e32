#include <stdio.h>
#include <string.h>

#include "base/printable.h"
#include "print/ends.h"
#include "print/trials.h"

const char trials_footer[] = "A clean bench result is no clearance to fly or to run: local rules "
                             "and licensed practice go first.";

static void moment_text(char *out, size_t size, int64_t ms) {
    if (ms == TIME_UNKNOWN)
        snprintf(out, size, "-:--:--");
    else
        snprintf(out, size, "%lld:%02lld:%02lld", (long long)(ms / 3600000),
                 (long long)(ms / 60000 % 60), (long long)(ms / 1000 % 60));
}

static void say_finding(const struct say *to, const struct trial_finding *f) {
    enum { INDENT = 14 };
    char text[sizeof f->text + 60];
    snprintf(text, sizeof text, "%s%s%s%s", f->text, f->missing != NULL ? " (key: " : "",
             f->missing != NULL ? f->missing : "", f->missing != NULL ? ")" : "");
    say(to, "  %-10s  ", trial_verdict_name(f->verdict));
    say_filled(to, INDENT, INDENT, text);
}

static void say_entry(const struct say *to, const struct book_entry *e) {
    char begun[32], ended[32];
    const struct trial_kind *kind = trial_kinds[e->id];
    moment_text(begun, sizeof begun, e->begun_ms);
    moment_text(ended, sizeof ended, e->ended_ms);
    say(to, "%s\n", kind->title);
    say(to, "  from %s to %s%s%s\n", begun, ended,
        e->ended  ? ""
        : e->quit ? ", left before its end"
                  : ", not ended",
        e->port_lost ? ", the port was lost meanwhile" : "");
    const char *verdict = trial_verdict_name(e->outcome.verdict);
    say(to, "  %s: ", verdict);
    say_filled(to, (int)strlen(verdict) + 4, 4, e->outcome.headline);
    for (uint32_t i = 0; i < e->outcome.count; i++)
        say_finding(to, &e->outcome.finding[i]);
    if (e->outcome.next[0] != '\0') {
        say(to, "  next: ");
        say_filled(to, 8, 8, e->outcome.next);
    }
    say(to, "\n");
}

static void say_stands(const struct say *to, const struct book *book) {
    say(to, "What stands\n");
    for (int i = 0; i < TRIALS; i++) {
        const char *stale;
        if (trial_kinds[i] == NULL)
            continue;
        enum trial_verdict verdict = book_stands(book, (enum trial_id)i, &stale);
        if (stale != NULL)
            say(to, "  %-10s  unproven: %s; try it again\n", trial_kinds[i]->name, stale);
        else
            say(to, "  %-10s  %s\n", trial_kinds[i]->name, trial_verdict_name(verdict));
    }
}

/* Where there is something to compare, or binding was the question. */
static bool wants_ends(const struct book *book, const struct ends *ends) {
    if (ends == NULL)
        return false;
    return (ends->receiver.known && ends->transmitter.known) ||
           book_stands(book, TRIAL_BIND, NULL) != TRIAL_NOT_TRIED;
}

void trials_text(const struct book *book, const struct trials_facts *facts, say_put *put,
                 void *where) {
    const struct say to = {put, where};
    uint32_t count = book_count(book);
    struct book_entry entry;
    char file[256];
    say(&to, "%s: guided trials\n\n", printable(file, sizeof file, facts->file));
    if (count == 0)
        say(&to, "%s\n\n",
            facts->recording ? "No guided trial was recorded. In the console v lists them."
                             : "A raw capture has no guided trials: record with the console.");
    for (uint32_t i = 0; i < count; i++) {
        book_entry(book, i, &entry);
        say_entry(&to, &entry);
    }
    if (wants_ends(book, facts->ends))
        ends_print(facts->ends, put, where);
    say_stands(&to, book);
    say(&to, "\n");
    say_filled(&to, 0, 0, trials_footer);
}
