#include "trial/book.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { NAME_BYTES = 32, STALE_BYTES = 120 };

/* What the receiver's id line says of itself, as far as failsafe rests on it. */
struct shape {
    uint32_t has;
    char firmware[NAME_BYTES];
    uint32_t chans;
    int32_t span_low, span_high;
    uint32_t safe_count;
    int32_t safe[CHANNELS_MAX];
};

struct kept {
    struct book_entry entry;
    uint32_t changes; /* of the shape, before it began */
};

struct book {
    struct trial_rules rules;
    const struct trial_kind *kind; /* of the trial under way, NULL: none */
    enum trial_id id;
    struct trial_place place;
    struct kept running;
    void *state;      /* of the kind */
    void *untouched;  /* the same, as it was begun: to judge against */
    uint64_t reached; /* steps, a bit each: no kind has more than 64 */
    uint32_t count;
    struct kept kept[BOOK_ENTRIES_MAX];
    struct shape shape;
    uint32_t changes;
    char change[STALE_BYTES]; /* the newest, in words */
};

static size_t state_bytes(void) {
    size_t most = 1;
    for (int i = 0; i < TRIALS; i++)
        if (trial_kinds[i] != NULL && trial_kinds[i]->size > most)
            most = trial_kinds[i]->size;
    return most;
}

struct book *book_new(const struct trial_rules *rules) {
    struct book *b = calloc(1, sizeof *b);
    if (b == NULL)
        return NULL;
    b->rules = *rules;
    b->state = calloc(1, state_bytes());
    b->untouched = calloc(1, state_bytes());
    if (b->state && b->untouched)
        return b;
    book_free(b);
    return NULL;
}

void book_free(struct book *b) {
    if (b == NULL)
        return;
    free(b->state);
    free(b->untouched);
    free(b);
}

bool book_wants(const struct book *b, const struct event *event) {
    return b->kind != NULL || event->kind == EVENT_ANSWER;
}

/* --- entries ---------------------------------------------------------------------------------- */

/* The id line's presets, where the model file says nothing. */
static void told_presets(const struct book *b, struct trial_rules *rules) {
    const struct shape *s = &b->shape;
    for (uint32_t i = 0; i < CHANNELS_MAX && (s->has >> ID_SAFE & 1u) != 0; i++) {
        if (rules->safe_known[i] || i >= s->safe_count)
            continue;
        rules->safe_known[i] = rules->safe_by_id[i] = true;
        rules->safe[i] = s->safe[i];
    }
}

static void begin_state(const struct book *b, void *state) {
    struct trial_rules rules = b->rules;
    told_presets(b, &rules);
    memset(state, 0, b->kind->size);
    b->kind->begin(state, &rules);
}

static bool told_in(const struct trial_outcome *o, const struct trial_finding *f) {
    for (uint32_t i = 0; i < o->count; i++)
        if (strcmp(o->finding[i].name, f->name) == 0 && strcmp(o->finding[i].text, f->text) == 0)
            return true;
    return false;
}

/* What the judge would say, too, had nothing come after the begin, tells nothing of this trial. */
static void mark_unseen(const struct book *b, struct trial_outcome *o) {
    struct trial_outcome blank = {0};
    begin_state(b, b->untouched);
    b->kind->judge(b->untouched, &blank);
    for (uint32_t i = 0; i < o->count; i++) {
        struct trial_finding *f = &o->finding[i];
        f->unseen = f->verdict == TRIAL_NOT_SHOWN && f->missing == NULL && told_in(&blank, f);
    }
}

/* What was seen is judged, but nothing passes that didn't come to its end. */
static void judge(const struct book *b, struct book_entry *entry) {
    struct trial_outcome *o = &entry->outcome;
    memset(o, 0, sizeof *o);
    entry->reached = 0;
    b->kind->judge(b->state, o);
    entry->steps = b->kind->step_count;
    for (uint64_t left = b->reached; left != 0; left &= left - 1)
        entry->reached++;
    if (!entry->ended)
        mark_unseen(b, o);
    if (entry->ended || o->verdict == TRIAL_FAILED)
        return;
    o->verdict = TRIAL_NOT_SHOWN;
    snprintf(o->headline, sizeof o->headline, "%s: not all of it was seen.",
             entry->quit ? "Left before its end" : "Broken off before its end");
}

/* The oldest makes room; the newest of a kind stays for as long as it is that. */
static uint32_t place_to_lose(const struct book *b) {
    for (uint32_t i = 0; i < b->count; i++)
        for (uint32_t j = i + 1; j < b->count; j++)
            if (b->kept[j].entry.id == b->kept[i].entry.id)
                return i;
    return 0;
}

