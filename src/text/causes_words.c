/* What a search for causes could not know, in words that text, JSON and the report share. */
#include <stdio.h>
#include <string.h>

#include "text/causes_text.h"
#include "text/unknown.h"

/* A key that the lines lack, or what was missing instead. */
static void put_lack(char *out, size_t size, const char *what, const char *lack) {
    const char *lines = strchr(lack, ' ') ? "" : "the receiver's lines have no ";
    snprintf(out, size, "%s unknown: %s%s", what, lines, lack);
}

/* What would tell of packets comes first: with it alone nothing is known of losses yet. */
static const char *losses_lack(const struct snapshot *s) {
    const char *got = unknown_why(s, FIGURE_GOT);
    return got ? got : unknown_why(s, FIGURE_LOST);
}

const char *causes_unknown(const struct causes_facts *f, enum causes_fact fact) {
    switch (fact) {
    case CAUSES_LOSSES:
        return losses_lack(f->s);
    case CAUSES_OUTAGES:
        return unknown_why(f->s, FIGURE_OUTAGES);
    case CAUSES_RESTARTS:
        return unknown_why(f->s, FIGURE_RECEIVER_RESTARTS);
    default:
        return unknown_why(f->s, FIGURE_MISSING_LINES);
    }
}

const char *causes_not_tested(char *out, size_t size, const struct causes_facts *f) {
    const struct snapshot *s = f->s;
    const char *lack = losses_lack(s);
    if (f->found->too_few == NULL)
        return NULL;
    if (f->found->outages + f->found->losses > 0)
        snprintf(out, size, "%s", f->found->too_few);
    else if (lack)
        put_lack(out, size, "losses are", lack);
    else if (s->total.lost + s->lost_estimated > 0)
        put_lack(out, size, "when packets were lost is", s->link_ms == TIME_UNKNOWN ? "t" : "age");
    else if (s->unseen > 0)
        put_lack(out, size, "losses are", "some packets are in no report");
    else if (s->silent_at_end && s->outage_ms != TIME_UNKNOWN)
        snprintf(out, size, "no packet was received in the last %.2f s",
                 (double)s->outage_ms / 1000);
    else
        snprintf(out, size, "no packet was lost (%llu received)", (unsigned long long)s->total.got);
    return out;
}
