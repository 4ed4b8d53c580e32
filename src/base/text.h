/* Text built up in a buffer of fixed size that the caller owns.  What doesn't fit is dropped as a
 * whole piece and remembered in `full`; the text always ends in NUL. */
#ifndef BASE_TEXT_H
#define BASE_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/slice.h"

struct text {
    char *at;
    size_t size; /* bytes of the buffer, the NUL included; at least 1 */
    size_t len;
    bool full; /* some piece didn't fit since the last clear */
};

void text_init(struct text *t, char *buffer, size_t size);
void text_clear(struct text *t);

void text_char(struct text *t, char c);
void text_slice(struct text *t, struct slice s);
void text_string(struct text *t, const char *string);
void text_u64(struct text *t, uint64_t value);
void text_i64(struct text *t, int64_t value);

/* printf into the text; numbers with a fraction follow the C locale only if the program runs in
 * it, which app/ sees to (LC_NUMERIC stays "C"). */
void text_format(struct text *t, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Adds bytes so that only printable ASCII comes out: a backslash becomes \\, anything outside
 * 0x20..0x7E becomes \xHH.  text_unescape turns it back; it returns false on a malformed escape,
 * having added what stood before it. */
void text_escape(struct text *t, struct slice bytes);
bool text_unescape(struct text *t, struct slice escaped);

/* Where to break a NUL-terminated text for lines of `width` columns, a byte a column: how many
 * bytes stand on its first line, up to a line feed or the last space that lets them fit, of a
 * longer word up to its end.  *rest is what follows the break, the empty text at the end. */
size_t text_fill(const char *text, size_t width, const char **rest);

struct slice text_view(const struct text *t);

#endif
