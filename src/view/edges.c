/* The first and the last lines of the page, and the cautions under the first. */
#include <inttypes.h>
#include <stdio.h>

#include "base/whole.h"
#include "view/figure.h"
#include "view/keys.h"
#include "view/lay.h"
#include "view/parts.h"

static int recording_draw(struct grid *g, const struct page *p, int column, int right) {
    char bytes[FIGURE_MAX];
    if (p->replay != REPLAY_NONE) {
        return lay_text(g, 0, column, right, TONE_HEADING, "replay");
    }
    if (p->recording_trouble != NULL) {
        return lay_text(g, 0, column, right, TONE_TROUBLE, " NOT RECORDING ");
    }
    if (!p->recording) {
        return lay_text(g, 0, column, right, TONE_FAINT, "not recording");
    }
    figure_bytes(bytes, p->recording_bytes);
    grid_glyph(g, 0, column, TONE_TROUBLE, 0x25CF, 'R');
    int room = right - column - 24;
    column = lay_text(g, 0, column + 2, right, TONE_PLAIN, "recording ");
    if (p->recording_path != NULL && room > 6) {
        column = lay_tail(g, 0, column, column + room, TONE_PLAIN, p->recording_path);
    }
    return lay_format(g, 0, column, right, TONE_PLAIN, " %s", bytes);
}

void top_draw(struct grid *g, const struct snapshot *s, const struct page *p) {
    char clock[FIGURE_MAX], text[FIGURE_MAX + 48];
    figure_moment(clock, s->now_ms, false);
    snprintf(text, sizeof text, "%s%s%s%.16s", p->sound ? "" : "bell off  ",
             s->link_time_rough ? "~" : "", clock, p->paused ? "  PAUSED" : "");
    int right = lay_right(g, 0, 12, g->columns, TONE_HEADING, text) - 2;
    int column = lay_text(g, 0, 0, right, TONE_HEADING, "airleash") + 2;
    if (p->source != NULL) {
        int wanted = p->recording || p->recording_trouble != NULL ? 34 : 16;
        int room = right - column - wanted;
        column = lay_tail(g, 0, column, column + room, TONE_PLAIN, p->source) + 2;
    }
    recording_draw(g, p, column, right);
}

static int banner_draw(struct grid *g, int row, enum tone tone, const char *text) {
    grid_fill(g, row, 0, 1, g->columns, tone);
    grid_glyph(g, row, 1, tone, 0x25B2, '!');
    lay_text(g, row, 3, g->columns, tone, text);
    return 1;
}

/* The gravest first, since the last ones are dropped where there is no room. */
int banners_draw(struct grid *g, const struct page *p, int row, int most) {
    char trouble[200] = "";
    if (p->recording_trouble != NULL) {
        snprintf(trouble, sizeof trouble, "ROWS ARE NOT WRITTEN: %.150s", p->recording_trouble);
    }
    const struct {
        bool shown;
        enum tone tone;
        const char *text;
    } banners[] = {
        {p->port == LINK_WAITING, TONE_TROUBLE, "PORT GONE: waiting for it to come back"},
        {p->port == LINK_BACK, TONE_TROUBLE, "PORT BACK, NOT OPEN: g asks to open it"},
        {trouble[0] != '\0', TONE_TROUBLE, trouble},
        {p->read_failed, TONE_TROUBLE, "READING FAILED: what came before it is all that there is"},
        {p->reduced_power, TONE_CAUTION,
         "REDUCED TRANSMIT POWER: set it back to full before the model runs"},
        {p->paused, TONE_BANNER,
         "PAUSED: the picture stands still, data is still taken (p goes on)"},
        {p->port == LINK_LET_GO, TONE_BANNER, "PORT LET GO: free for flashing, g takes it again"},
        {p->port == LINK_ENDED && p->replay == REPLAY_NONE && !p->read_failed, TONE_BANNER,
         "END OF INPUT: nothing more will come"},
    };
    int drawn = 0;
    for (size_t i = 0; i < sizeof banners / sizeof banners[0]; i++) {
        if (banners[i].shown && drawn < most) {
            drawn += g ? banner_draw(g, row + drawn, banners[i].tone, banners[i].text) : 1;
        }
    }
    return drawn;
}

