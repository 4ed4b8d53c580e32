/* Hostile bytes against the console, with every view open in turn: whatever comes over the wire, by
 * names, keys and recordings, what goes to the terminal is only what draws the page; memory stays
 * bounded, keys are answered, and every line is recorded.
 *
 * What may go out is read byte by byte: printable ASCII, the characters that the page is drawn
 * with, and the sequences of xterm-256color (terminfo(5), infocmp) with places inside the window.
 */
#include <fcntl.h>
#include <poll.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "view/keys.h"
#include "world.h"

#define COUNT(table) (sizeof(table) / sizeof(table)[0])

enum { ROWS = 50, COLUMNS = 120 };

static const struct start large = {.rows = ROWS, .columns = COLUMNS};

#define ATTACK(legend, bytes)                                                                      \
    { legend, bytes, sizeof(bytes) - 1 }

static const struct attack {
    const char *legend, *bytes;
    size_t len;
} attacks[] = {
    ATTACK("sets the title", "\033]0;owned\007"),
    ATTACK("the same by ST", "\033]2;owned\033\\"),
    ATTACK("asks for the title", "\033[21t"),
    ATTACK("asks who is there", "\033[c\033[6n\005"),
    ATTACK("moves the cursor", "\033[7777;7777H"),
    ATTACK("scrolls a region", "\033[5;777r"),
    ATTACK("colours", "\033[31;48;5;77;8m"),
    ATTACK("sends a device control", "\033P+q544e\033\\"),
    ATTACK("sets the clipboard", "\033]52;c;b3du\007"),
    ATTACK("links", "\033]8;;http://x\033\\"),
    ATTACK("leaves the other screen", "\033[?1049l"),
    ATTACK("resets", "\033c\033[!p"),
    ATTACK("changes the character set", "\033(0\016lqk\017"),
    ATTACK("C1 as bytes", "\2337777H\235\060;x\234\220q\234"),
    ATTACK("C1 in UTF-8", "\302\2337777H\302\235\302\205"),
    ATTACK("turns the direction", "\342\200\256\342\201\246\342\200\217"),
    ATTACK("zero width", "\342\200\213\342\200\215\357\273\277\302\255"),
    ATTACK("a tower", "e\314\201\314\201\314\201\314\201\314\201\314\201\314\201\314\201"),
    ATTACK("wide and beyond", "\346\227\245\360\237\232\242\363\240\201\201"),
    ATTACK("forms that are none", "\300\257\340\200\257\355\240\200\364\220\200\200\342\202"),
    ATTACK("backspaces", "xx\b\b\b\177\177"),
    ATTACK("line ends", "a\rb\r\n\n\r\vc\fd"),
    ATTACK("separators", "\342\200\250\342\200\251\302\205"),
    ATTACK("NUL", "a\0b\0\0"),
    ATTACK("formats", "%s%n%1000d%s"),
    ATTACK("flow control", "\023\021\004\003"),
    ATTACK("formula", "=cmd|' /C calc'!A0"),
    ATTACK("a huge number", "999999999999999999999999999999999999999999999999999999999999999999"),
};

/* --- what reached the terminal -----------------------------------------------------------------
 */

/* The page's own characters beyond ASCII; no attack has one of them. */
static bool is_ours(const unsigned char *at, size_t len, size_t *used) {
    static const struct {
        unsigned first, last;
    } ours[] = {{0xB0, 0xB7},     {0xD7, 0xD7},     {0x2013, 0x2026}, {0x2190, 0x2193},
                {0x2212, 0x2265}, {0x2500, 0x25FF}, {0x2800, 0x28FF}};
    unsigned rune = 0;
    if (len >= 2 && at[0] >= 0xC2 && at[0] < 0xE0) {
        rune = (at[0] & 0x1Fu) << 6 | (at[1] & 0x3Fu);
        *used = 2;
    } else if (len >= 3 && at[0] >= 0xE0 && at[0] < 0xF0) {
        rune = (at[0] & 0x0Fu) << 12 | (at[1] & 0x3Fu) << 6 | (at[2] & 0x3Fu);
        *used = 3;
    }
    for (size_t i = 0; i < COUNT(ours); i++)
        if (rune >= ours[i].first && rune <= ours[i].last)
            return true;
    return false;
}

