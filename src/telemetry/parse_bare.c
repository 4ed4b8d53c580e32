/* Lines of bare numbers, so that any sketch works on day one: "1500,1500,1000", with tabs, spaces
 * or a comma and spaces between, or as name:value pairs. */
#include <string.h>

#include "telemetry/parse.h"
#include "telemetry/value.h"

struct bare {
    struct report *report;
    char *names; /* "names=a,b,c" so far */
    size_t names_len;
    uint32_t named, values;
    enum parse_verdict worst;
};

static void skip_blanks(struct cursor *c) {
    while (cursor_at(c, ' ') || cursor_at(c, '\t'))
        c->at++;
}

static bool between(const struct cursor *c) {
    return cursor_done(c) || *c->at == '\t' || *c->at == ',';
}

static void add_name(struct bare *b, struct slice name) {
    static const char start[] = "names=";
    if (b->named++ == 0) {
        memcpy(b->names, start, sizeof start - 1);
        b->names_len = sizeof start - 1;
    } else {
        b->names[b->names_len++] = ',';
    }
    memcpy(b->names + b->names_len, name.at, name.len);
    b->names_len += name.len;
}

/* False when what stands here is no number at all; a fraction is one, but no channel value. */
static bool number(struct bare *b, struct cursor *c) {
    const struct report_field *field = &report_fields[KEY_CH];
    int32_t value = 0;
    uint32_t ignored;
    enum number_fault fault = value_i32(c, field->low, field->high, &value);
    if (fault == NUMBER_BAD)
        return false;
    if (cursor_at(c, '.')) {
        c->at++;
        if (value_u32(c, &ignored) == NUMBER_BAD)
            return false;
        b->worst = PARSE_BAD;
    } else if (fault == NUMBER_RANGE || b->values >= CHANNELS_MAX) {
        if (b->worst == PARSE_OK)
            b->worst = PARSE_RANGE;
    } else {
        b->report->ch[b->values] = value;
    }
    b->values++;
    return true;
}

static bool item(struct bare *b, struct cursor *c) {
    struct slice name = value_name(c);
    if (name.len > 0) {
        if (!cursor_at(c, ':'))
            return false;
        c->at++;
        add_name(b, name);
    }
    return number(b, c) && between(c);
}

/* Takes blanks and at most one comma; an empty place between two commas is a missing value. */
static bool separator(struct bare *b, struct cursor *c) {
    skip_blanks(c);
    if (!cursor_at(c, ','))
        return true;
    c->at++;
    skip_blanks(c);
    if (cursor_at(c, ','))
        b->worst = PARSE_BAD;
    while (cursor_at(c, ','))
        c->at++;
    skip_blanks(c);
    return true;
}

enum parse_verdict parse_bare(struct telemetry *t, struct slice line, struct event *event) {
    struct cursor c = {line.at, line.at + line.len};
    struct bare b = {.report = &event->report, .names = t->scratch};
    event->kind = EVENT_REPORT;
    skip_blanks(&c);
    do {
        if (!item(&b, &c))
            return PARSE_FOREIGN;
        separator(&b, &c);
    } while (c.at < c.end);
    if (b.named != 0 && b.named != b.values)
        return PARSE_FOREIGN;
    if (b.worst != PARSE_OK)
        return b.worst;
    event->report.has = 1u << KEY_CH;
    event->report.ch_count = b.values;
    event->report.extra = (struct slice){t->scratch, b.names_len};
    return PARSE_OK;
}
