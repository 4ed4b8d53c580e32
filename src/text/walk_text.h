/* A range walk as text for people and as JSON. */
#ifndef TEXT_WALK_TEXT_H
#define TEXT_WALK_TEXT_H

#include "study/reduced.h"
#include "text/figures_text.h"

struct walk_facts {
    const char *file;      /* as the person named it */
    bool recording;        /* else a raw capture */
    uint32_t by_switch;    /* channel from 1 whose switch marked the stops; 0: marks did */
    uint64_t beyond_plan;  /* presses after the plan's last stop */
    uint32_t marks_unused; /* marks of the recording that --switch leaves out */
    uint32_t amendments, amendments_refused;
    enum evidence evidence; /* on what the packet counts rest */
    bool acked;             /* loss is after retries */
    uint32_t full_step;     /* the power step that is full; 0 unknown */
    bool drive;             /* for boats and cars: half; else for flying: a quarter */
    uint32_t plan_left;     /* stops of the plan for which no press was found; by_switch only */
    const struct reach *reach;
    const struct reduced *reduced;
};

/* How far to plan, by common practice: a share of the first distance that failed, or, as at least
 * so far, of the last one that held; of the least that the range is, where that is less; never
 * beyond what held. */
enum walk_plan_by { PLAN_FAILED, PLAN_HELD, PLAN_RANGE, PLAN_ALL_HELD };
struct walk_plan {
    bool failed, held; /* first_failed_m, held_to_m are known */
    double first_failed_m, held_to_m;
    double share;         /* 1/4 for flying, 1/2 for boats and cars */
    double planned_m;     /* negative: none, since no stop is shown to have held */
    bool at_least;        /* some held, and none is shown to have failed */
    enum walk_plan_by by; /* what planned_m is a share of; PLAN_ALL_HELD: it is held_to_m itself */
};
void walk_plan(const struct walk *w, const struct reach *r, bool drive, struct walk_plan *out);

/* ": a quarter of the first failure (common practice)", or as it is. */
void walk_plan_words(char *out, size_t size, const struct walk_plan *plan);

/* A stop's loss and how well it is known (95 %). */
struct walk_loss {
    bool known;
    double rate, low, high; /* shares; low and high negative where not known */
    const char *method;     /* "none lost", "bound only", "loss runs", "blocks"; NULL: none ... */
    const char *why;        /* ... because this key is missing, or a phrase */
};
void walk_loss(const struct walk_stop *stop, struct walk_loss *out);

const char *walk_fault_name(unsigned fault); /* of one bit, "loss", "gap", ... */

/* "held", "failed", "not shown" or "not counted". */
const char *walk_verdict_word(enum walk_verdict verdict);

/* The verdict with what it rests on: "failed: gap", "not shown: few packets". */
void walk_verdict_text(char *out, size_t size, const struct walk_stop *stop,
                       const struct walk_limits *limits);
enum { WALK_VERDICT_TEXT = 240 };

void walk_text(const struct walk *w, const struct walk_facts *facts, say_put *put, void *where);

#endif