/* A number of a sequence: a place or a count within the largest window, an attribute, a colour. */
static bool numbers_fit(const char *at, size_t len, char final) {
    unsigned value = 0;
    bool colour = false; /* after 38;5 or 48;5 anything below 256 */
    for (size_t i = 0; i <= len; i++) {
        if (i < len && at[i] >= '0' && at[i] <= '9') {
            value = value * 10 + (unsigned)(at[i] - '0');
            continue;
        }
        static const char known[] = "\000\001\002\004\007\012\026\030\033\046\047\060\061\005";
        bool attribute = value < 50 && memchr(known, (int)value, sizeof known - 1) != NULL;
        bool old_colour = (value >= 30 && value <= 47) || (value >= 90 && value <= 107);
        if (final == 'm' ? !(colour ? value < 256 : attribute || old_colour) : value > 200)
            return false;
        colour = final == 'm' && (value == 38 || value == 48 || (colour && value == 5));
        value = 0;
    }
    return true;
}

/* Bytes of a sequence that begins with ESC and that drawing needs; 0 where it is none. */
static size_t sequence(const char *at, size_t len) {
    static const char *const whole[] = {
        "\033[?1049h", "\033[?1049l",  "\033[22;0;0t", "\033[23;0;0t", "\033[?25l", "\033[?25h",
        "\033[?12l",   "\033[?12;25h", "\033[?7h",     "\033[?7l",     "\033[?1h",  "\033[?1l",
        "\033=",       "\033>",        "\033(B",       "\033[4l",      "\033M"};
    for (size_t i = 0; i < COUNT(whole); i++)
        if (len >= strlen(whole[i]) && memcmp(at, whole[i], strlen(whole[i])) == 0)
            return strlen(whole[i]);
    size_t end = 2;
    while (len > 2 && end < len && (at[end] == ';' || (at[end] >= '0' && at[end] <= '9')))
        end++;
    bool csi = len > 2 && at[1] == '[' && end < len && at[end] != '\0' &&
               strchr("ABCDGHJKLMPSTXbdmr@", at[end]) != NULL;
    return csi && numbers_fit(at + 2, end - 2, at[end]) ? end + 1 : 0;
}

static void show_bytes(const char *bytes, size_t at, size_t len) {
    size_t from = at > 60 ? at - 60 : 0, to = at + 60 < len ? at + 60 : len;
    fprintf(stderr, "--- the bytes, * before the one in question:\n");
    for (size_t i = from; i < to; i++) {
        unsigned char c = (unsigned char)bytes[i];
        fprintf(stderr, c >= 0x20 && c < 0x7F ? "%s%c" : "%s\\x%02X", i == at ? "*" : "", c);
    }
    fprintf(stderr, "\n");
}

/* All that the program wrote so far is drawing. */
static void only_draws(struct world *w, const char *legend) {
    size_t len, used = 0;
    const char *bytes = term_bytes(w->term, &len);
    for (size_t i = 0; i < len; i += used) {
        unsigned char c = (unsigned char)bytes[i];
        used = 1;
        if ((c >= 0x20 && c < 0x7F) || (c != '\0' && strchr("\r\n\b", c) != NULL))
            continue;
        if (c >= 0x80 && is_ours((const unsigned char *)bytes + i, len - i, &used))
            continue;
        used = c == '\033' ? sequence(bytes + i, len - i) : 0;
        bool cut = c >= 0x80 || c == '\033' ? len - i < 16 : false; /* the rest comes later */
        if (used == 0 && cut)
            return;
        if (used == 0) {
            show_bytes(bytes, i, len);
            world_fail(w, "not for drawing", legend);
        }
    }
}

/* --- what is sent ------------------------------------------------------------------------------
 */

static void wire_with(struct world *w, const char *before, const struct attack *a,
                      const char *after) {
    world_wire(w, before, strlen(before));
    world_wire(w, a->bytes, a->len);
    world_wire(w, after, strlen(after));
    world_wire(w, "\n", 1);
}

/* In every place where a line can have a text, and by itself.  Another `fw` than the receiver's
 * stops the console until somebody answers: that has a test of its own. */
