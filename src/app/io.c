#include "app/io.h"

#include <errno.h>
#include <poll.h>
#include <unistd.h>

/* True when the call is to be made again: at once, or as soon as fd is ready. */
static bool again(int fd, short events) {
    if (errno == EINTR)
        return true;
    if (errno != EAGAIN)
        return false;
    poll(&(struct pollfd){.fd = fd, .events = events}, 1, -1);
    return true;
}

ssize_t io_read(int fd, void *buffer, size_t size) {
    ssize_t got;
    do
        got = read(fd, buffer, size);
    while (got < 0 && again(fd, POLLIN));
    return got;
}

bool io_write(int fd, const void *bytes, size_t len) {
    const char *at = bytes;
    while (len > 0) {
        ssize_t put = write(fd, at, len);
        if (put < 0 && again(fd, POLLOUT))
            continue;
        if (put <= 0) {
            errno = put < 0 ? errno : ENOSPC;
            return false;
        }
        at += put;
        len -= (size_t)put;
    }
    return true;
}

bool io_sync(int fd) {
    int done;
    do
        done = fdatasync(fd);
    while (done != 0 && errno == EINTR);
    return done == 0 || errno == EINVAL || errno == EROFS;
}

bool io_close(int fd) {
    return close(fd) == 0 || errno == EINTR;
}
