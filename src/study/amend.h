/* A walk's marks as they are meant: those that were set, with what was added, moved or struck out
 * afterwards.  An amendment is a fact of the recording (an `about` row), which stands behind all
 * that it is about; so marks are collected in one pass and the walk is fed in a second.  Marks are
 * numbered from 1 in the order of their rows, added ones after those; a number never changes. */
#ifndef STUDY_AMEND_H
#define STUDY_AMEND_H

#include "base/text.h"
#include "study/walk.h"

enum { MARKS_MAX = 512, AMENDMENT_TEXT = 64 };

enum amendment_kind { AMEND_ADD, AMEND_MOVE, AMEND_STRIKE };

struct amendment {
    enum amendment_kind kind;
    uint32_t mark;     /* its number; not of an added one */
    int64_t at_ms;     /* link time; not of a struck one */
    double distance_m; /* of an added stop; negative: an added leaving */
};

/* The options' values and the rows' are the same: "SECONDS:METRES" or "SECONDS:leave", "N:SECONDS",
 * "N".  Seconds are link time, 0 at the first report.  False: it isn't that. */
bool amendment_parse(enum amendment_kind kind, struct slice text, struct amendment *out);
void amendment_text(const struct amendment *a, struct text *out);

/* The row's key, "amend_add", "amend_move" or "amend_strike"; and back: false, it is another. */
const char *amendment_key(enum amendment_kind kind);
bool amendment_kind_of(struct slice key, enum amendment_kind *kind);

struct kept_mark {
    enum mark_type type; /* MARK_STOP, MARK_LEAVE or MARK_FACING */
    double distance_m;   /* negative: none */
    char facing[WALK_FACING];
    int64_t at_ms; /* TIME_UNKNOWN: before the first report */
    bool added, moved, struck;
};

struct marks {
    uint32_t count;
    struct kept_mark mark[MARKS_MAX]; /* mark[0] has number 1 */
    uint32_t passed_over;             /* more than there is room for */
    uint32_t amendments;              /* that took effect */
    uint32_t refused;                 /* that can't be read, or name a mark that isn't there */
};

/* First pass: a mark event is kept; an amendment, wherever it stands in the file, takes effect.
 * marks_about returns false for a fact that is no amendment. */
void marks_take(struct marks *marks, const struct moment *m);
bool marks_about(struct marks *marks, struct slice key, struct slice value);
bool marks_amend(struct marks *marks, const struct amendment *a); /* false: no such mark */

/* Second pass: instead of walk_feed. */
struct marked_walk {
    struct walk *walk;
    int64_t link_ms; /* of the newest moment */
    uint32_t count, next;
    uint16_t order[MARKS_MAX]; /* the marks that hold, by time */
    const struct marks *marks; /* the caller's */
};
void marked_walk_init(struct marked_walk *w, struct walk *walk, const struct marks *marks);
void marked_walk_feed(struct marked_walk *w, const struct moment *m);
/* After the last moment: marks at its time or before hold, later ones don't. */
void marked_walk_end(struct marked_walk *w);

#endif