static void attack_once(struct world *w, const struct attack *a, bool fw) {
    wire_with(w, "", a, "");
    wire_with(w, "say ", a, "!");
    wire_with(w, fw ? "id end=rx fw=" : "id end=rx fw=tug-harbour-3 made=", a, "");
    wire_with(w, "id ", a, "=1");
    wire_with(w, "boot cause=", a, "");
    wire_with(w, "rx ch=1500 odd", a, "=1");
    wire_with(w, "rx ch=1500 odd=", a, "");
    wire_with(w, "rx n=", a, " ch=1500");
    wire_with(w, "rx ch=", a, "");
    wire_with(w, "", a, " a=1");
    wire_with(w, "", a, ":1500 b:1600");
}

/* The number of the newest said line, so that each can be waited for. */
static unsigned said;

/* All attacks and a good line after them, which must be recorded. */
static void attack_with(struct world *w, bool fw) {
    char text[40];
    for (size_t i = 0; i < COUNT(attacks); i++)
        attack_once(w, &attacks[i], fw);
    world_reports(w, 2, 5, 0, "fs=0");
    snprintf(text, sizeof text, "afloat %u.", ++said);
    world_line(w, "say %s", text);
    free(world_file_holds(w, "hostile.csv", text));
}

static void attack_all(struct world *w) {
    attack_with(w, false);
}

/* A picture that was drawn after the attacks: Ctrl-L draws all of it. */
static void draws_anew(struct world *w) {
    size_t before, after = 0;
    while (term_pump(w->term, 0))
        continue;
    term_bytes(w->term, &before);
    term_send(w->term, "\014");
    for (int i = 0; i < 1000 && after < before + 200; i++) {
        term_pump(w->term, 20);
        term_bytes(w->term, &after);
    }
    world_check(w, after >= before + 200, "the screen is alive");
}

static void begin(struct world *w) {
    said = 0;
    world_watch(w, large, WORDS("--mute", "--out", "hostile.csv"));
    world_identity(w);
    world_reports(w, 3, 5, 0, "fs=0");
    world_state(w, "linked");
}

/* Quits at once, answering the question that a hostile step of power may have raised. */
static void quits(struct world *w) {
    term_send(w->term, "q");
    assert_int_equal(term_wait_end(w->term), 0);
    only_draws(w, "at the end");
    assert_int_equal(term_bells(w->term), 0);
    world_check(w, !term_altscreen(w->term), "the screen before is back");
}

/* --- views -------------------------------------------------------------------------------------
 */

/* The key as the terminal sends it, by terminfo's xterm-256color. */
static const char *sent_as(int key) {
    static const struct {
        int key;
        const char *bytes;
    } special[] = {
        {PRESS_UP, "\033OA"},   {PRESS_DOWN, "\033OB"},     {PRESS_RIGHT, "\033OC"},
        {PRESS_LEFT, "\033OD"}, {PRESS_HOME, "\033OH"},     {PRESS_END, "\033OF"},
        {PRESS_ENTER, "\r"},    {PRESS_ESCAPE, "\033"},     {PRESS_DIGIT, "1"},
        {PRESS_REDRAW, "\014"}, {PRESS_PAGE_UP, "\033[5~"}, {PRESS_PAGE_DOWN, "\033[6~"}};
    static char plain[2];
    for (size_t i = 0; i < COUNT(special); i++)
        if (special[i].key == key)
            return special[i].bytes;
    plain[0] = (char)key;
    return plain;
}

/* Every key of the live console but those that end it or let go of the port; what a key opened is
 * closed by Esc, or by the key again. */
static void every_view_only_draws(void **state) {
    struct world *w = *state;
    begin(w);
    for (size_t i = 0; i < key_rows_count; i++) {
        const struct key_row *row = &key_rows[i];
        if ((row->where & IN_LIVE) == 0 || row->action == ACTION_QUIT ||
            row->action == ACTION_PORT || row->action == ACTION_RECORD ||
            row->action == ACTION_SOUND || row->action == ACTION_SOUND_TEST)
            continue;
        term_send(w->term, sent_as(row->key));
        attack_all(w);
        draws_anew(w);
        only_draws(w, row->help);
        bool toggles = row->action == ACTION_FAR || row->action == ACTION_BAND ||
                       row->action == ACTION_PAUSE || row->action == ACTION_WALK;
        term_send(w->term, toggles ? sent_as(row->key) : "\033");
        world_shows_row(w, WORDS("lines", "good"));
    }
    world_shows(w, "receiver says: afloat");
    quits(w);
}

