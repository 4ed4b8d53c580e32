#include "app/standard_out.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "app/commands.h"
#include "app/io.h"
#include "app/words.h"

enum { ROOM = 16 * 1024 };

static int trouble; /* errno of the first write that failed: nothing is written behind a gap */

static ssize_t put(void *cookie, const char *bytes, size_t len) {
    (void)cookie;
    if (trouble == 0 && !io_write(STDOUT_FILENO, bytes, len))
        trouble = errno;
    errno = trouble;
    return trouble == 0 ? (ssize_t)len : 0;
}

void standard_hold(void) {
    static const int useless[] = {[STDIN_FILENO] = O_WRONLY, O_RDONLY, O_RDONLY};
    for (int fd = STDIN_FILENO; fd <= STDERR_FILENO; fd++)
        if (fcntl(fd, F_GETFD) < 0 && open("/dev/null", useless[fd]) != fd)
            _exit(STATUS_TROUBLE); /* nobody can be told */
}

void standard_out_begin(void) {
    static char room[ROOM];
    FILE *out = fopencookie(NULL, "w", (cookie_io_functions_t){.write = put});
    if (!out)
        return; /* the plain one does, nearly always */
    setvbuf(out, room, isatty(STDOUT_FILENO) ? _IOLBF : _IOFBF, sizeof room);
    stdout = out;
}

int standard_out_end(int status) {
    bool failed = ferror(stdout) != 0;
    errno = 0;
    failed = fflush(stdout) != 0 || failed;
    int code = trouble != 0 ? trouble : errno;
    if (!failed && !io_close(STDOUT_FILENO) && errno != EBADF) {
        failed = true;
        code = errno;
    }
    if (!failed || code == EPIPE)
        return status;
    words_say("can't write to standard output: %s",
              code ? strerror(code) : "an earlier write failed");
    return status == STATUS_ANSWER ? STATUS_TROUBLE : status;
}
