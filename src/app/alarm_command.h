/* The command that a person wants run when an alarm is raised. */
#ifndef APP_ALARM_COMMAND_H
#define APP_ALARM_COMMAND_H

/* Starts `command` by the shell, with the alarm's name in AIRLEASH_ALARM, and doesn't wait for it.
 * Its input and output are /dev/null, since the terminal shows the console. */
void alarm_command_run(const char *command, const char *alarm);

#endif
