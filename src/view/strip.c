#include <ctype.h>
#include <inttypes.h>
#include <stdio.h>

#include "base/whole.h"
#include "view/figure.h"
#include "view/lay.h"
#include "view/parts.h"

enum {
    BOX_COLUMNS = 23,
    LOSS_COLUMN = BOX_COLUMNS + 2,
    LOSS_VALUE = LOSS_COLUMN + 14,
    LATE_MS = 2000,        /* an outage this long is told as "no link" */
    OUTSTANDING_LEAST = 4, /* fewer are due all the time between two reports */
};

static const struct state_look looks[LINK_STATES] = {
    [STATE_NO_LINES] = {0x25CB, 'o', TONE_TROUBLE, true},
    [STATE_NO_REPORTS] = {0x25C7, '~', TONE_TROUBLE, true},
    [STATE_NEVER_HEARD] = {0x25CC, ':', TONE_CAUTION, false},
    [STATE_LINKED] = {0x25CF, '*', TONE_GOOD, false},
    [STATE_LOSSY] = {0x25D0, '%', TONE_CAUTION, false},
    [STATE_OUTAGE] = {0x00D7, 'X', TONE_TROUBLE, true},
    [STATE_FAILSAFE] = {0x25B2, '!', TONE_TROUBLE, true},
    [STATE_LOCKED] = {0x25A0, '=', TONE_CAUTION, true},
    [STATE_UNKNOWN] = {'?', '?', TONE_FAINT, false},
};

const struct state_look *state_look_of(enum link_state state) {
    return &looks[state];
}

void state_word(char *out, enum link_state state) {
    const char *name = link_state_name(state);
    size_t i = 0;
    for (; i < NAME_MAX_BYTES - 1 && name[i] != '\0'; i++) {
        out[i] = (char)toupper((unsigned char)name[i]);
    }
    out[i] = '\0';
}

/* The word in its box, spaced out where it fits: the first thing to be read. */
static void box_draw(struct grid *g, const struct snapshot *s, int row, int column) {
    const struct state_look *look = state_look_of(s->state);
    char word[NAME_MAX_BYTES], wide[2 * NAME_MAX_BYTES];
    size_t len = 0;
    state_word(word, s->state);
    for (size_t i = 0; word[i] != '\0'; i++) {
        wide[len++] = word[i];
        wide[len++] = ' ';
    }
    wide[len > 0 ? len - 1 : 0] = '\0';
    const char *shown = len - 1 <= BOX_COLUMNS - 8 ? wide : word;
    int columns = grid_columns_of(shown);
    int start = column + (BOX_COLUMNS - columns) / 2;
    lay_frame(g, row, column, 3, BOX_COLUMNS, look->tone, look->heavy);
    grid_text(g, row + 1, start, look->tone, shown);
    grid_glyph(g, row + 1, start - 2, look->tone, look->rune, look->ascii);
    grid_glyph(g, row + 1, start + columns + 1, look->tone, look->rune, look->ascii);
}

static const char *loss_unknown_because(const struct snapshot *s) {
    if (s->reports == 0) {
        return "unknown: no report yet";
    }
    if (s->got_told) {
        return "unknown: got alone needs the rate";
    }
    return s->bare ? "unknown: bare numbers, no pat, got or seq"
                   : "unknown: lines carry no pat, got or seq";
}

static void loss_draw(struct grid *g, const struct snapshot *s, int row, int right) {
    const struct {
        const char *label;
        const struct packet_count *count;
    } spans[3] = {
        {"loss  in 1 s", &s->last_1s}, {"     in 10 s", &s->last_10s}, {"      in all", &s->total}};
    for (int i = 0; i < 3; i++) {
        char text[FIGURE_MAX], bounds[FIGURE_MAX];
        bool told = i == 2 || figure_recent(text, s, spans[i].count);
        if (i == 2)
            figure_loss(text, spans[i].count);
        bounds[0] = '\0';
        if (told)
            figure_bounds(bounds, spans[i].count);
        if (i == 2 && s->not_steady) {
            snprintf(bounds, sizeof bounds, ", not steady");
        }
        bool worst = i == 1 && s->state == STATE_LOSSY;
        enum tone tone = worst                        ? TONE_CAUTION
                         : figure_few(spans[i].count) ? TONE_FAINT
                                                      : TONE_PLAIN;
        lay_text(g, row + i, LOSS_COLUMN, right, TONE_HEADING, spans[i].label);
        int end = lay_text(g, row + i, LOSS_VALUE, right, tone,
                           i == 0 && s->evidence == EVIDENCE_NONE ? loss_unknown_because(s) : text);
        lay_text(g, row + i, end, right, TONE_FAINT, bounds);
    }
}

/* At the right of what the row has; false where there is no room, or no text. */
static bool place_right(struct grid *g, int row, int right, const char *text) {
    int used = right;
    while (used > LOSS_VALUE && grid_cell(g, row, used - 1).rune == ' ')
        used--;
    return lay_right(g, row, used + 1, right, TONE_FAINT, text) != right;
}

/* On what the loss rests, how fast packets should come, and what else limits the figure: that
 * stands in the first row where the third is full. */
