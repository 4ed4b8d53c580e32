/* One stick moved: which one it is, how far it goes, whether it is a switch, what else moves with
 * it, and where it comes back to when it is let go. */
#ifndef JUDGE_TRAVEL_H
#define JUDGE_TRAVEL_H

#include "judge/sticks.h"
#include "stat/sample.h"

/* Where the channels rest before anything is moved. */
struct travel_base {
    bool known[CHANNELS_MAX];
    double rest[CHANNELS_MAX], noise[CHANNELS_MAX]; /* standard deviation */
};

/* Hands off for some seconds.  All zero begins it. */
struct travel_calm {
    bool begun;
    int64_t from_ms, now_ms; /* of the window; it begins anew when something moves */
    struct stat_moments of[CHANNELS_MAX];
};
enum { CALM_MS = 3000, CALM_VALUES = 10 };
void travel_calm_add(struct travel_calm *calm, const struct stick_map *map, const struct report *r,
                     int64_t link_ms);
/* False until it lasted CALM_MS and had CALM_VALUES reports. */
bool travel_calm_read(const struct travel_calm *calm, struct travel_base *out);

enum { TRAVEL_PARTS = 5, TRAVEL_STEPS = 4096, TRAVEL_LEVELS = 3 };

/* A visit: one stick, or more than wanted, from when the person is asked to move one. */
struct travel {
    bool begun;
    int32_t here[CHANNELS_MAX], here_in[CHANNELS_MAX]; /* when it began */
    uint16_t moved, moved_in; /* channels and stick values that went far from there, twice in a */
    uint16_t away, away_in;   /* row; and in the newest report */
    int32_t mover;            /* channel, -1 none yet */
    uint16_t follows;         /* channels that move with the mover's one stick */
    bool muddle;              /* more than one stick */
    bool ends_known;
    double low, high; /* of the mover, each seen in two reports in a row */
    int32_t before;   /* its value in the report before */
    bool before_known, moving;
    uint32_t moves, motions; /* reports in which it moved, and times that it began to */
    double level[TRAVEL_LEVELS];
    uint32_t levels;                  /* places at which it stood; more than TRAVEL_LEVELS: many */
    uint64_t seen[TRAVEL_STEPS / 64]; /* values */
    struct stat_moments other[TRAVEL_PARTS][CHANNELS_MAX]; /* while the mover is in a fifth */
    double anchor[CHANNELS_MAX];
    int64_t still_ms[CHANNELS_MAX]; /* since when it is within some µs of its anchor */
    int64_t now_ms;
};
void travel_begin(struct travel *t); /* also for storage that is all zero */
void travel_add(struct travel *t, const struct stick_map *map, const struct travel_base *base,
                const struct report *r, int64_t link_ms);

/* Back at its rest and still, after both ends (a stick) or the far end (what rests at an end). */
bool travel_done(const struct travel *t, const struct stick_map *map,
                 const struct travel_base *base);
/* Both ends were seen, or the far one. */
bool travel_low_seen(const struct travel *t, const struct stick_map *map,
                     const struct travel_base *base);
bool travel_high_seen(const struct travel *t, const struct stick_map *map,
                      const struct travel_base *base);
bool travel_rests_at_end(const struct stick_map *map, double rest);
/* Nothing has moved for a second. */
bool travel_all_still(const struct travel *t, const struct stick_map *map);
/* It jumped between two or three places: a switch.  Returns how many, 0: no switch. */
uint32_t travel_positions(const struct travel *t);
/* Different values seen, and the least step between two of them (0 with fewer than 30). */
uint32_t travel_values(const struct travel *t, int32_t *step);
/* What moved most beyond its own noise while the mover did: channel and by how much.  False when
 * no other channel has a known rest. */
bool travel_crosstalk(const struct travel *t, const struct stick_map *map,
                      const struct travel_base *base, uint32_t *other, double *shift);

/* Flicks: pushed aside and let snap back, from either side. */
struct flicks {
    int side; /* it comes from: 0 below, 1 above, -1 neither */
    bool settling;
    int64_t back_ms; /* since when it is near its rest again */
    struct stat_moments settled;
    double settled_low, settled_high;
    struct stat_moments back[2]; /* means of the settled values, by side */
    double low, high;            /* of these means */
    int32_t strange;             /* another channel that moved, -1 */
    uint32_t strange_row;
};
enum { FLICKS_WANTED = 3 };
void flicks_begin(struct flicks *f);
void flicks_add(struct flicks *f, uint32_t mover, uint16_t follows, const struct stick_map *map,
                const struct travel_base *base, const struct report *r, int64_t link_ms);
bool flicks_done(const struct flicks *f);

#endif
