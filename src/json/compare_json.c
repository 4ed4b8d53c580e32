#include <jansson.h>
#include <math.h>
#include <stdio.h>

#include "json/json.h"
#include "json/json_text.h"

struct document {
    const struct compare *c;
    json_t *root, *because;
};

struct section {
    struct document *d;
    const char *path;
    json_t *object;
};

static struct section section_begin(struct document *d, json_t *in, const char *name,
                                    const char *path) {
    struct section section = {d, path, json_object()};
    json_object_set_new(in, name, section.object);
    return section;
}

/* A value, or null with the reason. */
static void put(struct section *to, const char *key, json_t *value, const char *because) {
    char path[96];
    if (because == NULL) {
        json_object_set_new(to->object, key, value);
        return;
    }
    json_decref(value);
    snprintf(path, sizeof path, "%s%s%s", to->path, to->path[0] ? "." : "", key);
    json_object_set_new(to->object, key, json_null());
    json_object_set_new(to->d->because, path, json_string(because));
}

static json_t *whole(uint64_t count) {
    return json_integer((json_int_t)count);
}

static const char *lack_reason(const struct compare *c) {
    static const char *const reasons[] = {
        [COMPARE_LACKS_NOTHING] = NULL,
        [COMPARE_LACKS_LOSS_A] = "lost",
        [COMPARE_LACKS_LOSS_B] = "lost",
        [COMPARE_LACKS_TIME] = "t",
        [COMPARE_ACK_DIFFERS] = "loss before retries against loss after",
    };
    return reasons[c->lack];
}

static void put_names(struct section *to, const struct side_samples *samples) {
    json_t *list = json_array();
    for (uint32_t i = 0; i < samples->count; i++) {
        json_t *name = json_string(samples->sample[i]->name);
        json_array_append_new(list, name ? name : json_null());
    }
    json_object_set_new(to->object, "names", list);
}

static void put_side(struct document *d, const char *name, const struct side *s,
                     const struct side_samples *samples) {
    struct section to = section_begin(d, d->root, name, name);
    const char *lack = lack_reason(d->c), *no_loss = s->counted ? NULL : "lost";
    put_names(&to, samples);
    put(&to, "got", whole(s->got), no_loss);
    put(&to, "lost", whole(s->lost), no_loss);
    put(&to, "rate", json_real(s->rate), no_loss);
    put(&to, "low", json_real(s->loss.low), lack);
    put(&to, "high", json_real(s->loss.high), lack);
    put(&to, "minutes", json_real(s->minutes), NULL);
    put(&to, "blocks", whole(s->blocks), lack);
    put(&to, "evidence", json_string(evidence_name(s->evidence)), NULL);
    put(&to, "after_retries", json_boolean(s->ack == ACK_WITH),
        s->ack == ACK_UNKNOWN ? "ack"
        : s->ack == ACK_BOTH  ? "both ack=0 and ack=1"
                              : NULL);
    put(&to, "rate_hz", json_real(s->rate_hz), s->rate_hz > 0 ? NULL : "rate");
    put(&to, "failsafes", whole(s->failsafes), s->failsafe_known ? NULL : "fs");
    put(&to, "registers_forgotten", whole(s->settings_lost), s->registers_known ? NULL : "reg");
    put(&to, "receiver_restarts", whole(s->receiver_restarts), NULL);
    put(&to, "transmitter_restarts", whole(s->transmitter_restarts),
        s->transmitter_restarts_known ? NULL : "tboot");
}

static void put_loss(struct document *d) {
    const struct compare *c = d->c;
    const char *lack = lack_reason(c), *none = c->ratio.known ? NULL : "A lost none";
    struct section to = section_begin(d, d->root, "difference", "difference");
    put(&to, "rate", json_real(c->difference.rate), lack);
    put(&to, "low", json_real(c->difference.limits.low), lack);
    put(&to, "high", json_real(c->difference.limits.high), lack);
    to = section_begin(d, d->root, "ratio", "ratio");
    put(&to, "value", json_real(c->ratio.value), lack ? lack : none);
    put(&to, "low", json_real(c->ratio.limits.low), lack);
    bool open = !lack && !c->ratio.high_known;
    put(&to, "high", json_real(open ? 0 : c->ratio.limits.high),
        lack   ? lack
        : open ? "A may have lost none"
               : NULL);
}

