#include "app/rsvg.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "app/commands.h"
#include "app/io.h"
#include "app/words.h"

struct talk {
    int to, from; /* -1: closed */
    const struct bytes *said;
    size_t told;
    struct bytes *heard;
    bool broken; /* something of either didn't get through */
};

static void shut(int *fd) {
    if (*fd >= 0)
        close(*fd);
    *fd = -1;
}

static void tell(struct talk *t) {
    ssize_t put = write(t->to, t->said->at + t->told, t->said->len - t->told);
    if (put > 0)
        t->told += (size_t)put;
    else if (errno != EAGAIN && errno != EINTR) {
        t->broken = true;
        shut(&t->to);
    }
    if (t->told == t->said->len)
        shut(&t->to);
}

static void hear(struct talk *t) {
    char block[16 * 1024];
    ssize_t got = io_read(t->from, block, sizeof block);
    if (got > 0) {
        bytes_put(t->heard, block, (size_t)got);
        return;
    }
    t->broken = t->broken || got < 0;
    shut(&t->from);
}

/* Both ways at once: neither side may wait for the other with a full pipe. */
static void talk_through(struct talk *t) {
    fcntl(t->to, F_SETFL, O_NONBLOCK);
    while (t->from >= 0) {
        struct pollfd fds[2] = {{t->from, POLLIN, 0}, {t->to, POLLOUT, 0}};
        if (poll(fds, t->to >= 0 ? 2 : 1, -1) < 0 && errno != EINTR) {
            t->broken = true;
            break;
        }
        if (t->to >= 0 && fds[1].revents)
            tell(t);
        if (fds[0].revents)
            hear(t);
    }
    shut(&t->to);
    shut(&t->from);
}

enum { NOT_THERE = 127 };

static _Noreturn void become(const char *form, int in, int out) {
    bool pixels = strcmp(form, "png") == 0;
    dup2(in, STDIN_FILENO);
    dup2(out, STDOUT_FILENO);
    signal(SIGPIPE, SIG_DFL);
    setenv("SOURCE_DATE_EPOCH", "946684800", 1); /* equal pictures give equal files */
    execlp("rsvg-convert", "rsvg-convert", "--format", form, "--zoom", pixels ? "2" : "1",
           (char *)NULL);
    _exit(NOT_THERE);
}

/* Its exit status, 1 where a signal ended it. */
static int ended(pid_t child) {
    int status = -1;
    while (waitpid(child, &status, 0) < 0 && errno == EINTR)
        continue;
    return WIFEXITED(status) ? WEXITSTATUS(status) : 1;
}

static int failed(int code, const char *form) {
    if (code == NOT_THERE)
        words_say("a .%s file needs the program rsvg-convert, which isn't installed: install the "
                  "package that has it (in Debian: librsvg2-bin), or write an .svg file",
                  form);
    else
        words_say("rsvg-convert failed to draw the .%s file: write an .svg file instead", form);
    return STATUS_TROUBLE;
}

static int run(const char *form, struct talk *t) {
    int to[2], from[2];
    if (pipe2(to, O_CLOEXEC) != 0 || pipe2(from, O_CLOEXEC) != 0) {
        words_say("can't make a pipe: %s", strerror(errno));
        return STATUS_TROUBLE;
    }
    pid_t child = fork();
    int code = errno;
    if (child == 0)
        become(form, to[0], from[1]);
    close(to[0]);
    close(from[1]);
    t->to = to[1];
    t->from = from[0];
    if (child < 0) {
        shut(&t->to);
        shut(&t->from);
        words_say("can't start rsvg-convert: %s", strerror(code));
        return STATUS_TROUBLE;
    }
    talk_through(t);
    code = ended(child);
    /* Whether memory sufficed, writing it tells. */
    return code == 0 && !t->broken ? STATUS_ANSWER : failed(code, form);
}

int rsvg_draw(const struct picture *p, const char *form, enum picture_theme theme,
              struct bytes *out) {
    struct bytes said = {0};
    picture_svg(p, theme, bytes_put, &said);
    if (said.no_memory) {
        words_say("no memory left");
        free(said.at);
        return STATUS_TROUBLE;
    }
    signal(SIGPIPE, SIG_IGN);
    struct talk t = {.to = -1, .from = -1, .said = &said, .heard = out};
    int status = run(form, &t);
    free(said.at);
    return status;
}
