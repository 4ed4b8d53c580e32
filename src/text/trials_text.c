#include <stdio.h>
#include <string.h>

#include "base/printable.h"
#include "base/text.h"
#include "text/ends_text.h"
#include "text/trials_text.h"

const char trials_footer[] = "A clean bench result is no clearance to fly or to run: local rules "
                             "and licensed practice go first.";

static void moment_text(char *out, size_t size, int64_t ms) {
    if (ms == TIME_UNKNOWN)
        snprintf(out, size, "-:--:--");
    else
        snprintf(out, size, "%lld:%02lld:%02lld", (long long)(ms / 3600000),
                 (long long)(ms / 60000 % 60), (long long)(ms / 1000 % 60));
}

enum { INDENT = 14 };

static void say_finding(const struct say *to, const struct trial_finding *f) {
    char text[sizeof f->text + 60];
    snprintf(text, sizeof text, "%s%s%s%s", f->text, f->missing != NULL ? " (telemetry key " : "",
             f->missing != NULL ? f->missing : "", f->missing != NULL ? ")" : "");
    say(to, "  %-10s  ", trial_verdict_name(f->verdict));
    say_filled(to, INDENT, INDENT, text);
}

/* What was not shown of a channel ("3 winch: never moved"), from the colon on; NULL: the finding is
 * a sentence of its own. */
static const char *why_of(const struct trial_finding *f) {
    bool sentence = f->text[0] >= 'A' && f->text[0] <= 'Z';
    return f->verdict == TRIAL_NOT_SHOWN && f->missing == NULL && !f->measured && !sentence
               ? strchr(f->text, ':')
               : NULL;
}

/* The findings from `first` on with the same reason, as one; returns how many. */
static uint32_t say_alike(const struct say *to, const struct trial_outcome *o, uint32_t first) {
    char group[TRIAL_GROUP];
    enum trial_told told = trial_group(o, first, group, sizeof group);
    if (told == TRIAL_TOLD_GROUP) {
        say(to, "  %-10s  ", trial_verdict_name(TRIAL_PASSED));
        say_filled(to, INDENT, INDENT, group);
    }
    if (told != TRIAL_TOLD_ALONE)
        return 1;
    const char *why = why_of(&o->finding[first]);
    uint32_t last = first;
    while (why && last + 1 < o->count && why_of(&o->finding[last + 1]) &&
           strcmp(why, why_of(&o->finding[last + 1])) == 0)
        last++;
    if (last == first) {
        say_finding(to, &o->finding[first]);
        return 1;
    }
    char whole[TRIAL_FINDINGS_MAX * 64 + sizeof o->finding[0].text];
    struct text t;
    text_init(&t, whole, sizeof whole);
    for (uint32_t i = first; i <= last; i++) {
        const char *text = o->finding[i].text;
        text_string(&t, i > first ? ", " : "");
        text_slice(&t, (struct slice){text, (size_t)(why_of(&o->finding[i]) - text)});
    }
    text_string(&t, why);
    say(to, "  %-10s  ", trial_verdict_name(TRIAL_NOT_SHOWN));
    say_filled(to, INDENT, INDENT, whole);
    return last - first + 1;
}

/* Of a trial that didn't end: one line for all of which nothing was seen. */
static void say_unseen(const struct say *to, const struct book_entry *e, uint32_t unseen) {
    uint32_t left = e->steps - e->reached;
    say(to, "  %-10s  %u things of which nothing was seen", trial_verdict_name(TRIAL_NOT_SHOWN),
        unseen);
    if (left > 0)
        say(to, ": %u of %u steps not reached", left, e->steps);
    say(to, "\n");
}

static void say_findings(const struct say *to, const struct book_entry *e) {
    uint32_t unseen = 0;
    for (uint32_t i = 0; i < e->outcome.count; i++)
        unseen += e->outcome.finding[i].unseen;
    for (uint32_t i = 0; i < e->outcome.count;)
        i += unseen >= 2 && e->outcome.finding[i].unseen ? 1 : say_alike(to, &e->outcome, i);
    if (unseen >= 2)
        say_unseen(to, e, unseen);
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
    say_findings(to, e);
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
