#include <inttypes.h>
#include <stdio.h>

#include "base/whole.h"
#include "view/lay.h"
#include "view/parts.h"

/* Columns of one row: number, name, bar, value, ends, noise; where there is room also the stick. */
struct columns {
    int name, bar, bar_end, value, ends, noise, stick, right;
};

static struct columns columns_of(struct place at) {
    bool roomy = at.columns >= 96;
    struct columns c;
    c.right = at.column + at.columns;
    c.name = at.column + 3;
    c.bar = c.name + (roomy ? 17 : 13);
    c.noise = c.right - 6;
    c.ends = c.noise - 12;
    c.stick = roomy ? c.ends - 7 : c.ends;
    c.value = c.stick - 7;
    c.bar_end = c.value - 1;
    return c;
}

int channels_rows(const struct snapshot *s) {
    return s->channel_count == 0 ? 2 : 1 + (int)s->channel_count;
}

/* The bar's column for a value, inside the span. */
static int bar_column(const struct columns *c, const struct snapshot *s, double value) {
    double span = (double)s->span_high - s->span_low;
    double share = span > 0 ? (value - s->span_low) / span : 0.5;
    share = share > 1 ? 1 : share >= 0 ? share : 0;
    return c->bar + whole_i32(share * (c->bar_end - c->bar - 1) + 0.5);
}

static void bar_draw(struct grid *g, const struct snapshot *s, const struct channel_state *ch,
                     const struct columns *c, int row) {
    for (int at = c->bar; at < c->bar_end; at++) {
        grid_glyph(g, row, at, TONE_FAINT, 0x00B7, '.');
    }
    if (ch->ends_known) {
        int low = bar_column(c, s, ch->low), high = bar_column(c, s, ch->high);
        for (int at = low; at <= high; at++) {
            grid_glyph(g, row, at, TONE_FAINT, 0x2500, '-');
        }
        grid_glyph(g, row, low, TONE_PLAIN, 0x251C, '[');
        grid_glyph(g, row, high, TONE_PLAIN, 0x2524, ']');
    }
    int now = bar_column(c, s, ch->value);
    if (ch->has_input && ch->input != CHANNEL_OFF && ch->input != ch->value) {
        grid_glyph(g, row, bar_column(c, s, ch->input), TONE_MARK, 0x25C7, 'o');
    }
    if (ch->rest_known) {
        int rest = bar_column(c, s, ch->rest);
        for (int at = now < rest ? now : rest; at <= (now < rest ? rest : now); at++) {
            grid_glyph(g, row, at, TONE_PLAIN, 0x2588, '=');
        }
        grid_glyph(g, row, rest, TONE_PLAIN, 0x2503, '|');
    }
    grid_glyph(g, row, now, TONE_GOOD, 0x25C6, 'O');
}

static void numbers_draw(struct grid *g, const struct channel_state *ch, const struct columns *c,
                         int row) {
    char text[40];
    if (ch->ends_known) {
        snprintf(text, sizeof text, "%" PRId32 "..%" PRId32, ch->low, ch->high);
        lay_right(g, row, c->ends, c->noise - 1, TONE_PLAIN, text);
    } else {
        lay_right(g, row, c->ends, c->noise - 1, TONE_FAINT, "?");
    }
    if (ch->rest_known) {
        snprintf(text, sizeof text, "%.1f", ch->noise);
        lay_right(g, row, c->noise, c->right, TONE_PLAIN, text);
    } else {
        lay_right(g, row, c->noise, c->right, TONE_FAINT, "?");
    }
    if (c->stick < c->ends && ch->has_input) {
        if (ch->input == CHANNEL_OFF) {
            snprintf(text, sizeof text, "off");
        } else {
            snprintf(text, sizeof text, "%" PRId32, ch->input);
        }
        lay_right(g, row, c->stick, c->ends - 1, TONE_PLAIN, text);
    }
}

