#include <inttypes.h>
#include <stdio.h>

#include "view/figure.h"
#include "view/lay.h"
#include "view/parts.h"

/* How weighty a log_entry is: told by its mark first. */
enum weight { WEIGHT_NOTE, WEIGHT_RELIEF, WEIGHT_CAUTION, WEIGHT_TROUBLE, WEIGHT_PERSON };

static const struct {
    uint32_t rune;
    char ascii;
    enum tone mark, text;
} weights[] = {
    [WEIGHT_NOTE] = {0x00B7, '.', TONE_FAINT, TONE_PLAIN},
    [WEIGHT_RELIEF] = {0x25CF, '+', TONE_GOOD, TONE_PLAIN},
    [WEIGHT_CAUTION] = {0x25B3, '*', TONE_CAUTION, TONE_PLAIN},
    [WEIGHT_TROUBLE] = {0x25B2, '!', TONE_TROUBLE, TONE_HEADING},
    [WEIGHT_PERSON] = {0x25C6, '=', TONE_MARK, TONE_MARK},
};

/* Log_entries whose words need no figure. */
static const struct {
    enum weight weight;
    const char *text; /* NULL: put together below */
} kinds[LOG_ENTRY_KINDS] = {
    [LOG_ENTRY_PORT_OPENED] = {WEIGHT_NOTE, "port opened"},
    [LOG_ENTRY_PORT_LOST] = {WEIGHT_TROUBLE, "port gone: unplugged?"},
    [LOG_ENTRY_PORT_BACK] = {WEIGHT_RELIEF, "port back"},
    [LOG_ENTRY_PORT_LET_GO] = {WEIGHT_PERSON, "port let go"},
    [LOG_ENTRY_PORT_TAKEN] = {WEIGHT_PERSON, "port taken again"},
    [LOG_ENTRY_SLEPT] = {WEIGHT_CAUTION, "the computer slept"},
    [LOG_ENTRY_FIRST_PACKET] = {WEIGHT_RELIEF, "first packet heard"},
    [LOG_ENTRY_OUTAGE_BEGAN] = {WEIGHT_TROUBLE, "outage: no packet comes"},
    [LOG_ENTRY_OUTAGE_ENDED] = {WEIGHT_RELIEF, NULL},
    [LOG_ENTRY_FAILSAFE_ENTERED] = {WEIGHT_TROUBLE, NULL},
    [LOG_ENTRY_FAILSAFE_LEFT] = {WEIGHT_RELIEF, NULL},
    [LOG_ENTRY_LOCKED] = {WEIGHT_CAUTION, "outputs locked until the throttle is seen low"},
    [LOG_ENTRY_UNLOCKED] = {WEIGHT_RELIEF, "outputs unlocked"},
    [LOG_ENTRY_RECEIVER_RESTART] = {WEIGHT_TROUBLE, NULL},
    [LOG_ENTRY_TRANSMITTER_RESTART] = {WEIGHT_TROUBLE, "transmitter restarted"},
    [LOG_ENTRY_UPTIME_WRAPPED] = {WEIGHT_NOTE, "receiver's clock went round (no restart)"},
    [LOG_ENTRY_CLOCK_STEP] = {WEIGHT_NOTE, "receiver's clock went back (no restart)"},
    [LOG_ENTRY_LINES_MISSING] = {WEIGHT_CAUTION, NULL},
    [LOG_ENTRY_DAMAGE] = {WEIGHT_CAUTION, NULL},
    [LOG_ENTRY_REGISTERS] = {WEIGHT_TROUBLE, NULL},
    [LOG_ENTRY_REINIT] = {WEIGHT_CAUTION, "radio set up again by the receiver"},
    [LOG_ENTRY_SUPPLY_DIP] = {WEIGHT_CAUTION, NULL},
    [LOG_ENTRY_POWER_STEP] = {WEIGHT_NOTE, NULL},
    [LOG_ENTRY_FIRMWARE] = {WEIGHT_NOTE, NULL},
    [LOG_ENTRY_SAY] = {WEIGHT_NOTE, NULL},
    [LOG_ENTRY_MARK] = {WEIGHT_PERSON, NULL},
    [LOG_ENTRY_CROWDED] = {WEIGHT_CAUTION, NULL},
    [LOG_ENTRY_ALARM] = {WEIGHT_TROUBLE, NULL},
};

static void length_text(char *out, size_t size, const struct log_entry *h) {
    char span[FIGURE_MAX];
    figure_span(span, h->a);
    snprintf(out, size,
             h->kind == LOG_ENTRY_OUTAGE_ENDED ? "linked again after an outage of %s"
                                               : "failsafe left after %s",
             span);
}

static void failsafe_text(char *out, size_t size, const struct log_entry *h) {
    if (h->b != 0) {
        snprintf(out, size, "failsafe came and went between two reports");
    } else {
        snprintf(out, size, "FAILSAFE: outputs at their presets");
    }
}

