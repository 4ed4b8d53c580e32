/* Is the loss of two groups of blocks the same?  The labels are dealt out anew, and counted is how
 * often chance alone gives a difference as large (Fisher 1935; Phipson and Smyth 2010, Stat. Appl.
 * Genet. Mol. Biol. 9:39, for the +1).  Blocks must be long enough that one doesn't tell of the
 * next: the caller sees to that.  Nothing is allocated. */
#ifndef STAT_PERMUTE_H
#define STAT_PERMUTE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct permute_block {
    double lost, packets; /* packets above 0; any amount over any weight will do */
    bool second;          /* the group: first or second */
    unsigned int stratum; /* labels are dealt out anew within a stratum only; 0 for all: none */
};

struct permute_test {
    double difference; /* loss of the second group less that of the first, each lost / packets */
    bool exact;        /* each labelling was tried, else `labellings` of them by chance */
    uint64_t labellings;
    double two_sided; /* |difference| at least as large as seen */
    double greater;   /* difference at least as large: the second group loses more */
    double less;
};

enum { PERMUTE_EXACT_MAX = 20000 };

/* blocks in ascending order of stratum.  work: `count` bytes of the caller's.  Exact where at most
 * PERMUTE_EXACT_MAX labellings exist, the one that was seen among them; else `draws` of them with
 * the generator begun at `seed`, p = (hits + 1) / (draws + 1).  False where a group is empty, or
 * no stratum has blocks of both (nothing to deal). */
bool stat_permute(const struct permute_block *blocks, size_t count, uint64_t draws, uint64_t seed,
                  unsigned char *work, struct permute_test *out);

#endif
