/* Text as it is made goes, piece by piece, to whoever takes it: a file, a buffer, a test. */
#ifndef TEXT_SAY_H
#define TEXT_SAY_H

#include <stddef.h>

/* Takes len bytes; `where` is the caller's. */
typedef void say_put(void *where, const char *bytes, size_t len);

struct say {
    say_put *put;
    void *where;
};

enum { SAY_MAX = 1024, SAY_COLUMNS = 80 };

/* printf to whoever takes it, at most SAY_MAX - 1 bytes a call: what is longer is cut. */
void say(const struct say *to, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* A text in lines of SAY_COLUMNS columns.  The first begins where the line stands by now, column
 * `from`; those after it are indented to column `hanging`. */
void say_filled(const struct say *to, int from, int hanging, const char *text);

#endif
