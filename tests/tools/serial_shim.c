/* Preloaded before a dynamic program, makes a fake USB serial port appear to libserialport: paths
 * of serial ports in /dev and sysfs are looked up under the folder $SERIAL_SHIM_ROOT, which
 * serial_port.py lays out, and a pseudo-terminal there answers the modem-line calls that it has
 * not by itself.  Every opening of a port and every change of its lines is noted in ROOT/log.
 * The symbols are those that libserialport 0.1.1 and src/source import. */
#undef _FILE_OFFSET_BITS /* both families of names are defined here */
#undef _FORTIFY_SOURCE   /* else these become inline functions */
#include <dirent.h>
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <unistd.h>

enum { PATH_SIZE = 512 };

int __open_2(const char *path, int flags);
int __open64_2(const char *path, int flags);
int __xstat(int version, const char *path, struct stat *st);
int __lxstat(int version, const char *path, struct stat *st);

static const char *root(void) {
    return getenv("SERIAL_SHIM_ROOT");
}

static bool starts(const char *path, const char *with) {
    return strncmp(path, with, strlen(with)) == 0;
}

/* The place under the root, in buffer, or path itself.  Real ports never show through. */
static const char *mapped(const char *path, char buffer[PATH_SIZE]) {
    static const char *const always[] = {"/dev/ttyUSB", "/dev/serial", "/sys/class/tty"};
    bool map = false;
    struct stat st;
    if (!root() || !path)
        return path;
    for (size_t i = 0; i < sizeof always / sizeof *always; i++)
        map = map || starts(path, always[i]);
    int len = snprintf(buffer, PATH_SIZE, "%s%s", root(), path);
    if (len < 0 || len >= PATH_SIZE)
        return path;
    if (!map && starts(path, "/sys/dev/char/"))
        map = fstatat(AT_FDCWD, buffer, &st, AT_SYMLINK_NOFOLLOW) == 0;
    return map ? buffer : path;
}

static void note(const char *what, const char *path, long value) {
    char name[PATH_SIZE], line[PATH_SIZE];
    snprintf(name, sizeof name, "%s/log", root());
    int len = snprintf(line, sizeof line, "%s %s %ld\n", what, path, value);
    int fd = openat(AT_FDCWD, name, O_WRONLY | O_APPEND | O_CREAT | O_CLOEXEC, 0600);
    if (fd < 0)
        return;
    if (write(fd, line, (size_t)len) < 0)
        abort(); /* a test that misses a note would pass for the wrong reason */
    close(fd);
}

static int open_mapped(const char *path, int flags, mode_t mode) {
    char buffer[PATH_SIZE];
    if (root() && (starts(path, "/dev/ttyUSB") || starts(path, "/dev/serial/")))
        note("open", path, getpid());
    return openat(AT_FDCWD, mapped(path, buffer), flags, mode);
}

static mode_t mode_of(int flags, va_list args) {
    return flags & O_CREAT ? (mode_t)va_arg(args, int) : 0;
}

int open(const char *path, int flags, ...) {
    va_list args;
    va_start(args, flags);
    mode_t mode = mode_of(flags, args);
    va_end(args);
    return open_mapped(path, flags, mode);
}

int open64(const char *path, int flags, ...) {
    va_list args;
    va_start(args, flags);
    mode_t mode = mode_of(flags, args);
    va_end(args);
    return open_mapped(path, flags | O_LARGEFILE, mode);
}

int __open_2(const char *path, int flags) {
    return open_mapped(path, flags, 0);
}

int __open64_2(const char *path, int flags) {
    return open_mapped(path, flags | O_LARGEFILE, 0);
}

int stat(const char *restrict path, struct stat *restrict st) {
    char buffer[PATH_SIZE];
    return fstatat(AT_FDCWD, mapped(path, buffer), st, 0);
}

int stat64(const char *restrict path, struct stat64 *restrict st) {
    char buffer[PATH_SIZE];
    return fstatat64(AT_FDCWD, mapped(path, buffer), st, 0);
}

