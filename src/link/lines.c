#include "link/lines.h"

#include <string.h>

void lines_init(struct lines *l) {
    memset(l, 0, sizeof *l);
}

static void forget_boot_text(struct lines *l) {
    if (!l->boot_text_any)
        return;
    memset(l->boot_text, 0, sizeof l->boot_text);
    l->boot_text_any = false;
}

void lines_good(struct lines *l, const struct event *e) {
    l->good++;
    l->bytes_good += e->bytes;
    l->unknown_words += e->kind == EVENT_OTHER;
    if (e->kind != EVENT_BOOT)
        forget_boot_text(l);
}

static void count_report(struct lines *l, const struct event *e) {
    l->good++;
    l->bytes_good += e->bytes;
    l->reports++;
    forget_boot_text(l);
}

void lines_unknown_keys(struct lines *l, struct slice pairs) {
    while (pairs.len > 0) {
        slice_cut(&pairs, ' ');
        l->unknown_keys++;
    }
}

void lines_damaged(struct lines *l, const struct event *e) {
    l->bytes_damaged += e->bytes;
    if (e->damage.continues)
        return;
    l->damaged++;
    l->by_reason[e->damage.reason]++;
    l->boot_text[e->damage.reason]++;
    l->boot_text_any = true;
    /* A sketch's own prints and what a boot loader says were never reports. */
    if (e->damage.reason != DAMAGE_PLAIN_TEXT && e->damage.reason != DAMAGE_BOOT_TEXT)
        l->refused_since++;
}

void lines_boot(struct lines *l) {
    static const enum damage_reason chatter[] = {DAMAGE_PLAIN_TEXT, DAMAGE_BAD_BYTE};
    for (size_t i = 0; i < sizeof chatter / sizeof chatter[0]; i++) {
        uint64_t lines = l->boot_text[chatter[i]];
        l->by_reason[chatter[i]] -= lines;
        l->by_reason[DAMAGE_BOOT_TEXT] += lines;
    }
    l->refused_since = 0; /* what was refused belongs to the boot before */
    forget_boot_text(l);
}

bool lines_report(struct lines *l, const struct event *e, bool fresh_boot, uint64_t *missing) {
    const struct report *r = &e->report;
    uint64_t refused = l->refused_since;
    count_report(l, e);
    *missing = 0;
    l->refused_since = 0;
    if (!report_has(r, KEY_N)) {
        l->n_known = false;
        return refused > 0;
    }
    l->missing_known = true;
    uint32_t before = fresh_boot ? 0 : l->n;
    bool again = l->n_known && !fresh_boot && r->n == before; /* the same report once more */
    uint64_t hole = !again && (l->n_known || fresh_boot) ? (uint32_t)(r->n - before - 1u) : 0;
    l->n_known = true;
    l->n = r->n;
    if (hole > refused)
        *missing = hole - refused;
    l->missing += *missing;
    return hole > 0;
}
