#include "link/log_entries.h"

/* What comes from the wire is ASCII; what a person typed is UTF-8, cut between characters. */
static void copy_printable(char *out, size_t size, struct slice text, bool utf8) {
    size_t len = text.len < size - 1 ? text.len : size - 1;
    while (utf8 && len < text.len && len > 0 && ((unsigned char)text.at[len] & 0xC0) == 0x80)
        len--;
    for (size_t i = 0; i < len; i++) {
        unsigned char c = (unsigned char)text.at[i];
        out[i] = (c >= 0x20 && c <= 0x7E) || (utf8 && c >= 0x80) ? (char)c : '?';
    }
    out[len] = '\0';
}

static bool merged(struct log_entry *newest, enum log_entry_kind kind, int64_t at_ms, int64_t a,
                   int64_t b) {
    enum { TOGETHER_MS = 2000 };
    if (newest->kind != kind || at_ms == TIME_UNKNOWN || newest->at_ms == TIME_UNKNOWN ||
        at_ms - newest->at_ms > TOGETHER_MS)
        return false;
    if (kind == LOG_ENTRY_DAMAGE && newest->a == a)
        newest->b += b;
    else if (kind == LOG_ENTRY_LINES_MISSING)
        newest->a += a;
    else
        return false;
    return true;
}

static struct log_entry *place_of(struct log_entries *h, uint64_t number) {
    return &h->ring[number % LOG_ENTRIES_MAX];
}

/* Room for one in the order of their times: a report tells of what was at different times since the
 * one before.  What has no time stays where it came. */
static struct log_entry *make_room(struct log_entries *h, int64_t at_ms) {
    uint64_t number = h->count++;
    uint64_t oldest = h->count > LOG_ENTRIES_MAX ? h->count - LOG_ENTRIES_MAX : 0;
    while (number > oldest && at_ms != TIME_UNKNOWN && place_of(h, number - 1)->at_ms > at_ms) {
        *place_of(h, number) = *place_of(h, number - 1);
        number--;
    }
    return place_of(h, number);
}

void log_entries_add(struct log_entries *h, enum log_entry_kind kind, int64_t at_ms,
                     int64_t host_us, int64_t a, int64_t b, struct slice text) {
    struct log_entry *newest = &h->ring[(h->count + LOG_ENTRIES_MAX - 1) % LOG_ENTRIES_MAX];
    if (h->count > 0 && merged(newest, kind, at_ms, a, b))
        return;
    struct log_entry *fresh = make_room(h, at_ms);
    *fresh = (struct log_entry){.kind = kind, .at_ms = at_ms, .host_us = host_us, .a = a, .b = b};
    copy_printable(fresh->text, sizeof fresh->text, text, kind == LOG_ENTRY_MARK);
}
