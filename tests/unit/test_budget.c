/* The budget in words and as JSON, and paper against field.  The physics is test_radio.c's; here is
 * checked that what it says reaches the person: cautions, limits, what is unknown, what is missing.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <jansson.h>

#include "base/text.h"
#include "study/missing.h"
#include "text/budget_text.h"
#include "json/json.h"

static char page[8192];
static struct text written;

static void put(void *where, const char *bytes, size_t len) {
    text_slice(where, (struct slice){bytes, len});
}

static const char *in_words(const struct budget_inputs *in, const struct budget_facts *facts) {
    struct budget b;
    budget_work(&b, in);
    text_init(&written, page, sizeof page);
    budget_text(in, &b, facts, put, &written);
    assert_false(written.full);
    return page;
}

static json_t *as_json(const struct budget_inputs *in, const struct budget_facts *facts) {
    struct budget b;
    budget_work(&b, in);
    char *text = budget_json(in, &b, facts);
    json_t *root = json_loads(text, 0, NULL);
    free(text);
    assert_non_null(root);
    return root;
}

static const struct budget_facts chip = {.step = 4, .walked_m = NAN, .level_dbm = NAN};

static void has(const char *text, const char *part) {
    if (!strstr(text, part))
        fail_msg("no '%s' in:\n%s", part, text);
}

static void warns(void **state) {
    struct budget_inputs in;
    (void)state;
    budget_defaults(&in);
    const char *text = in_words(&in, &chip);
    assert_null(strstr(text, "CAUTION"));
    /* 2.15 dBm: sqrt(30 * 0.00164 W) / 3 m = 74 mV/m; only that strictest limit is below it */
    has(text, "50 mV/m at 3 m (47 CFR 15.249), here 74: MAY EXCEED IT");
    assert_null(strstr(strstr(text, "MAY EXCEED") + 1, "MAY EXCEED"));
    has(text, "10 dBm e.i.r.p. (EN 300 440, ERC/REC 70-03 annex 1): below it");
    has(text, "only 500 kHz wide or more (6 dB), at most 8 dBm in 3 kHz");
    has(text, "local law comes first");
    has(text, "check your local rules");
    in.mhz = 2500;
    has(in_words(&in, &chip), "CAUTION   2500 MHz lies outside 2400 to 2483.5 MHz");
    in.mhz = 2400; /* the carrier is inside, half of its signal isn't */
    has(in_words(&in, &chip), "CAUTION   2400 MHz is so near the edge");
    in.mhz = 2440;
    in.power_dbm = 20;
    text = in_words(&in, &chip);
    has(text, "20 dBm e.i.r.p. (EN 300 328): MAY EXCEED IT");
    has(text, "10 dBm in 1 MHz (EN 300 328): MAY EXCEED IT");
    has(text, "annex 1): MAY EXCEED IT");
    has(text, "the radio may give 7.85 dBm at most");
}

static void tells_crossed_antennas(void **state) {
    struct budget_inputs in;
    (void)state;
    budget_defaults(&in);
    in.polarisation_deg = 90;
    const char *text = in_words(&in, &chip);
    has(text, "infinite by theory");
    has(text, "20 to 30 dB in practice");
    assert_null(strstr(text, "inf dB"));
    json_t *root = as_json(&in, &chip);
    assert_true(json_is_null(json_object_get(root, "polarisation_db")));
    json_t *because = json_object_get(root, "unknown_because");
    assert_string_equal(json_string_value(json_object_get(because, "polarisation_db")), "infinite");
    assert_true(json_real_value(json_object_get(root, "polarisation_used_db")) > 29.9);
    json_decref(root);
}

/* The names that other programs rely on, each with its unit, each a finite number. */
static void names_its_figures(void **state) {
    static const char *const names[] = {"mhz",
                                        "power_dbm",
                                        "sensitivity_dbm",
                                        "distance_m",
                                        "free_space_db",
                                        "free_space_p525_db",
                                        "two_ray_db",
                                        "two_ray_breakpoint_m",
                                        "fresnel_radius_m",
                                        "polarisation_db",
                                        "eirp_dbm",
                                        "density_dbm_mhz",
                                        "air_time_us",
                                        "range_m",
                                        "margin_db",
                                        "packets_hz"};
    struct budget_inputs in;
    (void)state;
    budget_defaults(&in);
    json_t *root = as_json(&in, &chip);
    assert_string_equal(json_string_value(json_object_get(root, "format")), "airleash-budget-1");
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        if (!json_is_real(json_object_get(root, names[i])))
            fail_msg("%s is no number", names[i]);
    assert_int_equal(json_array_size(json_object_get(root, "wifi_channels")), 4);
    assert_true(json_is_null(json_object_get(root, "missing_db")));
    json_decref(root);
}

/* At the distance where paper has m dB in hand, m dB are missing; a level that is m below paper's,
 * too. */
static void misses_decibels(void **state) {
    struct budget_inputs in;
    struct budget b;
    struct missing m;
    (void)state;
    budget_defaults(&in);
    budget_work(&b, &in);
    missing_by_range(&m, &in, b.range_m, b.range_m / 2, b.range_m * 2, false);
    assert_true(fabs(m.db - in.margin_db) < 1e-6);
    assert_true(m.free_space_db > m.db); /* beyond the breakpoint */
    /* twice as far costs 12 dB of two-ray, within what is left of the ripple (textbook: 40 log 2)
     */
    assert_true(fabs(m.db - m.low_db - 12.04) < 0.3);
    assert_true(m.high_db > m.db && m.low_db < m.db);
    missing_by_level(&m, &in, in.distance_m, b.received_dbm - 7);
    assert_true(fabs(m.db - 7) < 1e-9);
    assert_true(fabs(m.free_space_db - 7 - (b.plan_db - b.free_space_db)) < 1e-9);
}

static void names_what_eats_them(void **state) {
    struct budget_inputs in;
    struct missing m;
    struct budget_facts facts = chip;
    (void)state;
    budget_defaults(&in);
    facts.walked_m = 60;
    facts.by_range = &m;
    missing_by_range(&m, &in, 60, 60, 60, false);
    const char *text = in_words(&in, &facts);
    has(text, "antennas turned against each other");
    assert_null(strstr(text, "an amplified module that"));
    missing_by_range(&m, &in, 60, 60, 60, true);
    has(in_words(&in, &facts), "missing     at most 22.5 dB");
    facts.walked_m = 600;
    missing_by_range(&m, &in, 600, 600, 600, false);
    text = in_words(&in, &facts);
    has(text, "better than paper");
    assert_null(strstr(text, "antennas turned against each other"));
    for (size_t i = 0; i < missing_eater_count; i++)
        assert_false(missing_may_be(&missing_eaters[i], MISSING_WORTH_DB - 0.1, true));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(warns),
        cmocka_unit_test(tells_crossed_antennas),
        cmocka_unit_test(names_its_figures),
        cmocka_unit_test(misses_decibels),
        cmocka_unit_test(names_what_eats_them),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