static void close_entry(struct book *b, bool ended, bool quit) {
    if (b->kind == NULL)
        return;
    b->running.entry.ended = ended;
    b->running.entry.quit = quit;
    b->running.entry.ended_ms = b->place.now_ms;
    judge(b, &b->running.entry);
    if (b->count == BOOK_ENTRIES_MAX) {
        uint32_t lost = place_to_lose(b);
        b->count--;
        memmove(&b->kept[lost], &b->kept[lost + 1], (b->count - lost) * sizeof *b->kept);
    }
    b->kept[b->count++] = b->running;
    b->kind = NULL;
}

static void enter_step(struct book *b, uint32_t step) {
    b->reached |= (uint64_t)1 << step;
    b->place = (struct trial_place){.step = step,
                                    .nth = b->place.nth + 1,
                                    .since_ms = b->place.now_ms,
                                    .since_us = b->place.now_us,
                                    .now_ms = b->place.now_ms,
                                    .now_us = b->place.now_us};
}

static void begin_entry(struct book *b, enum trial_id id) {
    close_entry(b, false, false);
    b->kind = trial_kinds[id];
    b->id = id;
    b->running = (struct kept){.changes = b->changes,
                               .entry = {.id = id,
                                         .begun_ms = b->place.now_ms,
                                         .ended_ms = TIME_UNKNOWN,
                                         .begun_us = b->place.now_us}};
    begin_state(b, b->state);
    b->reached = b->place.nth = 0;
    enter_step(b, 0);
}

/* --- rows ------------------------------------------------------------------------------------- */

static bool find_step(const struct trial_kind *kind, struct slice name, uint32_t *step) {
    for (uint32_t i = 0; i < kind->step_count; i++) {
        if (slice_is(name, kind->steps[i].name)) {
            *step = i;
            return true;
        }
    }
    return false;
}

static bool find_choice(const struct trial_step *step, struct slice word, uint32_t *answer) {
    struct slice rest = slice_of(step->choices);
    for (uint32_t i = 0; rest.at != NULL; i++) {
        if (slice_equal(slice_cut(&rest, '|'), word)) {
            *answer = i;
            return true;
        }
    }
    return false;
}

static bool find_answer(const struct trial_step *step, struct slice word, uint32_t *answer) {
    if (step->ask == ASK_CHOICE)
        return find_choice(step, word, answer);
    *answer = slice_is(word, "no") ? 0 : 1;
    return slice_is(word, "no") || slice_is(word, "yes") || slice_is(word, "ready");
}

/* Takes a row of the trial under way; true when a step was entered.  A row that this version
 * doesn't know has no effect. */
static bool take_row(struct book *b, struct slice what) {
    uint32_t step, answer;
    if (slice_is(what, "skip")) {
        b->place.skipped = true;
    } else if (slice_starts(what, "step=") &&
               find_step(b->kind, slice_sub(what, 5, what.len), &step)) {
        enter_step(b, step);
        return true;
    } else if (slice_starts(what, "answer=") &&
               find_answer(&b->kind->steps[b->place.step], slice_sub(what, 7, what.len), &answer)) {
        b->place.answered = true;
        b->place.answer = answer;
    }
    return false;
}

static bool find_kind(struct slice name, enum trial_id *id) {
    for (int i = 0; i < TRIALS; i++) {
        if (trial_kinds[i] != NULL && slice_is(name, trial_kinds[i]->name)) {
            *id = (enum trial_id)i;
            return true;
        }
    }
    return false;
}

static void take_answer(struct book *b, const struct moment *m, const struct snapshot *s) {
    struct slice what = m->event->text;
    struct slice name = slice_cut(&what, ' ');
    enum trial_id id;
    if (!find_kind(name, &id))
        return;
    bool begins = slice_is(what, "begin"), ends = slice_is(what, "end");
    bool quits = slice_is(what, "quit");
    if (begins)
        begin_entry(b, id);
    else if (b->kind == NULL || b->id != id)
        return;
    bool entered = begins || take_row(b, what);
    b->kind->take(b->state, m, s, &b->place, entered);
    if (ends || quits)
        close_entry(b, ends, quits);
}

/* --- what the receiver says of itself --------------------------------------------------------- */

static void changed(struct book *b, const char *what) {
    b->changes++;
    snprintf(b->change, sizeof b->change, "%s", what);
}

