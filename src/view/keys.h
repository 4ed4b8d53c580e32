/* The keys of the console, one table that the loop, the bottom line, the help and the manual walk.
 * A key is a Unicode character or one of the codes below. */
#ifndef VIEW_KEYS_H
#define VIEW_KEYS_H

#include <stddef.h>

enum press { /* beyond Unicode, so that no character can be taken for one */
             PRESS_NONE = 0,
             PRESS_REDRAW = 0x0C, /* Ctrl-L */
             PRESS_ENTER = 0x0D,
             PRESS_ESCAPE = 0x1B,
             PRESS_UP = 0x110000,
             PRESS_DOWN,
             PRESS_LEFT,
             PRESS_RIGHT,
             PRESS_PAGE_UP,
             PRESS_PAGE_DOWN,
             PRESS_HOME,
             PRESS_END,
             PRESS_BACKSPACE,
             PRESS_RESIZE, /* the terminal has another size */
             PRESS_OTHER,  /* some key that means nothing here */
             PRESS_DIGIT,  /* in the table alone: any of 1 to 9 */
};

enum action {
    ACTION_NONE,
    ACTION_QUIT,
    ACTION_HELP,
    ACTION_FAR,
    ACTION_BAND,
    ACTION_PAUSE,
    ACTION_STOP,      /* mark a stop of a range walk: a distance is asked for */
    ACTION_NEXT_STOP, /* the next of the plan */
    ACTION_LEAVE,
    ACTION_WALK,       /* the walk's pane, shown or not */
    ACTION_FULL_POWER, /* the transmitter is at full power again, says the person */
    ACTION_TWITCH,
    ACTION_FACING,
    ACTION_NOTE,
    ACTION_RECORD,
    ACTION_SOUND,
    ACTION_SOUND_TEST,
    ACTION_PORT, /* let go of the port, or take it again */
    ACTION_UP,
    ACTION_DOWN,
    ACTION_PAGE_UP,
    ACTION_PAGE_DOWN,
    ACTION_REDRAW,
    ACTION_RUN, /* replay: pause or run */
    ACTION_FASTER,
    ACTION_SLOWER,
    ACTION_BACK_10,
    ACTION_FORWARD_10,
    ACTION_BACK_60,
    ACTION_FORWARD_60,
    ACTION_START,
    ACTION_END,
    ACTION_YES,
    ACTION_NO,
    ACTION_TRIALS, /* the list of the guided trials, and away from it */
    ACTION_TRIAL_CHOOSE,
    ACTION_TRIAL_DONE,
    ACTION_TRIAL_YES,
    ACTION_TRIAL_NO,
    ACTION_TRIAL_SKIP,
    ACTION_TRIAL_LEAVE,
    ACTION_TRIAL_UP,
    ACTION_TRIAL_DOWN,
    ACTION_TRIAL_PAGE_UP,
    ACTION_TRIAL_PAGE_DOWN,
    ACTION_CHARTS, /* a chart of the run so far */
    ACTION_CHART_NEXT,
    ACTION_CHART_NEXT_OR_CLOSE, /* behind the last one the page */
    ACTION_CHART_BEFORE,
    ACTION_CHARTS_CLOSE,
    ACTION_CHART_UP,
    ACTION_CHART_DOWN,
    ACTION_CHART_PAGE_UP,
    ACTION_CHART_PAGE_DOWN,
    ACTIONS
};

enum { /* where a key works */
       IN_LIVE = 1,
       IN_REPLAY = 2,
       IN_QUESTION = 4,
       IN_HELP = 8,
       IN_TRIAL = 16,  /* at a step of a guided trial */
       IN_TRIALS = 32, /* in the list of trials, and at what one came to */
       IN_CHARTS = 64  /* on a chart; keys that mean nothing there work as without it */
};

struct key_row {
    int key;
    int also; /* a second key for the same, or PRESS_NONE */
    enum action action;
    unsigned where;
    int rank;          /* in the bottom line, 1 the most wanted; 0: only in the help */
    const char *label; /* a word for the bottom line */
    const char *help;  /* at most 28 columns */
};

extern const struct key_row key_rows[];
extern const size_t key_rows_count;

/* What `key` does where `where` (one of IN_...) holds. */
enum action keys_action(int key, unsigned where);

/* The key as a person reads it ("PgUp", "space", "s"); UTF-8 arrows are left to the caller: arrows
 * are "Up", "Left" and so on. */
enum { KEYS_NAME = 8 };
void keys_name(int key, char out[static KEYS_NAME]);

#endif
