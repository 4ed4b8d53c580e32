#include "text/say.h"

#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>

#include "base/text.h"

void say(const struct say *to, const char *format, ...) {
    char text[SAY_MAX];
    va_list values;
    va_start(values, format);
    int len = vsnprintf(text, sizeof text, format, values);
    va_end(values);
    if (len > 0)
        to->put(to->where, text, (size_t)len < sizeof text ? (size_t)len : sizeof text - 1);
}

void say_filled(const struct say *to, int from, int hanging, const char *text) {
    bool first = true;
    while (*text != '\0') {
        const char *line = text;
        size_t len = text_fill(line, (size_t)(SAY_COLUMNS - (first ? from : hanging)), &text);
        say(to, "%*s%.*s\n", first ? 0 : hanging, "", (int)len, line);
        first = false;
    }
}
