#include <jansson.h>
#include <stdio.h>

#include "text/ends_text.h"
#include "json/json.h"
#include "json/json_text.h"
#include "json/parts.h"

static json_t *time_value(int64_t ms) {
    return ms == TIME_UNKNOWN ? json_null() : json_integer(ms);
}

static json_t *text_value(const char *text) {
    json_t *value = text != NULL && text[0] != '\0' ? json_string(text) : NULL;
    return value != NULL ? value : json_null();
}

/* What wasn't measured is null, and the missing key is named where one would help. */
static json_t *finding_value(const struct trial_finding *f, json_t *because, uint32_t trial,
                             uint32_t index) {
    json_t *out = json_object();
    json_object_set_new(out, "name", json_string(f->name));
    json_object_set_new(out, "verdict", json_string(trial_verdict_name(f->verdict)));
    json_object_set_new(out, "aside", json_boolean(f->aside));
    json_object_set_new(out, "low", f->measured ? json_real(f->low) : json_null());
    json_object_set_new(out, "high", f->measured ? json_real(f->high) : json_null());
    json_object_set_new(out, "unit", text_value(f->unit));
    json_object_set_new(out, "missing", text_value(f->missing));
    json_object_set_new(out, "text", text_value(f->text));
    static const char *const bounds[] = {"low", "high"};
    for (int i = 0; i < 2 && !f->measured && f->missing != NULL; i++) {
        char path[80];
        snprintf(path, sizeof path, "trials[%u].findings[%u].%s", trial, index, bounds[i]);
        json_object_set_new(because, path, json_string(f->missing));
    }
    return out;
}

static json_t *entry_value(const struct book_entry *e, json_t *because, uint32_t trial) {
    json_t *out = json_object(), *findings = json_array();
    json_object_set_new(out, "name", json_string(trial_kinds[e->id]->name));
    json_object_set_new(out, "verdict", json_string(trial_verdict_name(e->outcome.verdict)));
    json_object_set_new(out, "headline", text_value(e->outcome.headline));
    json_object_set_new(out, "next", text_value(e->outcome.next));
    json_object_set_new(out, "begun_ms", time_value(e->begun_ms));
    json_object_set_new(out, "ended_ms", time_value(e->ended_ms));
    json_object_set_new(out, "ended", json_boolean(e->ended));
    json_object_set_new(out, "quit", json_boolean(e->quit));
    json_object_set_new(out, "port_lost", json_boolean(e->port_lost));
    for (uint32_t i = 0; i < e->outcome.count; i++)
        json_array_append_new(findings, finding_value(&e->outcome.finding[i], because, trial, i));
    json_object_set_new(out, "findings", findings);
    return out;
}

static json_t *stands_value(const struct book *book) {
    json_t *out = json_object();
    for (int i = 0; i < TRIALS; i++) {
        const char *stale;
        if (trial_kinds[i] == NULL)
            continue;
        enum trial_verdict verdict = book_stands(book, (enum trial_id)i, &stale);
        json_t *one = json_object();
        json_object_set_new(one, "verdict", json_string(trial_verdict_name(verdict)));
        json_object_set_new(one, "stale", text_value(stale));
        json_object_set_new(out, trial_kinds[i]->name, one);
    }
    return out;
}

char *trials_json(const struct book *book, const struct trials_facts *facts) {
    json_t *root = json_object(), *trials = json_array(), *because = json_object();
    struct book_entry entry;
    json_object_set_new(root, "format", json_string("airleash-judge-1"));
    json_object_set_new(root, "file", text_value(facts->file));
    json_object_set_new(root, "recording", json_boolean(facts->recording));
    for (uint32_t i = 0; i < book_count(book); i++) {
        book_entry(book, i, &entry);
        json_array_append_new(trials, entry_value(&entry, because, i));
    }
    json_object_set_new(root, "trials", trials);
    json_object_set_new(root, "stands", stands_value(book));
    json_object_set_new(root, "ends",
                        facts->ends != NULL ? ends_json(facts->ends, because) : json_null());
    json_object_set_new(root, "unknown_because", because);
    return json_text(root, 15);
}
