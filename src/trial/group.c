/* Channels that came to the same are told together. */
#include <string.h>

#include "base/text.h"
#include "trial/trial.h"

static struct slice label_of(const struct trial_finding *f) {
    const char *colon = strchr(f->text, ':');
    return (struct slice){f->text, colon != NULL ? (size_t)(colon - f->text) : 0};
}

static bool is_brief(const struct trial_finding *f) {
    return f->verdict == TRIAL_PASSED && f->brief[0] != '\0' && label_of(f).len > 0;
}

/* All that a channel passed in, in brief. */
enum { BRIEFS = 400 };
static void briefs_of(const struct trial_outcome *o, struct slice label, struct text *out) {
    text_clear(out);
    for (uint32_t i = 0; i < o->count; i++) {
        const struct trial_finding *f = &o->finding[i];
        if (!is_brief(f) || !slice_equal(label_of(f), label))
            continue;
        text_string(out, out->len > 0 ? ", " : "");
        text_string(out, f->brief);
    }
}

enum trial_told trial_group(const struct trial_outcome *o, uint32_t index, char *out, size_t size) {
    char mine[BRIEFS], other[BRIEFS];
    struct text all, others, t;
    const struct trial_finding *first = &o->finding[index];
    if (!is_brief(first))
        return TRIAL_TOLD_ALONE;
    text_init(&all, mine, sizeof mine);
    text_init(&others, other, sizeof other);
    text_init(&t, out, size);
    briefs_of(o, label_of(first), &all);
    struct slice newest = {"", 0};
    for (uint32_t i = 0; i < o->count; i++) {
        const struct trial_finding *f = &o->finding[i];
        if (!is_brief(f) || slice_equal(label_of(f), newest))
            continue;
        newest = label_of(f);
        briefs_of(o, newest, &others);
        if (!slice_equal(text_view(&all), text_view(&others)))
            continue;
        if (t.len == 0 && i != index)
            return TRIAL_TOLD_ELSEWHERE;
        text_string(&t, t.len > 0 ? ", " : "");
        text_slice(&t, newest);
    }
    text_string(&t, ": ");
    text_slice(&t, text_view(&all));
    return TRIAL_TOLD_GROUP;
}
