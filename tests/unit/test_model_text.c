/* The model file that is written from what was seen: it reads back, fills in only what the wire
 * told, and names every key. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "link/bench.h"
#include "model/model.h"
#include "telemetry/telemetry.h"
#include "text/model_text.h"

struct written {
    char text[16384];
    size_t len;
};

static void keep(void *where, const char *bytes, size_t len) {
    struct written *w = where;
    assert_true(w->len + len < sizeof w->text);
    memcpy(w->text + w->len, bytes, len);
    w->len += len;
}

struct reading {
    struct bench *bench;
    struct model_seen seen;
};

static void take(void *context, const struct event *event) {
    struct reading *r = context;
    bench_feed(r->bench, event);
    model_seen_event(&r->seen, event);
}

/* The model file of some lines, and what it says once it is read back. */
static void write_model(struct written *w, struct model *model, const char *lines,
                        const char *where) {
    struct bench_limits limits;
    struct telemetry t;
    struct snapshot s;
    struct reading r = {.seen = {.s = &s, .where = where}};
    char why[200] = "";
    bench_limits_default(&limits);
    r.bench = bench_new(&limits);
    telemetry_init(&t, take, &r);
    telemetry_feed(&t, lines, strlen(lines), TIME_UNKNOWN);
    telemetry_end(&t, TIME_UNKNOWN);
    bench_read(r.bench, &s);
    memset(w, 0, sizeof *w);
    model_text(&r.seen, keep, w);
    model_init(model);
    if (model_parse(model, w->text, why, sizeof why) != 0)
        fail_msg("%s\n%s", why, w->text);
    bench_free(r.bench);
}

static void names_every_key(const char *text) {
    for (size_t i = 0; i < model_key_count; i++) {
        const char *key = strcmp(model_keys[i].key, "1 to 16") == 0 ? "1" : model_keys[i].key;
        char live[64], idle[64], section[64];
        snprintf(live, sizeof live, "\n%s = ", key);
        snprintf(idle, sizeof idle, "\n#%s =", key);
        snprintf(section, sizeof section, "\n[%s]\n", model_keys[i].section);
        const char *from = strstr(text, section);
        assert_non_null(from);
        if (strstr(from, live) == NULL && strstr(from, idle) == NULL)
            fail_msg("[%s] %s is missing", model_keys[i].section, key);
        assert_non_null(strstr(from, model_keys[i].meaning));
    }
}

static void test_full_lines(void **state) {
    static struct written w;
    struct model c;
    (void)state;
    write_model(&w, &c,
                "id end=rx fw=tug-rx-1 rate=62.5 chans=3 unit=us span=900,2100 "
                "safe=1500,hold,off\n"
                "id end=tx fw=tug-tx-1 rate=50 chans=9 safe=1,2\n"
                "rx n=1 t=50 ch=1500,1000,1500 mv=4980 mvmin=4900 tstep=2/4\n"
                "rx n=2 t=100 ch=1510,1000,- mv=4985 mvmin=4910 tstep=2/4\n",
                "pond.log");
    names_every_key(w.text);
    assert_true(c.rate_hz == 62.5);
    assert_int_equal(c.full_step, 4); /* of the steps that were told, not the one in use */
    assert_int_equal(c.motors, 0);    /* nobody told */
    assert_int_equal(c.told_mv, 0);   /* worth nothing without a meter */
    assert_non_null(strstr(w.text, "\n#1 = 1500\n#2 = hold\n#3 = off\n"));
    assert_int_equal(c.safe[0], 0); /* what it does needn't be what is wanted */
    assert_non_null(strstr(w.text, "as the receiver says: 900 to 2100\n"));
    assert_non_null(strstr(w.text, "\n# seen last: 4985\n"));
    assert_non_null(strstr(w.text, "seen on pond.log."));
}

/* What bare numbers don't tell stays a comment. */
static void test_bare_lines(void **state) {
    static struct written w;
    struct model c, empty;
    (void)state;
    write_model(&w, &c, "1500,1500\n1500,1500\n1500,1500\n", "a\nb\x1B[2J");
    names_every_key(w.text);
    memset(&empty, 0, sizeof empty);
    model_init(&empty);
    assert_true(c.rate_hz == 0 && c.full_step == 0 && c.motors == 0);
    for (int i = 0; i < MODEL_CHANNELS; i++)
        assert_string_equal(c.channel_name[i], "");
    assert_non_null(strstr(w.text, "seen on a?b?[2J."));
    assert_null(strstr(w.text, "the receiver says"));
}

/* Names come with lines of name:value pairs. */
static void test_names_of_the_wire(void **state) {
    static struct written w;
    struct model c;
    (void)state;
    write_model(&w, &c, "rudder:1500 winch:1500\nrudder:1500 winch:1500\n", "x");
    names_every_key(w.text);
    assert_string_equal(c.channel_name[0], "rudder");
    assert_string_equal(c.channel_name[1], "winch");
}

/* A stick that was left at its low end is only suggested. */
static void test_throttle_is_a_comment(void **state) {
    static struct written w;
    static char lines[20000];
    struct model c;
    size_t len = 0;
    (void)state;
    for (int i = 1; i <= 120; i++)
        len += (size_t)snprintf(lines + len, sizeof lines - len, "rx n=%d t=%d ch=1500,%d\n", i,
                                i * 50, i > 110 ? 1600 : 1002 + i % 3);
    write_model(&w, &c, lines, "x");
    assert_int_equal(c.motors, 0);
    assert_non_null(strstr(w.text, "# channel 2 rests at its low end"));
    assert_null(strstr(w.text, "# channel 1 rests"));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_full_lines),
        cmocka_unit_test(test_bare_lines),
        cmocka_unit_test(test_names_of_the_wire),
        cmocka_unit_test(test_throttle_is_a_comment),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