static void replay_draw(struct grid *g, const struct page *p, int row) {
    static const char *const words[] = {"", "running", "paused", "at the end"};
    static const struct {
        uint32_t rune;
        char ascii;
    } glyphs[] = {{' ', ' '}, {0x25B6, '>'}, {0x2551, '='}, {0x25A0, '#'}};
    char at[FIGURE_MAX], length[FIGURE_MAX], text[3 * FIGURE_MAX], pace[FIGURE_MAX];
    figure_moment(at, p->replay_at_us == TIME_UNKNOWN ? TIME_UNKNOWN : p->replay_at_us / 1000,
                  false);
    figure_moment(length,
                  p->replay_length_us == TIME_UNKNOWN ? TIME_UNKNOWN : p->replay_length_us / 1000,
                  false);
    if (p->replay_pace > 0) {
        snprintf(pace, sizeof pace, "pace %.4gx", p->replay_pace);
    } else {
        snprintf(pace, sizeof pace, "as fast as it goes");
    }
    grid_glyph(g, row, 0, TONE_HEADING, glyphs[p->replay].rune, glyphs[p->replay].ascii);
    int column = lay_format(g, row, 2, g->columns, TONE_HEADING, "%s, %s", words[p->replay], pace);
    snprintf(text, sizeof text, "%s of %s", at, length);
    int right = lay_right(g, row, column + 2, g->columns, TONE_PLAIN, text);
    int bar = 32, width = right - 2 - bar;
    bool known = p->replay_length_us != TIME_UNKNOWN && p->replay_length_us > 0 &&
                 p->replay_at_us != TIME_UNKNOWN;
    double share = known ? (double)p->replay_at_us / (double)p->replay_length_us : 0;
    for (int i = 0; known && i < width; i++) {
        bool done = i < whole_i32(share * width + 0.5);
        grid_glyph(g, row, bar + i, done ? TONE_PLAIN : TONE_FAINT, done ? 0x2588 : 0x00B7,
                   done ? '=' : '.');
    }
}

/* A key that would do nothing now leaves its room to others; the help tells it all the same. */
static bool key_idle(const struct page *p, const struct key_row *key) {
    bool at_stop = p->walk != NULL && p->walk->walk->here;
    return (key->action == ACTION_RECORD && p->replay != REPLAY_NONE) ||
           (key->action == ACTION_LEAVE && !at_stop);
}

/* The most wanted keys, by rank, as many as fit. */
static void keys_draw(struct grid *g, const struct page *p, unsigned where, int row) {
    enum { RANKS = 16 };
    int column = 0;
    for (int rank = 1; rank < RANKS; rank++) {
        for (size_t i = 0; i < key_rows_count; i++) {
            const struct key_row *key = &key_rows[i];
            char name[8];
            if (key->rank != rank || (key->where & where) == 0 || key_idle(p, key)) {
                continue;
            }
            keys_name(key->key, name);
            int width = grid_columns_of(name) + 1 + grid_columns_of(key->label);
            if (column + width > g->columns) {
                return;
            }
            column = grid_text(g, row, column, TONE_KEY, name) + 1;
            column = grid_text(g, row, column, TONE_FAINT, key->label) + 2;
        }
    }
}

/* Where the keys of the moment are; 0 while a line is being typed. */
static unsigned keys_where(const struct page *p) {
    switch (p->overlay) {
    case OVERLAY_HELP:
        return IN_HELP;
    case OVERLAY_CAUTION:
    case OVERLAY_LEAVE:
        return IN_QUESTION;
    case OVERLAY_ENTRY:
        return 0;
    default:
        return page_keys(p);
    }
}

int bottom_draw(struct grid *g, const struct page *p) {
    int row = g->rows - 1;
    bool replay = p->replay != REPLAY_NONE && !page_is_small(g->rows, g->columns);
    if (p->notice != NULL) {
        lay_text(g, row, 0, g->columns, TONE_MARK, p->notice);
    } else {
        keys_draw(g, p, keys_where(p), row);
    }
    if (replay) {
        replay_draw(g, p, row - 1);
    }
    return replay ? 2 : 1;
}