static void restart_text(char *out, size_t size, const struct log_entry *h) {
    static const char *const causes[] = {
        [BOOT_UNKNOWN] = "cause unknown", [BOOT_POWER] = "power was off", [BOOT_RESET] = "reset",
        [BOOT_BROWNOUT] = "brown-out",    [BOOT_WATCHDOG] = "watchdog",
    };
    bool told = h->a >= 0 && h->a < (int64_t)(sizeof causes / sizeof causes[0]);
    const char *cause = told ? causes[h->a] : causes[BOOT_UNKNOWN];
    if (h->b == 1) {
        snprintf(out, size, "receiver restarted by our opening the port (%s)", cause);
    } else {
        snprintf(out, size, "receiver %s (%s)", h->b == 2 ? "started" : "restarted", cause);
    }
}

static void missing_text(char *out, size_t size, const struct log_entry *h) {
    snprintf(out, size, "%" PRId64 " line%s missing on the cable", h->a, h->a == 1 ? "" : "s");
}

static void damage_text(char *out, size_t size, const struct log_entry *h) {
    static const char *const reasons[DAMAGE_REASONS] = {
        [DAMAGE_TOO_LONG] = "too long",
        [DAMAGE_BAD_BYTE] = "a byte that is no text (wrong speed?)",
        [DAMAGE_BAD_CHECKSUM] = "checksum wrong",
        [DAMAGE_NO_CHECKSUM] = "checksum missing",
        [DAMAGE_BAD_NUMBER] = "not a number",
        [DAMAGE_RANGE] = "number out of range",
        [DAMAGE_COUNTERS] = "counters disagree",
        [DAMAGE_PLAIN_TEXT] = "plain text: a print of the sketch's own?",
        [DAMAGE_BOOT_TEXT] = "text of the boot loader",
        [DAMAGE_CUT_RESTART] = "cut by the restart",
        [DAMAGE_RUN_ON] = "two lines ran together",
        [DAMAGE_JOINED] = "joined in mid-line",
        [DAMAGE_TORN_END] = "cut off at the end",
    };
    const char *reason = h->a >= 0 && h->a < DAMAGE_REASONS ? reasons[h->a] : "damaged";
    if (h->b > 1) {
        snprintf(out, size, "%" PRId64 " lines refused: %s", h->b, reason);
    } else {
        snprintf(out, size, "line refused: %s", reason);
    }
}

static void registers_text(char *out, size_t size, const struct log_entry *h) {
    static const char *const words[] = {
        [REGISTERS_OK] = "radio registers right again",
        [REGISTERS_DEFAULT] = "radio chip lost its settings: it lost power",
        [REGISTERS_ABSENT] = "radio chip doesn't answer",
        [REGISTERS_DIFFER] = "radio registers differ from what was set",
    };
    bool told = h->a >= 0 && h->a < (int64_t)(sizeof words / sizeof words[0]);
    snprintf(out, size, "%s", told ? words[h->a] : "radio registers");
}

static void mark_text(char *out, size_t size, const struct log_entry *h) {
    switch (h->a) {
    case MARK_STOP:
        if (h->b >= 0) {
            snprintf(out, size, "stop at %.4g m", (double)h->b / 100.0);
        } else {
            snprintf(out, size, "stop, no distance given");
        }
        break;
    case MARK_LEAVE:
        snprintf(out, size, "left the stop");
        break;
    case MARK_TWITCH:
        snprintf(out, size, "twitch seen");
        break;
    case MARK_FACING:
        snprintf(out, size, "facing: %.63s", h->text);
        break;
    default:
        snprintf(out, size, "note: %.63s", h->text);
    }
}

/* Alarms that no log_entry of their own tells of. */
static const struct {
    const char *raised, *cleared;
} alarms[ALARMS] = {
    [ALARM_LOSS] = {"loss over 10 s above the limit", "loss back below the limit"},
    [ALARM_SUPPLY] = {"supply too low", "supply well again"},
    [ALARM_NO_LINES] = {"no line comes on the cable", "lines come again"},
    [ALARM_NO_REPORTS] = {"no new report comes, though lines do", "reports come again"},
};

static bool alarm_told(const struct log_entry *h) {
    return h->a >= 0 && h->a < ALARMS && alarms[h->a].raised != NULL;
}

static void alarm_text(char *out, size_t size, const struct log_entry *h) {
    if (alarm_told(h)) {
        snprintf(out, size, "%s", h->b != 0 ? alarms[h->a].raised : alarms[h->a].cleared);
    } else {
        snprintf(out, size, "alarm %s: %s", h->b != 0 ? "raised" : "cleared",
                 h->a >= 0 && h->a < ALARMS ? alarm_name((enum alarm)h->a) : "?");
    }
}

