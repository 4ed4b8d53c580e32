#include "app/truth.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "app/commands.h"
#include "app/io.h"
#include "app/whole_file.h"
#include "app/words.h"

static int refuse(const char *why) {
    words_say("the truth: %s", why);
    return STATUS_TROUBLE;
}

static int refuse_code(const char *path, int code) {
    char why[WORDS_MAX];
    words_writing(why, path, code);
    return refuse(why);
}

/* Something there that is no plain file, such as a pipe: it is written to as it is. */
static bool is_stream(const char *path) {
    struct stat st;
    return stat(path, &st) == 0 && !S_ISREG(st.st_mode);
}

int truth_check(const char *path) {
    struct stat st;
    char beside[4096];
    bool there = stat(path, &st) == 0;
    snprintf(beside, sizeof beside, "%s%s", path, there ? "" : ".part");
    int fd = open(beside, O_WRONLY | O_APPEND | O_CREAT | O_CLOEXEC | O_NOCTTY, 0666);
    if (fd < 0)
        return refuse_code(path, errno);
    close(fd);
    if (!there)
        unlink(beside); /* it appears when it is whole */
    return STATUS_ANSWER;
}

static int write_stream(const char *path, const struct bytes *bytes) {
    int fd = open(path, O_WRONLY | O_CLOEXEC | O_NOCTTY);
    bool good = fd >= 0 && !bytes->no_memory && io_write(fd, bytes->at, bytes->len);
    int code = bytes->no_memory ? ENOMEM : errno;
    if (fd >= 0 && !io_close(fd) && good) {
        code = errno;
        good = false;
    }
    return good ? STATUS_ANSWER : refuse_code(path, code);
}

int truth_write(const struct simulator *p, const char *path) {
    char why[WORDS_MAX];
    struct bytes bytes = {0};
    int status = STATUS_ANSWER;
    simulator_truth_text(p, bytes_put, &bytes);
    if (is_stream(path))
        status = write_stream(path, &bytes);
    else if (!whole_file_write(path, true, &bytes, why))
        status = refuse(why);
    free(bytes.at);
    return status;
}
