/* A file that appears whole or not at all: bytes gather in memory, then it is written under another
 * name beside its place, synced and renamed. */
#ifndef APP_WHOLE_FILE_H
#define APP_WHOLE_FILE_H

#include <stdbool.h>
#include <stddef.h>

struct bytes { /* all zero: none; free(at) when done */
    char *at;
    size_t len, room;
    bool no_memory; /* some are missing */
};

/* Appends; a say_put, with the struct bytes as `where`. */
void bytes_put(void *where, const char *bytes, size_t len);

/* Whether a file of this name may be made: it isn't there, or may be overwritten.  To be asked
 * before the work is done.  False: `why` (WORDS_MAX bytes) tells. */
bool whole_file_may(const char *path, bool overwrite, char *why);

/* Writes it; false on trouble, which `why` tells.  Ctrl-C and the like wait meanwhile. */
bool whole_file_write(const char *path, bool overwrite, const struct bytes *bytes, char *why);

#endif
