#include "app/whole_file.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "app/io.h"
#include "app/words.h"

enum { FIRST_ROOM = 64 * 1024, NAME_ROOM = 4096 };

void bytes_put(void *where, const char *bytes, size_t len) {
    struct bytes *b = where;
    if (b->no_memory)
        return;
    if (len > b->room - b->len) {
        size_t room = b->room > 0 ? b->room : FIRST_ROOM;
        while (len > room - b->len)
            room *= 2;
        char *at = realloc(b->at, room);
        b->no_memory = at == NULL;
        if (!at)
            return;
        b->at = at;
        b->room = room;
    }
    memcpy(b->at + b->len, bytes, len);
    b->len += len;
}

bool whole_file_may(const char *path, bool overwrite, char *why) {
    struct stat st;
    if (stat(path, &st) != 0)
        return true; /* writing will tell what else is wrong */
    if (S_ISDIR(st.st_mode))
        words_writing(why, path, EISDIR);
    else if (!S_ISREG(st.st_mode))
        snprintf(why, WORDS_MAX, "'%.300s' is no plain file: name one", path);
    else if (!overwrite)
        snprintf(why, WORDS_MAX,
                 "'%.300s' exists already and is left as it is: choose another name, or overwrite "
                 "it with --force",
                 path);
    else
        return true;
    return false;
}

/* 0, or an errno.  A file that isn't to be overwritten is linked, which never replaces one, and
 * renamed where there are no links. */
static int write_beside(const char *path, const char *beside, bool overwrite,
                        const struct bytes *bytes) {
    int fd = open(beside, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOCTTY, 0666);
    if (fd < 0)
        return errno;
    bool written = io_write(fd, bytes->at, bytes->len) && io_sync(fd);
    int code = written ? 0 : errno;
    if (!io_close(fd) && code == 0)
        code = errno;
    if (code == 0 && !overwrite && link(beside, path) == 0)
        unlink(beside);
    else if (code == 0 && !overwrite && errno == EEXIST)
        code = EEXIST;
    else if (code == 0 && rename(beside, path) != 0)
        code = errno;
    if (code != 0)
        unlink(beside);
    return code;
}

bool whole_file_write(const char *path, bool overwrite, const struct bytes *bytes, char *why) {
    char beside[NAME_ROOM];
    sigset_t all, before;
    if (bytes->no_memory) {
        snprintf(why, WORDS_MAX, "no memory left");
        return false;
    }
    int len = snprintf(beside, sizeof beside, "%s.%ld.part", path, (long)getpid());
    int code = ENAMETOOLONG;
    if (len > 0 && (size_t)len < sizeof beside) {
        sigfillset(&all);
        sigprocmask(SIG_BLOCK, &all, &before);
        code = write_beside(path, beside, overwrite, bytes);
        sigprocmask(SIG_SETMASK, &before, NULL);
    }
    if (code == EEXIST)
        whole_file_may(path, false, why);
    else if (code != 0)
        words_writing(why, path, code);
    return code == 0;
}
