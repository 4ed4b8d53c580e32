/* The bind trial from the inside: what was seen at each step.  Private to src/trial/bind*.c.
 *
 * A step that asks for something is watched from the moment at which it was done: the person's
 * answer, or a packet that shows it.  What came before says nothing of it. */
#ifndef JUDGE_BIND_PARTS_H
#define JUDGE_BIND_PARTS_H

#include "trial/ends.h"
#include "trial/layout.h"
#include "trial/trial.h"

enum bind_step {
    BIND_CAUTION,
    BIND_LOOK,     /* what comes at all */
    BIND_ON,       /* transmitter on, 2 m away */
    BIND_OFF,      /* and off */
    BIND_AGAIN,    /* and on */
    BIND_NEAR,     /* half a metre, where nothing came at 2 m */
    BIND_AWAY,     /* 5 m or more */
    BIND_RX_FIRST, /* transmitter started while the receiver runs, as often as wished */
    BIND_TX_FIRST, /* receiver started while the transmitter runs */
    BIND_STEPS
};

enum {
    BIND_SETTLE_MS =
        600, /* after an answer: a hand's delay, and a report that still tells of before */
    BIND_WATCH_MS = 4000,  /* each step is watched for so long */
    BIND_ENOUGH_MS = 2000, /* and proves nothing when it was less than this */
    BIND_QUIET_MS = 2000,  /* outage that shows that the packets have stopped */
    BIND_PACKETS = 20,     /* fewer don't show a link */
    BIND_LINEAGES = 4,
};

struct bind_watch {
    bool entered, answered, skipped;
    bool broken;              /* the port was away, or the computer slept */
    int64_t since_us;         /* step entered */
    int64_t from_us, from_ms; /* watched since; TIME_UNKNOWN before it is; link time likewise */
    int64_t to_us;            /* and up to */
    int64_t report_us;        /* newest report */
    int64_t packet_us;        /* newest report that brought a packet, TIME_UNKNOWN */
    uint64_t bytes, lines, damaged;
    uint64_t damage[DAMAGE_REASONS]; /* bytes by reason */
    uint64_t reports, bare, says, ids, boots;
    uint64_t reg_reports, reg[4]; /* enum radio_registers */
    uint64_t noise_hits, noise_looks, heard_hits, heard_looks;
    uint64_t got, lost; /* packets within the watch */
    bool tells;         /* reports tell of packets */
    bool refused_known; /* refused holds: two reports had it */
    uint64_t refused, reinits;
    uint32_t switches_back; /* to a sequence already heard in this watch: two are interleaved */
    uint32_t new_lineages;
    uint64_t advance;             /* of the sequences, packets */
    uint32_t hits[BIND_LINEAGES]; /* reports of each */
};

/* A sequence of packets as one transmitter counts them. */
struct bind_lineage {
    bool used;
    uint32_t seq, tboot;
    int64_t at_ms;
};

/* Starts of one end while the other runs, and how long the first packet took. */
struct bind_order {
    uint32_t starts, linked;
    double low, high; /* bounds of the shortest and the longest, ms */
};

struct bind {
    struct trial_rules rules;
    struct ends ends;
    struct layout layout;
    enum bind_step step;
    bool agreed; /* to the caution */
    struct bind_watch watch[BIND_STEPS];
    struct bind_lineage lineage[BIND_LINEAGES];
    uint32_t newest, next; /* lineage of the newest packet; where the next new one goes */
    bool seq_known;
    bool refused_known, reinit_known;
    uint32_t refused, reinit; /* of the newest report that had them */
    int64_t refused_us;
    struct bind_order rx_first, tx_first;
    int64_t boot_us;        /* the receiver started and waits for its first packet; TIME_UNKNOWN */
    int64_t boot_before_ms; /* uptime of its newest report without one */
    double rate_hz;         /* 0 unknown */
};

/* Takes a moment into the watch of the step that the trial stands at.  In bind_watch.c. */
void bind_take(void *state, const struct moment *m, const struct snapshot *s,
               const struct trial_place *place, bool entered);

/* How long a step has been watched, ms; 0 before that. */
int64_t bind_watched_ms(const struct bind_watch *w);
/* Watched long enough, and unbroken. */
bool bind_seen(const struct bind_watch *w);
/* Two senders: their sequences are heard in turn, or more packets came than the one that is always
 * the newest at a report has numbers for. */
bool bind_two_senders(const struct bind_watch *w);
/* Share of packets lost; negative where none was counted. */
double bind_loss(const struct bind_watch *w);

enum bind_energy { ENERGY_UNKNOWN, ENERGY_FOLLOWS, ENERGY_ALWAYS, ENERGY_NONE };
/* What the carrier detector says of the switch: `off` and at least one of the others were seen. */
enum bind_energy bind_energy(const struct bind *b);

/* In bind_judge.c. */
void bind_judge(const void *state, struct trial_outcome *out);

#endif
