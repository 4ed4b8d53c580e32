/* A recording being written.  Rows gather in memory; output_flush, once a wake-up, writes them.  A
 * write that fails is remembered in words and tried again at later flushes: up to 1 MiB is held,
 * further rows are counted as missing, and when room returns the file says how many. */
#ifndef CONSOLE_OUTPUT_H
#define CONSOLE_OUTPUT_H

#include <stdbool.h>
#include <stdint.h>

#include "telemetry/event.h"

struct output; /* ours: output_open .. output_close */

/* Creates path and writes the header; an existing file is refused unless `overwrite`.  NULL on
 * trouble, which was put into `why` (WORDS_MAX bytes) for a person. */
struct output *output_open(const char *path, bool overwrite, char *why);

/* A fact, as an `about` row. */
void output_about(struct output *o, const char *key, const char *value);

/* The facts that every recording begins with: version, wall-clock start, program, port, speed
 * (0: none). */
void output_facts(struct output *o, const char *port, int speed);

/* An event's row. */
void output_event(struct output *o, const struct event *event);

/* Writes what has gathered.  Every 5 s the system is asked to put it onto the disk, without waiting
 * for that. */
void output_flush(struct output *o, int64_t now_us);

/* Why rows aren't being written now, or NULL when all is well. */
const char *output_trouble(const struct output *o);

/* Why rows that were written may be lost all the same (the disk couldn't be synced, or somebody
 * deleted the file), or NULL. */
const char *output_unsafe(const struct output *o);

uint64_t output_bytes(const struct output *o); /* in the file */
const char *output_path(const struct output *o);

/* Writes the rest, syncs, closes, frees; *bytes (or NULL): how many are in the file.  False when
 * rows are missing, or the last write or any sync failed; `why` then tells.  NULL is fine. */
bool output_close(struct output *o, uint64_t *bytes, char *why);

#endif