static void put_verdict(struct document *d) {
    const struct compare *c = d->c;
    struct section to = {d, "", d->root};
    const char *lack = lack_reason(c), *doubt = compare_doubt_name(c->doubt);
    const char *untested = lack ? lack : c->tested ? NULL : "fewer than 8 blocks of time";
    put(&to, "verdict", json_string(compare_verdict_name(c->verdict)), NULL);
    put(&to, "doubt", doubt ? json_string(doubt) : json_null(), NULL);
    put(&to, "p", json_real(c->p), untested);
    put(&to, "more_minutes", json_real(c->more_minutes),
        lack                              ? lack
        : c->verdict != COMPARE_UNDECIDED ? "decided"
        : c->more_minutes <= 0            ? "not within an hour"
                                          : NULL);
    put(&to, "largest", json_real(c->largest), lack);
    put(&to, "margin", json_real(c->margin), lack);
    put(&to, "block_ms", json_integer(c->block_ms), lack);
    put(&to, "alike", json_real(c->alike), untested);
    put(&to, "whole_recordings", json_boolean(c->whole), NULL);
}

static void put_figure(struct document *d, json_t *in, enum compare_figure_id id,
                       const struct side_samples *a, const struct side_samples *b) {
    const struct compare_figure *f = &d->c->figure[id];
    const char *no_a = compare_unknown(d->c, id, a, f->known_a);
    const char *no_b = compare_unknown(d->c, id, b, f->known_b);
    char path[64];
    snprintf(path, sizeof path, "figures.%s", compare_rows[id].name);
    struct section to = section_begin(d, in, compare_rows[id].name, path);
    put(&to, "a", json_real(f->a), no_a);
    put(&to, "b", json_real(f->b), no_b);
    const char *no_p = no_a ? no_a : no_b ? no_b : f->tested ? NULL : "fewer than 8 blocks of time";
    put(&to, "p", json_real(f->p), no_p);
    put(&to, "answer", json_string(compare_answer_name(f->answer)), NULL);
}

/* Only where a walk was given. */
static void put_worth(struct document *d, const struct compare_walk *w) {
    const struct worth *v = &w->worth;
    const char *lack = compare_worth_lack(w);
    struct section to = section_begin(d, d->root, "worth", "worth");
    json_t *name = json_string(w->file);
    json_object_set_new(to.object, "walk", name ? name : json_null());
    put(&to, "slope", json_real(w->reach.fit.slope),
        w->reach.fit.known ? NULL : reach_word(w->reach.verdict));
    put(&to, "distance", json_real(v->distance), lack);
    put(&to, "free_space_db", json_real(v->free_db), lack);
    put(&to, "near_ground_db", json_real(v->ground_db), lack);
    put(&to, "n", json_real(v->n), lack ? lack : v->n_known ? NULL : "rssi");
    put(&to, "db", json_real(v->db), lack ? lack : v->n_known ? NULL : "rssi");
    const char *open = "the loss of B may be none or all";
    bool low = isfinite(v->low_db), high = isfinite(v->high_db);
    put(&to, "low_db", json_real(low ? v->low_db : 0), lack ? lack : low ? NULL : open);
    put(&to, "high_db", json_real(high ? v->high_db : 0), lack ? lack : high ? NULL : open);
}

static void put_notes(struct document *d) {
    json_t *list = json_array();
    const char *note;
    for (unsigned i = 0; (note = compare_note(d->c, i)) != NULL; i++)
        json_array_append_new(list, json_string(note));
    json_object_set_new(d->root, "notes", list);
}

char *compare_json(const struct compare *c, const struct side_samples *a,
                   const struct side_samples *b, const struct compare_walk *w) {
    struct document d = {c, json_object(), json_object()};
    json_object_set_new(d.root, "format", json_string("airleash-compare-1"));
    put_verdict(&d);
    put_loss(&d);
    put_side(&d, "a", &c->a, a);
    put_side(&d, "b", &c->b, b);
    json_t *figures = json_object();
    json_object_set_new(d.root, "figures", figures);
    for (int i = 0; i < COMPARE_FIGURES; i++)
        put_figure(&d, figures, (enum compare_figure_id)i, a, b);
    if (w)
        put_worth(&d, w);
    put_notes(&d);
    json_object_set_new(d.root, "unknown_because", d.because);
    return json_text(d.root, 15);
}
