/* Where bytes come from: a serial port, another tty, a pipe, a file; one interface.  Never blocks
 * after source_open. */
#ifndef SOURCE_SOURCE_H
#define SOURCE_SOURCE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum source_kind {
    SOURCE_SERIAL, /* a port that libserialport knows */
    SOURCE_TTY,    /* another tty: pseudo-terminal, tunnel, Bluetooth; by termios */
    SOURCE_PIPE,   /* pipe, FIFO, socket or standard input */
    SOURCE_FILE,   /* a regular file */
};

enum source_fault {
    SOURCE_OK,
    SOURCE_MISSING,      /* no such port or file */
    SOURCE_PERMISSION,   /* not allowed to open it */
    SOURCE_BUSY,         /* another program holds the port */
    SOURCE_DIRECTORY,    /* a directory */
    SOURCE_NOT_READABLE, /* some other thing that can't be read as bytes */
    SOURCE_SPEED,        /* the port can't do this speed */
    SOURCE_KEYBOARD,     /* a terminal that a person types at, such as standard input */
    SOURCE_SYSTEM,       /* errno tells: see source_error.code */
};

struct source_error {
    enum source_fault fault;
    int code;        /* errno, or 0 */
    char holder[64]; /* of SOURCE_BUSY: "NAME (pid N)" where it can be told, else empty */
};

struct source_wish {
    const char *path; /* "-" is standard input */
    int speed;        /* bits a second; ignored unless it is a port; 0 leaves it as it is */
};

struct source; /* ours: source_open .. source_close */

/* What path is, without opening it; SOURCE_OK in *fault, or why it can't be used. */
enum source_kind source_look(const char *path, struct source_error *error);

/* True when opening path may restart a board: a real serial port.  (On Linux the kernel raises DTR
 * inside open(), and that edge resets many boards.) */
bool source_may_restart(const char *path);

/* Opens for reading: raw mode, no flow control, HUPCL cleared at once so that closing makes no
 * edge, exclusive use taken, DTR left as the kernel set it.  *out is NULL unless SOURCE_OK. */
enum source_fault source_open(struct source **out, const struct source_wish *wish,
                              struct source_error *error);

/* Changes the speed with the port open; 1200 is refused, since it starts the boot loader of some
 * boards. */
enum source_fault source_set_speed(struct source *s, int speed);

enum source_read {
    SOURCE_BYTES, /* *got bytes were read, at least one */
    SOURCE_EMPTY, /* nothing there now: poll */
    SOURCE_END,   /* end of file or of the pipe */
    SOURCE_GONE,  /* the port was unplugged, or reading failed; close it */
};
enum source_read source_read(struct source *s, char *buffer, size_t size, size_t *got);

/* After SOURCE_GONE: why, an errno, never 0. */
int source_trouble(const struct source *s);

int source_fd(const struct source *s); /* to poll for reading */
enum source_kind source_kind(const struct source *s);
int source_speed(const struct source *s);

/* Closes and frees; NULL is fine.  What was opened as standard input stays open. */
void source_close(struct source *s);

/* The name of this device under /dev/serial by which it is found again wherever it is plugged in,
 * by its serial number where it has one; false, with nothing written, when it has no such name. */
bool source_stable(const char *device, char *path, size_t size);

/* What tells one port's board from another's; "" where it hasn't got it. */
struct source_identity {
    char serial[64]; /* USB serial number, as the board says it */
    char name[128];  /* under /dev/serial/by-id */
};

/* Finds it without opening the port; both are "" for a port that isn't there. */
void source_identify(const char *path, struct source_identity *out);

/* Pure.  MATCH_SAME needs both facts on both sides. */
enum source_match { MATCH_SAME, MATCH_OTHER, MATCH_UNKNOWN };
enum source_match source_match(const struct source_identity *first,
                               const struct source_identity *now);

/* Serial ports of this machine, for a person to choose from; opens none. */
struct source_port {
    char path[128];        /* stable name under /dev/serial/by-id where there is one */
    char device[64];       /* /dev/ttyUSB0 */
    char description[128]; /* printable ASCII */
    int vendor, product;   /* USB ids, or -1 */
};
/* Fills at most `size` and returns how many there are (which may be more), or -1 on trouble. */
int source_list(struct source_port *ports, size_t size);

/* Finding the speed: bytes are tried at each usual rate in turn and scored by lines that decode.
 * Pure: the caller opens the port, sets `speed`, feeds what it reads and asks again. */
struct speed_search {
    int next;         /* index into the rates, running on through a second round */
    bool heard;       /* any byte at any rate: then a second round is worth its time */
    int64_t since_us; /* when the present rate was set */
    double best_score;
    int best_speed;
    uint64_t bytes, lines_good, lines_bad; /* at the present rate */
};
enum { SPEED_TRY_US = 1200000 }; /* at each rate, unless it is clear sooner */
void speed_search_begin(struct speed_search *s, int64_t now_us);
int speed_search_rate(const struct speed_search *s); /* to set now; the best once ended */
/* Tells what decoded since the last call; true when the search moved on to another rate or ended:
 * then ask speed_search_rate or speed_search_done. */
bool speed_search_step(struct speed_search *s, int64_t now_us, uint64_t bytes, uint64_t lines_good,
                       uint64_t lines_bad);
/* True when ended; *speed is 0 when no rate gave a line. */
bool speed_search_done(const struct speed_search *s, int *speed);

#endif
