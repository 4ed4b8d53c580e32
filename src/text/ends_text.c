#include "text/ends_text.h"

void ends_print(const struct ends *e, say_put *put, void *where) {
    static const char title[] = "What the two ends say of themselves\n";
    if (!e->receiver.known && !e->transmitter.known)
        return;
    put(where, title, sizeof title - 1);
    for (int row = -1; row < ENDS_ROWS; row++) {
        char line[120];
        struct text text;
        text_init(&text, line, sizeof line);
        ends_text(e, row, &text);
        while (text.len > 0 && line[text.len - 1] == ' ')
            line[--text.len] = '\0';
        text_char(&text, '\n');
        put(where, line, text.len);
    }
    put(where, "\n", 1);
}
