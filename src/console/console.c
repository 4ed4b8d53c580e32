#include "console/console.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/commands.h"
#include "app/words.h"
#include "base/whole.h"
#include "console/alarm_command.h"

static const char power_reminder[] =
    "The transmitter was last seen below full power (step %u of %u).\n"
    "Put it back to full power before the model is used.";

static int start_screen(struct console *c, const struct options *o) {
    switch (screen_start(&c->screen, !o->mono)) {
    case SCREEN_OK:
        return STATUS_ANSWER;
    case SCREEN_NOT_A_TERMINAL:
        words_say("the console needs a terminal; without one use record, and figures on its file");
        return STATUS_USAGE;
    default:
        words_say("the terminal type in TERM is unknown, or can't place its cursor; try "
                  "TERM=xterm or TERM=vt100");
        return STATUS_USAGE;
    }
}

int console_open(struct console *c, const struct options *o, unsigned where, const char *source) {
    memset(c, 0, sizeof *c);
    c->grid = calloc(1, sizeof *c->grid);
    if (c->grid == NULL) {
        words_say("not enough memory");
        return STATUS_TROUBLE;
    }
    int status = start_screen(c, o);
    if (status != STATUS_ANSWER)
        return status;
    c->page.replay = where == IN_REPLAY ? REPLAY_RUNNING : REPLAY_NONE;
    c->on_alarm = o->on_alarm;
    c->grid->ascii = o->ascii || !screen_utf8();
    c->page.far = o->far;
    c->page.sound = !o->mute;
    c->page.source = source;
    c->page.replay_length_us = TIME_UNKNOWN;
    c->dirty = true;
    c->frame_us = CONSOLE_FRAME_US;
    return STATUS_ANSWER;
}

void console_close(struct console *c) {
    screen_stop(&c->screen);
    free(c->grid);
    c->grid = NULL;
}

void console_notice(struct console *c, int64_t now_us, const char *format, ...) {
    enum { SHOWN_US = 5000000 };
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(c->notice, sizeof c->notice, format, arguments);
    va_end(arguments);
    c->notice_until_us = now_us + SHOWN_US;
    c->page.notice = c->notice;
    c->dirty = true;
}

void console_bells(struct console *c, int count) {
    c->bells = count;
    c->bells_us = 0;
}

void console_full_power(struct console *c, int64_t now_us) {
    enum { FRESH_MS = 1000 };
    char text[160];
    bool fresh = c->now.outage_ms != TIME_UNKNOWN && c->now.outage_ms < FRESH_MS;
    if (!c->page.reduced_power) {
        console_notice(c, now_us, "nothing says that transmit power is reduced");
    } else if (fresh) {
        console_notice(c, now_us, "not taken: the transmitter itself says step %u of %u just now",
                       c->now.step, c->now.full_step);
    } else {
        snprintf(text, sizeof text,
                 "The transmitter was last seen at step %u of %u.\nIs it back at full power?",
                 c->now.step, c->now.full_step);
        console_ask(c, ASKED_FULL, text);
    }
}

/* --- questions -------------------------------------------------------------------------------- */

static bool wants_line(enum asked what) {
    return what == ASKED_STOP || what == ASKED_FACING || what == ASKED_NOTE;
}

void console_ask(struct console *c, enum asked what, const char *text) {
    snprintf(c->question, sizeof c->question, "%s", text);
    c->entry[0] = '\0';
    c->asked = what;
    c->answers_from_us = 0;
    c->page.held = false;
    c->page.question = c->question;
    c->page.entry = wants_line(what) ? c->entry : NULL;
    if (wants_line(what))
        c->page.overlay = OVERLAY_ENTRY;
    else
        c->page.overlay = what == ASKED_LEAVE ? OVERLAY_LEAVE : OVERLAY_CAUTION;
    c->dirty = true;
}

bool console_interrupt(struct console *c, enum asked what, const char *text, int64_t now_us) {
    enum { READ_US = 1000000 };
    if (c->asked != ASKED_NOTHING)
        return false;
    console_ask(c, what, text);
    c->answers_from_us = now_us + READ_US;
    c->page.held = true;
    return true;
}

static void end_question(struct console *c) {
    c->asked = ASKED_NOTHING;
    c->page.overlay = OVERLAY_NONE;
    c->page.question = c->page.entry = NULL;
    c->dirty = true;
}

void console_drop(struct console *c, enum asked what) {
    if (c->asked == what)
        end_question(c);
}

