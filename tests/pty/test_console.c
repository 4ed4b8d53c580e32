/* The console end to end: the real program in a terminal emulator, fed by a pseudo-terminal that
 * plays the receiver.  What the lines mean is worked out by hand beside each table, from the
 * telemetry grammar (version 1). */
#include <jansson.h>
#include <poll.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#include "view/keys.h"
#include "world.h"

#define COUNT(table) (sizeof(table) / sizeof(table)[0])

static const struct start plain = {0};

/* --- what is shown ---------------------------------------------------------------------------- */

/* Five packets in the first pattern; four of five in the second; two lines lost on the cable; five
 * in the fifth, whose counters tell of ten more: 24 received, 1 lost, so 4.0 % of 25. */
static void shows_what_the_lines_say(void **state) {
    static const struct {
        const char *legend, *parts[4];
    } rows[] = {
        {"loss in all", {"in all", "4.0 %", "1 of 25"}},
        {"evidence", {"from pat"}},
        {"rate", {"100 packets/s"}},
        {"supply, the least of mvmin", {"supply", "5.01 V", "4.61 V"}},
        {"transmitter", {"7.40 V", "4/4"}},
        {"lines: id, 3 rx, say; a line of text; the hole in n",
         {"lines", "5 good", "1", "2 missing"}},
        {"radio", {"-61 dBm"}},
        {"channel 2 and the ends it reached", {"ch2", "1523", "1210..1523"}},
        {"channel 4, no pulses", {"ch4", "off"}},
        {"firmware", {"firmware tug-harbour-3"}},
        {"say", {"receiver says: moored at the jetty"}},
        {"hole", {"2 lines missing on the cable"}},
        {"refused", {"line refused"}},
    };
    struct world *w = *state;
    world_watch(w, (struct start){.rows = 40}, WORDS("--mute"));
    world_identity(w);
    world_line(
        w, "rx n=4241 t=212050 ch=1500,1300,1000,1800 got=1000 lost=50 pat=ooooo age=5 fs=0 fsn=0 "
           "mv=5020 mvmin=4610 rssi=-60 reg=ok tmv=7400 tstep=4/4");
    world_line(
        w, "rx n=4242 t=212100 ch=1500,1210,1000,1800 got=1004 lost=51 pat=ooxoo age=5 fs=0 fsn=0 "
           "mv=5000 mvmin=4900 rssi=-62 reg=ok tmv=7400 tstep=4/4");
    world_line(w, "this is no telemetry at all");
    world_line(w, "say moored at the jetty");
    world_line(w,
               "rx n=4245 t=212250 ch=1500,1523,1000,- got=1019 lost=51 pat=ooooo age=5 fs=0 fsn=0 "
               "mv=5010 mvmin=4950 rssi=-61 reg=ok tmv=7400 tstep=4/4");
    for (size_t i = 0; i < COUNT(rows); i++) {
        const char *parts[5] = {rows[i].parts[0], rows[i].parts[1], rows[i].parts[2],
                                rows[i].parts[3]};
        world_shows_row(w, parts);
    }
}

/* Stretches of 50 ms reports, and the state word that the design gives to them. */
static const struct stretch {
    const char *word;
    int calm;             /* reports with all packets, before */
    int reports;          /* then these */
    int arrived, missing; /* in each */
    const char *more;
} stretches[] = {
    {"linked", 5, 5, 5, 0, "fs=0"},
    {"lossy", 5, 60, 4, 1, "fs=0"}, /* 20 % lost, far above the 5 % that is thin by default */
    {"outage", 10, 10, 0, 0, "fs=0"},
    {"failsafe", 10, 10, 0, 0, "fs=1"},
    {"locked", 5, 5, 5, 0, "fs=0 lock=1"},
};

static void put_model(struct world *w, const char *text) {
    char path[128];
    snprintf(path, sizeof path, "%s/card.ini", w->folder);
    FILE *file = fopen(path, "w");
    fputs(text, file);
    fclose(file);
}

static void shows_each_state_by_its_word(void **state) {
    struct world *w = *state;
    for (size_t i = 0; i < COUNT(stretches); i++) {
        const struct stretch *s = &stretches[i];
        put_model(w, "[port]\nno_lines_ms = 600000\n");
        world_watch(w, plain, WORDS("--mute", "--model", "card.ini"));
        world_state(w, "no lines");
        world_identity(w);
        world_reports(w, s->calm, 5, 0, "fs=0");
        world_reports(w, s->reports, s->arrived, s->missing, s->more);
        world_state(w, s->word);
        world_unplug(w);
    }
}

static void shows_states_without_packets(void **state) {
    static const struct {
        const char *word, *line;
    } rows[] = {
        {"no packets yet", "rx n=1 t=5000 ch=1500,1500,1000 got=0 lost=0 fs=1"},
        {"unknown", "1500,1480,1000"},
        {"unknown", "aileron:1500\televator:1480\tthrottle:1000"},
        {"unknown", "rx ch=1500,1480,1000"},
    };
    struct world *w = *state;
    for (size_t i = 0; i < COUNT(rows); i++) {
        put_model(w, "[port]\nno_lines_ms = 600000\n");
        world_watch(w, plain, WORDS("--mute", "--model", "card.ini"));
        world_line(w, "%s", rows[i].line);
        world_line(w, "%s", rows[i].line); /* a first line may be taken for one joined midway */
        world_state(w, rows[i].word);
        if (strcmp(rows[i].word, "unknown") == 0)
            world_shows_row(w, WORDS("loss", "unknown"));
        world_unplug(w);
    }
}

static void shows_that_lines_stopped(void **state) {
    struct world *w = *state;
    put_model(w, "[port]\nno_lines_ms = 300\n");
    world_watch(w, plain, WORDS("--mute", "--model", "card.ini"));
    world_reports(w, 3, 5, 0, "fs=0");
    world_shows(w, "no line on the cable for");
    world_state(w, "no lines");
    world_reports(w, 3, 5, 0, "fs=0");
    world_shows_row(w, WORDS("lines", "6 good"));
}

