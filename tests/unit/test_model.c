/* The model file: INI text to struct.  The format itself (sections, key = value, comments) is
 * the INI library's; what is checked here is what the keys mean and what a bad line is told. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "model/model.h"

#define COUNT(table) (sizeof(table) / sizeof(table)[0])

static void parse_good(struct model *c, const char *text) {
    char why[200] = "";
    int line = model_parse(c, text, why, sizeof why);
    if (line != 0)
        fail_msg("line %d: %s", line, why);
}

static void test_empty_model_knows_nothing(void **state) {
    (void)state;
    static const char *const texts[] = {"", "\n\n", "; only a comment\n", "[link]\n",
                                        "[link]\nrate =\n"};
    for (size_t i = 0; i < COUNT(texts); i++) {
        struct model c;
        model_init(&c);
        parse_good(&c, texts[i]);
        assert_string_equal(c.model, "");
        assert_int_equal(c.motors, 0);
        assert_true(c.rate_hz == 0);
        assert_int_equal(c.power, MODEL_POWER_UNKNOWN);
        assert_false(c.opening_harmless);
        assert_int_equal(c.outage_ms, 0);
    }
}

static const char tug[] = "\xEF\xBB\xBF# harbour tug\r\n"
                          "[model]\r\n"
                          "name = Möwe\r\n"
                          "\r\n"
                          "[channels]\r\n"
                          "1 = rudder   ; the long arm\r\n"
                          "16=crane\r\n"
                          "throttle = 2\r\n"
                          "idle = high\r\n"
                          "[link]\r\n"
                          "rate = 62.5\r\n"
                          "lossy_percent = 2.5\r\n"
                          "outage_ms = 400\r\n"
                          "full_step = 4\r\n"
                          "[port]\r\n"
                          "no_lines_ms = 3000\r\n"
                          "restarts = no\r\n"
                          "[supply]\r\n"
                          "from = regulator\r\n"
                          "low_mv = 4700\r\n"
                          "meter_mv = 5020\r\n"
                          "told_mv = 4780\r\n"
                          "brownout_mv = 4300";

static void test_whole_model(void **state) {
    (void)state;
    struct model c;
    model_init(&c);
    parse_good(&c, tug);
    assert_string_equal(c.model, "Möwe");
    assert_string_equal(c.channel_name[0], "rudder");
    assert_string_equal(c.channel_name[1], "");
    assert_string_equal(c.channel_name[15], "crane");
    assert_int_equal(c.motors, 1);
    assert_int_equal(c.motor[0], 1);
    assert_int_equal(c.idles, 1);
    assert_int_equal(c.idle[0].at, MODEL_IDLE_HIGH);
    assert_true(c.rate_hz == 62.5);
    assert_true(c.lossy_share == 0.025);
    assert_int_equal(c.outage_ms, 400);
    assert_int_equal(c.full_step, 4);
    assert_int_equal(c.no_lines_ms, 3000);
    assert_true(c.opening_harmless);
    assert_int_equal(c.power, MODEL_POWER_REGULATOR);
    assert_int_equal(c.supply_low_mv, 4700);
    assert_int_equal(c.brownout_mv, 4300);
    /* A meter that reads 5020 where the receiver told 4780: its reference is 5 % off. */
    assert_true(fabs(model_supply_scale(&c) - 5020.0 / 4780.0) < 1e-12);
    model_init(&c);
    parse_good(&c, "[supply]\nmeter_mv = 5020\n");
    assert_true(model_supply_scale(&c) == 0);
}

static void test_motors(void **state) {
    (void)state;
    struct model c;
    model_init(&c);
    parse_good(&c, "[channels]\nidle = low, middle , 1100\nthrottle = 3, 5 ,16\n");
    assert_int_equal(c.motors, 3);
    assert_int_equal(c.motor[0], 2);
    assert_int_equal(c.motor[1], 4);
    assert_int_equal(c.motor[2], 15);
    assert_int_equal(c.idles, 3);
    assert_int_equal(c.idle[0].at, MODEL_IDLE_LOW);
    assert_int_equal(c.idle[1].at, MODEL_IDLE_MIDDLE);
    assert_int_equal(c.idle[2].at, MODEL_IDLE_VALUE);
    assert_int_equal(c.idle[2].value, 1100);
}

