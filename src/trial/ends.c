#include "trial/ends.h"

#include <string.h>

static void copy(char *out, struct slice text) {
    size_t len = text.len < ENDS_TEXT - 1 ? text.len : ENDS_TEXT - 1;
    for (size_t i = 0; i < len; i++) /* a file may hold what a wire can't */
        out[i] = text.at[i] >= ' ' && text.at[i] <= '~' ? text.at[i] : '.';
    out[len] = '\0';
}

void ends_take(struct ends *e, const struct event *event) {
    if (event->kind != EVENT_ID)
        return;
    struct end_facts *end = event->id.transmitter ? &e->transmitter : &e->receiver;
    end->known = true;
    end->id = event->id;
    copy(end->fw, event->id.fw);
    copy(end->addr, event->id.addr);
    end->id.fw = end->id.addr = end->id.pairs = (struct slice){NULL, 0};
}

static uint32_t number_of(const struct identity *id, enum identity_key key) {
    switch (key) {
    case ID_MHZ:
        return id->mhz;
    case ID_HOP:
        return id->hop;
    case ID_KBPS:
        return id->kbps;
    case ID_AW:
        return id->aw;
    case ID_CRC:
        return id->crc;
    case ID_SIZE:
        return id->size;
    case ID_ACK:
        return id->ack;
    default:
        return id->retries;
    }
}

/* The facts in the order in which they are shown. */
static const struct {
    enum identity_key key;
    const char *name;
    bool agree;  /* both ends must */
    bool blocks; /* or no packet comes at all */
} facts[ENDS_ROWS] = {
    {ID_MHZ, "mhz", true, true},    {ID_HOP, "hop", true, false},
    {ID_KBPS, "kbps", true, true},  {ID_ADDR, "addr", true, true},
    {ID_AW, "aw", true, true},      {ID_CRC, "crc", true, true},
    {ID_SIZE, "size", true, false}, {ID_ACK, "ack", true, false},
    {ID_RATE, "rate", true, false}, {ID_RETRIES, "retries", false, false},
};

static bool say(const struct end_facts *end, enum identity_key key, char *out) {
    struct text text;
    text_init(&text, out, ENDS_TEXT);
    if (!end->known || !identity_has(&end->id, key)) {
        text_string(&text, "?");
        return false;
    }
    if (key == ID_ADDR)
        text_string(&text, end->addr);
    else if (key == ID_SIZE && end->id.dynamic_size)
        text_string(&text, "dyn");
    else if (key == ID_RATE)
        text_format(&text, "%g", end->id.rate_hz);
    else
        text_u64(&text, number_of(&end->id, key));
    return true;
}

