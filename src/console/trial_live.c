#include "console/trial_live.h"

#include <string.h>

void trial_live_init(struct trial_live *l, struct fold *fold, event_sink *sink, void *context) {
    *l = (struct trial_live){.sink = sink, .context = context};
    trials_init(&l->trials, fold);
    l->view.live = sink != NULL;
}

void trial_live_release(struct trial_live *l) {
    trials_release(&l->trials);
}

void trial_live_moment(void *context, const struct moment *m) {
    struct trial_live *l = context;
    trials_moment(&l->trials, m);
}

static bool running(const struct trial_live *l, enum trial_id *id) {
    return l->trials.book != NULL && book_running(l->trials.book, id);
}

static void emit(struct trial_live *l, const char *text, int64_t host_us) {
    struct event e = {.kind = EVENT_ANSWER, .host_us = host_us};
    e.text = slice_of(text);
    l->sink(l->context, &e);
}

/* --- what came of one ------------------------------------------------------------------------- */

/* The newest entry of this kind; false: there is none. */
static bool show_outcome(struct trial_live *l, enum trial_id id) {
    struct book_entry entry;
    bool found = false;
    for (uint32_t i = 0; l->trials.book != NULL && i < book_count(l->trials.book); i++) {
        book_entry(l->trials.book, i, &entry);
        if (entry.id != id)
            continue;
        found = true;
        l->view.outcome = entry.outcome;
        l->view.ended = entry.ended;
    }
    if (!found)
        return false;
    l->view.show = TRIAL_SHOW_OUTCOME;
    l->view.title = trial_kinds[id]->title;
    l->view.scroll = 0;
    l->open = true;
    return true;
}

/* --- keys ------------------------------------------------------------------------------------- */

static void begin(struct trial_live *l, struct console *c, enum trial_id id, int64_t host_us,
                  int64_t now_us) {
    char text[BOOK_TEXT];
    if (trial_kinds[id] == NULL || !trials_begin(&l->trials))
        return;
    if (l->sink == NULL) {
        if (!show_outcome(l, id))
            console_notice(c, now_us, "%s was not tried in this recording", trial_kinds[id]->name);
        return;
    }
    l->open = l->begun = false;
    l->confirm = CONFIRM_NOTHING;
    book_row_begin(text, id);
    emit(l, text, host_us);
    if (!c->page.recording)
        console_notice(c, now_us, "nothing is being recorded: r records, and keeps this trial");
}

static void answer(struct trial_live *l, uint32_t value, int64_t host_us) {
    char text[BOOK_TEXT];
    book_row_answer(l->trials.book, text, value);
    emit(l, text, host_us);
}

static uint32_t choice_count(const struct trial_step *step, const struct trial_pane *pane) {
    uint32_t count = 1;
    for (const char *c = step->choices; c != NULL && *c != '\0'; c++)
        count += *c == '|';
    count = pane->choices > 0 && pane->choices < count ? pane->choices : count;
    return step->choices != NULL ? count : 0;
}

static const struct trial_question questions[] = {
    [CONFIRM_LEAVE] = {"Leave the trial?", "yes, leave it: sticks to rest first", "no"},
    [CONFIRM_NO] = {"End the trial here?", "yes, end it", "no, back"},
    [CONFIRM_SKIP] = {"Skip this step? It won't be shown then.", "yes, skip it", "no, stay here"},
    [CONFIRM_UNSEEN] = {"Go on without having seen it?", "yes, go on unseen", "no, wait for it"},
    [CONFIRM_STOP] = {"Stop recording in the middle of a trial?", "yes, stop it", "no, record on"},
};

static void ask(struct trial_live *l, enum confirm what, const struct trial_place *place) {
    l->confirm = what;
    l->confirm_nth = place->nth;
}

static void quit_trial(struct trial_live *l, int64_t host_us) {
    char text[BOOK_TEXT];
    book_row_quit(l->trials.book, text);
    emit(l, text, host_us);
}

static void skip_step(struct trial_live *l, int64_t host_us) {
    char text[BOOK_TEXT];
    book_row_skip(l->trials.book, text);
    emit(l, text, host_us);
}

/* y to the question.  One that was about a step holds for that step alone: when it is over, the y
 * means nothing any more. */
static void confirmed(struct trial_live *l, const struct trial_step *step,
                      const struct trial_place *place, enum action *action, int64_t host_us) {
    enum confirm what = l->confirm;
    bool here = l->confirm_nth == place->nth;
    l->confirm = CONFIRM_NOTHING;
    if (what == CONFIRM_STOP)
        *action = ACTION_RECORD;
    else if (what == CONFIRM_LEAVE || (what == CONFIRM_NO && here && step->ask != ASK_YES))
        quit_trial(l, host_us);
    else if (what == CONFIRM_NO && here)
        answer(l, 0, host_us);
    else if (what == CONFIRM_SKIP && here)
        skip_step(l, host_us);
    else if (what == CONFIRM_UNSEEN && here)
        answer(l, 1, host_us);
}

