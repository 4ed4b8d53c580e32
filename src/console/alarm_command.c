#include "console/alarm_command.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <sys/wait.h>
#include <unistd.h>

#include "console/signals.h"

static _Noreturn void run(const char *command, const char *alarm) {
    int null = open("/dev/null", O_RDWR);
    setsid();
    signals_restore();
    for (int fd = 0; null >= 0 && fd <= 2; fd++)
        dup2(null, fd);
    setenv("AIRLEASH_ALARM", alarm, 1);
    execl("/bin/sh", "sh", "-c", command, (char *)NULL);
    _exit(127);
}

bool alarm_command_run(const char *command, const char *alarm) {
    /* Forked twice, so that the command is nobody's zombie here. */
    pid_t child = fork();
    if (child == 0) {
        pid_t grandchild = fork();
        if (grandchild == 0)
            run(command, alarm);
        _exit(grandchild < 0);
    }
    int status = 1;
    while (child > 0 && waitpid(child, &status, 0) < 0 && errno == EINTR)
        continue;
    return child > 0 && status == 0;
}