static void follows_its_size(void **state) {
    static const struct {
        int rows, columns;
        bool whole; /* the page fits */
    } sizes[] = {{40, 120, true}, {15, 60, false}, {24, 80, true}, {50, 160, true},
                 {5, 20, false},  {1, 1, false},   {24, 80, true}};
    struct world *w = *state;
    put_model(w, "[port]\nno_lines_ms = 600000\n");
    world_watch(w, plain, WORDS("--mute", "--model", "card.ini"));
    world_identity(w);
    uint32_t begun = w->n - 1; /* the id line is one more */
    world_reports(w, 5, 5, 0, "fs=0");
    world_state(w, "linked");
    for (size_t i = 0; i < COUNT(sizes); i++) {
        char good[32];
        term_resize(w->term, sizes[i].rows, sizes[i].columns);
        world_reports(w, 1, 5, 0, "fs=0");
        if (!sizes[i].whole) {
            if (sizes[i].columns > 10)
                world_state(w, "linked");
            continue;
        }
        snprintf(good, sizeof good, "%u good", (unsigned)(w->n - begun));
        world_shows_row(w, WORDS("lines", good));
        world_state(w, "linked");
        world_shows_row(w, WORDS("q quit", "? help"));
        world_shows_at(w, sizes[i].rows - 1, "q quit");
        world_shows_at(w, 0, "airleash");
        const char *first = strstr(term_text(w->term), "q quit");
        world_check(w, strstr(first + 1, "q quit") == NULL, "nothing is left of the old size");
        world_shows_row(w, WORDS("ch4", "1800"));
    }
}

static void helps_with_every_key(void **state) {
    struct world *w = *state;
    world_watch(w, plain, WORDS("--mute"));
    term_send(w->term, "?");
    for (size_t i = 0; i < key_rows_count; i++) {
        char name[8];
        if ((key_rows[i].where & IN_LIVE) == 0)
            continue;
        keys_name(key_rows[i].key, name);
        world_shows_row(w, WORDS(name, key_rows[i].help));
    }
    world_state(w, "no lines"); /* the state stays in sight */
    term_send(w->term, "\033");
    world_hides(w, "keys (Esc closes)");
    term_send(w->term, "?");
    world_shows(w, "keys (Esc closes)");
    term_send(w->term, "?");
    world_hides(w, "keys (Esc closes)");
    term_send(w->term, "?");
    world_shows(w, "keys (Esc closes)");
    term_send(w->term, "q"); /* closes the help, not the program */
    world_hides(w, "keys (Esc closes)");
    term_resize(w->term, 12, 60);
    term_send(w->term, "?");
    world_shows(w, "larger screens show more"); /* what is cut off is told */
    term_send(w->term, "\033");
    world_hides(w, "larger screens show more");
    term_resize(w->term, 24, 80);
    term_send(w->term, "b");
    world_shows(w, "bell on");
}

static void far_view_is_large(void **state) {
    struct world *w = *state;
    world_watch(w, plain, WORDS("--mute", "--big"));
    world_identity(w);
    world_reports(w, 5, 5, 0, "fs=0");
    world_shows(w, "LOSS OVER 10 s");
    world_shows(w, "\u2588\u2588\u2588"); /* letters of blocks */
    term_send(w->term, "f");
    world_hides(w, "LOSS OVER 10 s");
    world_shows_row(w, WORDS("ch4", "1800"));
    term_send(w->term, "f");
    world_shows(w, "LOSS OVER 10 s");
    world_reports(w, 1, 5, 0, "fs=0 tstep=1/4"); /* what must not be forgotten shows there too */
    world_shows(w, "REDUCED TRANSMIT POWER");
}

/* --- colour and characters -------------------------------------------------------------------- */

static void is_readable_without_colour(void **state) {
    static const struct {
        const char *legend, *option, *env;
        bool coloured;
    } rows[] = {
        {"by default", "--mute", "X=1", true},
        {"--mono", "--mono", "X=1", false},
        {"NO_COLOR (no-color.org: set and not empty)", "--mute", "NO_COLOR=1", false},
        {"NO_COLOR empty means nothing", "--mute", "NO_COLOR=", true},
        {"a terminal without colours", "--mute", "TERM=vt220", false},
    };
    struct world *w = *state;
    for (size_t i = 0; i < COUNT(rows); i++) {
        world_watch(w, (struct start){.env = WORDS(rows[i].env)}, WORDS(rows[i].option));
        world_identity(w);
        world_reports(w, 5, 5, 0, "fs=0");
        world_reports(w, 5, 0, 0, "fs=1");
        world_shows(w, "FAILSAFE: outputs at their presets");
        struct term_look look = term_look_any(w->term);
        if (look.coloured != rows[i].coloured)
            world_fail(w, "colour", rows[i].legend);
        world_check(w, look.bold, "something is bold");
        world_check(w, rows[i].coloured || look.reverse, "what matters is reversed");
        world_unplug(w);
    }
}

static bool all_ascii(const char *bytes, size_t len) {
    for (size_t i = 0; i < len; i++)
        if ((unsigned char)bytes[i] >= 0x80)
            return false;
    return true;
}

static void keeps_to_ascii_where_asked(void **state) {
    static const struct {
        const char *legend, *option, *env;
        bool ascii;
    } rows[] = {
        {"UTF-8", "--mute", "X=1", false},
        {"--ascii", "--ascii", "X=1", true},
        {"a locale without UTF-8", "--mute", "LC_ALL=C", true},
        {"a locale that isn't there", "--mute", "LC_ALL=xx_YY.UTF-8", true},
    };
    struct world *w = *state;
    for (size_t i = 0; i < COUNT(rows); i++) {
        world_watch(w, (struct start){.env = WORDS(rows[i].env)}, WORDS(rows[i].option));
        world_identity(w);
        world_reports(w, 20, 5, 0, "fs=0");
        world_reports(w, 20, 4, 1, "fs=0");
        world_reports(w, 5, 0, 0, "fs=1");
        world_shows(w, "FAILSAFE: outputs at their presets");
        term_send(w->term, "?");
        world_shows(w, "keys (Esc closes)");
        term_send(w->term, "\033");
        world_hides(w, "keys (Esc closes)");
        term_send(w->term, "f");
        world_shows(w, "LOSS OVER 10 s");
        term_send(w->term, "n");
        world_shows(w, "Enter takes it");
        size_t len;
        const char *bytes = term_bytes(w->term, &len);
        if (all_ascii(bytes, len) != rows[i].ascii)
            world_fail(w, "characters", rows[i].legend);
        world_unplug(w);
    }
}

