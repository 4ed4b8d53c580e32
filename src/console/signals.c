#include "console/signals.h"

#include <signal.h>
#include <stddef.h>
#include <sys/signalfd.h>
#include <unistd.h>

static const struct {
    int signal;
    const char *name;
} taken[] = {{SIGINT, "Ctrl-C"}, {SIGTERM, "SIGTERM"}, {SIGHUP, "SIGHUP"}};

enum { TAKEN = sizeof taken / sizeof taken[0] };

static void taken_set(sigset_t *set) {
    sigemptyset(set);
    for (size_t i = 0; i < TAKEN; i++)
        sigaddset(set, taken[i].signal);
}

int signals_open(void) {
    sigset_t set;
    taken_set(&set);
    signal(SIGPIPE, SIG_IGN);
    signal(SIGXFSZ, SIG_IGN);
    if (sigprocmask(SIG_BLOCK, &set, NULL) != 0)
        return -1;
    int fd = signalfd(-1, &set, SFD_NONBLOCK | SFD_CLOEXEC);
    if (fd < 0)
        sigprocmask(SIG_UNBLOCK, &set, NULL); /* nobody would take them: they end the program */
    return fd;
}

int signals_take(int fd) {
    struct signalfd_siginfo info;
    if (read(fd, &info, sizeof info) != (ssize_t)sizeof info)
        return 0;
    return (int)info.ssi_signo;
}

const char *signals_name(int signal) {
    for (size_t i = 0; i < TAKEN; i++)
        if (taken[i].signal == signal)
            return taken[i].name;
    return "a signal";
}

void signals_restore(void) {
    sigset_t set;
    taken_set(&set);
    signal(SIGPIPE, SIG_DFL);
    signal(SIGXFSZ, SIG_DFL);
    sigprocmask(SIG_UNBLOCK, &set, NULL);
}
