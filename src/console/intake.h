/* Bytes of a live source as events: opens it, finds its speed when asked to, decodes, waits for a
 * vanished port and reopens it, with a `port` event at each end of the hole.  Host times are since
 * intake_init; those of a regular file are unknown.
 *
 * A port may come back as another board, and opening that may start a motor: it is compared with
 * the one that was opened first, and what isn't surely the same waits for a person's yes.  An `id`
 * line that says something else than before stops the reading until a person answers. */
#ifndef CONSOLE_INTAKE_H
#define CONSOLE_INTAKE_H

#include "console/board.h"
#include "source/source.h"
#include "telemetry/telemetry.h"

enum intake_state {
    INTAKE_OPEN,
    INTAKE_SEARCHING, /* for the speed: its bytes are no part of the run */
    INTAKE_WAITING,   /* the port is gone */
    INTAKE_ASKING,    /* it is back, but wants a yes: intake_take() opens it */
    INTAKE_DOUBTED,   /* open, but is it the right board? intake_accept() or intake_let_go() */
    INTAKE_LET_GO,    /* released by the person */
    INTAKE_ENDED,     /* end of the file or pipe */
    INTAKE_NO_SPEED,  /* no usual speed gave a line */
    INTAKE_NOT_LINES, /* a recording, not a stream of lines */
};

struct intake_wish {
    const char *path; /* lives as long as the intake */
    int speed;        /* SPEED_AUTO searches */
    bool yes;         /* the person said yes beforehand: to all but a board that is another one */
    bool harmless;    /* opening the port of this receiver is known not to restart anything */
    bool any_board;   /* an id line with news is noted in the run, and stops nothing */
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
    int speed; /* 0 while it is searched for */
    bool yes, harmless, any_board;
    uint64_t unasked;                   /* id lines that any_board let through */
    struct source_identity first, back; /* of the port as it was opened first; as it is back */
    struct board board;                 /* what its `id` lines said of it */
    enum board_news news;               /* of INTAKE_DOUBTED: what the held line says */
    uint32_t held_bytes;
    char held[LINE_BYTES_MAX];   /* its pairs: it is no part of the run before a yes */
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

void intake_init(struct intake *in, const struct intake_wish *wish, event_sink *sink,
                 void *context);

/* Opens the source; SOURCE_OK or why not. */
enum source_fault intake_open(struct intake *in, struct source_error *error);

/* Whether the source is open and read, if only to throw away what comes. */
bool intake_reads(const struct intake *in);

/* Descriptor to poll for reading, -1 while there is none. */
int intake_fd(const struct intake *in);

/* When to wake it next without bytes: clock_us() or INT64_MAX. */
int64_t intake_deadline_us(const struct intake *in);

/* Reads what is there and does what is due. */
enum intake_state intake_wake(struct intake *in);

/* Releases the port, for another program to flash a sketch, or since it is the wrong one. */
void intake_let_go(struct intake *in);

/* The question that stands before the port is reopened, as it is plugged in now, with its caution,
 * into `out` (WORDS_MAX bytes).  Opens nothing. */
void intake_ask(struct intake *in, char *out);

/* Reopens the port, after a yes to what intake_ask said.  SOURCE_MISSING also where another board
 * was plugged in since. */
enum source_fault intake_take(struct intake *in, struct source_error *error);

/* Of INTAKE_DOUBTED: the question, into `out` (WORDS_MAX bytes). */
void intake_doubt(const struct intake *in, char *out);

/* Of INTAKE_DOUBTED: it is the right board, by a person's word.  Goes on reading; the run says so.
 */
void intake_accept(struct intake *in);

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