static void append_rune(char *text, size_t size, uint32_t rune) {
    size_t len = strlen(text);
    char utf8[4];
    size_t bytes;
    if (rune < 0x80) {
        utf8[0] = (char)rune;
        bytes = 1;
    } else if (rune < 0x800) {
        utf8[0] = (char)(unsigned char)(0xC0 | rune >> 6);
        utf8[1] = (char)(unsigned char)(0x80 | (rune & 0x3F));
        bytes = 2;
    } else if (rune < 0x10000) {
        utf8[0] = (char)(unsigned char)(0xE0 | rune >> 12);
        utf8[1] = (char)(unsigned char)(0x80 | (rune >> 6 & 0x3F));
        utf8[2] = (char)(unsigned char)(0x80 | (rune & 0x3F));
        bytes = 3;
    } else {
        return; /* nothing that a note needs */
    }
    if (len + bytes >= size)
        return;
    memcpy(text + len, utf8, bytes);
    text[len + bytes] = '\0';
}

static void erase_rune(char *text) {
    size_t len = strlen(text);
    while (len > 0 && ((unsigned char)text[len - 1] & 0xC0) == 0x80)
        len--;
    if (len > 0)
        len--;
    text[len] = '\0';
}

/* Returns what was answered, ASKED_NOTHING while it isn't. */
static enum asked entry_key(struct console *c, int key) {
    enum asked what = c->asked;
    c->dirty = true;
    if (key == PRESS_ENTER) {
        end_question(c);
        return what;
    }
    if (key == PRESS_ESCAPE)
        end_question(c);
    else if (key == PRESS_BACKSPACE)
        erase_rune(c->entry);
    else if (key >= ' ' && key < PRESS_UP && key != 0x7F && !(key >= 0x80 && key < 0xA0))
        append_rune(c->entry, sizeof c->entry, (uint32_t)key);
    return ASKED_NOTHING;
}

static enum asked question_key(struct console *c, int key) {
    enum asked what = c->asked;
    enum action action = keys_action(key, IN_QUESTION);
    if (action == ACTION_REDRAW)
        screen_redraw(c->screen);
    if (c->page.held || (action != ACTION_YES && action != ACTION_NO))
        return ASKED_NOTHING;
    end_question(c);
    c->declined = action == ACTION_NO ? what : ASKED_NOTHING;
    return action == ACTION_YES ? what : ASKED_NOTHING;
}

/* --- keys ------------------------------------------------------------------------------------- */

static void leave(struct console *c) {
    if (!c->page.reduced_power) {
        c->quit = true;
        return;
    }
    char text[sizeof c->question];
    snprintf(text, sizeof text, power_reminder, c->now.step, c->now.full_step);
    strncat(text, "\nQuit now?", sizeof text - strlen(text) - 1);
    console_ask(c, ASKED_LEAVE, text);
}

static void scroll(struct console *c, int lines) {
    int most = c->shown.log_entries < LOG_ENTRIES_MAX ? (int)c->shown.log_entries : LOG_ENTRIES_MAX;
    c->page.scroll += lines;
    if (c->page.scroll > most - 1)
        c->page.scroll = most - 1;
    if (c->page.scroll < 0)
        c->page.scroll = 0;
}

static void toggle_pause(struct console *c) {
    c->page.paused = !c->page.paused;
    if (c->charts)
        charts_live_pause(c->charts, c->page.paused);
    if (!c->page.paused || c->shown.log_entry == NULL)
        return;
    memcpy(c->frozen, c->shown.log_entry, sizeof c->frozen);
    c->shown.log_entry = c->frozen;
}

/* Does what needs no knowledge of the source; true when it was that. */
static bool common_action(struct console *c, enum action action, int64_t now_us) {
    enum { PAGE_LINES = 8 };
    switch (action) {
    case ACTION_QUIT:
        leave(c);
        return true;
    case ACTION_HELP:
        c->page.overlay = c->page.overlay == OVERLAY_NONE ? OVERLAY_HELP : OVERLAY_NONE;
        return true;
    case ACTION_BAND:
        c->page.overlay = c->page.overlay == OVERLAY_BAND ? OVERLAY_NONE : OVERLAY_BAND;
        return true;
    case ACTION_FAR:
        c->page.far = !c->page.far;
        return true;
    case ACTION_PAUSE:
        toggle_pause(c);
        return true;
    case ACTION_SOUND:
        c->page.sound = !c->page.sound;
        console_notice(c, now_us, "bell %s", c->page.sound ? "on" : "off");
        return true;
    case ACTION_SOUND_TEST:
        screen_bell(c->screen);
        console_notice(c, now_us, "that was the bell; if you heard nothing, the terminal mutes it");
        return true;
    case ACTION_UP:
    case ACTION_DOWN:
        scroll(c, action == ACTION_UP ? 1 : -1);
        return true;
    case ACTION_PAGE_UP:
    case ACTION_PAGE_DOWN:
        scroll(c, action == ACTION_PAGE_UP ? PAGE_LINES : -PAGE_LINES);
        return true;
    case ACTION_REDRAW:
        screen_redraw(c->screen);
        return true;
    default:
        return false;
    }
}