/* ECMA-48 and xterm control sequences, and Unicode's direction marks, that must not get through. */
static const struct {
    const char *legend, *bytes;
} attacks[] = {
    {"window title", "\033]0;owned\007"},
    {"report a position", "\033[6n"},
    {"reset", "\033c"},
    {"mouse", "\033[?1000h"},
    {"device control", "\033P$q\"p\033\\"},
    {"odd colours", "\033[38;2;1;2;3m"},
    {"eight-bit CSI", "\x9b"
                      "5m"},
    {"C1 in UTF-8", "\302\233"
                    "5m"},
    {"right to left", "\342\200\256"},
    {"overlong escape", "\300\233"
                        "[5m"},
    {"truncated UTF-8", "\342\200"},
    {"wide character", "\345\244\247"},
    {"combining", "e\314\201"},
    {"bell", "\007"},
    {"shift out", "\016"},
    {"delete", "\177"},
};

static bool holds(const char *bytes, size_t len, const char *wanted) {
    return memmem(bytes, len, wanted, strlen(wanted)) != NULL;
}

/* Bytes that a terminal acts upon, other than those that drawing needs. */
static bool has_odd_controls(const char *bytes, size_t len) {
    for (size_t i = 0; i < len; i++) {
        unsigned char c = (unsigned char)bytes[i];
        bool drawing = c == '\r' || c == '\n' || c == '\b' || c == '\t' || c == 0x1B;
        if ((c < 0x20 && !drawing) || c == 0x7F)
            return true;
    }
    return false;
}

static void lets_no_byte_through(void **state) {
    struct world *w = *state;
    world_watch(w, (struct start){.rows = 50, .columns = 120},
                WORDS("--mute", "--out", "hostile.csv"));
    world_identity(w);
    world_reports(w, 3, 5, 0, "fs=0");
    for (size_t i = 0; i < COUNT(attacks); i++) {
        world_line(w, "say %s!", attacks[i].bytes);
        world_line(w, "id end=rx fw=%s", attacks[i].bytes);
        world_line(w, "%s", attacks[i].bytes);
        world_line(w, "rx ch=1500 odd%s=1", attacks[i].bytes);
        world_line(w, "%s:1500 b:1600", attacks[i].bytes);
    }
    world_reports(w, 3, 5, 0, "fs=0");
    world_line(w, "say still afloat");
    world_shows(w, "receiver says: still afloat");
    world_state(w, "linked");
    term_send(w->term, "\014");
    term_resize(w->term, 24, 80);
    world_shows_row(w, WORDS("q quit", "? help"));
    size_t len;
    const char *bytes = term_bytes(w->term, &len);
    for (size_t i = 0; i < COUNT(attacks); i++)
        if (holds(bytes, len, attacks[i].bytes))
            world_fail(w, "reached the terminal", attacks[i].legend);
    world_check(w, !has_odd_controls(bytes, len), "no control bytes but those of drawing");
    assert_int_equal(term_bells(w->term), 0);
}

static void lets_no_name_through(void **state) {
    struct world *w = *state;
    world_plug(w);
    world_run(w, plain, WORDS("watch", world_link(w, "\033[31mtug\007"), "--mute"));
    world_shows(w, "no line on the cable");
    size_t len;
    const char *bytes = term_bytes(w->term, &len);
    world_check(w, holds(bytes, len, "tug"), "the name is shown");
    world_check(w, !has_odd_controls(bytes, len), "without its controls");
    world_check(w, !holds(bytes, len, "\033[31mtug"), "without its colour");
}

/* --- the person ------------------------------------------------------------------------------- */

static void takes_marks(void **state) {
    static const struct {
        const char *keys, *asks, *typed, *shown, *row; /* row: in the recording */
    } marks[] = {
        {"s", "how far", "25.5\r", "stop at 25.5 m", "25.5"},
        {"s", "how far", "far off\r", "not marked", NULL},
        {"s", "how far", "-3\r", "not marked", NULL},
        {"s", "how far", "\r", "not marked", NULL},
        {"l", NULL, NULL, "left the stop", "leave"},
        {"t", NULL, NULL, "twitch seen", "twitch"},
        {"a", "face", "bow to the jetty\r", "facing: bow to the jetty", "facing=bow to the jetty"},
        {"n", "note", "wind, M\303\266wen\177\177\177\177\303\266wen\r", "note: wind, M",
         "text=wind, M\303\266wen"},
        {"n", "note", "gone\033", NULL, NULL},
        {"s", "how far", "3\177\17770\r", "stop at 70 m", "70"},
    };
    struct world *w = *state;
    world_watch(w, (struct start){.rows = 40}, WORDS("--mute", "--out", "marks.csv"));
    world_identity(w);
    world_reports(w, 3, 5, 0, "fs=0");
    world_shows_row(w, WORDS("lines", "4 good"));
    for (size_t i = 0; i < COUNT(marks); i++) {
        term_send(w->term, marks[i].keys);
        if (marks[i].asks != NULL) {
            world_shows(w, marks[i].asks);
            world_shows(w, "Enter takes it");
            term_send(w->term, marks[i].typed);
            world_hides(w, "Enter takes it");
        }
        if (marks[i].shown != NULL)
            world_shows(w, marks[i].shown);
        term_send(w->term, "b"); /* the next word takes the place of the last */
        world_shows(w, "bell o");
    }
    term_send(w->term, "q");
    assert_int_equal(term_wait_end(w->term), 0);
    char *text = world_file(w, "marks.csv");
    assert_non_null(text);
    for (size_t i = 0; i < COUNT(marks); i++)
        if (marks[i].row != NULL && strstr(text, marks[i].row) == NULL)
            world_fail(w, "no such row", marks[i].row);
    assert_null(strstr(text, "far off"));
    assert_null(strstr(text, "gone"));
    free(text);
}

static void records_by_key(void **state) {
    struct world *w = *state;
    world_watch(w, (struct start){.columns = 120}, WORDS("--mute"));
    world_identity(w);
    world_reports(w, 3, 5, 0, "fs=0");
    world_shows_row(w, WORDS("lines", "4 good"));
    world_shows(w, "not recording");
    term_send(w->term, "r");
    world_shows(w, "recording into");
    world_reports(w, 7, 5, 0, "fs=0 mv=5005");
    world_shows_row(w, WORDS("lines", "11 good"));
    world_hides(w, "not recording");
    term_send(w->term, "r");
    world_shows(w, "not recording");
    char *text = world_file_holds(w, "airleash-*.csv", "\nend,");
    size_t rows = 0;
    for (const char *at = text; (at = strstr(at, "\nrx,")) != NULL; at++)
        rows++;
    assert_int_equal(rows, 7);
    free(text);
}