static void take_firmware(struct book *b, const struct identity *id) {
    char name[NAME_BYTES] = "", words[STALE_BYTES];
    struct shape *s = &b->shape;
    size_t len = id->fw.len < sizeof name - 1 ? id->fw.len : sizeof name - 1;
    if (!identity_has(id, ID_FW))
        return;
    memcpy(name, id->fw.at, len);
    if ((s->has >> ID_FW & 1u) != 0 && strcmp(name, s->firmware) != 0) {
        snprintf(words, sizeof words, "the firmware changed from %s to %s", s->firmware, name);
        changed(b, words);
    }
    memcpy(s->firmware, name, sizeof name);
    s->has |= 1u << ID_FW;
}

static bool same_safe(const struct shape *s, const struct identity *id) {
    return s->safe_count == id->safe_count &&
           memcmp(s->safe, id->safe, id->safe_count * sizeof *id->safe) == 0;
}

/* A key that wasn't there before is no change. */
static void take_map(struct book *b, const struct identity *id) {
    struct shape *s = &b->shape;
    uint32_t both = s->has & id->has;
    if ((both >> ID_CHANS & 1u) != 0 && s->chans != id->chans)
        changed(b, "the number of channels changed");
    if ((both >> ID_SPAN & 1u) != 0 &&
        (s->span_low != id->span_low || s->span_high != id->span_high))
        changed(b, "the span of the channels changed");
    if ((both >> ID_SAFE & 1u) != 0 && !same_safe(s, id))
        changed(b, "the failsafe presets changed");
    if (identity_has(id, ID_CHANS))
        s->chans = id->chans;
    if (identity_has(id, ID_SPAN)) {
        s->span_low = id->span_low;
        s->span_high = id->span_high;
    }
    if (identity_has(id, ID_SAFE)) {
        s->safe_count = id->safe_count;
        memcpy(s->safe, id->safe, sizeof s->safe);
    }
    s->has |= id->has;
}

/* --- the fold --------------------------------------------------------------------------------- */

void book_feed(struct book *b, const struct moment *m, const struct snapshot *s) {
    const struct event *e = m->event;
    b->place.now_ms = m->link_ms;
    b->place.now_us = m->host_us;
    if (e->kind == EVENT_ID && !e->id.transmitter) {
        take_firmware(b, &e->id);
        take_map(b, &e->id);
    }
    if (e->kind == EVENT_PORT && (e->port.change == PORT_LOST || e->port.change == PORT_LET_GO))
        b->running.entry.port_lost = true;
    if (e->kind == EVENT_ANSWER)
        take_answer(b, m, s);
    else if (b->kind != NULL)
        b->kind->take(b->state, m, s, &b->place, false);
}

bool book_running(const struct book *b, enum trial_id *id) {
    if (b->kind != NULL)
        *id = b->id;
    return b->kind != NULL;
}

const struct trial_step *book_step(const struct book *b, const struct trial_place **place) {
    if (b->kind == NULL)
        return NULL;
    *place = &b->place;
    return &b->kind->steps[b->place.step];
}

static struct trial_place place_now(const struct book *b, const struct snapshot *s,
                                    int64_t now_us) {
    struct trial_place place = b->place;
    place.now_ms = s->now_ms;
    if (now_us != TIME_UNKNOWN)
        place.now_us = now_us;
    return place;
}

void book_pane(const struct book *b, const struct snapshot *s, struct trial_pane *out) {
    memset(out, 0, sizeof *out);
    out->progress = -1;
    if (b->kind == NULL || b->kind->pane == NULL)
        return;
    struct trial_place place = place_now(b, s, b->place.now_us);
    b->kind->pane(b->state, s, &place, out);
}

/* --- the guide -------------------------------------------------------------------------------- */

static void row(const struct book *b, char *out, const char *what, const char *word) {
    snprintf(out, BOOK_TEXT, "%s %s%s", b->kind != NULL ? b->kind->name : "none", what, word);
}

void book_row_begin(char *out, enum trial_id id) {
    snprintf(out, BOOK_TEXT, "%s begin", trial_kinds[id] != NULL ? trial_kinds[id]->name : "none");
}

static void row_choice(const struct book *b, char *out, uint32_t answer) {
    struct slice rest = slice_of(b->kind->steps[b->place.step].choices), word = {"", 0};
    for (uint32_t i = 0; i <= answer && rest.at != NULL; i++)
        word = slice_cut(&rest, '|');
    snprintf(out, BOOK_TEXT, "%s answer=%.*s", b->kind->name, (int)word.len, word.at);
}