/* Only y and no are answers: whatever was pressed twice by mistake confirms nothing. */
static void confirm_key(struct trial_live *l, const struct trial_step *step,
                        const struct trial_place *place, enum action *action, int64_t host_us) {
    enum action key = *action;
    *action = ACTION_NONE;
    if (key == ACTION_TRIAL_YES)
        confirmed(l, step, place, action, host_us);
    else if (key == ACTION_TRIAL_NO || key == ACTION_TRIAL_LEAVE)
        l->confirm = CONFIRM_NOTHING;
}

/* The same key begins every trial, and no other does. */
static bool at_gate(const struct trial_live *l, const struct trial_step *step,
                    const struct trial_place *place) {
    return place->nth == 1 && step->ask != ASK_NOTHING && !l->begun;
}

static void gate_key(struct trial_live *l, struct console *c, const struct trial_place *place,
                     enum action action, int64_t host_us, int64_t now_us) {
    const struct trial_place *same;
    const struct trial_step *step = book_step(l->trials.book, &same);
    if (action == ACTION_TRIAL_NO) {
        ask(l, CONFIRM_NO, place);
    } else if (action != ACTION_TRIAL_YES) {
        console_notice(c, now_us, "y begins the trial, n ends it");
    } else {
        l->begun = true;
        if (step->ask != ASK_CHOICE)
            answer(l, 1, host_us);
    }
}

/* Two presses in a row are one: the second would pass over the next step. */
static bool too_soon(const struct trial_place *place, int64_t host_us) {
    enum { APART_US = 300000 };
    return place->since_us != TIME_UNKNOWN && host_us != TIME_UNKNOWN &&
           host_us - place->since_us < APART_US;
}

static void answer_key(struct trial_live *l, const struct trial_step *step,
                       const struct trial_place *place, enum action action, int key,
                       int64_t host_us) {
    bool chosen =
        step->ask == ASK_CHOICE && (uint32_t)(key - '1') < choice_count(step, &l->view.pane);
    bool yes_no = step->ask == ASK_YES || step->ask == ASK_YES_NO;
    if (action == ACTION_TRIAL_SKIP && step->ask != ASK_YES)
        ask(l, CONFIRM_SKIP, place);
    else if (action == ACTION_TRIAL_NO && step->ask == ASK_YES)
        ask(l, CONFIRM_NO, place);
    else if ((action == ACTION_TRIAL_YES || action == ACTION_TRIAL_NO) && yes_no &&
             !too_soon(place, host_us))
        answer(l, action == ACTION_TRIAL_YES, host_us);
    else if (action == ACTION_TRIAL_DONE && step->ask == ASK_NOTHING)
        ask(l, CONFIRM_UNSEEN, place);
    else if (action == ACTION_TRIAL_DONE && step->ask == ASK_READY && !too_soon(place, host_us))
        answer(l, 1, host_us);
    else if (action == ACTION_TRIAL_CHOOSE && chosen)
        answer(l, (uint32_t)(key - '1'), host_us);
}

static void step_key(struct trial_live *l, struct console *c, enum action *action, int64_t host_us,
                     int64_t now_us) {
    const struct trial_place *place;
    const struct trial_step *step = book_step(l->trials.book, &place);
    if (l->confirm != CONFIRM_NOTHING)
        confirm_key(l, step, place, action, host_us);
    else if (*action == ACTION_RECORD)
        ask(l, CONFIRM_STOP, place);
    else if (*action == ACTION_TRIAL_LEAVE)
        ask(l, CONFIRM_LEAVE, place);
    else if (at_gate(l, step, place))
        gate_key(l, c, place, *action, host_us, now_us);
    else
        answer_key(l, step, place, *action, c->key, host_us);
}

static void scroll(struct trial_live *l, const struct console *c, int lines) {
    enum { OTHER_ROWS = 12 }; /* roughly what the rest of the page takes */
    int rows = c->grid->rows > OTHER_ROWS ? c->grid->rows - OTHER_ROWS : 1;
    int most = trial_outcome_lines(&l->view, c->grid->columns) - rows;
    l->view.scroll += lines;
    l->view.scroll = l->view.scroll > most ? most : l->view.scroll;
    l->view.scroll = l->view.scroll < 0 ? 0 : l->view.scroll;
}

static void toggle(struct trial_live *l) {
    bool list = l->open && l->view.show == TRIAL_SHOW_LIST;
    bool closes = list || l->open;
    l->open = !closes;
    l->view.show = TRIAL_SHOW_LIST;
}