static void pause_holds_the_picture_not_the_data(void **state) {
    struct world *w = *state;
    put_model(w, "[port]\nno_lines_ms = 600000\n");
    world_watch(w, plain, WORDS("--mute", "--out", "pause.csv", "--model", "card.ini"));
    world_identity(w);
    world_reports(w, 3, 5, 0, "fs=0");
    world_shows_row(w, WORDS("lines", "4 good"));
    term_send(w->term, "p");
    world_shows(w, "PAUSED");
    world_reports(w, 9, 5, 0, "fs=0 mv=4321");
    world_line(w, "say rowed past the pier");
    free(world_file_holds(w, "pause.csv", "rowed past the pier"));
    term_send(w->term, "b"); /* drawn after the data were taken */
    world_shows(w, "bell on");
    world_shows_row(w, WORDS("lines", "4 good"));
    world_lacks(w, "rowed past");
    world_lacks(w, "4.32");
    term_send(w->term, "p");
    world_hides(w, "PAUSED");
    world_shows_row(w, WORDS("lines", "14 good"));
    world_shows(w, "receiver says: rowed past the pier");
    world_shows(w, "4.32 V");
}

static void runs_a_command_on_alarm(void **state) {
    struct world *w = *state;
    world_watch(
        w, plain,
        WORDS("--on-alarm", "printf '<%s>' \"$AIRLEASH_ALARM\" >> alarms; echo on; echo no >&2"));
    world_identity(w);
    world_reports(w, 5, 5, 0, "fs=0");
    world_reports(w, 10, 0, 0, "fs=1");
    free(world_file_holds(w, "alarms", "<failsafe>"));
    char *text = world_file_holds(w, "alarms", "<outage>");
    assert_null(strstr(text, "<supply>"));
    free(text);
    for (int i = 0; i < 400 && term_bells(w->term) == 0; i++)
        term_pump(w->term, 50);
    assert_true(term_bells(w->term) > 0);
    world_state(w, "failsafe");
}

/* A pause holds the picture; what it hides must be heard all the same. */
static void alarms_while_paused(void **state) {
    struct world *w = *state;
    world_watch(w, plain, WORDS("--on-alarm", "printf '<%s>' \"$AIRLEASH_ALARM\" >> heard"));
    world_identity(w);
    world_reports(w, 5, 5, 0, "fs=0");
    world_state(w, "linked");
    term_send(w->term, "p");
    world_shows(w, "PAUSED");
    world_reports(w, 10, 0, 0, "fs=1");
    free(world_file_holds(w, "heard", "<failsafe>"));
    world_state(w, "linked");
    for (int i = 0; i < 400 && term_bells(w->term) == 0; i++)
        term_pump(w->term, 50);
    assert_true(term_bells(w->term) > 0);
    term_send(w->term, "p");
    world_state(w, "failsafe");
}

static void reminds_of_reduced_power(void **state) {
    struct world *w = *state;
    world_watch(w, plain, WORDS("--mute"));
    world_identity(w);
    world_reports(w, 3, 5, 0, "fs=0 tstep=4/4");
    world_shows(w, "power 4/4");
    world_lacks(w, "REDUCED");
    world_reports(w, 3, 5, 0, "fs=0 tstep=1/4");
    world_shows(w, "REDUCED TRANSMIT POWER");
    term_send(w->term, "q");
    world_shows(w, "BEFORE YOU QUIT");
    world_shows(w, "step 1 of 4");
    term_send(w->term, "n");
    world_hides(w, "BEFORE YOU QUIT");
    term_send(w->term, "q");
    world_shows(w, "BEFORE YOU QUIT");
    term_send(w->term, "y");
    assert_int_equal(term_wait_end(w->term), 0);
    assert_false(term_altscreen(w->term));
    world_shows(w, "last seen below full power (step 1 of 4)");
}

/* A person's word counts only while no packet says otherwise. */
static void takes_the_word_that_power_is_full(void **state) {
    struct world *w = *state;
    world_watch(w, plain, WORDS("--mute"));
    world_identity(w);
    term_send(w->term, "u");
    world_shows(w, "nothing says that transmit power is reduced");
    world_reports(w, 3, 5, 0, "fs=0 tstep=1/4");
    world_shows(w, "REDUCED TRANSMIT POWER");
    term_send(w->term, "u");
    world_shows(w, "the transmitter itself says step 1 of 4");
    world_reports(w, 40, 0, 0, "fs=1"); /* switched off: its word is old now */
    world_state(w, "failsafe");
    term_send(w->term, "u");
    world_shows(w, "Is it back at full power?");
    term_send(w->term, "n");
    world_hides(w, "Is it back");
    world_shows(w, "REDUCED TRANSMIT POWER");
    term_send(w->term, "u");
    world_shows(w, "Is it back at full power?");
    term_send(w->term, "y");
    world_hides(w, "REDUCED TRANSMIT POWER");
    world_reports(w, 3, 5, 0, "fs=0 tstep=2/4"); /* it wasn't */
    world_shows(w, "REDUCED TRANSMIT POWER");
    world_reports(w, 3, 5, 0, "fs=0 tstep=4/4");
    world_hides(w, "REDUCED TRANSMIT POWER");
    term_send(w->term, "q");
    assert_int_equal(term_wait_end(w->term), 0);
}

/* --- the range walk --------------------------------------------------------------------------- */

static void wait_bells(struct world *w, unsigned count) {
    for (int i = 0; i < 400 && term_bells(w->term) < count; i++)
        term_pump(w->term, 50);
    world_check(w, term_bells(w->term) == count, "bells as expected");
}

/* The stops of `airleash walk FILE ...`. */
static json_t *stops_of(struct world *w, const char *const *arguments) {
    int status;
    char *text = world_output(w, arguments, &status);
    assert_int_equal(status, 0);
    json_t *whole = json_loads(text, 0, NULL);
    json_t *stops = json_incref(json_object_get(whole, "stops"));
    json_decref(whole);
    free(text);
    return stops;
}

/* Hands on the transmitter only: channel 4's switch marks, the bell answers; and the recording's
 * marks give the same stops as the switch does afterwards. */
