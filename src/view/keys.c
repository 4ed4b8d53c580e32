#include "view/keys.h"

#include <stdbool.h>

#include "base/text.h"

#define ALWAYS (IN_LIVE | IN_REPLAY)

const struct key_row key_rows[] = {
    {'?', 0, ACTION_HELP, ALWAYS | IN_TRIAL | IN_TRIALS | IN_CHARTS, 2, "help",
     "this page of keys"},
    {'q', 0, ACTION_QUIT, ALWAYS, 1, "quit", "quit"},
    {'f', 0, ACTION_FAR, ALWAYS, 5, "big view", "big view, read from 3 m"},
    {'d', 0, ACTION_BAND, ALWAYS | IN_HELP, 0, "band", "the band, swept at boot"},
    {'p', ' ', ACTION_PAUSE, IN_LIVE, 4, "pause", "pause the picture only"},
    {'v', 0, ACTION_TRIALS, ALWAYS, 6, "trials", "guided trials: list, begin"},
    {'r', 0, ACTION_RECORD, IN_LIVE | IN_TRIAL | IN_TRIALS, 3, "record", "recording on or off"},
    {'s', 0, ACTION_STOP, IN_LIVE, 7, "stop", "a stop of a walk, at ... m"},
    {'.', 0, ACTION_NEXT_STOP, IN_LIVE, 0, "next stop", "the planned stop, here"},
    {'l', 0, ACTION_LEAVE, IN_LIVE, 8, "leave", "leave the stop, walk on"},
    {'w', 0, ACTION_WALK, IN_LIVE, 0, "walk", "the walk's pane on or off"},
    {'u', 0, ACTION_FULL_POWER, IN_LIVE, 0, "full", "transmit power is up again"},
    {'t', 0, ACTION_TWITCH, IN_LIVE, 11, "twitch", "a servo twitched just now"},
    {'a', 0, ACTION_FACING, IN_LIVE, 0, "aim", "aim: where the model faces"},
    {'n', 0, ACTION_NOTE, IN_LIVE, 9, "note", "note in your own words"},
    {'b', 0, ACTION_SOUND, ALWAYS | IN_TRIAL | IN_TRIALS, 12, "bell", "bell on or off"},
    {'B', 0, ACTION_SOUND_TEST, ALWAYS, 0, "try bell", "try the bell once"},
    {'g', 0, ACTION_PORT, IN_LIVE, 13, "release", "release the port, reopen it"},
    {'c', 0, ACTION_CHARTS, ALWAYS, 10, "chart", "charts of the run so far"},
    {' ', 'p', ACTION_RUN, IN_REPLAY, 3, "pause", "run or pause the replay"},
    {'+', '=', ACTION_FASTER, IN_REPLAY, 6, "faster", "replay faster"},
    {'-', '_', ACTION_SLOWER, IN_REPLAY, 7, "slower", "replay slower"},
    {PRESS_LEFT, 0, ACTION_BACK_10, IN_REPLAY, 11, "-10 s", "10 s back"},
    {PRESS_RIGHT, 0, ACTION_FORWARD_10, IN_REPLAY, 11, "+10 s", "10 s forward"},
    {'[', 0, ACTION_BACK_60, IN_REPLAY, 0, "-60 s", "60 s back"},
    {']', 0, ACTION_FORWARD_60, IN_REPLAY, 0, "+60 s", "60 s forward"},
    {PRESS_HOME, 0, ACTION_START, IN_REPLAY, 0, "start", "to its start"},
    {PRESS_END, 0, ACTION_END, IN_REPLAY, 0, "end", "to its end"},
    {PRESS_UP, 0, ACTION_UP, ALWAYS, 0, "older", "events: one line older"},
    {PRESS_DOWN, 0, ACTION_DOWN, ALWAYS, 0, "newer", "events: one line newer"},
    {PRESS_PAGE_UP, 0, ACTION_PAGE_UP, ALWAYS, 0, "older page", "events: a page older"},
    {PRESS_PAGE_DOWN, 0, ACTION_PAGE_DOWN, ALWAYS, 0, "newer page", "events: a page newer"},
    {PRESS_REDRAW, 0, ACTION_REDRAW, ALWAYS | IN_QUESTION | IN_HELP | IN_TRIAL | IN_TRIALS, 0,
     "redraw", "draw the screen anew"},
    {'y', 'Y', ACTION_YES, IN_QUESTION, 1, "yes", "yes"},
    {'n', 'N', ACTION_NO, IN_QUESTION, 2, "no", "no"},
    {PRESS_ESCAPE, 'q', ACTION_NO, IN_QUESTION, 0, "no", "no"},
    {PRESS_ESCAPE, 'q', ACTION_HELP, IN_HELP, 1, "close", "close"},
    {'?', PRESS_ENTER, ACTION_HELP, IN_HELP, 0, "close", "close"},
    {PRESS_ENTER, 0, ACTION_TRIAL_DONE, IN_TRIAL, 0, "done", "done; unseen: go on (asks)"},
    {'y', 'Y', ACTION_TRIAL_YES, IN_TRIAL, 0, "yes", "yes; begins every trial"},
    {'n', 'N', ACTION_TRIAL_NO, IN_TRIAL, 0, "no", "no; at a caution: end (asks)"},
    {PRESS_DIGIT, 0, ACTION_TRIAL_CHOOSE, IN_TRIAL, 0, "choose", "choose by its number"},
    {'k', 0, ACTION_TRIAL_SKIP, IN_TRIAL, 0, "skip", "skip this step (asks)"},
    {PRESS_ESCAPE, 'q', ACTION_TRIAL_LEAVE, IN_TRIAL, 0, "leave", "leave the trial (asks)"},
    {PRESS_DIGIT, 0, ACTION_TRIAL_CHOOSE, IN_TRIALS, 0, "begin", "begin that trial"},
    {PRESS_ESCAPE, 'q', ACTION_TRIALS, IN_TRIALS, 1, "back", "back to the console"},
    {'v', PRESS_ENTER, ACTION_TRIALS, IN_TRIALS, 0, "back", "back to the console"},
    {PRESS_UP, 0, ACTION_TRIAL_UP, IN_TRIALS, 0, "up", "what it came to: a line up"},
    {PRESS_DOWN, 0, ACTION_TRIAL_DOWN, IN_TRIALS, 0, "more", "a line down"},
    {PRESS_PAGE_UP, 0, ACTION_TRIAL_PAGE_UP, IN_TRIALS, 0, "page up", "a page up"},
    {PRESS_PAGE_DOWN, ' ', ACTION_TRIAL_PAGE_DOWN, IN_TRIALS, 0, "page", "a page down"},
    {'c', 0, ACTION_CHART_NEXT_OR_CLOSE, IN_CHARTS, 1, "next chart", "the next; last: close"},
    {PRESS_ESCAPE, 'q', ACTION_CHARTS_CLOSE, IN_CHARTS, 2, "close", "back to the console"},
    {PRESS_RIGHT, 0, ACTION_CHART_NEXT, IN_CHARTS, 0, "next", "the next chart"},
    {PRESS_LEFT, 0, ACTION_CHART_BEFORE, IN_CHARTS, 3, "before", "the chart before"},
    {PRESS_UP, 0, ACTION_CHART_UP, IN_CHARTS, 0, "up", "a line up"},
    {PRESS_DOWN, 0, ACTION_CHART_DOWN, IN_CHARTS, 0, "down", "a line down"},
    {PRESS_PAGE_UP, 0, ACTION_CHART_PAGE_UP, IN_CHARTS, 0, "page up", "a page up"},
    {PRESS_PAGE_DOWN, 0, ACTION_CHART_PAGE_DOWN, IN_CHARTS, 0, "page", "a page down"},
};
const size_t key_rows_count = sizeof key_rows / sizeof key_rows[0];

