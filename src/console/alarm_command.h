/* The command that a person wants run when an alarm is raised. */
#ifndef CONSOLE_ALARM_COMMAND_H
#define CONSOLE_ALARM_COMMAND_H

#include <stdbool.h>

/* Starts `command` by the shell, with the alarm's name in AIRLEASH_ALARM, and doesn't wait for it.
 * Its input and output are /dev/null, since the terminal shows the console.  False when it can't be
 * started. */
bool alarm_command_run(const char *command, const char *alarm);

#endif