/* What the page shows decides what the next key means, so it follows at once. */
static bool chart_action(struct console *c, enum action action) {
    if (!c->charts || !charts_live_action(c->charts, action))
        return false;
    c->page.charts = c->charts->open ? &c->charts->view : NULL;
    return true;
}

bool console_key(struct console *c, int64_t now_us, enum action *action, enum asked *answered) {
    int key = screen_key(c->screen);
    *action = ACTION_NONE;
    *answered = c->declined = ASKED_NOTHING;
    if (key == PRESS_NONE)
        return false;
    c->dirty = true;
    if (key == PRESS_RESIZE) {
        screen_resized(c->screen);
    } else if (c->page.overlay == OVERLAY_ENTRY) {
        *answered = entry_key(c, key);
    } else if (c->page.overlay == OVERLAY_CAUTION || c->page.overlay == OVERLAY_LEAVE) {
        *answered = question_key(c, key);
    } else {
        enum action meant = c->page.overlay == OVERLAY_NONE ? page_action(&c->page, key)
                                                            : keys_action(key, IN_HELP);
        c->key = key;
        if (!chart_action(c, meant) && !common_action(c, meant, now_us))
            *action = meant;
    }
    if (*answered == ASKED_LEAVE)
        c->quit = true;
    if (*answered == ASKED_FULL) {
        c->full_confirmed = true;
        c->confirmed_step = c->now.step;
        c->page.reduced_power = false;
    }
    return true;
}

/* --- sound, picture --------------------------------------------------------------------------- */

/* Time between two bells, faster with more loss; 0: none is due. */
static int64_t bell_period_us(const struct snapshot *s) {
    enum { SLOWEST_MS = 2000, FASTEST_MS = 400 };
    if (s->state == STATE_FAILSAFE || s->state == STATE_OUTAGE)
        return FASTEST_MS * 1000;
    if (s->state != STATE_LOSSY)
        return 0;
    double packets = (double)s->last_10s.got + (double)s->last_10s.lost;
    double loss = packets > 0 ? (double)s->last_10s.lost / packets : 0;
    return whole_i64((SLOWEST_MS - (SLOWEST_MS - FASTEST_MS) * loss) * 1000);
}

/* The next bell of a pattern, far enough from the one before to be counted. */
static void ring(struct console *c, int64_t now_us) {
    enum { BEAT_US = 350000 };
    if (c->bells == 0 || now_us < c->bells_us)
        return;
    c->bells--;
    c->bells_us = now_us + BEAT_US;
    c->bell_us = now_us;
    if (c->page.sound)
        screen_bell(c->screen);
}

static void sound(struct console *c, bool raised, int64_t now_us) {
    if (c->patterns_only || c->bells > 0)
        return;
    int64_t period = bell_period_us(&c->now);
    bool due = period > 0 && now_us >= c->bell_us + period;
    if (!c->page.sound || (!raised && !due))
        return;
    enum { APART_US = 200000 };
    if (now_us < c->bell_us + APART_US)
        return;
    screen_bell(c->screen);
    c->bell_us = now_us;
}

void console_ring(struct console *c) {
    if (c->page.sound)
        screen_bell(c->screen);
}

/* Whether loss is the same all along takes a while to work out, and changes slowly: near its limit
 * it would flicker, so that not steady stands for some readings more.  Charts go by the same
 * figures. */
