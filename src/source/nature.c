/* What a path is, told from its device number and sysfs: opening it to find out could restart a
 * board. */
#include <errno.h>
#include <fcntl.h>
#include <libserialport.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <unistd.h>

#include "source/parts.h"

/* Device numbers that Linux has fixed for good: Documentation/admin-guide/devices.txt. */
enum {
    MAJOR_MEMORY = 1, /* null, zero, urandom */
    MAJOR_CONSOLE = 4,
    FIRST_UART = 64,
    MAJOR_ALIAS = 5, /* 0 is /dev/tty, 1 the console, 2 makes pseudo-terminals */
    ALIAS_PTMX = 2,
    FIRST_PSEUDO = 136,
    LAST_PSEUDO = 143,
};

enum source_fault error_set(struct source_error *error, enum source_fault fault, int code) {
    *error = (struct source_error){.fault = fault, .code = code};
    return fault;
}

enum source_fault error_from(struct source_error *error, int code) {
    static const struct {
        int code;
        enum source_fault fault;
    } meanings[] = {
        {ENOENT, SOURCE_MISSING}, {ENOTDIR, SOURCE_MISSING},   {ENXIO, SOURCE_MISSING},
        {ENODEV, SOURCE_MISSING}, {EACCES, SOURCE_PERMISSION}, {EPERM, SOURCE_PERMISSION},
        {EBUSY, SOURCE_BUSY},     {EISDIR, SOURCE_DIRECTORY},
    };
    for (size_t i = 0; i < sizeof meanings / sizeof *meanings; i++)
        if (meanings[i].code == code)
            return error_set(error, meanings[i].fault, code);
    return error_set(error, SOURCE_SYSTEM, code);
}

/* The terminal that this program itself talks to a person on. */
static bool is_own_terminal(dev_t rdev) {
    for (int fd = 0; fd <= 2; fd++) {
        struct stat st;
        if (fstat(fd, &st) == 0 && S_ISCHR(st.st_mode) && st.st_rdev == rdev && isatty(fd))
            return true;
    }
    return false;
}

/* The device of that number in sysfs, such as .../usb1/1-1/1-1:1.0/ttyUSB0/tty/ttyUSB0. */
static bool sysfs_link(dev_t rdev, char *link, size_t size) {
    char path[64];
    snprintf(path, sizeof path, "/sys/dev/char/%u:%u", major(rdev), minor(rdev));
    ssize_t len = readlink(path, link, size - 1);
    link[len > 0 ? len : 0] = '\0';
    return len > 0;
}

/* True when libserialport knows the port and /dev/NAME is the very device that was asked for. */
static bool name_for_library(char *device, size_t size, const char *link, dev_t rdev) {
    const char *slash = strrchr(link, '/');
    int len = snprintf(device, size, "/dev/%s", slash ? slash + 1 : link);
    struct stat st;
    if (len < 0 || (size_t)len >= size || stat(device, &st) < 0 || st.st_rdev != rdev)
        return false;
    struct sp_port *port = NULL;
    if (sp_get_port_by_name(device, &port) != SP_OK)
        return false;
    sp_free_port(port);
    return true;
}

static enum source_fault find_device(struct nature *n, struct source_error *error) {
    char link[256];
    unsigned kind = major(n->rdev), number = minor(n->rdev);
    n->kind = SOURCE_PIPE;
    if (kind == MAJOR_MEMORY)
        return error_set(error, SOURCE_OK, 0);
    if (kind == MAJOR_ALIAS && number == ALIAS_PTMX)
        return error_set(error, SOURCE_NOT_READABLE, 0);
    if (kind == MAJOR_ALIAS || (kind == MAJOR_CONSOLE && number < FIRST_UART) ||
        is_own_terminal(n->rdev))
        return error_set(error, SOURCE_KEYBOARD, 0);
    bool known = sysfs_link(n->rdev, link, sizeof link);
    n->pseudo = !known && kind >= FIRST_PSEUDO && kind <= LAST_PSEUDO;
    if (known && !strstr(link, "/tty/"))
        return error_set(error, SOURCE_OK, 0);
    n->kind = SOURCE_TTY;
    /* What sysfs doesn't know may be anything: a caution too many costs nothing. */
    n->restarts = known ? !strstr(link, "/virtual/") : !n->pseudo;
    if (known && name_for_library(n->device, sizeof n->device, link, n->rdev))
        n->kind = SOURCE_SERIAL;
    return error_set(error, SOURCE_OK, 0);
}

static enum source_fault find_mode(struct nature *n, const struct stat *st, bool standard_input,
                                   struct source_error *error) {
    switch (st->st_mode & S_IFMT) {
    case S_IFREG:
        n->kind = SOURCE_FILE;
        return error_set(error, SOURCE_OK, 0);
    case S_IFIFO:
        n->fifo = true;
        return error_set(error, SOURCE_OK, 0);
    case S_IFDIR:
        return error_set(error, SOURCE_DIRECTORY, 0);
    case S_IFSOCK: /* one with a name can't be opened, one that we were handed can be read */
        return error_set(error, standard_input ? SOURCE_OK : SOURCE_NOT_READABLE, 0);
    case S_IFCHR:
        n->rdev = st->st_rdev;
        if (!standard_input)
            return find_device(n, error);
        return error_set(error, isatty(0) ? SOURCE_KEYBOARD : SOURCE_OK, 0);
    default:
        return error_set(error, SOURCE_NOT_READABLE, 0);
    }
}

enum source_fault nature_find(struct nature *n, const char *path, struct source_error *error) {
    *n = (struct nature){.kind = SOURCE_PIPE};
    struct stat st;
    bool standard_input = strcmp(path, "-") == 0;
    if ((standard_input ? fstat(0, &st) : stat(path, &st)) < 0)
        return error_from(error, errno);
    enum source_fault fault = find_mode(n, &st, standard_input, error);
    if (fault == SOURCE_OK && !standard_input && faccessat(AT_FDCWD, path, R_OK, AT_EACCESS) < 0)
        return error_from(error, errno);
    return fault;
}

enum source_kind source_look(const char *path, struct source_error *error) {
    struct nature n;
    nature_find(&n, path, error);
    return n.kind;
}

bool source_may_restart(const char *path) {
    struct nature n;
    struct source_error error;
    nature_find(&n, path, &error);
    return n.restarts;
}
