/* What watch and replay share: the screen, the page drawn into it under a cap, the keys that mean
 * the same in both, typed entries and questions, the bell and the alarm command. */
#ifndef CONSOLE_CONSOLE_H
#define CONSOLE_CONSOLE_H

#include "app/fold.h"
#include "app/options.h"
#include "console/charts_live.h"
#include "screen/screen.h"
#include "view/keys.h"
#include "view/page.h"

enum {
    CONSOLE_FRAME_US = 16000, /* between repaints: a change is seen within 1/60 s */
    CONSOLE_FLOOD_US = 49000, /* in a flood, which nobody can read: 1/20 s */
    CONSOLE_IDLE_US = 250000, /* and without data as often as clocks on the page want it */
    CONSOLE_ENTRY_MAX = 120,
};

/* What a typed line or a yes is for. */
enum asked {
    ASKED_NOTHING,
    ASKED_STOP,    /* a line: distance in m */
    ASKED_FACING,  /* a line */
    ASKED_NOTE,    /* a line */
    ASKED_TAKE,    /* yes: open the port, although that may restart the receiver */
    ASKED_RELEASE, /* yes: release the port, so that the board can be flashed */
    ASKED_BOARD,   /* yes: the board that says something new is the right one */
    ASKED_FULL,    /* yes: the transmitter is back at full power */
    ASKED_LEAVE,   /* yes: quit, although the transmitter is below full power */
};

struct console {
    struct screen *screen;
    struct grid *grid;
    struct page page;
    struct snapshot now;   /* as it is; alarms and the bell go by it, paused or not */
    struct snapshot shown; /* what the page shows: the same, but for a pause */
    struct log_entry frozen[LOG_ENTRIES_MAX]; /* of the picture that a pause holds */
    bool dirty;                               /* something changed since the last paint */
    bool owed;                                /* the terminal hasn't taken all of that one yet */
    bool quit;
    int64_t frame_us; /* CONSOLE_FRAME_US or CONSOLE_FLOOD_US */
    int64_t painted_us, read_us, notice_until_us, bell_us;
    int bells; /* of a pattern, still to be rung, the next one at: */
    int64_t bells_us;
    bool patterns_only;  /* no other bells: whoever walks counts them */
    bool full_confirmed; /* by the person, after the step that was last seen: */
    uint32_t confirmed_step;
    int64_t bounds_us;          /* when the bounds of the loss were worked out */
    int64_t steady_us;          /* when not_steady was worked out */
    int not_steady;             /* for so many readings more */
    struct charts_live *charts; /* the caller's, set after console_open; NULL: none */
    enum asked declined;        /* by the newest key; ASKED_NOTHING else */
    const char *on_alarm;
    bool was_alarm[ALARMS];
    enum asked asked;
    int64_t answers_from_us; /* a question takes no answer before */
    int key;                 /* the newest, for actions that several keys share */
    char notice[160];
    char question[700];
    char entry[CONSOLE_ENTRY_MAX + 1];
};

/* Takes the terminal over (where: IN_LIVE or IN_REPLAY); an enum status, what is wrong was said.
 * `source` is shown in the top line and lives as long as the console. */
int console_open(struct console *c, const struct options *o, unsigned where, const char *source);

/* Gives the terminal back; fine after a failed console_open. */
void console_close(struct console *c);

/* A passing line at the bottom. */
void console_notice(struct console *c, int64_t now_us, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Rings so many bells in a row, instead of what still is to be rung of such a pattern. */
void console_bells(struct console *c, int count);

/* The person says that transmit power is full again: asks for a yes, or says why not. */
void console_full_power(struct console *c, int64_t now_us);

/* Asks for a line (ASKED_STOP, _FACING, _NOTE) or for a yes; text is copied. */
void console_ask(struct console *c, enum asked what, const char *text);

/* The same for a question that comes by itself: for the first second it takes no answer, since a
 * key pressed just then was meant for something else.  False, and nothing asked, while another
 * question is open or a line is being typed: try again. */
bool console_interrupt(struct console *c, enum asked what, const char *text, int64_t now_us);

/* Takes that question back, if it is the one that is open. */
void console_drop(struct console *c, enum asked what);

/* Takes one key of the screen, if there is one (false: none).  What the console can't do itself is
 * put into *action; an answer given into *answered, with a typed line in c->entry; of a no, what
 * was asked into c->declined. */
bool console_key(struct console *c, int64_t now_us, enum action *action, enum asked *answered);

/* Rings the bell once, unless it is off. */
void console_ring(struct console *c);

/* True when console_read is due: a picture of what changed could be painted, or clocks go on. */
bool console_wants(const struct console *c, int64_t now_us);

/* New data was folded: reads it, unless the picture is paused, and sounds or runs what is due. */
void console_read(struct console *c, struct fold *f, int64_t now_us);

/* Paints when something changed, the frame time is over and the terminal takes it. */
void console_paint(struct console *c, int64_t now_us);

/* When console_paint or the bell is due next, clock_us(). */
int64_t console_deadline_us(const struct console *c, int64_t now_us);

/* After the terminal was given back: what must not be forgotten. */
void console_last_words(const struct console *c);

#endif
