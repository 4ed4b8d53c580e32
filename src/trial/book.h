/* All trials of a recording: which are under way, what each proved, what was never tried.  A fold
 * over moments; live the guide adds the rows that the book then takes. */
#ifndef TRIAL_BOOK_H
#define TRIAL_BOOK_H

#include "trial/trial.h"

struct book; /* ours: book_new .. book_free; everything is allocated by book_new */

/* NULL when there is no memory. */
struct book *book_new(const struct trial_rules *rules);
void book_free(struct book *b);

/* After bench_feed: bench_moment and bench_glance. `trial` rows (EVENT_ANSWER) begin, move, answer
 * and end trials; their text is written by the functions below. */
void book_feed(struct book *b, const struct moment *m, const struct snapshot *s);
/* True where the book needs the snapshot at the next moment (a trial is under way, or the moment
 * is a trial row): else book_feed takes NULL, so that bench_glance isn't called for each line. */
bool book_wants(const struct book *b, const struct event *event);

/* --- what the console shows */
bool book_running(const struct book *b, enum trial_id *id);
const struct trial_step *book_step(const struct book *b, const struct trial_place **place);
void book_pane(const struct book *b, const struct snapshot *s, struct trial_pane *out);

/* Rows, each after the name of its trial: `begin`, `step=raise`, `answer=yes` (no, ready, or the
 * choice in its own words), `skip`, `quit`, `end`.  The first step begins with the trial.
 *
 * Each writes the text of one into out (BOOK_TEXT bytes); the caller makes it an
 * EVENT_ANSWER, feeds and records it like any other event. */
enum { BOOK_TEXT = 120 };
void book_row_begin(char *out, enum trial_id id);
void book_row_answer(const struct book *b, char *out, uint32_t answer);
void book_row_skip(const struct book *b, char *out); /* on without this step */
void book_row_quit(const struct book *b, char *out);
/* The guide: the row that is due now (next step, end), false: none.  Ask after each moment and
 * some 20 times a second, until it has none; `s` is the bench's state at host time now_us. */
bool book_row_due(const struct book *b, const struct snapshot *s, int64_t now_us, char *out);

/* --- what it comes to */
struct book_entry {
    enum trial_id id;
    int64_t begun_ms, ended_ms; /* link time, TIME_UNKNOWN */
    int64_t begun_us;           /* host time */
    bool ended;                 /* in order; else quit, overtaken by another, or the end of data */
    bool quit;                  /* by the person */
    bool port_lost;             /* the port was away meanwhile */
    uint32_t steps, reached;    /* of the kind, and how many of them were come to */
    struct trial_outcome outcome;
};
enum { BOOK_ENTRIES_MAX = 32 }; /* the newest are kept; the newest of a kind always */

uint32_t book_count(const struct book *b);
/* Entry `index`, 0 the oldest kept; a running one is judged as of now and comes last. */
void book_entry(const struct book *b, uint32_t index, struct book_entry *out);

/* What stands for a kind at the end: its newest entry that ended in order or showed a failure; else
 * not shown where one was begun, or TRIAL_NOT_TRIED.  Nothing passes that didn't end in order.
 * Failsafe is unproven again (TRIAL_NOT_SHOWN) after a change of firmware name or channel map
 * (chans, safe, span of the receiver's id line): `stale` then says which, in words; else NULL. */
enum trial_verdict book_stands(const struct book *b, enum trial_id id, const char **stale);

#endif
