#include "app/helper.h"

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

enum { PATH_ROOM = 4096 };

/* Where it may lie, from the program's own folder: beside it, as installed, in the build folder. */
static const char *const places[] = {"airleash-chart", "../libexec/airleash/airleash-chart",
                                     "../chart/airleash-chart"};

static bool found(char *path) {
    char own[PATH_ROOM];
    ssize_t len = readlink("/proc/self/exe", own, sizeof own - 1);
    own[len > 0 ? len : 0] = '\0';
    char *slash = strrchr(own, '/');
    if (slash)
        slash[1] = '\0';
    for (size_t i = 0; slash && i < sizeof places / sizeof places[0]; i++) {
        int size = snprintf(path, PATH_ROOM, "%s%s", own, places[i]);
        if (size > 0 && size < PATH_ROOM && access(path, X_OK) == 0)
            return true;
    }
    snprintf(path, PATH_ROOM, "%s", AIRLEASH_LIBEXEC "/airleash/airleash-chart");
    return access(path, X_OK) == 0;
}

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

static _Noreturn void become(const char *path, const char *form, enum picture_theme theme, int in,
                             int out) {
    dup2(in, STDIN_FILENO);
    dup2(out, STDOUT_FILENO);
    signal(SIGPIPE, SIG_DFL);
    execl(path, "airleash-chart", form, theme == THEME_DARK ? "dark" : "light", (char *)NULL);
    _exit(127);
}

static bool ended_well(pid_t child) {
    int status = -1;
    while (waitpid(child, &status, 0) < 0 && errno == EINTR)
        continue;
    return WIFEXITED(status) && WEXITSTATUS(status) == 0;
}

static int run(const char *path, const char *form, enum picture_theme theme, struct talk *t) {
    int to[2], from[2];
    if (pipe2(to, O_CLOEXEC) != 0 || pipe2(from, O_CLOEXEC) != 0) {
        words_say("can't make a pipe: %s", strerror(errno));
        return STATUS_TROUBLE;
    }
    pid_t child = fork();
    int code = errno;
    if (child == 0)
        become(path, form, theme, to[0], from[1]);
    close(to[0]);
    close(from[1]);
    t->to = to[1];
    t->from = from[0];
    if (child < 0) {
        shut(&t->to);
        shut(&t->from);
        words_say("can't start the helper '%s': %s", path, strerror(code));
        return STATUS_TROUBLE;
    }
    talk_through(t);
    if (ended_well(child) && !t->broken)
        return STATUS_ANSWER; /* whether memory sufficed, writing it tells */
    words_say("the helper '%s' failed: build and install airleash anew, or write an .svg file, "
              "which needs no helper",
              path);
    return STATUS_TROUBLE;
}

int helper_draw(const struct picture *p, const char *form, enum picture_theme theme,
                struct bytes *out) {
    char path[PATH_ROOM];
    if (!found(path)) {
        words_say("drawing a .%s file needs the helper airleash-chart, which isn't there: where "
                  "airleash is built from its source, install the Debian package libcairo2-dev "
                  "and build again; where it was copied here, install libcairo2 and copy "
                  "airleash-chart beside it. An .svg file needs no helper",
                  form);
        return STATUS_TROUBLE;
    }
    struct bytes said = {0};
    picture_lines(p, bytes_put, &said);
    if (said.no_memory) {
        words_say("no memory left");
        free(said.at);
        return STATUS_TROUBLE;
    }
    signal(SIGPIPE, SIG_IGN);
    struct talk t = {.to = -1, .from = -1, .said = &said, .heard = out};
    int status = run(path, form, theme, &t);
    free(said.at);
    return status;
}