static void every_chart_only_draws(void **state) {
    enum { CHARTS = 12 }; /* more than there are: the last is followed by the first, or stays */
    struct world *w = *state;
    begin(w);
    term_send(w->term, "c");
    for (int i = 0; i < CHARTS; i++) {
        attack_all(w);
        term_send(w->term, sent_as(PRESS_RIGHT));
        draws_anew(w);
        only_draws(w, "a chart");
    }
    term_send(w->term, "\033");
    world_shows_row(w, WORDS("lines", "good"));
    quits(w);
}

static void every_trial_only_draws(void **state) {
    struct world *w = *state;
    begin(w);
    for (char digit = '1'; digit <= '7'; digit++) {
        const char key[] = {digit, '\0'};
        term_send(w->term, "v");
        world_shows(w, "begin");
        attack_all(w);
        draws_anew(w);
        term_send(w->term, key);
        attack_all(w);
        draws_anew(w);
        only_draws(w, key);
        term_send(w->term, "\033");
        term_send(w->term, "y");
        term_send(w->term, "\033");
        world_shows_row(w, WORDS("lines", "good"));
    }
    quits(w);
}

/* A firmware's name in the question whether this is the right board, and on the page after a yes;
 * every other one is the receiver's own again. */
static void a_question_only_draws(void **state) {
    static const char *const names[] = {"%s%n%1000d%s", "tug-harbour-3", "\\x1b[31m$(restart)`x`",
                                        "tug-harbour-3", "<b>&amp;\"',;=\"</b>"};
    struct world *w = *state;
    begin(w);
    for (size_t i = 0; i < COUNT(names); i++) {
        world_line(w, "id end=rx fw=%s", names[i]);
        world_shows(w, "the right board?");
        draws_anew(w);
        only_draws(w, names[i]);
        world_shows(w, "yes, go on");
        term_send(w->term, "y");
        world_hides(w, "the right board?");
        draws_anew(w);
        only_draws(w, names[i]);
    }
    /* What isn't printable is no name: such a line is refused, and asks nothing. */
    for (size_t i = 0; i < COUNT(attacks); i++)
        if (strchr(attacks[i].bytes, '\033') != NULL)
            wire_with(w, "id end=rx fw=", &attacks[i], "");
    world_line(w, "say afloat again.");
    free(world_file_holds(w, "hostile.csv", "afloat again."));
    quits(w);
}

static void every_size_only_draws(void **state) {
    static const int sizes[][2] = {{24, 80}, {10, 40},  {1, 1},
                                   {3, 200}, {60, 160}, {ROWS, COLUMNS}};
    struct world *w = *state;
    begin(w);
    for (size_t i = 0; i < COUNT(sizes); i++) {
        term_resize(w->term, sizes[i][0], sizes[i][1]);
        attack_all(w);
        term_send(w->term, "f");
        attack_all(w);
        term_send(w->term, "f");
        only_draws(w, "a size");
    }
    world_shows_row(w, WORDS("lines", "good"));
    world_shows(w, "receiver says: afloat");
    quits(w);
}

/* Enter: bytes that are no characters may take some of those behind them along. */
static void enters(struct world *w) {
    int row, column;
    bool open = true;
    for (int i = 0; i < 200 && open; i++) {
        term_send(w->term, "\r");
        term_pump(w->term, 50);
        open = term_find(w->term, "A note:", &row, &column);
    }
    world_check(w, !open, "Enter is taken");
}

/* What a person typed, or pasted, is somebody else's text too. */
static void what_is_typed_only_draws(void **state) {
    static const char obeyed[] = "\033\r\n\003\004\023\021\032\034"; /* not typed into a text */
    struct world *w = *state;
    begin(w);
    for (size_t i = 0; i < COUNT(attacks); i++) {
        char text[128];
        size_t len = 0;
        for (size_t k = 0; k < attacks[i].len; k++)
            if (strchr(obeyed, attacks[i].bytes[k]) == NULL)
                text[len++] = attacks[i].bytes[k];
        text[len] = '\0';
        term_send(w->term, "n");
        world_shows(w, "A note:");
        term_send(w->term, text);
        enters(w);
    }
    draws_anew(w);
    only_draws(w, "a note");
    quits(w);
}