static void test_trials(void **state) {
    (void)state;
    struct model c;
    model_init(&c);
    for (int i = 0; i < MODEL_TRIALS; i++)
        assert_int_equal(c.trial[i], 0);
    parse_good(&c, "[failsafe]\n1 = 1500\n2 = hold\n16 = off\n"
                   "[trials]\nthrottle_low_ms = 800\nsoak_gap_ms = 90\nstay_ms = 7000\n"
                   "crosstalk = 6\n");
    assert_int_equal(c.safe[0], MODEL_SAFE_VALUE);
    assert_int_equal(c.safe_value[0], 1500);
    assert_int_equal(c.safe[1], MODEL_SAFE_HOLD);
    assert_int_equal(c.safe[2], MODEL_SAFE_UNKNOWN);
    assert_int_equal(c.safe[15], MODEL_SAFE_OFF);
    assert_int_equal(c.trial[MODEL_THROTTLE_LOW_MS], 800);
    assert_int_equal(c.trial[MODEL_SOAK_GAP_MS], 90);
    assert_int_equal(c.trial[MODEL_STAY_MS], 7000);
    assert_int_equal(c.trial[MODEL_CROSSTALK], 6);
    assert_int_equal(c.trial[MODEL_CENTRE], 0);
}

/* A second model file beats the first where it says something, and only there. */
static void test_cards_add_up(void **state) {
    (void)state;
    struct model c;
    model_init(&c);
    parse_good(&c, tug);
    parse_good(&c, "[link]\nrate = 50\n[channels]\nidle = low\n[port]\nrestarts = yes\n");
    assert_true(c.rate_hz == 50);
    assert_int_equal(c.motors, 1);
    assert_int_equal(c.idle[0].at, MODEL_IDLE_LOW);
    assert_false(c.opening_harmless);
    assert_int_equal(c.outage_ms, 400);
    assert_string_equal(c.channel_name[15], "crane");
}

#define BAD_MOTORS                                                                                 \
    "[channels] throttle: should be channels from 1 to 16, each once, such as 3 or 3, 5"

static void test_bad_lines(void **state) {
    (void)state;
    static const struct {
        const char *legend, *text;
        int line;
        const char *why;
    } cases[] = {
        {"unknown key", "[supply]\nvolts = 5\n", 2,
         "[supply] volts: no such key; this section has from, low_mv, meter_mv, told_mv, "
         "brownout_mv"},
        {"unknown section", "\n[ship]\nname = x\n", 3,
         "[ship] name: no such section; there are model, channels, link, port, supply, "
         "failsafe, trials"},
        {"no section", "rate = 50\n", 1,
         "rate: no such section; there are model, channels, link, port, supply, "
         "failsafe, trials"},
        {"not a number", "[link]\nrate = fast\n", 2, "[link] rate: not a number"},
        {"decimal comma", "[link]\nrate = 62,5\n", 2, "[link] rate: not a number"},
        {"rate 0", "[link]\nrate = 0\n", 2, "[link] rate: should be above 0, at most 100000"},
        {"rate below 0", "[link]\nrate = -5\n", 2,
         "[link] rate: should be above 0, at most 100000"},
        {"too many digits", "[link]\nrate = 1234567890123456\n", 2,
         "[link] rate: should be above 0, at most 100000"},
        {"half a channel", "[channels]\nthrottle = 2.5\n", 2, BAD_MOTORS},
        {"channel 0", "[channels]\nthrottle = 0\n", 2, BAD_MOTORS},
        {"channel 17", "[channels]\nthrottle = 17\n", 2, BAD_MOTORS},
        {"over 32 bits", "[channels]\nthrottle = 4294967298\n", 2, BAD_MOTORS},
        {"a motor twice", "[channels]\nthrottle = 3, 3\n", 2, BAD_MOTORS},
        {"a list that ends open", "[channels]\nthrottle = 3,\n", 2, BAD_MOTORS},
        {"an idle that is none", "[channels]\nidle = low, soft\n", 2,
         "[channels] idle: should be low, high, middle or a value: one for all motors, or one for "
         "each"},
        {"two idles for three motors", "[channels]\nthrottle = 3, 5, 7\nidle = low, middle\n", 3,
         "[channels] idle: should be one for all motors, or one for each of throttle"},
        {"name of channel 17", "[channels]\n17 = x\n", 2,
         "[channels] 17: no such key; this section has 1 to 16, throttle, idle"},
        {"failsafe of channel 17", "[failsafe]\n17 = 1500\n", 2,
         "[failsafe] 17: no such key; this section has 1 to 16"},
        {"failsafe word", "[failsafe]\n2 = low\n", 2,
         "[failsafe] 2: should be a value from 0 to 65535, hold or off"},
        {"failsafe twice", "[failsafe]\n2 = 1\n2 = 2\n", 3, "[failsafe] 2: given twice"},
        {"limit 0", "[trials]\nstay_ms = 0\n", 2, "[trials] stay_ms: should be from 1 to 600000"},
        {"unknown word", "[supply]\nfrom = sun\n", 2,
         "[supply] from: should be usb or battery or regulator"},
        {"yes or no", "[port]\nrestarts = maybe\n", 2, "[port] restarts: should be no or yes"},
        {"long name", "[model]\nname = the tug of the third pond\n", 2,
         "[model] name: longer than 23 bytes"},
        {"control character", "[channels]\n3 = \x1B[2J\n", 2,
         "[channels] 3: has a control character"},
        {"C1 control",
         "[channels]\n3 = \xC2\x9B"
         "2J\n",
         2, "[channels] 3: has a control character"},
        {"given twice", "[link]\nrate = 50\nrate = 60\n", 3, "[link] rate: given twice"},
        {"channel named twice", "[channels]\n1 = a\n01 = b\n", 3, "[channels] 01: given twice"},
        {"neither", "[link]\nrate\n", 2, "neither [section] nor key = value"},
        {"section not closed", "[link\n", 1, "neither [section] nor key = value"},
        {"indented", "[link]\nrate = 50\n outage_ms = 4\n", 3, "the line begins with a space"},
        {"the first one is told", "[link]\nrate\nrate = x\n", 2,
         "neither [section] nor key = value"},
        {"the first one is told", "[link]\nrate = x\nrate\n", 2, "[link] rate: not a number"},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        char why[200] = "";
        struct model c, before;
        memset(&c, 0, sizeof c);
        model_init(&c);
        parse_good(&c, tug);
        before = c;
        int line = model_parse(&c, cases[i].text, why, sizeof why);
        if (line != cases[i].line || strcmp(why, cases[i].why) != 0)
            fail_msg("%s: line %d: %s", cases[i].legend, line, why);
        assert_memory_equal(&c, &before, sizeof c);
    }
}