static bool act(struct trial_live *l, struct console *c, enum action *action, int64_t host_us,
                int64_t now_us) {
    enum { PAGE_LINES = 8 };
    enum trial_id id;
    bool at_step = running(l, &id) && !l->open && l->sink != NULL;
    switch (*action) {
    case ACTION_TRIALS:
        toggle(l);
        return true;
    case ACTION_TRIAL_UP:
    case ACTION_TRIAL_DOWN:
        scroll(l, c, *action == ACTION_TRIAL_UP ? -1 : 1);
        return true;
    case ACTION_TRIAL_PAGE_UP:
    case ACTION_TRIAL_PAGE_DOWN:
        scroll(l, c, *action == ACTION_TRIAL_PAGE_UP ? -PAGE_LINES : PAGE_LINES);
        return true;
    case ACTION_TRIAL_CHOOSE:
        if (at_step)
            step_key(l, c, action, host_us, now_us);
        else if (l->open && l->view.show == TRIAL_SHOW_LIST && c->key - '1' < TRIALS)
            begin(l, c, (enum trial_id)(c->key - '1'), host_us, now_us);
        return true;
    case ACTION_RECORD:
        if (!at_step || (!c->page.recording && l->confirm == CONFIRM_NOTHING))
            return false;
        step_key(l, c, action, host_us, now_us);
        return true;
    case ACTION_TRIAL_DONE:
    case ACTION_TRIAL_YES:
    case ACTION_TRIAL_NO:
    case ACTION_TRIAL_SKIP:
    case ACTION_TRIAL_LEAVE:
        if (at_step)
            step_key(l, c, action, host_us, now_us);
        return *action != ACTION_RECORD;
    default:
        return false;
    }
}

void trial_live_recording(struct trial_live *l, struct console *c, int64_t host_us,
                          int64_t now_us) {
    enum trial_id id;
    const struct trial_place *place;
    char text[BOOK_TEXT];
    if (l->sink == NULL || !running(l, &id))
        return;
    book_step(l->trials.book, &place);
    if (place->nth == 1) {
        l->begun = false;
        book_row_begin(text, id);
        emit(l, text, host_us);
    } else {
        console_notice(c, now_us, "the trial began before the recording: begin it again for one");
    }
}

/* --- the page --------------------------------------------------------------------------------- */

static void fill_list(struct trial_live *l) {
    bool book = l->sink != NULL ? trials_begin(&l->trials) : l->trials.book != NULL;
    for (int i = 0; i < TRIALS; i++) {
        struct trial_row *row = &l->view.row[i];
        *row = (struct trial_row){0};
        if (trial_kinds[i] == NULL)
            continue;
        row->name = trial_kinds[i]->name;
        row->about = trial_kinds[i]->about;
        if (book)
            row->stands = book_stands(l->trials.book, (enum trial_id)i, &row->stale);
    }
}

static void fill_step(struct trial_live *l, const struct snapshot *s, enum trial_id id) {
    const struct trial_place *place;
    struct trial_view *v = &l->view;
    v->show = TRIAL_SHOW_STEP;
    v->step = book_step(l->trials.book, &place);
    v->title = trial_kinds[id]->title;
    v->number = place->nth;
    v->lasted_s = place->since_us != TIME_UNKNOWN && place->now_us != TIME_UNKNOWN
                      ? (place->now_us - place->since_us) / 1000000
                      : -1;
    v->gate = l->sink != NULL && at_gate(l, v->step, place);
    v->question = l->confirm != CONFIRM_NOTHING ? &questions[l->confirm] : NULL;
    book_pane(l->trials.book, s, &v->pane);
}

static void guide(struct trial_live *l, struct snapshot *s, int64_t host_us) {
    enum { ENOUGH = 8 }; /* no guide moves on so often at once */
    char text[BOOK_TEXT];
    for (int i = 0; i < ENOUGH && book_row_due(l->trials.book, s, host_us, text); i++) {
        emit(l, text, host_us);
        bench_glance(l->trials.fold->bench, s);
    }
}

void trial_live_wake(struct trial_live *l, struct console *c, int64_t host_us) {
    enum { APART_US = 100000 };
    enum trial_id id = l->shown;
    if (running(l, &id)) {
        struct snapshot *s = &l->trials.s;
        bench_glance(l->trials.fold->bench, s);
        if (l->sink != NULL && host_us != TIME_UNKNOWN)
            guide(l, s, host_us);
        l->shown = id;
        if (l->sink != NULL && host_us != TIME_UNKNOWN && host_us - l->marked_us >= APART_US) {
            c->dirty = true; /* its seconds go on without data too */
            l->marked_us = host_us;
        }
    }
    bool now = running(l, &id);
    if (l->was_running && !now && l->sink != NULL)
        show_outcome(l, l->shown);
    l->was_running = now;
    if (!now)
        l->confirm = CONFIRM_NOTHING;
    l->view.recorded = c->page.recording;
    bool sounded = l->view.pane.sound;
    if (now && !l->open)
        fill_step(l, &l->trials.s, id);
    if (l->view.pane.sound && !sounded && l->sink != NULL)
        console_ring(c);
    else if (l->open && l->view.show == TRIAL_SHOW_LIST)
        fill_list(l);
    c->page.trial = l->open || now ? &l->view : NULL;
}

/* What the page shows decides what the next key means, so it follows at once. */
bool trial_live_action(struct trial_live *l, struct console *c, enum action *action,
                       int64_t host_us, int64_t now_us) {
    bool taken = act(l, c, action, host_us, now_us);
    if (taken || *action == ACTION_RECORD)
        trial_live_wake(l, c, host_us);
    return taken;
}

int64_t trial_live_deadline_us(const struct trial_live *l, int64_t now_us) {
    enum { TICK_US = 50000 };
    enum trial_id id;
    return l->sink != NULL && running(l, &id) ? now_us + TICK_US : INT64_MAX;
}
