#include "base/text.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/number.h"

void text_init(struct text *t, char *buffer, size_t size) {
    *t = (struct text){.at = buffer, .size = size};
    t->at[0] = '\0';
}

void text_clear(struct text *t) {
    t->len = 0;
    t->full = false;
    t->at[0] = '\0';
}

void text_slice(struct text *t, struct slice s) {
    if (s.len >= t->size - t->len) {
        t->full = true;
        return;
    }
    if (s.len > 0)
        memcpy(t->at + t->len, s.at, s.len);
    t->len += s.len;
    t->at[t->len] = '\0';
}

void text_char(struct text *t, char c) {
    text_slice(t, (struct slice){&c, 1});
}

void text_string(struct text *t, const char *string) {
    text_slice(t, slice_of(string));
}

void text_u64(struct text *t, uint64_t value) {
    char digits[NUMBER_TEXT_MAX];
    text_slice(t, (struct slice){digits, number_put_u64(digits, value)});
}

void text_i64(struct text *t, int64_t value) {
    char digits[NUMBER_TEXT_MAX];
    text_slice(t, (struct slice){digits, number_put_i64(digits, value)});
}

void text_format(struct text *t, const char *format, ...) {
    size_t room = t->size - t->len;
    va_list arguments;
    va_start(arguments, format);
    int wanted = vsnprintf(t->at + t->len, room, format, arguments);
    va_end(arguments);
    if (wanted < 0 || (size_t)wanted >= room) {
        t->at[t->len] = '\0';
        t->full = true;
        return;
    }
    t->len += (size_t)wanted;
}

void text_escape(struct text *t, struct slice bytes) {
    static const char hex[] = "0123456789ABCDEF";
    for (size_t i = 0; i < bytes.len; i++) {
        unsigned char c = (unsigned char)bytes.at[i];
        if (c == '\\')
            text_string(t, "\\\\");
        else if (c >= 0x20 && c <= 0x7E)
            text_char(t, (char)c);
        else
            text_slice(t, (struct slice){(char[]){'\\', 'x', hex[c >> 4], hex[c & 15]}, 4});
    }
}

bool text_unescape(struct text *t, struct slice escaped) {
    for (size_t i = 0; i < escaped.len; i++) {
        char c = escaped.at[i];
        if (c != '\\') {
            text_char(t, c);
            continue;
        }
        uint32_t byte;
        if (i + 1 < escaped.len && escaped.at[i + 1] == '\\') {
            text_char(t, '\\');
            i += 1;
        } else if (i + 3 < escaped.len && escaped.at[i + 1] == 'x' &&
                   number_hex(slice_sub(escaped, i + 2, i + 4), 2, &byte)) {
            text_char(t, (char)(unsigned char)byte);
            i += 3;
        } else {
            return false;
        }
    }
    return true;
}

size_t text_fill(const char *text, size_t width, const char **rest) {
    size_t len = strcspn(text, "\n"), at = width;
    if (len > width) {
        while (at > 0 && text[at] != ' ')
            at--;
        len = at > 0 ? at : strcspn(text, " \n");
    }
    *rest = text + len + (text[len] != '\0');
    return len;
}

struct slice text_view(const struct text *t) {
    return (struct slice){t->at, t->len};
}