static void channel_draw(struct grid *g, const struct snapshot *s, uint32_t index,
                         const struct columns *c, int row) {
    const struct channel_state *ch = &s->channel[index];
    char value[16];
    lay_format(g, row, c->name - 3, c->name, TONE_FAINT, "%2" PRIu32, index + 1);
    lay_text(g, row, c->name, c->bar - 1, TONE_PLAIN, ch->name);
    if (!ch->present) {
        lay_text(g, row, c->bar, c->bar_end, TONE_FAINT, "not in the newest report");
        return;
    }
    if (ch->value == CHANNEL_OFF) {
        lay_text(g, row, c->bar, c->bar_end, TONE_CAUTION, "no pulses at this output");
        lay_right(g, row, c->value, c->stick - 1, TONE_CAUTION, "off");
    } else {
        bar_draw(g, s, ch, c, row);
        snprintf(value, sizeof value, "%" PRId32, ch->value);
        lay_right(g, row, c->value, c->stick - 1, TONE_HEADING, value);
    }
    numbers_draw(g, ch, c, row);
}

/* Why the outputs don't follow the sticks, where they don't. */
static const char *hint_of(const struct snapshot *s, enum tone *tone) {
    *tone = TONE_CAUTION;
    if (s->failsafe_known && s->failsafe) {
        *tone = TONE_TROUBLE;
        return "FAILSAFE: presets, not the sticks";
    }
    return s->lock_known && s->locked ? "LOCKED until throttle is seen low" : "";
}

static void heading_draw(struct grid *g, const struct snapshot *s, const struct columns *c,
                         struct place at) {
    char text[16];
    enum tone tone;
    const char *hint = hint_of(s, &tone);
    lay_heading(g, at.row, at.column, c->bar_end, "channels");
    if (hint[0] != '\0') {
        lay_format(g, at.row, c->bar, c->bar_end, tone, " %s ", hint);
    } else {
        lay_format(g, at.row, c->bar - 1, c->bar_end, TONE_FAINT, " %" PRId32 " ", s->span_low);
        snprintf(text, sizeof text, " %" PRId32, s->span_high);
        lay_right(g, at.row, c->bar + 8, c->bar_end, TONE_FAINT, text);
    }
    lay_right(g, at.row, c->value, c->stick - 1, TONE_HEADING, s->raw_unit ? "raw" : "µs");
    if (c->stick < c->ends) {
        lay_right(g, at.row, c->stick, c->ends - 1, TONE_HEADING, "stick");
    }
    lay_right(g, at.row, c->ends, c->noise - 1, TONE_HEADING, "reached");
    lay_right(g, at.row, c->noise, c->right, TONE_HEADING, "noise");
}

/* What a second row has room for: figures that aren't needed at every glance. */
static void detail_draw(struct grid *g, const struct channel_state *ch, const struct columns *c,
                        int row) {
    int at = c->bar;
    if (ch->rest_known) {
        at = lay_format(g, row, at, c->right, TONE_FAINT, "rest %.1f, noise peak to peak %" PRId32,
                        ch->rest, ch->noise_peak);
    } else {
        at = lay_text(g, row, at, c->right, TONE_FAINT, "not at rest yet");
    }
    if (ch->changes_hz >= 0) {
        at = lay_format(g, row, at, c->right, TONE_FAINT, ", %.1f changes/s", ch->changes_hz);
    }
    if (ch->has_input && ch->input != CHANNEL_OFF) {
        lay_format(g, row, at, c->right, TONE_FAINT, ", stick %" PRId32, ch->input);
    }
}

void channels_draw(struct grid *g, const struct snapshot *s, struct place at) {
    struct columns c = columns_of(at);
    if (at.rows < 1) {
        return;
    }
    heading_draw(g, s, &c, at);
    if (s->channel_count == 0) {
        lay_text(g, at.row + 1, c.name, c.right, TONE_FAINT, "none in the lines so far");
        return;
    }
    int count = s->channel_count > CHANNELS_MAX ? CHANNELS_MAX : (int)s->channel_count;
    int room = at.rows - 1, each = room >= 2 * count ? 2 : 1;
    int shown = count * each <= room ? count : room - 1;
    shown = shown < 0 ? 0 : shown;
    for (int i = 0; i < shown; i++) {
        int row = at.row + 1 + i * each;
        channel_draw(g, s, (uint32_t)i, &c, row);
        if (each == 2 && s->channel[i].present) {
            detail_draw(g, &s->channel[i], &c, row + 1);
        }
    }
    if (shown < count) {
        lay_format(g, at.row + 1 + shown, c.name, c.right, TONE_FAINT, "and %d more",
                   count - shown);
    }
}
