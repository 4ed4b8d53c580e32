#include "console/awake.h"

#include <fcntl.h>
#include <sys/types.h>
#include <sys/wait.h>
#include <unistd.h>

#include "console/signals.h"

/* systemd-inhibit holds as long as its command runs; cat runs until our end of the pipe closes. */
static _Noreturn void hold(int in) {
    int null = open("/dev/null", O_WRONLY);
    setsid(); /* a Ctrl-C is for the console: the hold ends by the pipe */
    signals_restore();
    dup2(in, STDIN_FILENO);
    if (null >= 0) {
        dup2(null, STDOUT_FILENO);
        dup2(null, STDERR_FILENO);
    }
    execlp("systemd-inhibit", "systemd-inhibit", "--what=idle:sleep", "--who=airleash",
           "--why=a link is being watched", "cat", (char *)NULL);
    _exit(127);
}

void awake_begin(struct awake *a) {
    int ends[2];
    a->pipe = -1;
    if (pipe2(ends, O_CLOEXEC) != 0)
        return;
    /* Forked twice, so that nobody here has to wait for it. */
    pid_t child = fork();
    if (child == 0) {
        if (fork() == 0)
            hold(ends[0]);
        _exit(0);
    }
    close(ends[0]);
    if (child > 0)
        waitpid(child, NULL, 0);
    a->pipe = ends[1];
}

void awake_end(struct awake *a) {
    if (a->pipe >= 0)
        close(a->pipe);
    a->pipe = -1;
}