static void evidence_draw(struct grid *g, const struct snapshot *s, int row, int right) {
    static const char *const from[] = {
        [EVIDENCE_NONE] = "",
        [EVIDENCE_RATE] = "from got and rate",
        [EVIDENCE_SEQUENCE] = "from got and seq",
        [EVIDENCE_COUNTERS] = "from got and lost",
        [EVIDENCE_PATTERN] = "from pat",
    };
    char rate[FIGURE_MAX] = "", short_rate[FIGURE_MAX] = "", note[FIGURE_MAX] = "";
    char both[2 * FIGURE_MAX];
    if (s->rate_hz > 0) {
        snprintf(rate, sizeof rate, "%.4g packets/s", s->rate_hz);
        snprintf(short_rate, sizeof short_rate, "%.4g/s", s->rate_hz);
    } else if (s->evidence != EVIDENCE_NONE) {
        snprintf(rate, sizeof rate, "rate unknown");
    }
    if (s->lost_estimated > 0) {
        snprintf(note, sizeof note, "+ about %" PRIu64 " lost", s->lost_estimated);
    } else if (s->acked) {
        snprintf(note, sizeof note, "after retries");
    } else if (s->refused_known && s->refused > 0) {
        snprintf(note, sizeof note, "%" PRIu64 " refused", s->refused);
    }
    snprintf(both, sizeof both, "%s, %s", from[s->evidence], note);
    if (!place_right(g, row + 1, right, rate))
        place_right(g, row + 1, right, short_rate);
    if (place_right(g, row + 2, right, note) || note[0] == '\0' ||
        !place_right(g, row, right, both))
        place_right(g, row, right, from[s->evidence]);
}

void strip_message(char *out, size_t size, const struct snapshot *s, bool ended) {
    char span[FIGURE_MAX], about[64] = "";
    out[0] = '\0';
    if (s->state == STATE_NO_LINES) {
        figure_span(span, s->lines_age_ms);
        snprintf(out, size,
                 s->lines_age_ms == TIME_UNKNOWN ? "no line on the cable yet"
                                                 : "no line on the cable for %s",
                 span);
        return;
    }
    if (s->state == STATE_NO_REPORTS) {
        figure_span(span, s->reports_age_ms);
        snprintf(out, size, "no new report for %s: %s", span,
                 s->reports_repeat ? "n or t stands" : "other lines only");
        return;
    }
    if (s->state == STATE_NEVER_HEARD) {
        snprintf(out, size, "lines arrive, but the receiver has heard no packet since its start");
        return;
    }
    bool late = s->outage_ms != TIME_UNKNOWN &&
                (s->silent_at_end || (s->outstanding_known && s->outstanding >= OUTSTANDING_LEAST));
    if (!late) {
        return;
    }
    figure_span(span, s->outage_ms);
    if (s->outstanding_known) {
        snprintf(about, sizeof about, ", about %" PRIu64 " expected", s->outstanding);
    }
    bool no_link = ended || s->outage_ms >= LATE_MS;
    snprintf(out, size, no_link ? "no link for the last %s%s" : "nothing for %s%s", span, about);
}

static void outages_draw(struct grid *g, const struct snapshot *s, bool ended, int row, int column,
                         int right) {
    char message[192], span[FIGURE_MAX], when[FIGURE_MAX], unsure[32] = "";
    strip_message(message, sizeof message, s, ended);
    if (message[0] != '\0') {
        grid_glyph(g, row, column, TONE_TROUBLE, 0x25B6, '>');
        column = lay_format(g, row, column + 1, right, TONE_TROUBLE, " %s ", message) + 2;
        if (right - column < 24) {
            return;
        }
    }
    column = lay_text(g, row, column, right, TONE_HEADING, "outages ");
    if (s->longest_gap_ms == TIME_UNKNOWN) {
        lay_text(g, row, column, right, TONE_FAINT,
                 s->reports == 0 ? "unknown: no report yet" : "unknown: no age, gap or pat");
        return;
    }
    figure_span(span, s->longest_gap_ms);
    figure_moment(when, s->longest_at_ms, false);
    if (s->outages_unsure > 0) {
        snprintf(unsure, sizeof unsure, " (+%" PRIu64 " unsure)", s->outages_unsure);
    }
    const char *open = s->silent_at_end ? " before this one" : ""; /* it isn't counted yet */
    snprintf(message, sizeof message, "%" PRIu64 "%s%s over %" PRId64 " ms, longest %s at %s",
             s->outages, unsure, open, s->outage_limit_ms, span, when);
    if (grid_columns_of(message) > right - column) {
        snprintf(message, sizeof message, "%" PRIu64 "%s, longest %s", s->outages, open, span);
    }
    if (grid_columns_of(message) > right - column && s->silent_at_end) {
        snprintf(message, sizeof message, "%" PRIu64 "%s", s->outages, open);
    }
    lay_text(g, row, column, right, TONE_PLAIN, message);
}