static void names_only_draw(void **state) {
    struct world *w = *state;
    world_plug(w);
    for (size_t i = 0; i < COUNT(attacks); i++) {
        char out[160];
        if (memchr(attacks[i].bytes, '\0', attacks[i].len) != NULL ||
            strchr(attacks[i].bytes, '/') != NULL)
            continue;
        snprintf(out, sizeof out, "o%s.csv", attacks[i].bytes);
        const char *port = world_link(w, attacks[i].bytes);
        world_run(w, large, WORDS("watch", port, "--mute", "--out", out));
        world_shows(w, "no line on the cable");
        draws_anew(w);
        term_send(w->term, "q");
        assert_int_equal(term_wait_end(w->term), 0);
        world_shows(w, "recorded");
        only_draws(w, attacks[i].legend);
    }
}

/* --- recordings and record ---------------------------------------------------------------------
 */

/* Rows that somebody else wrote, at the end of a recording. */
static void append_rows(struct world *w) {
    static const char *const kinds[] = {"mark", "trial", "about", "say", "id", "other", "damage"};
    static const char *const before[] = {"text=", "facing=", "failsafe step=", "fw=", "", "x="};
    char path[256];
    char *text = world_file(w, "hostile.csv");
    size_t commas = 0;
    for (const char *c = text; *c != '\n'; c++)
        commas += *c == ',';
    free(text);
    snprintf(path, sizeof path, "%s/hostile.csv", w->folder);
    FILE *file = fopen(path, "ae");
    for (size_t i = 0; i < COUNT(attacks); i++)
        for (size_t k = 0; k < COUNT(kinds) * COUNT(before); k++) {
            fputs(kinds[k % COUNT(kinds)], file);
            for (size_t c = 0; c < commas; c++)
                fputc(',', file);
            fprintf(file, "\"%s", before[k % COUNT(before)]);
            fwrite(attacks[i].bytes, 1, attacks[i].len, file);
            fputs("\"\r\n", file);
        }
    fclose(file);
}

static void a_replay_only_draws(void **state) {
    static const char *const keys[] = {"f",    "f", "d",    "d",      "?",
                                       "\033", "v", "\033", "\033OA", "\033OB"};
    struct world *w = *state;
    begin(w);
    attack_all(w);
    quits(w);
    append_rows(w);
    world_run(w, large, WORDS("replay", "hostile.csv", "--pace", "0", "--mute"));
    world_shows(w, "at the end");
    for (size_t i = 0; i < COUNT(keys); i++) {
        term_send(w->term, keys[i]);
        draws_anew(w);
    }
    quits(w);
}

/* It says how it goes in one line, which it draws anew. */
static void record_only_draws(void **state) {
    struct world *w = *state;
    said = 0;
    world_plug(w);
    world_run(w, large, WORDS("record", w->port_name, "--out", "hostile.csv", "--yes"));
    free(world_file_holds(w, "hostile.csv", "opened"));
    world_identity(w);
    for (int i = 0; i < 5; i++)
        attack_with(w, true);
    world_shows(w, "reports");
    term_send(w->term, "\003");
    assert_int_equal(term_wait_end(w->term), 0);
    world_shows(w, "Recorded");
    only_draws(w, "record");
}

/* --- much, and little --------------------------------------------------------------------------
 */

/* Memory of its own, kB; 0 under a sanitizer, which keeps what is freed. */
static long memory_kb(struct world *w) {
#if defined(__SANITIZE_ADDRESS__)
    return 0;
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
    return 0;
#endif
#endif
    char path[64], line[128];
    long kb = 0;
    snprintf(path, sizeof path, "/proc/%d/status", (int)term_pid(w->term));
    FILE *file = fopen(path, "re");
    while (file != NULL && fgets(line, sizeof line, file) != NULL)
        if (sscanf(line, "RssAnon: %ld", &kb) == 1)
            break;
    if (file != NULL)
        fclose(file);
    return kb;
}

static size_t count_of(const char *text, const char *part) {
    size_t count = 0;
    for (const char *at = text; (at = strstr(at, part)) != NULL; at += strlen(part))
        count++;
    return count;
}

