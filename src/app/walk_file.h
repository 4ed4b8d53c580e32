/* A walk out of a file: its stops by the recording's marks, as amended, or by the transmitter's
 * switch.  Amendments stand behind what they are about, so a file that has some is read twice. */
#ifndef APP_WALK_FILE_H
#define APP_WALK_FILE_H

#include "app/feed.h"
#include "app/options.h"
#include "link/snapshot.h"
#include "study/amend.h"
#include "study/reduced.h"
#include "study/switch.h"
#include "text/walk_text.h"

struct walk_run {
    struct walk walk;
    struct marks marks; /* of the recording; by_switch leaves them out */
    bool by_switch;
    struct walker walker; /* of by_switch */
    struct feed_facts fed;
    double rate_hz;         /* packets a second, 0 unknown */
    enum evidence evidence; /* on what the packet counts rest */
    bool acked;             /* loss is after retries */
    uint32_t full_step;     /* the power step that is full; 0 unknown */
    uint32_t mhz, kbps;     /* of the receiver's id line; 0 unknown */
    int64_t length_ms;      /* link time of the newest moment, TIME_UNKNOWN */
    uint64_t end_rows;      /* 0: the recording was cut off, or is still written */
};

/* The limits that the options give. */
void walk_file_limits(const struct options *o, struct walk_limits *limits);

/* The walker by whose switch the stops are found, by the options' switch, plan and stay, and a
 * moment of the walk by it: marks are left out. */
void walk_file_walker(const struct options *o, struct walker *walker);
void walk_file_switched(struct walk *walk, struct walker *walker, const struct moment *m);

/* How far the walk reaches, by the options' limit, sensitivity and power. */
void walk_file_reach(const struct options *o, const struct walk_run *run, struct reach *reach,
                     struct reduced *reduced);

/* What else there is to say of it, but for reach and reduced; name as people are to read it. */
void walk_file_facts(const struct options *o, const struct walk_run *run, const char *name,
                     struct walk_facts *out);

/* Reads path by the options' model file, rate, switch, plan, stay and limits.  Where only marks are
 * wanted, one pass is enough and out->walk holds them as they were set.  out is large: the caller
 * allocates it.  An enum status; what is wrong was said. */
enum walk_want { WALK_STOPS, WALK_MARKS };
int walk_file_read(const struct options *o, const char *path, enum walk_want want,
                   struct walk_run *out);

#endif