static void other_text(char *out, size_t size, const struct log_entry *h) {
    switch (h->kind) {
    case LOG_ENTRY_SUPPLY_DIP:
        snprintf(out, size, "supply dipped to %.2f V", (double)h->a / 1000.0);
        break;
    case LOG_ENTRY_POWER_STEP:
        snprintf(out, size, "transmit power now %" PRId64 "/%" PRId64 "%s", h->a, h->b,
                 h->text[0] != '\0' ? " (reduced)" : "");
        break;
    case LOG_ENTRY_CROWDED:
        snprintf(out, size, "lines fill %" PRId64 " %% of %" PRId64 " bit/s: print less, or faster",
                 h->a, h->b);
        break;
    case LOG_ENTRY_FIRMWARE:
        snprintf(out, size, "firmware %.63s", h->text);
        break;
    default:
        snprintf(out, size, "receiver says: %.63s", h->text);
    }
}

void page_log_entry_text(char *out, size_t size, const struct log_entry *h) {
    typedef void writer(char *out, size_t size, const struct log_entry *h);
    static writer *const writers[LOG_ENTRY_KINDS] = {
        [LOG_ENTRY_OUTAGE_ENDED] = length_text,
        [LOG_ENTRY_FAILSAFE_LEFT] = length_text,
        [LOG_ENTRY_FAILSAFE_ENTERED] = failsafe_text,
        [LOG_ENTRY_RECEIVER_RESTART] = restart_text,
        [LOG_ENTRY_LINES_MISSING] = missing_text,
        [LOG_ENTRY_DAMAGE] = damage_text,
        [LOG_ENTRY_REGISTERS] = registers_text,
        [LOG_ENTRY_MARK] = mark_text,
        [LOG_ENTRY_ALARM] = alarm_text,
    };
    if (kinds[h->kind].text != NULL) {
        snprintf(out, size, "%s", kinds[h->kind].text);
    } else if (writers[h->kind] != NULL) {
        writers[h->kind](out, size, h);
    } else {
        other_text(out, size, h);
    }
}

/* The weight by kind, but for those where it hangs on what happened. */
static enum weight weight_of(const struct log_entry *h) {
    switch (h->kind) {
    case LOG_ENTRY_RECEIVER_RESTART:
        return h->b != 0 ? WEIGHT_NOTE : WEIGHT_TROUBLE;
    case LOG_ENTRY_REGISTERS:
        return h->a == REGISTERS_OK ? WEIGHT_RELIEF : WEIGHT_TROUBLE;
    case LOG_ENTRY_ALARM:
        return h->b != 0 ? WEIGHT_TROUBLE : WEIGHT_RELIEF;
    case LOG_ENTRY_POWER_STEP:
        return h->text[0] != '\0' ? WEIGHT_CAUTION : WEIGHT_NOTE;
    default:
        return kinds[h->kind].weight;
    }
}

static void row_draw(struct grid *g, const struct log_entry *h, int row, int column, int right) {
    char when[FIGURE_MAX], text[160];
    bool by_host = h->at_ms == TIME_UNKNOWN && h->host_us != TIME_UNKNOWN;
    figure_moment(when, by_host ? h->host_us / 1000 : h->at_ms, true);
    page_log_entry_text(text, sizeof text, h);
    enum weight weight = weight_of(h);
    int at = lay_format(g, row, column, right, TONE_FAINT, "%11s", when);
    grid_glyph(g, row, at + 1, weights[weight].mark, weights[weight].rune, weights[weight].ascii);
    lay_text(g, row, at + 3, right, weights[weight].text, text);
}

/* Those to be listed, oldest first: an alarm whose cause has its own line would only repeat it. */
static int listed(const struct snapshot *s, const struct log_entry **out) {
    uint64_t kept = s->log_entries < LOG_ENTRIES_MAX ? s->log_entries : LOG_ENTRIES_MAX;
    int count = 0;
    for (uint64_t i = s->log_entries - kept; s->log_entry != NULL && i < s->log_entries; i++) {
        const struct log_entry *h = &s->log_entry[i % LOG_ENTRIES_MAX];
        if (h->kind != LOG_ENTRY_ALARM || alarm_told(h)) {
            out[count++] = h;
        }
    }
    return count;
}

void log_entries_draw(struct grid *g, const struct snapshot *s, const struct page *p,
                      struct place at) {
    const struct log_entry *list[LOG_ENTRIES_MAX];
    int right = at.column + at.columns, room = at.rows - 1, count = listed(s, list);
    if (at.rows < 1) {
        return;
    }
    lay_heading(g, at.row, at.column, right, "events");
    if (count == 0 && room > 0) {
        lay_text(g, at.row + 1, at.column + 3, right, TONE_FAINT, "none yet");
    }
    int most_back = count > room ? count - room : 0;
    int back = p->scroll < 0 ? 0 : p->scroll > most_back ? most_back : p->scroll;
    if (back > 0) {
        lay_format(g, at.row, at.column + 11, right, TONE_CAUTION, " %d newer below ", back);
    }
    int shown = count - back < room ? count - back : room;
    for (int i = 0; i < shown; i++) {
        row_draw(g, list[count - back - shown + i], at.row + 1 + i, at.column, right);
    }
}
