#include "telemetry/parse.h"

#include <string.h>

#include "telemetry/value.h"

enum word { WORD_RX, WORD_ID, WORD_BOOT, WORD_AIR, WORD_SAY, WORDS };

static const char *const words[WORDS] = {"rx", "id", "boot", "air", "say"};

static enum word find_word(struct slice name) {
    unsigned i = 0;
    while (i < WORDS && !slice_is(name, words[i]))
        i++;
    return (enum word)i;
}

/* How many bytes of a known word and its space begin this line; all of them, or all of the line. */
static size_t word_begun(struct slice line, const char *word) {
    size_t len = strlen(word), i = 0;
    while (i < line.len && i <= len && line.at[i] == (i < len ? word[i] : ' '))
        i++;
    return i == line.len || i == len + 1 ? i : 0;
}

/* The first letters of `words`: says no at once to most bytes, as over-long lines are searched at
 * each. */
static bool is_first_letter(struct slice line) {
    return line.len > 0 && memchr("ribas", line.at[0], 5) != NULL;
}

bool parse_starts(struct slice line) {
    for (unsigned i = 0; is_first_letter(line) && i < WORDS; i++) {
        if (word_begun(line, words[i]) == strlen(words[i]) + 1)
            return true;
    }
    return false;
}

bool parse_may_start(struct slice line) {
    for (unsigned i = 0; is_first_letter(line) && i < WORDS; i++) {
        if (word_begun(line, words[i]) > 0)
            return true;
    }
    return false;
}

enum parse_verdict parse_boot(struct slice pairs, struct event *event) {
    struct cursor c = {pairs.at, pairs.at + pairs.len};
    bool seen = false;
    event->kind = EVENT_BOOT;
    event->boot.pairs = pairs;
    if (pairs.len == 0)
        return PARSE_OK;
    do {
        struct slice key;
        if (!value_key(&c, &key))
            return PARSE_BAD;
        struct slice value = value_text(&c);
        bool cause = slice_is(key, "cause");
        if (value.len == 0 || (cause && seen))
            return PARSE_BAD;
        seen |= cause;
        /* A cause that a later version may know stays the BOOT_UNKNOWN of the zeroed event. */
        if (cause)
            (void)boot_cause_of(value, &event->boot.cause);
    } while (value_more(&c));
    return PARSE_OK;
}

static enum number_fault air_hits(struct cursor *c, struct air_sweep *air) {
    bool full = false;
    for (;;) {
        uint32_t hits;
        enum number_fault fault = value_u32(c, &hits);
        if (fault == NUMBER_BAD)
            return NUMBER_BAD;
        if (fault == NUMBER_RANGE || air->count == AIR_STEPS_MAX)
            full = true;
        else
            air->hits[air->count++] = hits;
        if (!cursor_at(c, ','))
            break;
        c->at++;
    }
    return full ? NUMBER_RANGE : NUMBER_OK;
}

static const char *const air_keys[] = {"from", "step", "per", "hits"};
enum { AIR_FROM, AIR_STEP, AIR_PER, AIR_HITS, AIR_KEYS };

static enum number_fault air_pair(struct cursor *c, struct air_sweep *air, unsigned *has) {
    uint32_t *const numbers[] = {&air->from_mhz, &air->step_mhz, &air->per};
    struct slice name;
    if (!value_key(c, &name))
        return NUMBER_BAD;
    unsigned key = 0;
    while (key < AIR_KEYS && !slice_is(name, air_keys[key]))
        key++;
    if (key == AIR_KEYS)
        return value_text(c).len > 0 ? NUMBER_OK : NUMBER_BAD;
    if (*has >> key & 1u)
        return NUMBER_BAD;
    *has |= 1u << key;
    return key == AIR_HITS ? air_hits(c, air) : value_u32(c, numbers[key]);
}

static bool air_adds_up(const struct air_sweep *air) {
    for (uint32_t i = 0; i < air->count; i++) {
        if (air->hits[i] > air->per)
            return false;
    }
    return true;
}

/* All four keys are needed: hits without their looks, or at no known frequency, say nothing. */
enum parse_verdict parse_air(struct slice pairs, struct event *event) {
    struct cursor c = {pairs.at, pairs.at + pairs.len};
    unsigned has = 0;
    event->kind = EVENT_AIR;
    event->air.pairs = pairs;
    do {
        enum number_fault fault = air_pair(&c, &event->air, &has);
        if (fault == NUMBER_BAD || !cursor_done(&c))
            return PARSE_BAD;
        if (fault == NUMBER_RANGE)
            return PARSE_RANGE;
    } while (value_more(&c));
    if (has != (1u << AIR_KEYS) - 1)
        return PARSE_BAD;
    return air_adds_up(&event->air) ? PARSE_OK : PARSE_RANGE;
}

/* A line of a later version, or of somebody else: kept whole when it has our grammar. */
static enum parse_verdict parse_other(struct slice line, struct cursor c, struct event *event) {
    struct slice key;
    while (value_more(&c)) {
        if (!value_key(&c, &key) || value_text(&c).len == 0)
            return PARSE_FOREIGN;
    }
    event->kind = EVENT_OTHER;
    event->text = line;
    return PARSE_OK;
}

/* "boot ok" is somebody's print, "boot cause=" is ours and wrong: the first pair decides. */
static bool has_pair(struct cursor c) {
    struct slice key;
    return c.at == c.end || value_key(&c, &key);
}

enum parse_verdict parse_line(struct telemetry *t, struct slice line, uint32_t unwanted,
                              struct event *event) {
    struct cursor c = {line.at, line.at + line.len};
    if (slice_starts(line, "rx n=")) /* as nearly all lines do: no search for their word */
        return parse_report(t, line, unwanted, event);
    struct slice name = value_name(&c);
    if (name.len == 0 || !cursor_done(&c))
        return parse_bare(t, line, event);
    enum word word = find_word(name);
    struct cursor after_word = c;
    if (word == WORDS)
        return parse_other(line, after_word, event);
    bool spaced = value_more(&c);
    struct slice rest = {c.at, (size_t)(c.end - c.at)};
    if (word != WORD_SAY && (spaced ? rest.len == 0 || !has_pair(c) : false))
        return PARSE_FOREIGN;
    switch (word) {
    case WORD_RX:
        return parse_report(t, line, unwanted, event);
    case WORD_ID:
        return parse_identity(rest, event);
    case WORD_BOOT:
        return parse_boot(rest, event);
    case WORD_AIR:
        return parse_air(rest, event);
    default:
        event->kind = EVENT_SAY;
        event->text = rest;
        return PARSE_OK;
    }
}
