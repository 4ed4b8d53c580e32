/* Keeps the computer from falling asleep during a run, where the system lets us: through
 * systemd-inhibit, if there is one.  Without it nothing happens; a sleep is then a `port` row. */
#ifndef CONSOLE_AWAKE_H
#define CONSOLE_AWAKE_H

struct awake {
    int pipe; /* the hold lasts until it closes; -1: nothing is held */
};

/* Holds the computer awake.  However we end, kill -9 included, the hold ends with us. */
void awake_begin(struct awake *a);
void awake_end(struct awake *a);

#endif
