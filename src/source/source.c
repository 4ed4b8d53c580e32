#include "source/source.h"

#include <errno.h>
#include <fcntl.h>
#include <libserialport.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "source/parts.h"

struct source {
    enum source_kind kind;
    int fd;
    int speed;            /* of a port, else 0 */
    int code;             /* errno of the last read that failed */
    struct sp_port *port; /* of SOURCE_SERIAL; owns fd */
    bool standard_input;  /* not ours to close, nor to make non-blocking for others */
    bool fifo, pseudo;
};

enum { SPEED_OF_BOOT_LOADERS = 1200 };

/* A port's clock divides to near a speed, seldom to it; beyond this error characters break (a
 * receiver samples the tenth bit half a bit from its edge: 5 % for both ends together). */
enum { SPEED_ERROR_PERCENT = 3 };

static bool speed_fits(int wanted, int got) {
    return llabs((long long)got - wanted) * 100 <= (long long)wanted * SPEED_ERROR_PERCENT;
}

static int command_speed(struct source *s, int speed) {
    if (!s->port)
        return rate_set(s->fd, speed);
    if (sp_set_baudrate(s->port, speed) == SP_OK)
        return 0;
    int code = sp_last_error_code();
    return code ? code : EINVAL;
}

static enum source_fault set_speed(struct source *s, int speed, struct source_error *error) {
    int got = speed;
    if (speed < 0 || speed == SPEED_OF_BOOT_LOADERS)
        return error_set(error, SOURCE_SPEED, 0);
    int code = speed > 0 ? command_speed(s, speed) : 0;
    if (code && code != EINVAL)
        return error_from(error, code);
    /* A driver that can't do a speed may take another without a word. */
    if (code || (rate_get(s->fd, &got) == 0 && speed > 0 && !speed_fits(speed, got))) {
        if (s->speed > 0)
            command_speed(s, s->speed);
        return error_set(error, SOURCE_SPEED, code);
    }
    s->speed = speed > 0 ? speed : got;
    return error_set(error, SOURCE_OK, 0);
}

static enum source_fault busy(struct source_error *error, dev_t rdev, int own_fd) {
    error_set(error, SOURCE_BUSY, EBUSY);
    holder_find(rdev, own_fd, error->holder);
    return SOURCE_BUSY;
}

