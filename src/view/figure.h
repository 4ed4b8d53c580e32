/* Numbers as the console writes them, each into a buffer of FIGURE_MAX bytes.  What is unknown
 * comes out as a word or as dashes, never as zero. */
#ifndef VIEW_FIGURE_H
#define VIEW_FIGURE_H

#include "link/snapshot.h"

enum { FIGURE_MAX = 48, FEW_PACKETS = 300 };

/* "1.2 %": never "0.0 %" with a packet lost, nor "100.0 %" with one received; "no packets" with
 * none at all, "unknown" where it isn't known. */
void figure_share(char *out, const struct packet_count *count);

/* "1.2 % (12 of 1000)". */
void figure_loss(char *out, const struct packet_count *count);

/* The same of the last seconds; false while no packet comes: it says since when instead. */
bool figure_recent(char *out, const struct snapshot *s, const struct packet_count *count);

/* True when so few packets stand behind the figure that it is shown dimmed. */
/* ", 0.2-1.4 %" or ", under 1.4 %": how well the loss is known (95 %); empty where it isn't. */
void figure_bounds(char *out, const struct packet_count *count);

bool figure_few(const struct packet_count *count);

/* A moment as h:mm:ss, or with tenths: "0:12:34.5"; "-:--:--" while unknown. */
void figure_moment(char *out, int64_t ms, bool tenths);

/* A length of time: "430 ms", "1.25 s", "12.3 s", "3 min 20 s", "2 h 05 min". */
void figure_span(char *out, int64_t ms);

/* "812 B", "1.2 kB", "3.4 MB". */
void figure_bytes(char *out, uint64_t bytes);

#endif
