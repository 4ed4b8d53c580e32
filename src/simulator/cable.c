#include "simulator/cable.h"

void cable_init(struct cable *c, uint64_t seed, simulator_put *put, void *where) {
    *c = (struct cable){.put = put, .where = where};
    chance_init(&c->chance, seed, 4);
}

static void hand_over(struct cable *c) {
    c->bytes += c->len;
    c->put(c->where, c->line, c->len);
    c->len = 0;
}

/* One to three bytes with a flipped bit or gone. */
static void damage(struct cable *c) {
    for (int32_t left = chance_between(&c->chance, 1, 3); left > 0 && c->len > 1; left--) {
        size_t at = (size_t)chance_between(&c->chance, 0, (int32_t)c->len - 1);
        if (chance_hits(&c->chance, 32768)) {
            int32_t bit = 1 << chance_between(&c->chance, 0, 7);
            c->line[at] = (char)(c->line[at] ^ (char)bit);
        } else {
            for (size_t i = at; i + 1 < c->len; i++)
                c->line[i] = c->line[i + 1];
            c->len--;
        }
    }
    c->lines_damaged++;
}

/* Read at another speed a byte is another, and a line end none. */
static void garble(struct cable *c) {
    for (size_t i = 0; i < c->len; i++)
        c->line[i] = (char)(0x80 | ((uint8_t)c->line[i] * 29u + i * 53u) % 0x80u);
    c->lines_damaged++;
}

static bool happens(struct cable *c, int32_t in_10000) {
    return in_10000 > 0 && chance_between(&c->chance, 0, 9999) < in_10000;
}

static void tear(struct cable *c) {
    c->tear = false;
    c->lines_torn++;
    if (c->len > 4)
        c->len = (size_t)chance_between(&c->chance, 2, (int32_t)c->len - 2);
    hand_over(c);
}

static void finish(struct cable *c) {
    c->lines++;
    if (c->tear) {
        tear(c);
        return;
    }
    if (c->state == CABLE_CUT || happens(c, c->lose)) {
        c->lines_lost++;
        c->len = 0;
        return;
    }
    if (c->state == CABLE_SPEED)
        garble(c);
    else if (happens(c, c->damage))
        damage(c);
    hand_over(c);
}

void cable_byte(void *cable, uint8_t byte) {
    struct cable *c = cable;
    if (c->len < sizeof c->line)
        c->line[c->len++] = (char)byte;
    if (byte == '\n')
        finish(c);
}

void cable_text(struct cable *c, const char *text) {
    for (; *text != '\0'; text++)
        cable_byte(c, (uint8_t)*text);
}
