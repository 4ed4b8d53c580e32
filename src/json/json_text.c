#include "json/json_text.h"

#include <stdio.h>
#include <stdlib.h>

#include "base/printable.h"

enum { ESCAPED = 6 };

static bool stays(struct slice s) {
    return s.at[0] == '\n' || printable_front(s) > 0;
}

/* \uXXXX, twice above 0xFFFF; returns the bytes, which are only counted where out is NULL. */
static size_t escape(char *out, uint32_t rune) {
    char unit[ESCAPED + 1];
    uint32_t above = rune - 0x10000;
    bool pair = rune > 0xFFFF;
    for (int i = 0; out != NULL && i < (pair ? 2 : 1); i++) {
        uint32_t half = i == 0 ? 0xD800 | above >> 10 : 0xDC00 | (above & 0x3FF);
        snprintf(unit, sizeof unit, "\\u%04X", (unsigned)((pair ? half : rune) & 0xFFFF));
        memcpy(out + i * ESCAPED, unit, ESCAPED);
    }
    return pair ? 2 * ESCAPED : ESCAPED;
}

/* Copies the text, escaped; returns its bytes, which are only counted where out is NULL. */
static size_t copy(char *out, const char *text) {
    size_t used = 0;
    struct slice rest = slice_of(text);
    while (rest.len > 0) {
        uint32_t rune = 0;
        size_t len = printable_utf8(rest, &rune);
        len = len > 0 ? len : 1; /* the library lets only UTF-8 through */
        if (!stays(rest)) {
            used += escape(out != NULL ? out + used : NULL, rune);
        } else {
            if (out != NULL)
                memcpy(out + used, rest.at, len);
            used += len;
        }
        rest = slice_sub(rest, len, rest.len);
    }
    return used;
}

char *json_text(json_t *object, size_t digits) {
    char *plain = json_dumps(object, JSON_INDENT(2) | JSON_REAL_PRECISION(digits));
    json_decref(object);
    size_t len = plain != NULL ? copy(NULL, plain) : 0;
    char *text = plain != NULL ? malloc(len + 1) : NULL;
    if (text != NULL) {
        copy(text, plain);
        text[len] = '\0';
    }
    free(plain);
    return text;
}