void book_row_answer(const struct book *b, char *out, uint32_t answer) {
    enum trial_ask ask = b->kind != NULL ? b->kind->steps[b->place.step].ask : ASK_NOTHING;
    if (ask == ASK_CHOICE)
        row_choice(b, out, answer);
    else if (ask == ASK_YES || ask == ASK_YES_NO)
        row(b, out, "answer=", answer != 0 ? "yes" : "no");
    else
        row(b, out, "answer=", "ready");
}

void book_row_skip(const struct book *b, char *out) {
    row(b, out, "skip", "");
}

void book_row_quit(const struct book *b, char *out) {
    row(b, out, "quit", "");
}

/* How long the step has lasted, ms; by the host's clock where there is one. */
static int64_t lasted_ms(const struct trial_place *p) {
    if (p->now_us != TIME_UNKNOWN && p->since_us != TIME_UNKNOWN)
        return (p->now_us - p->since_us) / 1000;
    if (p->now_ms != TIME_UNKNOWN && p->since_ms != TIME_UNKNOWN)
        return p->now_ms - p->since_ms;
    return 0;
}

static int next_step(const struct book *b, const struct snapshot *s,
                     const struct trial_place *place) {
    const struct trial_step *step = &b->kind->steps[place->step];
    int64_t lasted = lasted_ms(place);
    if (step->ask == ASK_YES && (place->skipped || (place->answered && place->answer == 0)))
        return TRIAL_GO_END;
    if (!place->skipped && lasted < (int64_t)step->least_s * 1000)
        return TRIAL_STAY;
    int next = b->kind->next != NULL ? b->kind->next(b->state, s, place) : TRIAL_STAY;
    if (next != TRIAL_STAY)
        return next;
    bool over = place->skipped || (step->most_s > 0 && lasted >= (int64_t)step->most_s * 1000);
    bool went_on = place->answered && (step->ask == ASK_NOTHING || b->kind->next == NULL);
    if (!over && !went_on)
        return TRIAL_STAY;
    return place->step + 1 < b->kind->step_count ? (int)place->step + 1 : TRIAL_GO_END;
}

bool book_row_due(const struct book *b, const struct snapshot *s, int64_t now_us, char *out) {
    if (b->kind == NULL)
        return false;
    struct trial_place place = place_now(b, s, now_us);
    int next = next_step(b, s, &place);
    if (next == TRIAL_STAY)
        return false;
    if (next == TRIAL_GO_END || next < 0 || (uint32_t)next >= b->kind->step_count)
        row(b, out, "end", "");
    else
        row(b, out, "step=", b->kind->steps[next].name);
    return true;
}

/* --- what it comes to ------------------------------------------------------------------------- */

uint32_t book_count(const struct book *b) {
    return b->count + (b->kind != NULL ? 1 : 0);
}

void book_entry(const struct book *b, uint32_t index, struct book_entry *out) {
    if (index < b->count) {
        *out = b->kept[index].entry;
        return;
    }
    *out = b->running.entry;
    if (b->kind != NULL)
        judge(b, out);
}

/* The newest entry that stands, NULL: none; *begun tells that there was one at all. */
static const struct kept *standing(const struct book *b, enum trial_id id, bool *begun) {
    *begun = b->kind != NULL && b->id == id;
    for (uint32_t i = b->count; i-- > 0;) {
        const struct kept *k = &b->kept[i];
        if (k->entry.id != id)
            continue;
        *begun = true;
        if (k->entry.ended || k->entry.outcome.verdict == TRIAL_FAILED)
            return k;
    }
    return NULL;
}

/* A fault that the trial under way has shown already counts at once. */
static bool failing(const struct book *b, enum trial_id id) {
    struct trial_outcome outcome = {0};
    if (b->kind == NULL || b->id != id)
        return false;
    b->kind->judge(b->state, &outcome);
    return outcome.verdict == TRIAL_FAILED;
}

enum trial_verdict book_stands(const struct book *b, enum trial_id id, const char **stale) {
    bool begun;
    const struct kept *k = standing(b, id, &begun);
    if (stale != NULL)
        *stale = NULL;
    if (failing(b, id))
        return TRIAL_FAILED;
    if (k == NULL)
        return begun ? TRIAL_NOT_SHOWN : TRIAL_NOT_TRIED;
    if (id != TRIAL_FAILSAFE || k->changes == b->changes)
        return k->entry.outcome.verdict;
    if (stale != NULL)
        *stale = b->change;
    return k->entry.outcome.verdict == TRIAL_FAILED ? TRIAL_FAILED : TRIAL_NOT_SHOWN;
}