static void is_walked_alone_by_a_switch(void **state) {
    static const char rest[] = "fs=0 fsn=0 in=1500,1500,1000,1000";
    static const char held[] = "fs=0 fsn=0 in=1500,1500,1000,2000";
    struct world *w = *state;
    world_watch(w, (struct start){.rows = 30},
                WORDS("--switch", "4", "--plan", "5,10", "--stay", "4", "--out", "walk.csv"));
    world_identity(w);
    world_shows(w, "walk: under way, next stop at 5 m");
    world_reports(w, 20, 5, 0, rest);
    world_reports(w, 20, 5, 0, held);
    world_shows(w, "channel 4 to its other end");
    world_reports(w, 40, 5, 0, rest);
    world_shows(w, "walk: stop 1 at 5 m");
    world_shows(w, "turn slowly here");
    world_shows_row(w, WORDS("stay", "s more"));
    wait_bells(w, 1);
    world_reports(w, 42, 5, 0, rest);
    world_shows(w, "walk: under way, next stop at 10 m");
    world_shows(w, "5 m held");
    wait_bells(w, 3);
    world_reports(w, 20, 5, 0, held);
    world_reports(w, 20, 5, 0, rest);
    world_shows(w, "walk: stop 2 at 10 m");
    wait_bells(w, 4);
    world_reports(w, 70, 0, 0, "fs=1 fsn=1");
    world_shows(w, "THE LINK DIED at 10 m");
    world_shows_row(w, WORDS("5 m held", "10 m FAILED"));
    wait_bells(w, 7); /* no alarm's bell in between */
    term_send(w->term, "w");
    world_hides(w, "THE LINK DIED");
    term_send(w->term, "q");
    assert_int_equal(term_wait_end(w->term), 0);
    json_t *marked = stops_of(w, WORDS("walk", "walk.csv", "--json"));
    json_t *found = stops_of(
        w, WORDS("walk", "walk.csv", "--json", "--switch", "4", "--plan", "5,10", "--stay", "4"));
    assert_int_equal(json_array_size(marked), 2);
    /* 4 s: the report at which the switch is back, and 80 more */
    json_t *first = json_array_get(marked, 0);
    assert_int_equal(json_integer_value(json_object_get(first, "from_ms")), 40 * 50);
    assert_int_equal(json_integer_value(json_object_get(first, "to_ms")), 40 * 50 + 4000);
    assert_int_equal(json_integer_value(json_object_get(first, "packets")), 400);
    assert_true(json_is_true(json_object_get(json_array_get(marked, 1), "died")));
    assert_true(json_equal(marked, found));
    json_decref(marked);
    json_decref(found);
}

/* The transmitter on a stand, the computer carried: one key a stop. */
static void is_walked_with_one_key_a_stop(void **state) {
    struct world *w = *state;
    world_watch(w, plain, WORDS("--plan", "5,10,20", "--out", "keys.csv"));
    world_identity(w);
    world_reports(w, 10, 5, 0, "fs=0 fsn=0");
    world_shows(w, "s marks a stop, . the planned one");
    term_send(w->term, ".");
    world_shows(w, "walk: stop 1 at 5 m");
    world_reports(w, 20, 5, 0, "fs=0 fsn=0 gap=10");
    world_shows_row(w, WORDS("about 2 s more"));
    world_shows_row(w, WORDS("loss", "of 1", "gap 10 ms", "failsafe 0"));
    world_reports(w, 45, 5, 0, "fs=0 fsn=0 gap=10");
    world_shows(w, "ENOUGH");
    wait_bells(w, 2);
    term_send(w->term, "s");
    world_shows(w, "Enter alone: 10 m, as planned");
    term_send(w->term, "\r");
    world_shows(w, "walk: stop 2 at 10 m");
    /* These lines come faster than real time: the first of them still lie before the mark. */
    world_reports(w, 60, 5, 0, "fs=0 fsn=0");
    world_reports(w, 60, 4, 1, "fs=0 fsn=1");
    term_send(w->term, "s15\r"); /* another than planned: the plan goes on behind it */
    world_shows(w, "walk: stop 3 at 15 m");
    term_send(w->term, "l");
    world_shows(w, "walk: under way, next stop at 20 m");
    world_shows_row(w, WORDS("5 m held", "10 m FAILED"));
    term_send(w->term, ".");
    world_shows(w, "walk: stop 4 at 20 m");
    term_send(w->term, ".");
    world_shows(w, "the plan has no more stops");
    term_send(w->term, "q");
    assert_int_equal(term_wait_end(w->term), 0);
    json_t *stops = stops_of(w, WORDS("walk", "keys.csv", "--json"));
    assert_int_equal(json_array_size(stops), 4);
    json_decref(stops);
}

/* --- the port goes and comes ------------------------------------------------------------------ */

static void waits_for_a_port_that_went(void **state) {
    struct world *w = *state;
    world_plug(w);
    world_run(w, (struct start){.rows = 40},
              WORDS("watch", world_link(w, "tug"), "--mute", "--out", "back.csv"));
    world_shows(w, "no line on the cable");
    world_identity(w);
    world_reports(w, 3, 5, 0, "fs=0");
    world_shows_row(w, WORDS("lines", "4 good"));
    world_unplug(w);
    world_shows(w, "PORT GONE");
    world_shows(w, "port gone: unplugged?");
    world_plug(w);
    world_link(w, "tug");
    world_shows(w, "Is this the same board?");
    world_shows(w, "PORT BACK, NOT OPEN");
    world_shows(w, "yes, go on");
    term_send(w->term, "y");
    world_hides(w, "PORT BACK");
    world_shows(w, "port back");
    world_reports(w, 3, 5, 0, "fs=0");
    world_shows_row(w, WORDS("lines", "7 good", "0 missing"));
    world_shows_row(w, WORDS("restarts", "receiver 0"));
    term_send(w->term, "q");
    assert_int_equal(term_wait_end(w->term), 0);
    char *text = world_file(w, "back.csv");
    const char *lost = strstr(text, ",lost"), *back = strstr(text, ",back"),
               *end = strstr(text, "\nend,");
    assert_true(lost != NULL && back != NULL && end != NULL && lost < back && back < end);
    assert_non_null(strstr(back, "\nrx,"));
    free(text);
}

