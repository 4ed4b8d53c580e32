/* A piece of somebody else's text: never ends in NUL, never owns its bytes, and lives as long as
 * the buffer that it points into. */
#ifndef BASE_SLICE_H
#define BASE_SLICE_H

#include <stdbool.h>
#include <stddef.h>
#include <string.h>

struct slice {
    const char *at; /* may be NULL when len is 0 */
    size_t len;
};

/* The slice of a NUL-terminated string; NULL gives the empty slice. */
struct slice slice_of(const char *string);

/* The bytes from..to (exclusive) of s; both are cut to its length. */
static inline struct slice slice_sub(struct slice s, size_t from, size_t to) {
    if (to > s.len)
        to = s.len;
    if (from >= to)
        return (struct slice){s.at, 0};
    return (struct slice){s.at + from, to - from};
}

/* True when s holds exactly the bytes of string. */
static inline bool slice_is(struct slice s, const char *string) {
    size_t len = strlen(string);
    return s.len == len && (len == 0 || memcmp(s.at, string, len) == 0);
}

/* True when a and b hold the same bytes. */
bool slice_equal(struct slice a, struct slice b);

/* True when s begins with the bytes of string. */
static inline bool slice_starts(struct slice s, const char *string) {
    size_t len = strlen(string);
    return s.len >= len && (len == 0 || memcmp(s.at, string, len) == 0);
}

/* Offset of the first byte c in s, or s.len when there is none. */
size_t slice_find(struct slice s, char c);

/* Cuts the part before the first separator off *rest and returns it; *rest is what follows the
 * separator.  Without a separator the whole is returned and *rest becomes empty with at = NULL, so
 * that "a," gives two parts and "a" gives one: loop while rest.at is not NULL. */
struct slice slice_cut(struct slice *rest, char separator);

#endif
