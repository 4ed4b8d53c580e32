/* What the files of this folder share with each other and nobody else needs. */
#ifndef SOURCE_PARTS_H
#define SOURCE_PARTS_H

#include <sys/types.h>

#include "source/source.h"

/* What a path turned out to be, found without opening it. */
struct nature {
    enum source_kind kind;
    dev_t rdev;      /* of a character device, else 0 */
    bool fifo;       /* a pipe with a name or without */
    bool pseudo;     /* a pseudo-terminal */
    bool restarts;   /* opening it may restart a board */
    char device[64]; /* of SOURCE_SERIAL: the name that libserialport knows */
};
enum source_fault nature_find(struct nature *n, const char *path, struct source_error *error);

/* Writes fault and code; returns fault. */
enum source_fault error_set(struct source_error *error, enum source_fault fault, int code);
/* The fault that an errno from opening means. */
enum source_fault error_from(struct source_error *error, int code);

/* "NAME (pid N)" of a process that has the device open, the one that holds its lock if there is
 * one; own_fd is a descriptor of ours to pass over, or -1.  False, and an empty name, when none can
 * be seen: other people's processes hide theirs. */
bool holder_find(dev_t rdev, int own_fd, char name[static 64]);
/* As above, but processes other than ours only. */
bool holder_other(dev_t rdev, char name[static 64]);

/* A tty by plain termios; each returns 0 or an errno. */
int tty_keep_lines(int fd); /* closing will leave the modem lines as they are */
int tty_raw(int fd);
int tty_take(int fd, bool pseudo); /* EBUSY when another holds it */
int tty_hold(int fd, bool pseudo); /* the same once the port is known not to be in exclusive mode */
void tty_let_go(int fd, bool pseudo);

/* Any speed, usual or not; each returns 0 or an errno. */
int rate_set(int fd, int speed);
int rate_get(int fd, int *speed);

#endif
