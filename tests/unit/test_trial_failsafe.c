/* The failsafe trial from end to end: the make-believe scene, and every wrong path.
 *
 * usage: test_trial_failsafe */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "trial_drive.h"

#include "pretend/pretend.h"

static struct drive_result result;

static const struct drive_act usual[] = {
    {.step = "caution", .after_s = 0.5, .answer = 1},
    {.step = "which", .after_s = 0.5, .answer = 1},
    {.step = "reset", .after_s = 0.5, .what = DRIVE_SKIP},
    {.step = "cold", .after_s = 0.2, .what = DRIVE_SKIP},
    {.step = "start", .after_s = 0.5, .what = DRIVE_SKIP},
    {.step = "pull", .after_s = 0.5, .what = DRIVE_SKIP},
    {.step = "fade", .after_s = 0.5, .what = DRIVE_SKIP},
};
enum { USUAL = sizeof usual / sizeof usual[0] };

static void scene(uint64_t seed, double seconds) {
    struct drive_plan plan = {TRIAL_FAILSAFE, 1, usual, USUAL, NULL};
    struct drive *d = drive_new(&plan);
    drive_scene(d, pretend_scene_find("failsafe"), seed, seconds);
    drive_end(d, &result);
}

static void test_scene(void **state) {
    (void)state;
    scene(1, 100);
    drive_print(&result);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_scene),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
