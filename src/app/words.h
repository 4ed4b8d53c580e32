/* Results and faults in plain words, each with the next step.  Only app/ speaks to people about
 * trouble. */
#ifndef APP_WORDS_H
#define APP_WORDS_H

#include "session/session.h"
#include "source/source.h"

enum { WORDS_MAX = 512 };

/* Why path can't be read as a source: one line, no line end. */
void words_source(char out[static WORDS_MAX], const char *path, const struct source_error *error);

/* The same of a file that open() or read() refused with this errno. */
void words_reading(char out[static WORDS_MAX], const char *path, int code);

/* Why path can't be written, by errno. */
void words_writing(char out[static WORDS_MAX], const char *path, int code);

/* Why a row of a recording was passed over. */
const char *words_session(enum session_fault fault);

/* "airleash: " and the words, one line on standard error. */
void words_say(const char *format, ...) __attribute__((format(printf, 1, 2)));

/* Lines divided by \n on standard error, somebody else's words in them made printable. */
void words_lines(const char *text);

/* A size for people: "512 bytes", "12.3 kB", "4.6 MB". */
void words_size(char *out, size_t size, uint64_t bytes);

/* Asks on standard error and reads a line of standard input; true for yes (or y). */
bool words_ask(const char *question);

/* The caution before a real port is opened, lines divided by \n. */
extern const char words_caution[];

/* The question before a port is reopened: how it fits the one that was opened first, and the
 * caution. */
void words_reopening(char out[static WORDS_MAX], enum source_match match,
                     const struct source_identity *first, const struct source_identity *now);

/* The caution before a port is released for a new firmware. */
extern const char words_release[];

/* True for "yes" or "y", with a line end or without. */
bool words_is_yes(const char *typed);

#endif
