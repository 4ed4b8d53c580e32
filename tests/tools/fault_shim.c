/* Preloaded before a dynamic program, makes chosen calls fail.  $FAULTS names them, one or more,
 * separated by ';':
 *
 *     CALL@WHERE@WHEN@HOW
 *
 * CALL  a function below, such as write; WHERE a pattern for the file's path (fnmatch), fd0 or fd1
 * for what stands there, * for anything; WHEN a count of matching calls from 1, with + for each
 * from there on, with ~ every second one from there on, and with -M until the Mth; HOW an errno by
 * name, `short` (a read or write takes at most 7 bytes), `kill` (SIGKILL instead), `torn` (SIGKILL
 * after at most 7 bytes), or a number of seconds: for `clock` by which CLOCK_BOOTTIME jumps ahead,
 * as in a sleep, for `realtime` by which CLOCK_REALTIME jumps ahead or back, or where it stands.  A
 * close that fails has closed, as on Linux.
 *
 * $FAULT_GATE names a file: while it isn't there, nothing is counted and nothing fails.
 * $FAULT_HITS names a file that gets a byte for each call that was made to fail, so that a test
 * knows when its count lies behind the last one.  What glibc's stdio does inside it isn't seen. */
#undef _FILE_OFFSET_BITS /* both families of names are defined here */
#undef _FORTIFY_SOURCE   /* else these become inline functions */
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <fnmatch.h>
#include <poll.h>
#include <signal.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <sys/types.h>
#include <time.h>
#include <unistd.h>

enum { STANDS = 1000000000 }; /* more seconds than that are a date, at which the clock stands */

enum { RULES = 8, PATH_ROOM = 512, SHORT = 100000, JUMP, KILL, TORN, SHORT_BYTES = 7 };

struct rule {
    char call[16], where[PATH_ROOM];
    unsigned long from, to, step, seen;
    int how; /* an errno, or SHORT, or JUMP */
    long seconds;
};

static struct rule rules[RULES];
static int rule_count;
static bool ready;

static const struct {
    const char *name;
    int code;
} codes[] = {{"EIO", EIO},       {"ENOSPC", ENOSPC}, {"EINTR", EINTR},   {"EAGAIN", EAGAIN},
             {"ENOMEM", ENOMEM}, {"EACCES", EACCES}, {"EDQUOT", EDQUOT}, {"EFBIG", EFBIG},
             {"EMFILE", EMFILE}, {"ENXIO", ENXIO},   {"EROFS", EROFS},   {"ENOENT", ENOENT},
             {"EPERM", EPERM},   {"short", SHORT},   {"kill", KILL},     {"torn", TORN}};

/* A test with a rule that can't be read would pass for the wrong reason. */
static void give_up(const char *about) {
    fprintf(stderr, "fault_shim: can't read '%s'\n", about);
    _exit(99);
}

static void read_how(struct rule *r, const char *how) {
    for (size_t i = 0; i < sizeof codes / sizeof *codes; i++)
        if (strcmp(codes[i].name, how) == 0)
            r->how = codes[i].code;
    char *end;
    r->seconds = strtol(how, &end, 10);
    if (r->how == 0 && *how && *end == '\0')
        r->how = JUMP;
    if (r->how == 0)
        give_up(how);
}

static void read_rule(char *text) {
    char *rest = text, *part[4];
    struct rule *r = &rules[rule_count];
    for (int i = 0; i < 4; i++)
        if (!(part[i] = strsep(&rest, "@")))
            give_up(text);
    if (rest || rule_count == RULES)
        give_up(text);
    snprintf(r->call, sizeof r->call, "%s", part[0]);
    snprintf(r->where, sizeof r->where, "%s", part[1]);
    char *end;
    r->from = r->to = strtoul(part[2], &end, 10);
    r->step = *end == '~' ? 2 : 1;
    if (*end == '+' || *end == '~')
        r->to = (unsigned long)-1;
    else if (*end == '-')
        r->to = strtoul(end + 1, &end, 10);
    if (r->from == 0)
        give_up(part[2]);
    read_how(r, part[3]);
    rule_count++;
}

static void read_rules(void) {
    static char text[4096];
    const char *given = getenv("FAULTS");
    ready = true;
    if (!given)
        return;
    snprintf(text, sizeof text, "%s", given);
    char *rest = text;
    for (char *one; (one = strsep(&rest, ";"));)
        if (*one)
            read_rule(one);
}

