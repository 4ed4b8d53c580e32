/* Why it dropped, as text for people and as JSON. */
#ifndef TEXT_CAUSES_TEXT_H
#define TEXT_CAUSES_TEXT_H

#include "causes/causes.h"
#include "link/snapshot.h"
#include "text/figures_text.h"

struct causes_facts {
    const char *file;         /* as the person named it */
    const struct snapshot *s; /* channel names, restarts */
    const struct trace *trace;
    const struct causes *found;
    const struct causes *twitched; /* NULL where no twitch was marked */
    bool all;                      /* every drop in the table, every candidate */
};

/* Text with \n line ends. */
void causes_text(const struct causes_facts *facts, say_put *put, void *where);

enum causes_fact { CAUSES_LOSSES, CAUSES_OUTAGES, CAUSES_RESTARTS, CAUSES_HOLES };

/* NULL where the run tells how many there were; else the missing key, or a phrase with a space. */
const char *causes_unknown(const struct causes_facts *facts, enum causes_fact fact);

/* Why nothing was tested, without a full stop, into out; NULL where something was. */
const char *causes_not_tested(char *out, size_t size, const struct causes_facts *facts);

/* A cause with its channel ("channel 2 (throttle) moves", "browned out"). */
void causes_label(char *out, size_t size, const struct cause *c, const struct snapshot *s);

/* What its events are: "outages", "losses", ... */
const char *causes_events(const struct cause *c, bool twitches);

/* The chain that cause i begins, upstream first, ends of links by " -> ": how many causes of the
 * list it spans; 1 for a cause in no chain. */
uint32_t causes_chain(char *out, size_t size, const struct causes *found, uint32_t i,
                      const struct snapshot *s);

#endif