static void ten_thousand_keys_take_no_memory(void **state) {
    enum { KEYS = 10000, GROWTH_KB = 256 };
    struct world *w = *state;
    begin(w);
    for (int i = 0; i < 200; i++)
        world_line(w, "rx n=%u ch=1500 first%d=1", ++w->n, i);
    draws_anew(w);
    long before = memory_kb(w);
    for (int i = 0; i < KEYS; i++)
        world_line(w, "rx n=%u ch=1500 key%d=%d word%d=x%d", ++w->n, i, i, i, i);
    world_line(w, "say all sent");
    free(world_file_holds(w, "hostile.csv", "all sent"));
    draws_anew(w);
    long after = memory_kb(w);
    print_message("%ld kB before, %ld kB after\n", before, after);
    world_check(w, after <= before + GROWTH_KB, "memory doesn't grow with keys");
    term_send(w->term, "?");
    world_shows(w, "this page of keys");
    term_send(w->term, "?");
    world_hides(w, "this page of keys");
    quits(w);
    char *text = world_file(w, "hostile.csv");
    for (int i = 0; i < KEYS; i += 999) {
        char kept[64];
        snprintf(kept, sizeof kept, ",key%d=%d word%d=x%d\r\n", i, i, i, i);
        world_check(w, strstr(text, kept) != NULL, kept);
    }
    free(text);
}

/* As fast as the console reads; a key is pressed in the middle and answered before the end. */
static void a_flood_leaves_it_alive(void **state) {
    enum { LINES = 30000, ASK = 5000, MOST = 3000000 };
    struct world *w = *state;
    int row, column, sent = 0, answered = 0;
    begin(w);
    for (; sent < LINES || (answered == 0 && sent < MOST); sent++) {
        world_reports(w, 1, 4, 1, "fs=0");
        if (sent == ASK)
            term_send(w->term, "?");
        if (sent > ASK && answered == 0 && sent % 100 == 0) {
            term_pump(w->term, 0);
            answered = term_find(w->term, "this page of keys", &row, &column) ? sent : 0;
        }
    }
    print_message("asked after %d lines, answered after %d of %d\n", ASK, answered, sent);
    world_check(w, answered > 0, "a key is answered while the lines come");
    term_send(w->term, "?");
    world_hides(w, "this page of keys");
    char wanted[64];
    snprintf(wanted, sizeof wanted, "%d good", sent + 4); /* and three reports, and who it is */
    world_shows_row(w, WORDS("lines", wanted));
    quits(w);
    char *text = world_file(w, "hostile.csv");
    assert_int_equal(count_of(text, "\r\nrx,"), sent + 3);
    free(text);
}

/* A line of which a byte comes now and then: the screen goes on, and the line counts at its end. */
static void a_drip_leaves_it_alive(void **state) {
    enum { STEP_MS = 20 };
    static const char line[] = "say this takes its time";
    struct world *w = *state;
    begin(w);
    for (size_t i = 0; i < sizeof line - 1; i++) {
        world_wire(w, line + i, 1);
        term_pump(w->term, STEP_MS);
        if (i == sizeof line / 2) {
            term_send(w->term, "?");
            world_shows(w, "this page of keys");
            term_send(w->term, "?");
            world_hides(w, "this page of keys");
            world_lacks(w, "takes its");
        }
    }
    world_wire(w, "\n", 1);
    world_shows(w, "receiver says: this takes its time");
    quits(w);
}

int main(void) {
#define TEST(name) cmocka_unit_test_setup_teardown(name, world_begin, world_end)
    const struct CMUnitTest tests[] = {
        TEST(every_view_only_draws),    TEST(every_trial_only_draws),
        TEST(every_chart_only_draws),   TEST(every_size_only_draws),
        TEST(what_is_typed_only_draws), TEST(names_only_draw),
        TEST(a_replay_only_draws),      TEST(record_only_draws),
        TEST(a_question_only_draws),    TEST(ten_thousand_keys_take_no_memory),
        TEST(a_flood_leaves_it_alive),  TEST(a_drip_leaves_it_alive),
    };
    if (getenv("ONLY") != NULL)
        cmocka_set_test_filter(getenv("ONLY"));
    return cmocka_run_group_tests(tests, NULL, NULL);
}
