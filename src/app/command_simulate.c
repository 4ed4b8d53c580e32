#include <errno.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "app/clock.h"
#include "app/commands.h"
#include "app/print_out.h"
#include "app/truth.h"
#include "app/words.h"
#include "base/whole.h"
#include "console/serve.h"
#include "console/signals.h"
#include "simulator/simulator.h"

static int list_scenes(void) {
    for (size_t i = 0; i < simulator_scene_count; i++)
        printf("%-14s %4us  %s\n", simulator_scenes[i].name, (unsigned)simulator_scenes[i].seconds,
               simulator_scenes[i].meaning);
    return STATUS_ANSWER;
}

/* As fast as standard output takes them, a piece at a time so that signals are heard. */
static void lines_fast(struct simulator *p, int signals, int64_t end_us) {
    for (int64_t at_us = 0; at_us < end_us && !ferror(stdout);) {
        at_us = end_us - at_us > 1000000 ? at_us + 1000000 : end_us;
        simulator_run(p, at_us);
        if (signals_take(signals) != 0)
            return;
    }
}

static void lines_paced(struct simulator *p, int signals, int64_t end_us) {
    int64_t begin_us = clock_us();
    while (!ferror(stdout)) {
        int64_t next_us = simulator_next_us(p);
        int64_t due_us = begin_us + (next_us < end_us ? next_us : end_us);
        struct pollfd wait = {.fd = signals, .events = POLLIN};
        poll(&wait, 1, clock_wait_ms(clock_us(), due_us));
        if (signals_take(signals) != 0)
            return;
        int64_t now_us = clock_us() - begin_us;
        simulator_run(p, now_us < end_us ? now_us : end_us);
        fflush(stdout);
        if (now_us >= end_us)
            return;
    }
}

static int lines(const struct options *o) {
    int signals = signals_open();
    struct simulator *p = simulator_new(o->scene, o->seed, print_out, NULL);
    if (signals < 0 || !p) {
        words_say("can't begin: %s", strerror(errno));
        simulator_free(p);
        return STATUS_TROUBLE;
    }
    double seconds = o->for_s > 0 ? o->for_s : o->fast ? simulator_scenes[o->scene].seconds : 0;
    int64_t end_us = seconds > 0 ? whole_i64(seconds * 1e6) : INT64_MAX;
    if (o->fast)
        lines_fast(p, signals, end_us);
    else
        lines_paced(p, signals, end_us);
    /* A reader that has had enough, such as head, is no trouble; main sees to any other. */
    if (ferror(stdout) && errno == EPIPE)
        clearerr(stdout);
    int status = o->truth ? truth_write(p, o->truth) : STATUS_ANSWER;
    simulator_free(p);
    close(signals);
    return status;
}

static int terminal(const struct options *o) {
    char name[SERVE_NAME];
    int master = serve_open(name);
    if (master < 0) {
        words_say("can't open a pseudo-terminal: %s; try: airleash simulate --lines",
                  strerror(errno));
        return STATUS_TROUBLE;
    }
    /* Whoever reads the name may send a signal at once: it must find us ready. */
    close(signals_open());
    printf("%s\n", name);
    fflush(stdout);
    fprintf(stderr,
            "The simulated receiver (scene %s, seed %llu) prints there. In another terminal:\n"
            "  airleash watch %s\nCtrl-C ends it.\n",
            simulator_scenes[o->scene].name, (unsigned long long)o->seed, name);
    struct serve s = {o->scene, o->seed, o->for_s, o->truth};
    int status = serve_run(master, &s);
    close(master);
    return status;
}

int command_simulate(const struct options *o) {
    if (o->scenes)
        return list_scenes();
    if (o->fast && !o->lines) {
        fputs("airleash: --fast goes with --lines: a port has its own pace\n"
              "See: airleash simulate --help\n",
              stderr);
        return STATUS_USAGE;
    }
    int status = o->truth ? truth_check(o->truth) : STATUS_ANSWER;
    if (status != STATUS_ANSWER)
        return status;
    return o->lines ? lines(o) : terminal(o);
}
