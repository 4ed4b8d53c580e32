#include "console/board.h"

#include <string.h>

#include "base/text.h"

void board_init(struct board *b) {
    *b = (struct board){.end[1].refused = true};
}

static void keep(char *to, struct slice from) {
    struct slice cut = slice_sub(from, 0, BOARD_TEXT - 1);
    memcpy(to, cut.at, cut.len);
    to[cut.len] = '\0';
}

static bool differs(const char *before, struct slice now) {
    return before[0] != '\0' && !slice_is(slice_sub(now, 0, BOARD_TEXT - 1), before);
}

enum board_news board_look(const struct board *b, const struct identity *id) {
    const struct board_end *end = &b->end[id->transmitter];
    if (end->refused)
        return BOARD_OTHER_END;
    if (identity_has(id, ID_FW) && differs(end->fw, id->fw))
        return BOARD_FIRMWARE;
    if (identity_has(id, ID_ADDR) && differs(end->addr, id->addr))
        return BOARD_ADDRESS;
    return BOARD_SAME;
}

/* The first line tells which end is there; whoever accepted the other one later expects both. */
void board_take(struct board *b, const struct identity *id) {
    struct board_end *end = &b->end[id->transmitter], *other = &b->end[!id->transmitter];
    end->refused = false;
    other->refused = !other->known;
    end->known = true;
    if (identity_has(id, ID_FW))
        keep(end->fw, id->fw);
    if (identity_has(id, ID_ADDR))
        keep(end->addr, id->addr);
}

static void put_change(struct text *t, const char *what, struct slice now, const char *before) {
    text_format(t, "The %s is now ", what);
    text_slice(t, slice_sub(now, 0, BOARD_TEXT - 1));
    text_format(t, ", it was %s.", before);
}

void board_words(const struct board *b, const struct identity *id, char out[static BOARD_NEWS]) {
    const struct board_end *end = &b->end[id->transmitter];
    struct text t;
    text_init(&t, out, BOARD_NEWS);
    switch (board_look(b, id)) {
    case BOARD_OTHER_END:
        text_format(&t, "This is the %s; a %s is expected here.",
                    id->transmitter ? "transmitter" : "receiver",
                    id->transmitter ? "receiver" : "transmitter");
        break;
    case BOARD_FIRMWARE:
        put_change(&t, "firmware", id->fw, end->fw);
        break;
    case BOARD_ADDRESS:
        put_change(&t, "link's address", id->addr, end->addr);
        break;
    case BOARD_SAME:
        break;
    }
}
