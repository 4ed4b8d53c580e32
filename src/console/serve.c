#include "console/serve.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <termios.h>
#include <unistd.h>

#include "app/clock.h"
#include "app/commands.h"
#include "app/truth.h"
#include "app/words.h"
#include "base/whole.h"
#include "console/signals.h"
#include "simulator/simulator.h"
#include "telemetry/event.h"

/* Lines on their way into the pseudo-terminal. */
struct mouth {
    int master;
    bool reader;       /* somebody has the other end open */
    size_t line_len;   /* of the line being printed */
    size_t owed, sent; /* the rest of a line that was only taken in part */
    char line[LINE_BYTES_MAX + 2];
    char rest[LINE_BYTES_MAX + 2];
};

/* Sends the rest of a line; true when nothing is owed any more. */
static bool mouth_settle(struct mouth *m) {
    if (m->sent < m->owed) {
        ssize_t put = write(m->master, m->rest + m->sent, m->owed - m->sent);
        m->sent += put > 0 ? (size_t)put : 0;
    }
    return m->sent >= m->owed;
}

/* A whole line: sent, or dropped whole where nobody reads. */
static void mouth_line(struct mouth *m) {
    if (m->reader && mouth_settle(m)) {
        ssize_t put = write(m->master, m->line, m->line_len);
        if (put > 0 && (size_t)put < m->line_len) {
            memcpy(m->rest, m->line, m->line_len);
            m->owed = m->line_len;
            m->sent = (size_t)put;
        }
    }
    m->line_len = 0;
}

static void mouth_put(void *where, const char *bytes, size_t len) {
    struct mouth *m = where;
    for (size_t i = 0; i < len; i++) {
        if (m->line_len < sizeof m->line)
            m->line[m->line_len++] = bytes[i];
        if (bytes[i] == '\n')
            mouth_line(m);
    }
}

/* With the other end closed, what is written would wait there for the next reader, as old news:
 * a hang-up tells. */
static void mouth_look(struct mouth *m) {
    struct pollfd p = {.fd = m->master, .events = 0};
    bool reader = poll(&p, 1, 0) >= 0 && (p.revents & POLLHUP) == 0;
    if (reader && !m->reader)
        m->owed = m->sent = 0;
    m->reader = reader;
    char ignored[256];
    while (reader && read(m->master, ignored, sizeof ignored) > 0)
        continue;
}

int serve_open(char name[static SERVE_NAME]) {
    int master = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC | O_NONBLOCK);
    if (master < 0)
        return -1;
    struct termios t;
    char path[SERVE_NAME] = "";
    int slave = -1;
    if (grantpt(master) == 0 && unlockpt(master) == 0 && ptsname_r(master, path, sizeof path) == 0)
        slave = open(path, O_RDWR | O_NOCTTY | O_CLOEXEC);
    /* Raw from the start: no echo of ours comes back before the reader has set it up. */
    if (slave < 0 || tcgetattr(slave, &t) != 0) {
        int code = errno;
        close(master);
        errno = code;
        return -1;
    }
    cfmakeraw(&t);
    tcsetattr(slave, TCSANOW, &t);
    close(slave);
    memcpy(name, path, sizeof path);
    return master;
}

static int64_t serve_end_us(const struct serve *s) {
    return s->for_s > 0 ? whole_i64(s->for_s * 1e6) : INT64_MAX;
}

/* Runs what falls due; returns when no more does, at a signal, or at the end. */
static void serve_loop(struct simulator *p, struct mouth *m, int signals, int64_t end_us) {
    int64_t begin_us = clock_us();
    for (;;) {
        int64_t next_us = simulator_next_us(p);
        int64_t due_us = begin_us + (next_us < end_us ? next_us : end_us);
        struct pollfd wait = {.fd = signals, .events = POLLIN};
        poll(&wait, 1, clock_wait_ms(clock_us(), due_us));
        if (signals_take(signals) != 0)
            return;
        int64_t now_us = clock_us() - begin_us;
        mouth_look(m);
        simulator_run(p, now_us < end_us ? now_us : end_us);
        if (now_us >= end_us)
            return;
    }
}

int serve_run(int master, const struct serve *s) {
    int signals = signals_open();
    struct mouth m = {.master = master};
    struct simulator *p = simulator_new(s->scene, s->seed, mouth_put, &m);
    if (signals < 0 || !p) {
        words_say("can't begin: %s", strerror(errno));
        simulator_free(p);
        return STATUS_TROUBLE;
    }
    serve_loop(p, &m, signals, serve_end_us(s));
    int status = s->truth ? truth_write(p, s->truth) : STATUS_ANSWER;
    simulator_free(p);
    close(signals);
    return status;
}

pid_t serve_fork(const struct serve *s, char name[static SERVE_NAME]) {
    int master = serve_open(name);
    if (master < 0)
        return -1;
    pid_t parent = getpid();
    pid_t child = fork();
    if (child == 0) {
        /* The parent may have gone before this took effect. */
        prctl(PR_SET_PDEATHSIG, SIGTERM);
        if (getppid() != parent)
            _exit(STATUS_ANSWER);
        /* A group of its own: Ctrl-C in the console is the console's. */
        setpgid(0, 0);
        _exit(serve_run(master, s));
    }
    int code = errno;
    close(master);
    errno = code;
    return child;
}