/* Steps of the share lost in one second, low ones fine: that is where it matters. */
static const struct {
    double upto;
    uint32_t rune;
    char ascii;
} steps[] = {
    {0.0, 0x2581, '_'},  {0.05, 0x2582, '1'}, {0.10, 0x2583, '2'}, {0.20, 0x2584, '3'},
    {0.35, 0x2585, '4'}, {0.50, 0x2586, '5'}, {0.75, 0x2587, '6'}, {1.0, 0x2588, '7'},
};

static void second_draw(struct grid *g, int row, int column, const struct second_cell *cell) {
    uint64_t all = (uint64_t)cell->got + cell->lost;
    if (cell->silent) {
        grid_glyph(g, row, column, TONE_TROUBLE, 0x00D7, 'X');
        return;
    }
    if (!cell->observed || all == 0) {
        grid_glyph(g, row, column, TONE_FAINT, 0x00B7, '.');
        return;
    }
    double share = (double)cell->lost / (double)all;
    size_t i = 0;
    while (i + 1 < sizeof steps / sizeof steps[0] && share > steps[i].upto) {
        i++;
    }
    grid_glyph(g, row, column, i == 0 ? TONE_GOOD : TONE_PLAIN, steps[i].rune, steps[i].ascii);
}

static void minute_draw(struct grid *g, const struct snapshot *s, int row, int column, int right) {
    enum { LABEL = 10 };
    int shown = right - column - LABEL;
    if (shown <= 0) {
        return;
    }
    shown = shown < RECENT_SECONDS ? shown : RECENT_SECONDS;
    int at = lay_format(g, row, column, right, TONE_HEADING, "last %2d s ", shown);
    for (int i = 0; i < shown; i++) {
        second_draw(g, row, at + i, &s->recent[RECENT_SECONDS - shown + i]);
    }
    const char *full = g->ascii ? "_ none lost, 7 most, X outage, . not seen"
                                : "▁ none lost, █ most, × outage, · not seen";
    const char *brief = g->ascii ? "7 lost, X outage" : "█ lost, × outage";
    int room = right - at - shown - 2;
    lay_right(g, row, at + shown, right, TONE_FAINT,
              room >= grid_columns_of(full)    ? full
              : room >= grid_columns_of(brief) ? brief
                                               : "now");
}

/* Who is talking, in the space that only wide screens have beside the loss. */
static void identity_draw(struct grid *g, const struct snapshot *s, int row, int column,
                          int right) {
    char up[FIGURE_MAX], bytes[FIGURE_MAX];
    figure_moment(up, s->uptime_ms, false);
    figure_bytes(bytes, s->byte_hz > 0 ? whole_u64(s->byte_hz) : 0);
    lay_text(g, row, column, right, TONE_HEADING, "receiver");
    lay_format(g, row, column + 12, right, TONE_PLAIN, "%s, up %s",
               s->firmware[0] != '\0' ? s->firmware : "firmware unknown", up);
    lay_text(g, row + 1, column, right, TONE_HEADING, "carrier");
    if (s->mhz > 0) {
        int at = lay_format(g, row + 1, column + 12, right, TONE_PLAIN, "%" PRIu32 " MHz", s->mhz);
        if (s->kbps > 0) {
            lay_format(g, row + 1, at, right, TONE_PLAIN, ", %" PRIu32 " kbit/s", s->kbps);
        }
    } else {
        lay_text(g, row + 1, column + 12, right, TONE_FAINT, "unknown: no id line with mhz");
    }
    lay_text(g, row + 2, column, right, TONE_HEADING, "cable");
    if (s->line_hz > 0) {
        lay_format(g, row + 2, column + 12, right, TONE_PLAIN, "%.1f reports/s, %s/s", s->line_hz,
                   bytes);
    } else {
        lay_text(g, row + 2, column + 12, right, TONE_FAINT, "unknown");
    }
}

int strip_draw(struct grid *g, const struct snapshot *s, const struct page *p, struct place at) {
    int right = at.column + at.columns;
    bool wide = at.columns >= WIDE;
    int loss_right = wide ? at.column + 84 : right;
    bool ended = p->port == LINK_ENDED || p->replay == REPLAY_ENDED;
    box_draw(g, s, at.row, at.column);
    loss_draw(g, s, at.row, loss_right);
    evidence_draw(g, s, at.row, loss_right);
    if (wide) {
        identity_draw(g, s, at.row, at.column + at.columns / 3 * 2, right);
    }
    outages_draw(g, s, ended, at.row + 3, at.column, right);
    minute_draw(g, s, at.row + 4, at.column, right);
    struct place facts = {at.row + 5, at.column, at.rows - 5, at.columns};
    return 5 + facts_draw(g, s, facts);
}

int strip_brief(struct grid *g, const struct snapshot *s, bool ended, struct place at) {
    int right = at.column + at.columns;
    if (at.rows > 0) {
        outages_draw(g, s, ended, at.row, at.column, right);
    }
    if (at.rows > 1) {
        minute_draw(g, s, at.row + 1, at.column, right);
    }
    if (at.rows > 2) {
        supply_draw(g, s, at.row + 2, at.column, right);
    }
    return at.rows < 3 ? at.rows : 3;
}