static void test_long_lines(void **state) {
    (void)state;
    char text[1000], why[200], filler[300];
    struct model c;
    memset(filler, 'z', sizeof filler - 1);
    filler[sizeof filler - 1] = '\0';
    model_init(&c);
    snprintf(text, sizeof text, "[link]\n; %s\nrate = 50 ; kept\n", filler);
    parse_good(&c, text);
    assert_true(c.rate_hz == 50);
    snprintf(text, sizeof text, "[link]\nrate = 60\n[model]\nname = %s\n", filler);
    assert_int_equal(model_parse(&c, text, why, sizeof why), 4);
    assert_string_equal(why, "the line is too long");
    assert_true(c.rate_hz == 50);
}

/* A letter of another encoding, or one that turns the direction, is no reason to refuse the model
 * file.
 */
static void test_names_are_printable(void **state) {
    (void)state;
    struct model c;
    model_init(&c);
    parse_good(&c, "[model]\nname = M\xF6we\n[channels]\n1 = Möwe\n2 = \xE2\x80\xAEx\n");
    assert_string_equal(c.model, "M?we");
    assert_string_equal(c.channel_name[0], "Möwe");
    assert_string_equal(c.channel_name[1], "?x");
}

/* `why` may be short: it ends in NUL all the same. */
static void test_short_why(void **state) {
    (void)state;
    for (size_t size = 1; size < 60; size++) {
        char *why = malloc(size);
        struct model c;
        model_init(&c);
        assert_int_equal(model_parse(&c, "[link]\nrate = x\n", why, size), 2);
        assert_true(strlen(why) < size);
        free(why);
    }
}

/* Every key of the table is read: given once it is taken, given twice it is refused as known. */
static void test_every_key_is_known(void **state) {
    (void)state;
    for (size_t i = 0; i < model_key_count; i++) {
        char text[300], why[200];
        struct model c;
        const char *key = strcmp(model_keys[i].key, "1 to 16") == 0 ? "7" : model_keys[i].key;
        model_init(&c);
        snprintf(text, sizeof text, "[%s]\n%s =\n", model_keys[i].section, key);
        parse_good(&c, text);
        snprintf(text, sizeof text, "[%s]\n%s =\n%s =\n", model_keys[i].section, key, key);
        assert_int_equal(model_parse(&c, text, why, sizeof why), 3);
        assert_true(strlen(model_keys[i].meaning) > 0);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_empty_model_knows_nothing),
        cmocka_unit_test(test_whole_model),
        cmocka_unit_test(test_motors),
        cmocka_unit_test(test_trials),
        cmocka_unit_test(test_cards_add_up),
        cmocka_unit_test(test_bad_lines),
        cmocka_unit_test(test_long_lines),
        cmocka_unit_test(test_names_are_printable),
        cmocka_unit_test(test_short_why),
        cmocka_unit_test(test_every_key_is_known),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