static void read_steady(struct console *c, const struct fold *f, int64_t now_us) {
    enum { APART_US = 1000000, READINGS = 10 };
    if (now_us - c->steady_us >= APART_US) {
        struct measures m;
        fold_measure(f, &m);
        if (!m.steady_known)
            c->not_steady = 0;
        else if (!m.steady)
            c->not_steady = READINGS;
        else if (c->not_steady > 0)
            c->not_steady--;
        c->steady_us = now_us;
        if (c->charts)
            charts_live_read(c->charts, &f->survey, &m,
                             setup_supply_alarm(f->setup, c->charts->course.supply_highest_mv));
    }
    c->now.not_steady = c->not_steady > 0;
}

static void raise_alarms(struct console *c, int64_t now_us) {
    bool raised = false;
    for (int i = 0; i < ALARMS; i++) {
        if (c->now.alarm[i] && !c->was_alarm[i]) {
            raised = true;
            if (c->on_alarm != NULL && !alarm_command_run(c->on_alarm, alarm_name((enum alarm)i)))
                console_notice(c, now_us, "the alarm's command can't be started: %s",
                               alarm_name((enum alarm)i));
        }
        c->was_alarm[i] = c->now.alarm[i];
    }
    sound(c, raised, now_us);
}

/* A person's word holds until a packet brings another step. */
static bool confirmed_full(struct console *c) {
    c->full_confirmed = c->full_confirmed && c->now.step == c->confirmed_step;
    return c->full_confirmed;
}

/* While the terminal takes nothing, no picture is painted, but alarms still want what is new. */
bool console_wants(const struct console *c, int64_t now_us) {
    int64_t since = c->painted_us > c->read_us ? c->painted_us : c->read_us;
    return now_us - since >= (c->dirty ? c->frame_us : CONSOLE_IDLE_US);
}

/* A pause holds the picture, and nothing else. */
void console_read(struct console *c, struct fold *f, int64_t now_us) {
    enum { BOUNDS_US = 200000 };
    c->dirty = true;
    c->read_us = now_us;
    bool bounds = now_us - c->bounds_us >= BOUNDS_US;
    if (!(bounds ? fold_read(f, &c->now) : fold_read_on(f, &c->now)))
        return;
    if (bounds)
        c->bounds_us = now_us;
    c->page.survey = &f->survey;
    read_steady(c, f, now_us);
    raise_alarms(c, now_us);
    if (c->now.step_known)
        c->page.reduced_power = c->now.step < c->now.full_step && !confirmed_full(c);
    if (!c->page.paused)
        c->shown = c->now;
}

static void show_chart(struct console *c, int64_t now_us) {
    int rows, columns;
    if (!c->charts || !c->charts->open)
        return;
    page_chart_room(c->grid->rows, c->grid->columns, &c->page, &rows, &columns);
    c->page.charts = charts_live_view(c->charts, &c->shown, rows, columns, c->grid->ascii, now_us);
}

void console_paint(struct console *c, int64_t now_us) {
    ring(c, now_us);
    if (c->page.notice != NULL && now_us >= c->notice_until_us) {
        c->page.notice = NULL;
        c->dirty = true;
    }
    if (c->page.held && now_us >= c->answers_from_us) {
        c->page.held = false;
        c->dirty = true;
    }
    /* A terminal that takes nothing (a suspended SSH session) must not hold up the data. */
    c->owed = !screen_settle(c->screen);
    if (!c->dirty || now_us - c->painted_us < c->frame_us || c->owed)
        return;
    int rows, columns;
    screen_size(c->screen, &rows, &columns);
    grid_resize(c->grid, rows, columns);
    show_chart(c, now_us);
    page_draw(c->grid, &c->shown, &c->page);
    screen_paint(c->screen, c->grid);
    c->owed = !screen_settle(c->screen);
    c->painted_us = now_us;
    c->dirty = false;
}

int64_t console_deadline_us(const struct console *c, int64_t now_us) {
    int64_t period = bell_period_us(&c->now);
    bool soon = c->dirty || c->owed;
    int64_t due = c->painted_us + (soon ? c->frame_us : CONSOLE_IDLE_US);
    if (c->owed && due <= now_us)
        due = now_us + CONSOLE_FRAME_US; /* the terminal didn't take it: try a frame later */
    if (c->bells > 0 && c->bells_us < due)
        due = c->bells_us > now_us ? c->bells_us : now_us;
    if (c->page.sound && !c->patterns_only && period > 0 && c->bell_us + period < due)
        due = c->bell_us + period;
    return due;
}

void console_last_words(const struct console *c) {
    if (!c->page.reduced_power)
        return;
    printf(power_reminder, c->now.step, c->now.full_step);
    putchar('\n');
}