static void note_hit(void) {
    const char *name = getenv("FAULT_HITS");
    if (!name)
        return;
    long fd = syscall(SYS_openat, AT_FDCWD, name, O_WRONLY | O_APPEND | O_CREAT | O_CLOEXEC, 0600);
    if (fd < 0 || syscall(SYS_write, fd, ".", 1) != 1)
        give_up(name);
    syscall(SYS_close, fd);
}

static bool gate_open(void) {
    const char *gate = getenv("FAULT_GATE");
    return !gate || syscall(SYS_faccessat, AT_FDCWD, gate, F_OK) == 0;
}

static bool is_there(const struct rule *r, int fd, const char *path) {
    char own[64], of[PATH_ROOM];
    if (strcmp(r->where, "*") == 0)
        return true;
    if (path)
        return fnmatch(r->where, path, 0) == 0;
    snprintf(own, sizeof own, "fd%d", fd);
    if (strncmp(r->where, "fd", 2) == 0)
        return strcmp(r->where, own) == 0;
    snprintf(own, sizeof own, "/proc/self/fd/%d", fd);
    long len = syscall(SYS_readlinkat, AT_FDCWD, own, of, sizeof of - 1);
    of[len > 0 ? len : 0] = '\0';
    return fnmatch(r->where, of, 0) == 0;
}

/* What this call is to do: 0, an errno, or SHORT.  path NULL: the file of fd. */
static int fate(const char *call, int fd, const char *path) {
    int how = 0, kept = errno;
    if (!ready)
        read_rules();
    for (int i = 0; i < rule_count; i++) {
        struct rule *r = &rules[i];
        if (strcmp(r->call, call) != 0 || !is_there(r, fd, path) || !gate_open())
            continue;
        r->seen++;
        if (r->seen < r->from || r->seen > r->to || (r->seen - r->from) % r->step != 0)
            continue;
        note_hit();
        how = r->how;
    }
    errno = kept;
    if (how == KILL)
        kill(getpid(), SIGKILL);
    return how;
}

static int fail(int code) {
    errno = code;
    return -1;
}

static size_t cut(int how, size_t size) {
    return (how == SHORT || how == TORN) && size > SHORT_BYTES ? SHORT_BYTES : size;
}

ssize_t read(int fd, void *buffer, size_t size) {
    int how = fate("read", fd, NULL);
    return how && how != SHORT ? fail(how) : syscall(SYS_read, fd, buffer, cut(how, size));
}

ssize_t write(int fd, const void *bytes, size_t size) {
    int how = fate("write", fd, NULL);
    if (how && how != SHORT && how != TORN)
        return fail(how);
    ssize_t put = syscall(SYS_write, fd, bytes, cut(how, size));
    if (how == TORN)
        kill(getpid(), SIGKILL);
    return put;
}

ssize_t pread(int fd, void *buffer, size_t size, off_t at) {
    int how = fate("pread", fd, NULL);
    return how && how != SHORT ? fail(how) : syscall(SYS_pread64, fd, buffer, cut(how, size), at);
}

ssize_t pread64(int fd, void *buffer, size_t size, off64_t at) {
    return pread(fd, buffer, size, at);
}

int fsync(int fd) {
    int how = fate("fsync", fd, NULL);
    return how ? fail(how) : (int)syscall(SYS_fsync, fd);
}

int fdatasync(int fd) {
    int how = fate("fsync", fd, NULL);
    return how ? fail(how) : (int)syscall(SYS_fdatasync, fd);
}

int ftruncate(int fd, off_t size) {
    int how = fate("ftruncate", fd, NULL);
    return how ? fail(how) : (int)syscall(SYS_ftruncate, fd, size);
}

int ftruncate64(int fd, off64_t size) {
    return ftruncate(fd, size);
}

int close(int fd) {
    int how = fate("close", fd, NULL), answer = (int)syscall(SYS_close, fd);
    return how ? fail(how) : answer;
}

static int open_it(const char *path, int flags, va_list args) {
    int mode = flags & (O_CREAT | O_TMPFILE) ? va_arg(args, int) : 0;
    int how = fate("open", -1, path);
    return how ? fail(how) : (int)syscall(SYS_openat, AT_FDCWD, path, flags, mode);
}

