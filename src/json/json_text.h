/* The text of a JSON object, for a file, a program or a terminal. */
#ifndef JSON_JSON_TEXT_H
#define JSON_JSON_TEXT_H

#include <jansson.h>

/* Takes the object (its reference too) and returns its text in UTF-8 over several lines, numbers
 * with so many significant digits; to be freed; NULL when there is no memory.  Characters that
 * base/printable.h doesn't let through to a terminal stand as \uXXXX (RFC 8259, 7). */
char *json_text(json_t *object, size_t digits);

#endif
