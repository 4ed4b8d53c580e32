#include "app/alarm_command.h"

#include <fcntl.h>
#include <stdlib.h>
#include <sys/wait.h>
#include <unistd.h>

#include "app/signals.h"

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

void alarm_command_run(const char *command, const char *alarm) {
    /* Forked twice, so that the command is nobody's zombie here. */
    pid_t child = fork();
    if (child == 0) {
        if (fork() == 0)
            run(command, alarm);
        _exit(0);
    }
    if (child > 0)
        waitpid(child, NULL, 0);
}