static void lets_go_of_the_port_and_takes_it(void **state) {
    struct world *w = *state;
    world_watch(w, (struct start){.rows = 40}, WORDS("--mute"));
    world_identity(w);
    world_reports(w, 3, 5, 0, "fs=0");
    world_shows_row(w, WORDS("lines", "4 good"));
    term_send(w->term, "gy");
    world_shows(w, "PORT LET GO");
    struct pollfd other = {.fd = w->port};
    assert_int_equal(poll(&other, 1, 0), 1); /* nobody holds the other end */
    assert_true(other.revents & POLLHUP);
    term_send(w->term, "gy");
    world_hides(w, "PORT LET GO");
    world_shows(w, "port taken again");
    world_reports(w, 3, 5, 0, "fs=0");
    world_shows_row(w, WORDS("lines", "7 good"));
    world_shows_row(w, WORDS("restarts", "receiver 0"));
    world_lacks(w, "port gone");
}

/* --- the end ---------------------------------------------------------------------------------- */

static bool same_modes(const struct termios *a, const struct termios *b) {
    return a->c_iflag == b->c_iflag && a->c_oflag == b->c_oflag && a->c_cflag == b->c_cflag &&
           a->c_lflag == b->c_lflag && memcmp(a->c_cc, b->c_cc, sizeof a->c_cc) == 0;
}

/* The last row, without its line end. */
static const char *last_row(char *text) {
    size_t len = strlen(text);
    while (len > 0 && (text[len - 1] == '\n' || text[len - 1] == '\r'))
        text[--len] = '\0';
    char *row = strrchr(text, '\n');
    return row != NULL ? row + 1 : text;
}

static void leaves_the_terminal_as_it_was(void **state) {
    static const struct {
        const char *legend, *keys;
        int signal;
    } ways[] = {
        {"q", "q", 0}, {"Ctrl-C", "\003", 0}, {"SIGTERM", "", SIGTERM}, {"SIGHUP", "", SIGHUP}};
    struct world *w = *state;
    for (size_t i = 0; i < COUNT(ways); i++) {
        char name[32];
        snprintf(name, sizeof name, "end%zu.csv", i);
        world_watch(w, plain, WORDS("--mute", "--out", name));
        struct termios during = term_modes(w->term);
        world_reports(w, 20, 5, 0, "fs=0");
        world_shows_row(w, WORDS("lines", "20 good"));
        world_check(w, term_altscreen(w->term) && !term_cursor_visible(w->term),
                    "on its own screen");
        term_send(w->term, ways[i].keys);
        if (ways[i].signal != 0)
            kill(term_pid(w->term), ways[i].signal);
        int status = term_wait_end(w->term);
        if (status != 0)
            world_fail(w, "its status", ways[i].legend);
        struct termios after = term_modes(w->term);
        world_check(w, !term_altscreen(w->term) && term_cursor_visible(w->term), ways[i].legend);
        world_check(w, after.c_lflag & ICANON && after.c_lflag & ECHO && !(during.c_lflag & ICANON),
                    "modes");
        world_shows_row(w, WORDS("rows into", name));
        char *text = world_file(w, name);
        assert_non_null(text);
        size_t len = strlen(text);
        world_check(w, len > 2 && text[len - 1] == '\n', "the last row has its end");
        assert_memory_equal(last_row(text), "end,", 4);
        free(text);
        world_unplug(w);
    }
}

/* All modes, compared with those of a terminal in which only a shell runs. */
static void gives_back_every_mode(void **state) {
    struct world *w = *state;
    char script[256];
    world_plug(w);
    snprintf(script, sizeof script,
             "stty -ixon erase ^H; echo go; read x; '%s' watch %s --mute; read x", w->program,
             w->port_name);
    char shell[] = "/bin/sh", option[] = "-c";
    char *argv[] = {shell, option, script, NULL};
    struct term_setup setup = {.rows = 24, .columns = 80, .folder = w->folder};
    w->term = term_start(&setup, argv);
    world_shows(w, "go");
    struct termios before = term_modes(w->term);
    term_send(w->term, "\r");
    world_shows(w, "no line on the cable");
    struct termios during = term_modes(w->term);
    assert_false(same_modes(&before, &during));
    term_send(w->term, "q");
    for (int i = 0; i < 400 && term_altscreen(w->term); i++)
        term_pump(w->term, 50);
    assert_false(term_altscreen(w->term));
    struct termios after = term_modes(w->term);
    for (int i = 0; i < 400 && !same_modes(&before, &after); i++) {
        term_pump(w->term, 50); /* given back after the screen */
        after = term_modes(w->term);
    }
    assert_true(same_modes(&before, &after));
}

static long long number_at(const char *json, const char *object, const char *key) {
    json_error_t error;
    json_t *root = json_loads(json, 0, &error), *inner = json_object_get(root, object);
    json_t *value = json_object_get(inner, key);
    long long number = json_is_integer(value) ? json_integer_value(value) : -1;
    json_decref(root);
    return number;
}

/* Rows are written before the page is painted: what was seen is in the file. */
static void kill_costs_at_most_a_torn_row(void **state) {
    struct world *w = *state;
    world_watch(w, plain, WORDS("--mute", "--out", "killed.csv"));
    world_reports(w, 40, 5, 0, "fs=0");
    world_shows_row(w, WORDS("lines", "40 good"));
    kill(term_pid(w->term), SIGKILL);
    assert_int_equal(term_wait_end(w->term), 1000 + SIGKILL);
    int status;
    char *json = world_output(w, WORDS("figures", "--json", "killed.csv"), &status);
    assert_int_equal(status, 0);
    assert_int_equal(number_at(json, "lines", "good"), 40);
    assert_int_equal(number_at(json, "packets", "got"), 200);
    free(json);
}

/* A power cut or a kill in the middle of a write: the row before it is the last. */
static void reads_past_a_torn_row(void **state) {
    struct world *w = *state;
    char path[128];
    struct stat st;
    int status;
    world_watch(w, plain, WORDS("--mute", "--out", "torn.csv"));
    world_reports(w, 40, 5, 0, "fs=0");
    world_shows_row(w, WORDS("lines", "40 good"));
    kill(term_pid(w->term), SIGKILL);
    assert_int_equal(term_wait_end(w->term), 1000 + SIGKILL);
    snprintf(path, sizeof path, "%s/torn.csv", w->folder);
    assert_int_equal(stat(path, &st), 0);
    assert_int_equal(truncate(path, st.st_size - 20), 0);
    char *json = world_output(w, WORDS("figures", "--json", "torn.csv"), &status);
    assert_int_equal(status, 0);
    assert_int_equal(number_at(json, "lines", "good"), 39);
    assert_int_equal(number_at(json, "packets", "got"), 195);
    free(json);
    world_run(w, plain, WORDS("replay", "torn.csv", "--mute", "--pace", "0"));
    world_shows(w, "at the end");
    world_shows(w, "1 row could not be read: passed over");
    world_lacks(w, "torn.csv:"); /* what was said of it came before the screen, not into it */
    world_shows_row(w, WORDS("in all", "(0 of 195)"));
    world_shows_row(w, WORDS("lines", "39 good"));
    term_send(w->term, "q");
    assert_int_equal(term_wait_end(w->term), 0);
    world_run(w, plain, WORDS("watch", "torn.csv", "--mute"));
    world_shows(w, "this is a recording, not lines");
}

