/* Bytes of a live source as events: opens it, finds its speed when asked to, decodes, waits for a
 * vanished port and takes it again, with a `port` event at each end of the hole.  Host times are
 * since intake_init; those of a regular file are unknown. */
#ifndef APP_INTAKE_H
#define APP_INTAKE_H

#include "source/source.h"
#include "telemetry/telemetry.h"

enum intake_state {
    INTAKE_OPEN,
    INTAKE_SEARCHING, /* for the speed: its bytes are no part of the run */
    INTAKE_WAITING,   /* the port is gone */
    INTAKE_ASKING,    /* it is back, but opening it may restart a board: intake_take() opens it */
    INTAKE_LET_GO,    /* by the person */
    INTAKE_ENDED,     /* end of the file or pipe */
    INTAKE_NO_SPEED,  /* no usual speed gave a line */
    INTAKE_NOT_LINES, /* a recording, not a stream of lines */
};

struct intake {
    struct telemetry telemetry;
    event_sink *sink;
    void *context;
    const char *path;
    char stable[128]; /* the name to wait for */
    struct source *source;
    enum source_kind kind;
    enum intake_state state;
    int speed;                   /* 0 while it is searched for */
    bool reopen;                 /* take a port again by itself */
    bool looked_at;              /* the first bytes of a file or pipe were */
    int broken;                  /* INTAKE_ENDED because reading failed: errno, else 0 */
    struct source_error refused; /* why a port that is back can't be taken; SOURCE_OK: it can */
    enum source_fault seen, refused_told; /* at the last look; to the person */
    int64_t start_us, next_look_us, slept_us;
    uint64_t bytes; /* of the run */
    struct speed_search search;
    struct telemetry trial; /* decodes while searching */
    uint64_t searched;      /* bytes that went into it */
};

/* speed SPEED_AUTO searches.  `harmless`: opening the port is known not to restart anything, or
 * the person said yes to every opening.  path lives as long as the intake. */
void intake_init(struct intake *in, const char *path, int speed, bool harmless, event_sink *sink,
                 void *context);

/* Opens the source; SOURCE_OK or why not. */
enum source_fault intake_open(struct intake *in, struct source_error *error);

/* Descriptor to poll for reading, -1 while there is none. */
int intake_fd(const struct intake *in);

/* When to wake it next without bytes: clock_us() or INT64_MAX. */
int64_t intake_deadline_us(const struct intake *in);

/* Reads what is there and does what is due. */
enum intake_state intake_wake(struct intake *in);

/* Lets go of the port, for another program to flash a sketch; takes it (again). */
void intake_let_go(struct intake *in);
enum source_fault intake_take(struct intake *in, struct source_error *error);

/* Host time now for events, or TIME_UNKNOWN for a regular file. */
int64_t intake_host_us(const struct intake *in);

/* True once for each reason for which a port that is back can't be taken; it is tried on.  `why`
 * (WORDS_MAX bytes) then tells. */
bool intake_refused(struct intake *in, char *why);

/* Why reading failed, for a person, into `why` (WORDS_MAX bytes). */
void intake_words(const struct intake *in, char *why);

/* Ends the open line and closes; the `end` row is the caller's: intake_end hands it to the sink. */
void intake_end(struct intake *in, const char *why);
void intake_close(struct intake *in);

#endif
