/* The parts of the page, for page.c: each draws itself into its place and touches nothing else. */
#ifndef VIEW_PARTS_H
#define VIEW_PARTS_H

#include "view/page.h"

enum { WIDE = 140 }; /* columns from which there is room for things beside each other */

struct place {
    int row, column, rows, columns;
};

/* How a state looks: glyph and words first, the tone after. */
struct state_look {
    uint32_t rune;
    char ascii;
    enum tone tone;
    bool heavy; /* framed so that it stands out in monochrome too */
};
const struct state_look *state_look_of(enum link_state state);

/* The state's word in capitals; out holds NAME_MAX_BYTES. */
void state_word(char *out, enum link_state state);

/* What is outstanding, in words ("nothing for 430 ms, about 21 expected"); empty when all is well.
 * `ended` tells that nothing more will come. */
void strip_message(char *out, size_t size, const struct snapshot *s, bool ended);

/* The link: state, loss, outages, the last minute, facts.  Returns the rows it took. */
int strip_draw(struct grid *g, const struct snapshot *s, const struct page *p, struct place at);

/* Of the same, what a small screen has rows for; returns how many it took. */
int strip_brief(struct grid *g, const struct snapshot *s, bool ended, struct place at);

/* Labelled facts in columns; returns the rows it took.  The supply alone, in one row. */
int facts_draw(struct grid *g, const struct snapshot *s, struct place at);
void supply_draw(struct grid *g, const struct snapshot *s, int row, int column, int right);

/* Heading and one row a channel, or two where at.rows allows; the rows that it wants. */
int channels_rows(const struct snapshot *s);
void channels_draw(struct grid *g, const struct snapshot *s, struct place at);

/* The trial, or their list, that p->trial tells of. */
void trial_draw(struct grid *g, const struct trial_view *v, struct place at);

/* Heading and the newest log_entries, p->scroll lines back. */
void log_entries_draw(struct grid *g, const struct snapshot *s, const struct page *p,
                      struct place at);

/* The walk's pane, in as many rows as there are. */
void walk_draw(struct grid *g, const struct walk_view *v, struct place at);

/* The whole grid but its last row, to be read from three metres. */
void far_draw(struct grid *g, const struct snapshot *s, const struct page *p);

/* The whole grid with the chart that p->charts tells of. */
void charts_draw(struct grid *g, const struct snapshot *s, const struct page *p);

/* Too small for the whole page. */
bool page_is_small(int rows, int columns);

/* The box over the page that p->overlay asks for. */
void overlay_draw(struct grid *g, const struct snapshot *s, const struct page *p);

/* First line, cautions across the width (at most `most`; returns how many; g NULL: only counts),
 * last lines (likewise), with the replay's own where the page isn't small. */
void top_draw(struct grid *g, const struct snapshot *s, const struct page *p);
int banners_draw(struct grid *g, const struct page *p, int row, int most);
int bottom_draw(struct grid *g, const struct page *p);

#endif
