/* Somebody else's text on its way to a person's screen.
 *
 * Printable is a character that is seen where it stands and leaves its neighbours alone, in UTF-8:
 * no control (C0, DEL, C1), nothing unseen or turning the direction of writing (Unicode's category
 * Cf), no line or paragraph separator, no mark of the general blocks that pile up over a letter,
 * nothing private or without meaning.  A text in any script passes; its own marks do too. */
#ifndef BASE_PRINTABLE_H
#define BASE_PRINTABLE_H

#include <stdint.h>

#include "base/slice.h"

/* Bytes of the character at the front of s, and in *rune which one; 0 where s doesn't begin with
 * one in UTF-8 (RFC 3629). */
size_t printable_utf8(struct slice s, uint32_t *rune);

/* Bytes of the printable character at the front of s; 0 where there is none, or s is empty. */
size_t printable_front(struct slice s);

/* Writes the text with '?' in place of each character, or byte of none, that isn't printable; cut
 * between characters to what fits into size bytes (at least 1), with a NUL.  Returns out. */
const char *printable(char *out, size_t size, const char *text);

#endif
