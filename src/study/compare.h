/* Did the change help?  Recordings before (A) against recordings after (B).
 *
 * Packets are lost in bursts, so chance is judged by blocks of time and by loss runs, never by
 * packets.  Blocks are at least 2 s and 2.5 mean loss runs long, at least 8 a side.  A loss that
 * wanders slowly makes neighbouring blocks alike: so many count as one as their autocorrelation
 * tells (side.h), in the intervals and in the chance.
 *
 * A difference is shown where its interval excludes zero and chance alone gives one as large in at
 * most 5 % of the ways to deal the labels A and B out anew: over the blocks of all recordings; with
 * as many recordings a side, over the blocks of the first of each, of the second of each, and so
 * on; and also over whole recordings, where there are enough for that to tell (40 ways or more).
 *
 * That the change did it is another matter: between any two recordings the air differs.  So
 * "helped" needs two recordings or more a side that agree among themselves better than the sides
 * differ (Student's t of their losses), and not all of one side before all of the other.
 * tests/tools/compare_coverage.c measures how often that errs. */
#ifndef STUDY_COMPARE_H
#define STUDY_COMPARE_H

#include "study/side.h"

enum compare_verdict {
    COMPARE_HELPED,    /* B loses less, and the change did it */
    COMPARE_WORSE,     /* B loses more, likewise */
    COMPARE_DIFFERS,   /* a difference that may be drift: see doubt */
    COMPARE_ALIKE,     /* no difference larger than `largest` */
    COMPARE_UNDECIDED, /* see more_minutes */
    COMPARE_REFUSED,   /* see lack */
};

enum compare_lack { /* why nothing was compared */
                    COMPARE_LACKS_NOTHING,
                    COMPARE_LACKS_LOSS_A, /* no packet was counted */
                    COMPARE_LACKS_LOSS_B,
                    COMPARE_LACKS_TIME,  /* packets have no time: no blocks */
                    COMPARE_ACK_DIFFERS, /* loss before retries against loss after */
};

enum compare_doubt { /* why a difference may be drift */
                     COMPARE_NO_DOUBT,
                     COMPARE_SINGLE,  /* fewer than two recordings of a side */
                     COMPARE_SCATTER, /* recordings of a side differ among themselves too much */
                     COMPARE_ORDER,   /* all of one side came before all of the other */
};

enum compare_figure_id {
    COMPARE_OUTAGES, /* a minute */
    COMPARE_JITTER,  /* ms, mean size */
    COMPARE_SUPPLY,  /* mV, mean */
    COMPARE_DIPS,    /* mV, mean of each block's lowest */
    COMPARE_NOISE,   /* share of looks that found a carrier while no packet was due */
    COMPARE_FIGURES
};

enum compare_answer { COMPARE_CANT_TELL, COMPARE_SAME, COMPARE_HIGHER, COMPARE_LOWER };

struct compare_figure {
    bool known_a, known_b;
    double a, b;
    bool tested;                /* enough blocks on both sides */
    double p;                   /* Holm's, over the figures tested (not the loss) */
    enum compare_answer answer; /* of B; COMPARE_SAME: no difference shown */
};

struct compare {
    enum compare_verdict verdict;
    enum compare_lack lack;
    enum compare_doubt doubt;
    struct side a, b;
    struct {
        double rate;                 /* loss of B less that of A */
        struct stat_interval limits; /* 95 %: MOVER (Zou and Donner 2008, Stat. Med. 27:1693) */
    } difference;
    struct {
        bool known;                  /* A lost some */
        bool high_known;             /* false: without limit */
        double value;                /* loss of B over that of A */
        struct stat_interval limits; /* MOVER (Donner and Zou 2012, Stat. Methods Med. Res. 21:347)
                                        includes 1 where the difference's includes 0 */
    } ratio;
    bool tested;         /* blocks enough: p holds */
    double p;            /* two-sided */
    int64_t block_ms;    /* the shortest length */
    double alike;        /* how many neighbouring blocks count as one; 1 where each tells its own */
    bool whole;          /* whole recordings were dealt out too, and are in p */
    bool order_known;    /* in which order the recordings were made */
    double largest;      /* no difference is larger than that, 95 % */
    double margin;       /* that is worth looking for: a third of A's loss, at least half a point */
    double more_minutes; /* a side, that would decide; negative: over an hour, or decided */
    struct compare_figure figure[COMPARE_FIGURES];
};

/* draws: labellings tried where they are too many to try all (9999).  Equal samples give equal
 * answers.  False: no memory. */
bool compare_find(const struct side_samples *a, const struct side_samples *b, uint64_t draws,
                  struct compare *out);

#endif