int open(const char *path, int flags, ...) {
    va_list args;
    va_start(args, flags);
    int fd = open_it(path, flags, args);
    va_end(args);
    return fd;
}

int open64(const char *path, int flags, ...) {
    va_list args;
    va_start(args, flags);
    int fd = open_it(path, flags | O_LARGEFILE, args);
    va_end(args);
    return fd;
}

/* Of both names the new one counts. */
int rename(const char *from, const char *to) {
    int how = fate("rename", -1, to);
    return how ? fail(how) : (int)syscall(SYS_renameat, AT_FDCWD, from, AT_FDCWD, to);
}

int link(const char *from, const char *to) {
    int how = fate("link", -1, to);
    return how ? fail(how) : (int)syscall(SYS_linkat, AT_FDCWD, from, AT_FDCWD, to, 0);
}

int poll(struct pollfd *fds, nfds_t count, int ms) {
    int how = fate("poll", -1, "");
    struct timespec wait = {ms / 1000, ms % 1000 * 1000000L};
    return how ? fail(how) : (int)syscall(SYS_ppoll, fds, count, ms < 0 ? NULL : &wait, NULL, 0);
}

int ppoll(struct pollfd *fds, nfds_t count, const struct timespec *most, const sigset_t *mask) {
    int how = fate("poll", -1, "");
    struct timespec wait = most ? *most : (struct timespec){0};
    return how ? fail(how)
               : (int)syscall(SYS_ppoll, fds, count, most ? &wait : NULL, mask, mask ? 8 : 0);
}

int pipe2(int ends[2], int flags) {
    int how = fate("pipe2", -1, "");
    return how ? fail(how) : (int)syscall(SYS_pipe2, ends, flags);
}

/* The function that we stand in front of; copied, since C has no cast from data to code. */
static void real(void *function, size_t size, const char *name) {
    void *symbol = dlsym(RTLD_NEXT, name);
    memcpy(function, &symbol, size);
}

pid_t fork(void) {
    pid_t (*next)(void);
    int how = fate("fork", -1, "");
    if (how)
        return fail(how);
    real(&next, sizeof next, "fork");
    return next();
}

/* --- clocks ----------------------------------------------------------------------------------- */

/* Seconds that the jumps up to now come to, of `clock` (all but CLOCK_MONOTONIC, as a sleep does)
 * or of `realtime` alone. */
static long jumped(const char *call) {
    long seconds = 0;
    if (!ready)
        read_rules();
    for (int i = 0; i < rule_count; i++) {
        struct rule *r = &rules[i];
        if (strcmp(r->call, call) != 0 || r->how != JUMP || !gate_open())
            continue;
        r->seen++;
        if (r->seen == r->from)
            note_hit();
        if (r->seen >= r->from && r->seen <= r->to)
            seconds += r->seconds;
    }
    return seconds;
}

int clock_gettime(clockid_t id, struct timespec *t) {
    long answer = syscall(SYS_clock_gettime, id, t);
    if (answer == 0 && id == CLOCK_BOOTTIME)
        t->tv_sec += jumped("clock");
    if (answer == 0 && id == CLOCK_REALTIME) {
        long seconds = jumped("realtime");
        t->tv_sec = seconds > STANDS ? seconds : t->tv_sec + seconds;
    }
    return (int)answer;
}

time_t time(time_t *out) {
    struct timespec t;
    clock_gettime(CLOCK_REALTIME, &t);
    if (out)
        *out = t.tv_sec;
    return t.tv_sec;
}

/* --- memory ----------------------------------------------------------------------------------- */

void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *at, size_t size);

/* Counted by itself, without looking at patterns: reading the rules must not allocate either. */
static bool memory_ends(void) {
    return fate("malloc", -1, "") != 0;
}

void *malloc(size_t size) {
    if (memory_ends()) {
        errno = ENOMEM;
        return NULL;
    }
    return __libc_malloc(size);
}

void *calloc(size_t count, size_t size) {
    if (memory_ends()) {
        errno = ENOMEM;
        return NULL;
    }
    return __libc_calloc(count, size);
}

void *realloc(void *at, size_t size) {
    if (memory_ends()) {
        errno = ENOMEM;
        return NULL;
    }
    return __libc_realloc(at, size);
}
