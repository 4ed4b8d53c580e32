/* Any bytes as a recording: every chunking reads the same, and what is read can be written again.
 */
#include <stdlib.h>

#include "session/session.h"
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void write_row(void *context, const struct event *event) {
    session_row(context, event);
}
static void write_and_reread(void *context, const struct event *event) {
    static char first[2 * SESSION_ROW_MAX], second[SESSION_ROW_MAX + 1];
    struct text row, again;
    text_init(&row, first, sizeof first);
    text_init(&again, second, sizeof second);
    session_header(&row);
    size_t head = row.len;
    session_row(&row, event);
    session_reader_init(context, write_row, NULL, &again);
    session_reader_feed(context, first, row.len);
    session_reader_end(context);
    struct slice written = slice_sub(text_view(&row), head, row.len);
    if (written.len < SESSION_TEXT_MAX && !slice_equal(written, text_view(&again)))
        abort();
}
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    static struct session_reader whole, bits, again;
    session_reader_init(&whole, write_and_reread, NULL, &again);
    session_reader_init(&bits, write_and_reread, NULL, &again);
    session_reader_feed(&whole, (const char *)data, size);
    for (size_t at = 0; at < size; at++)
        session_reader_feed(&bits, (const char *)data + at, 1);
    session_reader_end(&whole);
    session_reader_end(&bits);
    if (whole.rows_good != bits.rows_good || whole.rows_bad != bits.rows_bad ||
        whole.line != bits.line)
        abort();
    return 0;
}
