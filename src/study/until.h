/* The evidence budget of a live run: look at the loss while it grows, and stop once a question is
 * decided.  Who looks often finds a difference by chance some time; so at most five looks are
 * planned beforehand, after equal portions of the time, and an error of 5 % in all is spent over
 * them (stat/spend.h, the same hurdle at each).  A look rests on what a comparison rests on
 * (side.h), blocks of time and loss runs, and none is taken before 20 blocks.
 * tests/tools/until_error.c measures the error. */
#ifndef STUDY_UNTIL_H
#define STUDY_UNTIL_H

#include "study/side.h"

enum {
    UNTIL_BLOCKS_LEAST = 20,
    UNTIL_SECONDS_LEAST = 40, /* 20 blocks of 2 s */
    UNTIL_SECONDS_DEFAULT = 600,
};

enum until_question {
    UNTIL_LIMIT,   /* is the loss below a limit, or above it? */
    UNTIL_DIFFERS, /* is it another than the reference's? */
};

enum until_verdict {
    UNTIL_OPEN,  /* not decided yet */
    UNTIL_BELOW, /* below the limit, or below the reference */
    UNTIL_ABOVE,
    UNTIL_UNDECIDED, /* the time is up */
    UNTIL_REFUSED,   /* one of link and reference counts loss after retries (ack=1) */
};

struct until_plan {
    enum until_question question;
    double limit;                  /* share; UNTIL_LIMIT */
    struct side_samples reference; /* UNTIL_DIFFERS; the caller's, as long as the run */
    double seconds;                /* planned at most */
};

struct until {
    struct until_plan plan;
    int looks, taken; /* planned, and taken or passed over */
    int64_t each_ms;  /* counted time from look to look */
    uint32_t seen;    /* complete blocks at the last check */
    struct sample sample;
    struct permute_block *work; /* ours */

    enum until_verdict verdict;
    double rate; /* as of the newest look, with its limits at the look's own level */
    struct stat_interval limits;
    double reference_rate;
    double counted_s; /* time with packets as of it */
};

/* rate_hz: as of sample_init.  A plan of at least UNTIL_SECONDS_LEAST.  False: no memory. */
bool until_init(struct until *u, const struct until_plan *plan, double rate_hz);
void until_release(struct until *u);

/* After bench_feed: bench_moment().  True once decided. */
bool until_feed(struct until *u, const struct moment *m);

/* The run ends: one more look where one is left. */
void until_end(struct until *u);

/* Seconds that it would likely take at rate_hz to tell a loss of half the limit (or of the
 * reference) or of twice that, in four runs of five: drops as long as the reference's, two packets
 * without one; rounded up to a look.  More than planned: negative. */
double until_expected_s(const struct until *u, double rate_hz);

#endif