static const struct {
    int key;
    const char *name; /* at most 7 bytes */
} key_names[] = {
    {' ', "space"},
    {PRESS_REDRAW, "Ctrl-L"},
    {PRESS_ENTER, "Enter"},
    {PRESS_ESCAPE, "Esc"},
    {PRESS_UP, "Up"},
    {PRESS_DOWN, "Down"},
    {PRESS_LEFT, "Left"},
    {PRESS_RIGHT, "Right"},
    {PRESS_PAGE_UP, "PgUp"},
    {PRESS_HOME, "Home"},
    {PRESS_PAGE_DOWN, "PgDn"},
    {PRESS_END, "End"},
    {PRESS_BACKSPACE, "Bksp"},
    {PRESS_DIGIT, "1-9"},
};

enum action keys_action(int key, unsigned where) {
    for (size_t i = 0; key != PRESS_NONE && i < key_rows_count; i++) {
        const struct key_row *row = &key_rows[i];
        bool digit = row->key == PRESS_DIGIT && key >= '1' && key <= '9';
        if ((row->where & where) != 0 && (row->key == key || row->also == key || digit)) {
            return row->action;
        }
    }
    return ACTION_NONE;
}

void keys_name(int key, char out[static KEYS_NAME]) {
    struct text t;
    for (size_t i = 0; i < sizeof key_names / sizeof key_names[0]; i++) {
        if (key_names[i].key == key) {
            text_init(&t, out, KEYS_NAME);
            text_string(&t, key_names[i].name);
            return;
        }
    }
    out[0] = key > ' ' && key < 0x7F ? (char)key : '?';
    out[1] = '\0';
}