/* What came of a line that had no end yet is damage, not nothing: bytes in are bytes accounted
 * for. */
static void keeps_the_open_line_at_the_end(void **state) {
    static const char wire[] = "say casting off\nrx n=4001 t=2000";
    struct world *w = *state;
    world_watch(w, plain, WORDS("--mute", "--out", "open.csv"));
    world_reports(w, 5, 5, 0, "fs=0");
    world_wire(w, wire, sizeof wire - 1);
    world_shows(w, "receiver says: casting off");
    term_send(w->term, "q");
    assert_int_equal(term_wait_end(w->term), 0);
    char *text = world_file_holds(w, "open.csv", "\ndamage,");
    assert_non_null(strstr(text, "rx n=4001 t=2000"));
    free(text);
}

static void ends_whole_when_the_terminal_goes(void **state) {
    struct world *w = *state;
    world_watch(w, plain, WORDS("--mute", "--out", "gone.csv"));
    world_reports(w, 10, 5, 0, "fs=0");
    world_shows_row(w, WORDS("lines", "10 good"));
    term_hang_up(w->term);
    int status = term_wait_end(w->term);
    assert_int_not_equal(status, -1);
    char *text = world_file(w, "gone.csv");
    assert_non_null(text);
    assert_memory_equal(last_row(text), "end,", 4);
    free(text);
}

/* --- replay ----------------------------------------------------------------------------------- */

/* A minute of the simulated receiver as a raw capture in the folder; its figures. */
static void make_capture(struct world *w, long long *got, long long *lost) {
    char path[128];
    int status;
    char *text = world_output(
        w, WORDS("simulate", "--lines", "--fast", "--scene", "busy", "--for", "60"), &status);
    assert_int_equal(status, 0);
    snprintf(path, sizeof path, "%s/busy.log", w->folder);
    FILE *file = fopen(path, "w");
    fputs(text, file);
    fclose(file);
    free(text);
    char *json = world_output(w, WORDS("figures", "--json", "busy.log"), &status);
    assert_int_equal(status, 0);
    *got = number_at(json, "packets", "got");
    *lost = number_at(json, "packets", "lost");
    assert_true(*got > 1000 && *lost > 0);
    free(json);
}

static void replays_pauses_seeks_and_ends(void **state) {
    struct world *w = *state;
    long long got, lost;
    char total[64];
    make_capture(w, &got, &lost);
    snprintf(total, sizeof total, "(%lld of %lld)", lost, got + lost);
    world_run(w, plain, WORDS("replay", "busy.log", "--mute"));
    world_shows_row(w, WORDS("running", "of 0:00:59"));
    term_send(w->term, " ");
    world_shows(w, "paused");
    term_send(w->term,
              "\033OC\033OC"); /* twice 10 s on: xterm's Right with keypad in application mode */
    world_shows_row(w, WORDS("paused", "0:00:2", "of"));
    term_send(w->term, "\033OD");
    world_shows_row(w, WORDS("paused", "0:00:1", "of"));
    term_send(w->term, "\033OF"); /* End */
    world_shows(w, "at the end");
    world_shows_row(w, WORDS("in all", total));
    term_send(w->term, "\033OH"); /* Home */
    world_shows_row(w, WORDS("paused", "0:00:00 of"));
    world_hides(w, total);
    term_send(w->term, "+");
    world_shows(w, "2 times real time");
    for (int i = 0; i < 12; i++)
        term_send(w->term, "+");
    world_shows(w, "as fast as possible");
    term_send(w->term, " ");
    world_shows(w, "at the end");
    world_shows_row(w, WORDS("in all", total));
    term_send(w->term, "?");
    for (size_t i = 0; i < key_rows_count; i++) {
        char name[8];
        if ((key_rows[i].where & IN_REPLAY) == 0)
            continue;
        keys_name(key_rows[i].key, name);
        world_shows_row(w, WORDS(name, key_rows[i].help));
    }
    term_send(w->term, "\033");
    world_hides(w, "keys (Esc closes)");
    term_send(w->term, "q");
    assert_int_equal(term_wait_end(w->term), 0);
}

static void demo_moves(void **state) {
    struct world *w = *state;
    world_run(w, plain, WORDS("demo", "--mute"));
    world_state(w, "linked");
    world_shows_row(w, WORDS("ch1", ".."));
    int row, column;
    assert_true(term_find(w->term, "ch1", &row, &column));
    char first[512] = "", now[512] = "";
    for (int i = 0; i < 400; i++) {
        snprintf(now, sizeof now, "%s", term_row(w->term, row));
        if (i == 0)
            memcpy(first, now, sizeof first);
        if (strcmp(first, now) != 0)
            break;
        term_pump(w->term, 50);
    }
    assert_string_not_equal(first, now);
    term_send(w->term, "\003");
    assert_int_equal(term_wait_end(w->term), 0);
    assert_false(term_altscreen(w->term));
}

/* --- painting --------------------------------------------------------------------------------- */

/* The rows of a recording without their host times. */
static void cut_host_times(char *text) {
    char *out = text;
    for (const char *at = text; *at != '\0';) {
        while (*at != '\0' && *at != ',')
            *out++ = *at++;
        if (*at == ',')
            at++;
        while (*at >= '0' && *at <= '9')
            at++;
        while (*at != '\0' && *at != '\n')
            *out++ = *at++;
        if (*at == '\n')
            *out++ = *at++;
    }
    *out = '\0';
}

