/* The simulated receiver on a pseudo-terminal. */
#ifndef CONSOLE_SERVE_H
#define CONSOLE_SERVE_H

#include <stdint.h>
#include <sys/types.h>

enum { SERVE_NAME = 64 };

struct serve {
    int scene;
    uint64_t seed;
    double for_s;      /* 0: without end */
    const char *truth; /* file for the truth, or NULL */
};

/* Opens a pseudo-terminal in raw mode, its other end's name into `name`.  The descriptor, or -1
 * with errno. */
int serve_open(char name[static SERVE_NAME]);

/* Serves the scene on it in real time until for_s is over or a signal comes; bytes that nobody
 * reads are dropped, whole lines at a time.  An enum status. */
int serve_run(int master, const struct serve *s);

/* Forks a child that does both; its pid, and the name to open into `name`; -1 with errno.  It ends
 * with its parent, and on SIGTERM: the caller waits for it. */
pid_t serve_fork(const struct serve *s, char name[static SERVE_NAME]);

#endif