static char lower(char c) {
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

static bool same_text(const char *a, const char *b) {
    for (; *a != '\0' && lower(*a) == lower(*b); a++)
        b++;
    return lower(*a) == lower(*b);
}

/* The same bytes, two digits each, from the other end. */
static bool reversed(const char *a, const char *b) {
    size_t len = strlen(a);
    if (len != strlen(b) || len % 2 != 0 || len == 0)
        return false;
    for (size_t i = 0; i < len; i += 2)
        if (lower(a[i]) != lower(b[len - 2 - i]) || lower(a[i + 1]) != lower(b[len - 1 - i]))
            return false;
    return true;
}

static const char *remark(const struct ends *e, enum identity_key key, const struct ends_row *row) {
    if (key == ID_ADDR && reversed(row->receiver, row->transmitter))
        return "the same bytes in the other order";
    if (key == ID_ACK)
        return "on one side only";
    if (key == ID_SIZE && e->receiver.id.dynamic_size != e->transmitter.id.dynamic_size)
        return "dynamic on one side, fixed on the other";
    if (key == ID_KBPS && (e->receiver.id.kbps == 250 || e->transmitter.id.kbps == 250))
        return "does the chip take 250? older kinds don't";
    return NULL;
}

void ends_row(const struct ends *e, uint32_t index, struct ends_row *out) {
    *out = (struct ends_row){.key = facts[index].name, .blocks = facts[index].blocks};
    bool rx = say(&e->receiver, facts[index].key, out->receiver);
    bool tx = say(&e->transmitter, facts[index].key, out->transmitter);
    if (!facts[index].agree)
        out->mark = ENDS_FREE;
    else if (!rx || !tx)
        out->mark = ENDS_UNKNOWN;
    else if (same_text(out->receiver, out->transmitter))
        out->mark = ENDS_SAME;
    else
        out->mark = ENDS_DIFFERS;
    if (out->mark == ENDS_DIFFERS)
        out->remark = remark(e, facts[index].key, out);
}

uint32_t ends_differ(const struct ends *e) {
    uint32_t count = 0;
    for (uint32_t i = 0; i < ENDS_ROWS; i++) {
        struct ends_row row;
        ends_row(e, i, &row);
        count += row.mark == ENDS_DIFFERS;
    }
    return count;
}

uint32_t ends_shared(const struct ends *e) {
    uint32_t count = 0;
    for (uint32_t i = 0; i < ENDS_ROWS; i++) {
        struct ends_row row;
        ends_row(e, i, &row);
        count += row.receiver[0] != '\0' && row.transmitter[0] != '\0';
    }
    return count;
}

void ends_names(const struct ends *e, struct text *out) {
    bool first = true;
    for (uint32_t i = 0; i < ENDS_ROWS; i++) {
        struct ends_row row;
        ends_row(e, i, &row);
        if (row.mark != ENDS_DIFFERS)
            continue;
        text_format(out, "%s%s", first ? "" : ", ", row.key);
        if (row.remark != NULL)
            text_format(out, " (%s)", row.remark);
        first = false;
    }
}

void ends_text(const struct ends *e, int row, struct text *out) {
    if (row < 0) {
        text_format(out, "  %-8s %-14s %-14s", "", "receiver", "transmitter");
        return;
    }
    static const char *const words[] = {
        [ENDS_SAME] = "same", [ENDS_DIFFERS] = "DIFFERS", [ENDS_UNKNOWN] = "", [ENDS_FREE] = ""};
    struct ends_row r;
    ends_row(e, (uint32_t)row, &r);
    const char *word = r.remark != NULL ? r.remark : words[r.mark];
    text_format(out, "%c %-8s %-14s %-14s %s", r.mark == ENDS_DIFFERS ? '!' : ' ', r.key,
                r.receiver, r.transmitter, word);
}

void ends_half(const struct ends *e, uint32_t row, struct text *out) {
    struct ends_row r;
    ends_row(e, row, &r);
    text_format(out, "%c %-7s %-12.12s %-12.12s", r.mark == ENDS_DIFFERS ? '!' : ' ', r.key,
                r.receiver, r.transmitter);
}

/* --- what can't be ---------------------------------------------------------------------------- */

static bool only(const char *text, char digit) {
    size_t len = strlen(text);
    for (size_t i = 0; i < len; i++)
        if (lower(text[i]) != digit)
            return false;
    return len >= 4;
}

/* A line that stands at 0 or at 1 reads so whatever is asked. */
static bool dead_line(const struct end_facts *end, struct text *out) {
    const struct identity *id = &end->id;
    if (identity_has(id, ID_ADDR) && (only(end->addr, '0') || only(end->addr, 'f'))) {
        text_format(out, "addr=%s", end->addr);
        return true;
    }
    if (identity_has(id, ID_AW) && id->aw == 0) {
        text_string(out, "aw=0");
        return true;
    }
    if (identity_has(id, ID_KBPS) && id->kbps == 0) {
        text_string(out, "kbps=0");
        return true;
    }
    return false;
}

/* Least and greatest that the registers of an nRF24L01+ can hold: its Product Specification v1.0,
 * section 9 (SETUP_AW 3..5 bytes, CRC 1 or 2 bytes, RX_PW 32 bytes, RF_CH 7 bits above 2400). */
static const struct {
    enum identity_key key;
    const char *name;
    uint32_t low, high;
} holds[] = {{ID_AW, "aw", 3, 5},
             {ID_CRC, "crc", 0, 2},
             {ID_SIZE, "size", 1, 32},
             {ID_MHZ, "mhz", 2400, 2527}};

bool ends_absurd(const struct end_facts *end, bool *sure, struct text *out) {
    *sure = true;
    if (!end->known)
        return false;
    if (dead_line(end, out))
        return true;
    *sure = false;
    for (size_t i = 0; i < sizeof holds / sizeof *holds; i++) {
        uint32_t value = number_of(&end->id, holds[i].key);
        if (!identity_has(&end->id, holds[i].key) ||
            (holds[i].key == ID_SIZE && end->id.dynamic_size) ||
            (value >= holds[i].low && value <= holds[i].high))
            continue;
        text_format(out, "%s=%lu", holds[i].name, (unsigned long)value);
        return true;
    }
    return false;
}