int lstat(const char *restrict path, struct stat *restrict st) {
    char buffer[PATH_SIZE];
    return fstatat(AT_FDCWD, mapped(path, buffer), st, AT_SYMLINK_NOFOLLOW);
}

int lstat64(const char *restrict path, struct stat64 *restrict st) {
    char buffer[PATH_SIZE];
    return fstatat64(AT_FDCWD, mapped(path, buffer), st, AT_SYMLINK_NOFOLLOW);
}

int __xstat(int version, const char *path, struct stat *st) {
    (void)version;
    return stat(path, st);
}

int __lxstat(int version, const char *path, struct stat *st) {
    (void)version;
    return lstat(path, st);
}

ssize_t readlink(const char *restrict path, char *restrict out, size_t size) {
    char buffer[PATH_SIZE];
    return readlinkat(AT_FDCWD, mapped(path, buffer), out, size);
}

/* The function that we stand in front of; copied, since C has no cast from
 * data to code. */
static void real(void *function, size_t size, const char *name) {
    void *symbol = dlsym(RTLD_NEXT, name);
    memcpy(function, &symbol, size);
}

int faccessat(int dir, const char *path, int mode, int flags) {
    int (*next)(int, const char *, int, int);
    char buffer[PATH_SIZE];
    real(&next, sizeof next, "faccessat");
    return next(dir, mapped(path, buffer), mode, flags);
}

DIR *opendir(const char *path) {
    DIR *(*next)(const char *);
    char buffer[PATH_SIZE];
    real(&next, sizeof next, "opendir");
    return next(mapped(path, buffer));
}

FILE *fopen(const char *restrict path, const char *restrict mode) {
    FILE *(*next)(const char *, const char *);
    char buffer[PATH_SIZE];
    real(&next, sizeof next, "fopen");
    return next(mapped(path, buffer), mode);
}

FILE *fopen64(const char *restrict path, const char *restrict mode) {
    return fopen(path, mode);
}

static bool is_port(int fd) {
    struct stat port, st;
    return root() && stat("/dev/ttyUSB0", &port) == 0 && fstat(fd, &st) == 0 &&
           S_ISCHR(st.st_mode) && st.st_rdev == port.st_rdev;
}

/* The kernel's struct termios2, whose header can't stand beside <sys/ioctl.h>. */
struct settings {
    unsigned flags[4];
    unsigned char line, control[19];
    unsigned input_speed, output_speed;
};
#define GET_SETTINGS _IOR('T', 0x2A, struct settings)

/* A driver that can't do a speed takes another and says so when asked; a pseudo-terminal can do
 * all.  $SERIAL_SHIM_TOP_SPEED is the most that this port can do. */
static void cap_speed(struct settings *settings) {
    const char *top = getenv("SERIAL_SHIM_TOP_SPEED");
    if (top && settings->output_speed > (unsigned)atoi(top))
        settings->output_speed = (unsigned)atoi(top);
}

/* An unplugged port's calls fail by themselves, with EIO; only what a pseudo-terminal lacks is
 * made up here. */
int ioctl(int fd, unsigned long request, ...) {
    int (*next)(int, unsigned long, void *);
    va_list args;
    va_start(args, request);
    void *argument = va_arg(args, void *);
    va_end(args);
    real(&next, sizeof next, "ioctl");
    int answer = next(fd, request, argument);
    if (answer == 0 && request == GET_SETTINGS && is_port(fd))
        cap_speed(argument);
    bool set = request == TIOCMSET || request == TIOCMBIS || request == TIOCMBIC;
    if (answer == 0 || !(set || request == TIOCMGET) || errno == EIO || !is_port(fd))
        return answer;
    if (request == TIOCMGET)
        *(int *)argument = TIOCM_DTR | TIOCM_RTS; /* as the kernel sets them in open() */
    else
        note(request == TIOCMSET   ? "set"
             : request == TIOCMBIS ? "raise"
                                   : "drop",
             "lines", *(int *)argument);
    return 0;
}