/* Opens a tty so that whatever follows, closing it makes no edge; takes it for us alone. */
static enum source_fault open_tty(struct source *s, const char *path, const struct nature *n,
                                  struct source_error *error) {
    s->fd = open(path, O_RDONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
    if (s->fd < 0)
        return errno == EBUSY ? busy(error, n->rdev, -1) : error_from(error, errno);
    int code = tty_keep_lines(s->fd);
    if (code == ENOTTY)
        return error_set(error, SOURCE_NOT_READABLE, code);
    if (code == EIO) /* a driver's placeholder without a port behind it */
        return error_set(error, SOURCE_MISSING, code);
    if (!code && (code = tty_take(s->fd, n->pseudo)) == EBUSY)
        return busy(error, n->rdev, s->fd);
    return code ? error_from(error, code) : error_set(error, SOURCE_OK, 0);
}

/* Hands the port over to libserialport.  Ours stays open meanwhile, so that the port is never
 * closed between; its hold is let go, since newer versions of the library take it themselves.
 * False when the library won't have the port: then ours serves. */
static bool hand_to_library(struct source *s, const struct nature *n) {
    struct sp_port *port = NULL;
    if (sp_get_port_by_name(n->device, &port) != SP_OK)
        return false;
    tty_let_go(s->fd, n->pseudo);
    if (sp_open(port, SP_MODE_READ) != SP_OK) {
        sp_free_port(port);
        return false;
    }
    close(s->fd);
    s->port = port;
    return sp_get_port_handle(port, &s->fd) == SP_OK; /* which an open port always has */
}

static enum source_fault open_serial(struct source *s, const char *path, const struct nature *n,
                                     struct source_error *error) {
    /* Two readers of one port get half the bytes each, whether or not the other asked for a lock;
     * looking first spares it our settings. */
    error_set(error, SOURCE_BUSY, EBUSY);
    if (holder_other(n->rdev, error->holder))
        return SOURCE_BUSY;
    if (open_tty(s, path, n, error) != SOURCE_OK)
        return error->fault;
    if (!hand_to_library(s, n))
        s->kind = SOURCE_TTY;
    int code = tty_hold(s->fd, n->pseudo);
    if (code == EBUSY)
        return busy(error, n->rdev, s->fd);
    return code ? error_from(error, code) : error_set(error, SOURCE_OK, 0);
}

static enum source_fault open_port(struct source *s, const struct source_wish *wish,
                                   const struct nature *n, struct source_error *error) {
    if (wish->speed < 0 || wish->speed == SPEED_OF_BOOT_LOADERS) /* before anything is opened */
        return error_set(error, SOURCE_SPEED, 0);
    enum source_fault fault = n->kind == SOURCE_SERIAL ? open_serial(s, wish->path, n, error)
                                                       : open_tty(s, wish->path, n, error);
    if (fault != SOURCE_OK)
        return fault;
    int code = tty_raw(s->fd);
    if (code)
        return error_from(error, code);
    return set_speed(s, wish->speed, error);
}

static enum source_fault open_stream(struct source *s, const char *path,
                                     struct source_error *error) {
    if (s->standard_input) {
        s->fd = STDIN_FILENO;
        return error_set(error, SOURCE_OK, 0);
    }
    s->fd = open(path, O_RDONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
    if (s->fd < 0)
        return error_from(error, errno);
    if (s->kind == SOURCE_FILE)
        posix_fadvise(s->fd, 0, 0, POSIX_FADV_SEQUENTIAL); /* a hint: failing is fine */
    return error_set(error, SOURCE_OK, 0);
}

enum source_fault source_open(struct source **out, const struct source_wish *wish,
                              struct source_error *error) {
    struct nature n;
    *out = NULL;
    if (nature_find(&n, wish->path, error) != SOURCE_OK)
        return error->fault;
    struct source *s = calloc(1, sizeof *s);
    if (!s)
        return error_set(error, SOURCE_SYSTEM, ENOMEM);
    *s = (struct source){.kind = n.kind,
                         .fd = -1,
                         .standard_input = strcmp(wish->path, "-") == 0,
                         .fifo = n.fifo,
                         .pseudo = n.pseudo};
    bool port = n.kind == SOURCE_SERIAL || n.kind == SOURCE_TTY;
    if ((port ? open_port(s, wish, &n, error) : open_stream(s, wish->path, error)) == SOURCE_OK)
        *out = s;
    else
        source_close(s);
    return error->fault;
}

enum source_fault source_set_speed(struct source *s, int speed) {
    struct source_error error;
    if (s->kind != SOURCE_SERIAL && s->kind != SOURCE_TTY)
        return SOURCE_OK;
    return set_speed(s, speed, &error);
}

static short poll_now(int fd) {
    struct pollfd p = {.fd = fd, .events = POLLIN};
    return poll(&p, 1, 0) > 0 ? p.revents : 0;
}

/* The library reports an unplugged port as no bytes, the same as a quiet one. */
static enum source_read read_serial(struct source *s, char *buffer, size_t size, size_t *got) {
    int n = sp_nonblocking_read(s->port, buffer, size);
    if (n > 0) {
        *got = (size_t)n;
        return SOURCE_BYTES;
    }
    if (n < 0 && sp_last_error_code() == EINTR)
        return SOURCE_EMPTY;
    if (n < 0 || poll_now(s->fd) & (POLLHUP | POLLERR | POLLNVAL))
        return SOURCE_GONE;
    return sp_input_waiting(s->port) < 0 ? SOURCE_GONE : SOURCE_EMPTY;
}

/* What reading no bytes means. */
static enum source_read nothing_read(const struct source *s) {
    if (s->kind == SOURCE_TTY)
        return SOURCE_GONE;
    /* A FIFO that nobody has begun to write to reads as ended, but doesn't hang up. */
    if (s->fifo && !(poll_now(s->fd) & POLLHUP))
        return SOURCE_EMPTY;
    return SOURCE_END;
}

static enum source_read read_plain(struct source *s, char *buffer, size_t size, size_t *got) {
    if (s->standard_input && s->kind == SOURCE_PIPE && poll_now(s->fd) == 0)
        return SOURCE_EMPTY;
    ssize_t n = read(s->fd, buffer, size);
    if (n > 0) {
        *got = (size_t)n;
        return SOURCE_BYTES;
    }
    if (n == 0)
        return nothing_read(s);
    s->code = errno;
    return errno == EAGAIN || errno == EINTR ? SOURCE_EMPTY : SOURCE_GONE;
}

enum source_read source_read(struct source *s, char *buffer, size_t size, size_t *got) {
    *got = 0;
    if (size == 0)
        return SOURCE_EMPTY;
    return s->port ? read_serial(s, buffer, size, got) : read_plain(s, buffer, size, got);
}

int source_trouble(const struct source *s) {
    return s->code ? s->code : EIO; /* as of a port that was pulled out */
}

int source_fd(const struct source *s) {
    return s->fd;
}

enum source_kind source_kind(const struct source *s) {
    return s->kind;
}

int source_speed(const struct source *s) {
    return s->speed;
}

void source_close(struct source *s) {
    if (!s)
        return;
    if (s->fd >= 0 && (s->kind == SOURCE_SERIAL || s->kind == SOURCE_TTY))
        tty_let_go(s->fd, s->pseudo);
    if (s->port) {
        sp_close(s->port);
        sp_free_port(s->port);
    } else if (s->fd >= 0 && !s->standard_input) {
        close(s->fd);
    }
    free(s);
}
