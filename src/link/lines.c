#include "link/lines.h"

#include <string.h>

void lines_init(struct lines *l) {
    memset(l, 0, sizeof *l);
}

static uint64_t count_pairs(struct slice pairs) {
    uint64_t count = 0;
    while (pairs.len > 0) {
        slice_cut(&pairs, ' ');
        count++;
    }
    return count;
}

void lines_good(struct lines *l, const struct event *e) {
    l->good++;
    l->bytes_good += e->bytes;
    l->unknown_words += e->kind == EVENT_OTHER;
    if (e->kind == EVENT_REPORT) {
        l->reports++;
        if (e->report.extra.len > 0 && !slice_starts(e->report.extra, "names="))
            l->unknown_keys += count_pairs(e->report.extra);
    }
    if (e->kind != EVENT_BOOT)
        memset(l->boot_text, 0, sizeof l->boot_text);
}

void lines_damaged(struct lines *l, const struct event *e) {
    l->bytes_damaged += e->bytes;
    if (e->damage.continues)
        return;
    l->damaged++;
    l->by_reason[e->damage.reason]++;
    l->boot_text[e->damage.reason]++;
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
    memset(l->boot_text, 0, sizeof l->boot_text);
}

bool lines_report(struct lines *l, const struct report *r, bool fresh_boot, uint64_t *missing) {
    uint64_t refused = l->refused_since;
    *missing = 0;
    l->refused_since = 0;
    if (!report_has(r, KEY_N)) {
        l->n_known = false;
        return refused > 0;
    }
    l->missing_known = true;
    bool known = l->n_known || fresh_boot;
    uint64_t hole = known ? (uint32_t)(r->n - (fresh_boot ? 0 : l->n) - 1u) : 0;
    l->n_known = true;
    l->n = r->n;
    if (hole > refused)
        *missing = hole - refused;
    l->missing += *missing;
    return hole > 0;
}
