#include "text/compare_text.h"

const char *compare_verdict_name(enum compare_verdict verdict) {
    static const char *const names[] = {
        [COMPARE_HELPED] = "helped",       [COMPARE_WORSE] = "made it worse",
        [COMPARE_DIFFERS] = "differs",     [COMPARE_ALIKE] = "no difference",
        [COMPARE_UNDECIDED] = "undecided", [COMPARE_REFUSED] = "not compared",
    };
    return names[verdict];
}

const char *compare_worth_lack(const struct compare_walk *w) {
    switch (w->worth.lack) {
    case WORTH_LACKS_NOTHING:
        return NULL;
    case WORTH_LACKS_LOSS:
        return "not compared";
    case WORTH_NONE_OR_ALL:
        return "a side lost none or all";
    default:
        return reach_word(w->reach.verdict);
    }
}

const char *compare_doubt_name(enum compare_doubt doubt) {
    static const char *const names[] = {
        [COMPARE_NO_DOUBT] = NULL,
        [COMPARE_SINGLE] = "single pair",
        [COMPARE_SCATTER] = "recordings scatter",
        [COMPARE_ORDER] = "one side first",
    };
    return names[doubt];
}

const char *compare_answer_name(enum compare_answer answer) {
    static const char *const names[] = {
        [COMPARE_CANT_TELL] = "can't tell",
        [COMPARE_SAME] = "no difference shown",
        [COMPARE_HIGHER] = "higher",
        [COMPARE_LOWER] = "lower",
    };
    return names[answer];
}

const struct compare_row compare_rows[COMPARE_FIGURES] = {
    [COMPARE_OUTAGES] = {"outages", " a minute", "age", 1, 1},
    [COMPARE_JITTER] = {"jitter", " ms", "age", 2, 1},
    [COMPARE_SUPPLY] = {"supply", " mV", "mv", 0, 1},
    [COMPARE_DIPS] = {"dips", " mV", "mvmin", 0, 1},
    [COMPARE_NOISE] = {"noise", " % of looks", "noise", 1, 100},
};

static bool has_rate(const struct side_samples *side) {
    for (uint32_t i = 0; i < side->count; i++)
        if (side->sample[i]->rate_hz <= 0)
            return false;
    return true;
}

static bool has_usb(const struct side_samples *side) {
    for (uint32_t i = 0; i < side->count; i++)
        if (side->sample[i]->usb)
            return true;
    return false;
}

static bool has_outages(const struct side_samples *side) {
    for (uint32_t i = 0; i < side->count; i++)
        if (!side->sample[i]->outages_known)
            return false;
    return true;
}

const char *compare_unknown(const struct compare *c, enum compare_figure_id id,
                            const struct side_samples *side, bool known) {
    if (known)
        return NULL;
    if ((id == COMPARE_SUPPLY || id == COMPARE_DIPS) && has_usb(side))
        return "USB fed the board";
    if (id == COMPARE_JITTER && !has_rate(side))
        return "rate";
    if (id != COMPARE_OUTAGES)
        return compare_rows[id].key;
    if (c->lack == COMPARE_LACKS_TIME)
        return "t";
    if (!has_outages(side))
        return "age";
    return side->sample[0]->counted ? "another limit for outages" : "lost";
}

const char *compare_lack_words(const struct compare *c) {
    static const char *const words[] = {
        [COMPARE_LACKS_NOTHING] = NULL,
        [COMPARE_LACKS_LOSS_A] = "A's loss isn't known: can't tell without lost (or pat, or seq)",
        [COMPARE_LACKS_LOSS_B] = "B's loss isn't known: can't tell without lost (or pat, or seq)",
        [COMPARE_LACKS_TIME] = "packets have no time: can't tell without t",
        [COMPARE_ACK_DIFFERS] = "one link counts loss after retries (ack=1), the other before "
                                "(ack=0): such losses are never compared",
    };
    return words[c->lack];
}

static bool ack_unknown(const struct compare *c) {
    return (c->a.ack == ACK_UNKNOWN) != (c->b.ack == ACK_UNKNOWN);
}

static bool both_after_retries(const struct compare *c) {
    return c->a.ack == ACK_WITH && c->b.ack == ACK_WITH;
}

static bool rates_differ(const struct compare *c) {
    return c->a.rate_hz != c->b.rate_hz;
}

static bool evidence_differs(const struct compare *c) {
    return c->a.evidence != c->b.evidence;
}

static bool wanders(const struct compare *c) {
    static const double much = 3;
    return c->tested && c->alike > much;
}

static bool repeats_in_unknown_order(const struct compare *c) {
    return (c->verdict == COMPARE_HELPED || c->verdict == COMPARE_WORSE) && !c->order_known;
}

static const struct {
    bool (*holds)(const struct compare *c);
    const char *words;
} notes[] = {
    {ack_unknown, "only one side's id line says whether it retries (ack): if only one does, the "
                  "losses mean different things"},
    {both_after_retries, "loss is after retries on both sides: most of what is lost on the air "
                         "doesn't show"},
    {rates_differ, "the packet rates differ, or aren't all known: a lost packet isn't the same "
                   "span of time on both sides"},
    {evidence_differs, "the losses rest on different evidence: on weaker evidence some losses may "
                       "not show"},
    {wanders,
     "the loss wanders slowly, so the recordings tell less than their length promises; on a "
     "range walk it always does: compare recordings made at one place"},
    {repeats_in_unknown_order, "the files don't say when they were recorded: this holds only if A "
                               "and B took turns"},
};

const char *compare_note(const struct compare *c, unsigned index) {
    unsigned found = 0;
    for (size_t i = 0; i < sizeof notes / sizeof notes[0]; i++)
        if (c->lack == COMPARE_LACKS_NOTHING && notes[i].holds(c) && found++ == index)
            return notes[i].words;
    return NULL;
}
