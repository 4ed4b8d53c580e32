#include "base/slice.h"

#include <string.h>

struct slice slice_of(const char *string) {
    return (struct slice){string, string ? strlen(string) : 0};
}

bool slice_equal(struct slice a, struct slice b) {
    return a.len == b.len && (a.len == 0 || memcmp(a.at, b.at, a.len) == 0);
}

size_t slice_find(struct slice s, char c) {
    const char *hit = s.len > 0 ? memchr(s.at, c, s.len) : NULL;
    return hit ? (size_t)(hit - s.at) : s.len;
}

struct slice slice_cut(struct slice *rest, char separator) {
    size_t at = slice_find(*rest, separator);
    struct slice part = {rest->at, at};
    if (at < rest->len)
        *rest = (struct slice){rest->at + at + 1, rest->len - at - 1};
    else
        *rest = (struct slice){NULL, 0};
    return part;
}
