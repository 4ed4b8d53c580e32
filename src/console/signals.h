/* SIGINT, SIGTERM and SIGHUP as bytes of a descriptor to poll, so that no code runs in a handler.
 * SIGPIPE and SIGXFSZ are ignored: a write then fails with EPIPE or EFBIG. */
#ifndef CONSOLE_SIGNALS_H
#define CONSOLE_SIGNALS_H

/* Blocks the three and returns a non-blocking descriptor that is readable when one came; -1 with
 * errno on trouble. */
int signals_open(void);

/* The next signal that came, or 0. */
int signals_take(int fd);

/* "Ctrl-C", "SIGTERM", ... */
const char *signals_name(int signal);

/* Gives a forked child its signals back. */
void signals_restore(void);

#endif