static unsigned long long feed_in_steps(struct world *w, bool repaint, const char *name) {
    enum { REPORTS = 100 }; /* five seconds of 20 reports a second */
    size_t before, after;
    w->n = 4000; /* both begin alike */
    w->t_ms = 200000;
    w->got = 1000;
    w->lost = 50;
    world_watch(w, plain, WORDS("--mute", "--out", name));
    world_identity(w);
    world_reports(w, 5, 5, 0, "fs=0 mv=5000 tstep=4/4");
    world_shows_row(w, WORDS("lines", "6 good"));
    term_bytes(w->term, &before);
    for (int i = 0; i < REPORTS; i++) {
        char good[32];
        world_reports(w, 1, i % 7 != 0 ? 5 : 4, i % 7 != 0 ? 0 : 1, "fs=0 mv=5000 tstep=4/4");
        if (repaint)
            term_send(w->term, "\014");
        snprintf(good, sizeof good, "%d good", 7 + i);
        world_shows_row(w, WORDS("lines", good));
    }
    term_bytes(w->term, &after);
    term_send(w->term, "q");
    assert_int_equal(term_wait_end(w->term), 0);
    world_unplug(w);
    return after - before;
}

static void painting_changes_no_data(void **state) {
    struct world *w = *state;
    unsigned long long spare = feed_in_steps(w, false, "spare.csv");
    unsigned long long full = feed_in_steps(w, true, "full.csv");
    char *one = world_file(w, "spare.csv"), *two = world_file(w, "full.csv");
    const char *first = strstr(one, "\nid,"), *second = strstr(two, "\nid,");
    assert_true(first != NULL && second != NULL);
    cut_host_times(one);
    cut_host_times(two);
    first = strstr(one, "\nid,");
    second = strstr(two, "\nid,");
    assert_non_null(first);
    assert_non_null(second);
    assert_string_equal(first, second);
    free(one);
    free(two);
    print_message("100 reports: %llu bytes to the terminal, %llu with full repaints: 1 to %.1f\n",
                  spare, full, (double)full / (double)spare);
    assert_true(spare * 3 < full);
}

/* A suspended SSH session reads nothing: what is measured is recorded all the same, and the picture
 * goes on when it reads again. */
static void records_while_the_terminal_takes_nothing(void **state) {
    enum { STEPS = 400 };
    struct world *w = *state;
    world_watch(w, (struct start){.rows = 60, .columns = 200},
                WORDS("--mute", "--out", "stuck.csv"));
    world_reports(w, 1, 5, 0, "fs=0");
    world_shows_row(w, WORDS("lines", "1 good"));
    for (int i = 0; i < STEPS; i++) { /* far more than a pseudo-terminal holds */
        char wanted[32];
        term_send(w->term, "\014");
        world_reports(w, 1, 5, 0, "fs=0");
        snprintf(wanted, sizeof wanted, ",%u,", (unsigned)w->t_ms);
        free(world_file_holds_unseen(w, "stuck.csv", wanted));
    }
    world_shows_row(w, WORDS("lines", "401 good"));
}

/* So is the last row, when it is ended then. */
static void ends_while_the_terminal_takes_nothing(void **state) {
    struct world *w = *state;
    world_watch(w, (struct start){.rows = 60, .columns = 200}, WORDS("--mute", "--out", "end.csv"));
    for (int i = 0; i < 40; i++) {
        char wanted[32];
        term_send(w->term, "\014");
        world_reports(w, 1, 5, 0, "fs=0");
        snprintf(wanted, sizeof wanted, ",%u,", (unsigned)w->t_ms);
        free(world_file_holds_unseen(w, "end.csv", wanted));
    }
    kill(term_pid(w->term), SIGTERM);
    free(world_file_holds_unseen(w, "end.csv", "\nend,"));
    assert_int_equal(term_wait_end(w->term), 0);
    assert_true(term_modes(w->term).c_lflag & ICANON);
}

static double seconds_now(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

/* Every paint in a flood changes the last digit of the count of lines, nine times of ten.  Counted
 * until then were only paints that began since, so the cap holds however slow the machine is. */
static void caps_its_paints_in_a_flood(void **state) {
    enum { SECONDS = 1, A_SECOND = 60 };
    struct world *w = *state;
    int row, column;
    world_watch(w, plain, WORDS("--mute"));
    world_identity(w);
    world_reports(w, 99999, 5, 0, "fs=0");
    world_shows_row(w, WORDS("lines", "100000 good"));
    assert_true(term_find(w->term, "100000 good", &row, &column));
    term_count_cell(w->term, row, column + 5);
    double from = seconds_now();
    while (seconds_now() < from + SECONDS) {
        world_reports(w, 20, 5, 0, "fs=0");
        term_pump(w->term, 0);
    }
    unsigned long counted = term_counted(w->term);
    double took = seconds_now() - from;
    print_message("%lu paints seen in %.2f s\n", counted, took);
    assert_true(counted > 0);
    assert_true((double)counted <= took * A_SECOND + 3);
}

int main(void) {
#define TEST(name) cmocka_unit_test_setup_teardown(name, world_begin, world_end)
    const struct CMUnitTest tests[] = {
        TEST(shows_what_the_lines_say),
        TEST(shows_each_state_by_its_word),
        TEST(shows_states_without_packets),
        TEST(shows_that_lines_stopped),
        TEST(follows_its_size),
        TEST(helps_with_every_key),
        TEST(far_view_is_large),
        TEST(is_readable_without_colour),
        TEST(keeps_to_ascii_where_asked),
        TEST(lets_no_byte_through),
        TEST(lets_no_name_through),
        TEST(takes_marks),
        TEST(records_by_key),
        TEST(pause_holds_the_picture_not_the_data),
        TEST(runs_a_command_on_alarm),
        TEST(alarms_while_paused),
        TEST(reminds_of_reduced_power),
        TEST(takes_the_word_that_power_is_full),
        TEST(is_walked_alone_by_a_switch),
        TEST(is_walked_with_one_key_a_stop),
        TEST(waits_for_a_port_that_went),
        TEST(lets_go_of_the_port_and_takes_it),
        TEST(leaves_the_terminal_as_it_was),
        TEST(gives_back_every_mode),
        TEST(kill_costs_at_most_a_torn_row),
        TEST(reads_past_a_torn_row),
        TEST(keeps_the_open_line_at_the_end),
        TEST(ends_whole_when_the_terminal_goes),
        TEST(replays_pauses_seeks_and_ends),
        TEST(demo_moves),
        TEST(records_while_the_terminal_takes_nothing),
        TEST(ends_while_the_terminal_takes_nothing),
        TEST(painting_changes_no_data),
        TEST(caps_its_paints_in_a_flood),
    };
    if (getenv("ONLY") != NULL)
        cmocka_set_test_filter(getenv("ONLY"));
    return cmocka_run_group_tests(tests, NULL, NULL);
}
