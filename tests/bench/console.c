/* The live console, measured: it runs in a terminal that libvterm plays, watching a pseudo-terminal
 * into which a child of ours writes lines at a set pace.  Prints figures as name=value and judges
 * nothing; tests/bench/console.py runs it and makes ratios of them.
 *
 * usage: bench_console feed LOG RATE SECONDS COMMAND...    CPU of a command that reads the port
 *        bench_console watch AIRLEASH LOG RATE SECONDS     CPU of the console, and its lines
 *        bench_console bytes AIRLEASH LOG ROWS COLUMNS     bytes to the terminal at 50 lines a
 * second bench_console latency AIRLEASH RATE SECONDS       from a line's arrival to the screen
 *        bench_console start AIRLEASH                      from the start to the first full screen
 *        bench_console run COMMAND...                      from the start to the end of a command
 * The last two start it 21 times and print the median.
 * RATE is bytes a second; the port's speed of 3 Mbaud carries 300000. */
#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include "term.h"

enum { LINE_MAX_BYTES = 400, TICK_US = 1000, SAMPLES_MAX = 20000 };

static void fail(const char *what) {
    perror(what);
    exit(1);
}

static int64_t now_us(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

static void sleep_until(int64_t at_us) {
    struct timespec t = {at_us / 1000000, at_us % 1000000 * 1000};
    clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &t, NULL);
}

static double cpu_of(const struct rusage *u) {
    return (double)(u->ru_utime.tv_sec + u->ru_stime.tv_sec) +
           (double)(u->ru_utime.tv_usec + u->ru_stime.tv_usec) / 1e6;
}

/* --- the port -----------------------------------------------------------------------------------
 */

struct port {
    int master, slave; /* the slave is kept open, so that nobody's closing hangs up */
    char name[64];
};

static struct port port_open(void) {
    struct port p;
    struct termios raw;
    if (openpty(&p.master, &p.slave, p.name, NULL, NULL) != 0)
        fail("openpty");
    tcgetattr(p.slave, &raw);
    cfmakeraw(&raw);
    tcsetattr(p.slave, TCSANOW, &raw);
    fcntl(p.master, F_SETFD, FD_CLOEXEC);
    fcntl(p.slave, F_SETFD, FD_CLOEXEC);
    return p;
}

static char *read_log(const char *path, size_t *len) {
    FILE *file = fopen(path, "rb");
    enum { MOST = 512 << 20 };
    if (!file)
        fail(path);
    fseek(file, 0, SEEK_END);
    long size = ftell(file);
    rewind(file);
    size = size > MOST ? MOST : size;
    char *text = malloc((size_t)size);
    if (!text || fread(text, 1, (size_t)size, file) != (size_t)size)
        fail(path);
    fclose(file);
    *len = (size_t)size;
    return text;
}

static void put(int fd, const char *at, size_t len) {
    while (len > 0) {
        ssize_t done = write(fd, at, len);
        if (done < 0)
            fail("write");
        at += done;
        len -= (size_t)done;
    }
}

/* Writes whole lines at that pace, each millisecond its share, and tells how many. */
struct fed {
    unsigned long lines, bytes;
    double seconds;
};

static struct fed feed(int fd, const char *log, size_t len, double rate, double seconds) {
    struct fed fed = {0};
    int64_t begin = now_us(), end = begin + (int64_t)(seconds * 1e6);
    size_t at = 0;
    for (int64_t tick = begin; tick < end; tick += TICK_US) {
        sleep_until(tick);
        size_t due = (size_t)((double)(tick - begin + TICK_US) * rate / 1e6), to = at;
        while (to < due && to < len) {
            const char *lf = memchr(log + to, '\n', len - to);
            if (!lf)
                break;
            to = (size_t)(lf - log) + 1;
            fed.lines++;
        }
        put(fd, log + at, to - at);
        at = to;
    }
    fed.bytes = at;
    fed.seconds = (double)(now_us() - begin) / 1e6;
    return fed;
}

/* A child feeds, so that this process can play the terminal meanwhile. */
static pid_t feed_apart(int fd, const char *log, size_t len, double rate, double seconds,
                        int *tell) {
    int ends[2];
    if (pipe(ends) != 0)
        fail("pipe");
    pid_t child = fork();
    if (child == 0) {
        struct fed fed = feed(fd, log, len, rate, seconds);
        put(ends[1], (const char *)&fed, sizeof fed);
        _exit(0);
    }
    close(ends[1]);
    *tell = ends[0];
    return child;
}

static struct fed feed_end(pid_t child, int tell) {
    struct fed fed = {0};
    if (read(tell, &fed, sizeof fed) != sizeof fed)
        fail("feeder");
    waitpid(child, NULL, 0);
    close(tell);
    return fed;
}

static void print_fed(const struct fed *fed) {
    printf("lines=%lu bytes=%lu rate=%.0f ", fed->lines, fed->bytes,
           (double)fed->bytes / fed->seconds);
}

/* --- a command that reads the port
 * ---------------------------------------------------------------- */

static int run_feed(const char *path, double rate, double seconds, char **command) {
    size_t len;
    char *log = read_log(path, &len);
    struct port p = port_open();
    struct rusage used;
    pid_t child = fork();
    if (child == 0) {
        int null = open("/dev/null", O_WRONLY), from = open(p.name, O_RDONLY | O_NOCTTY);
        dup2(from, STDIN_FILENO);
        dup2(null, STDOUT_FILENO);
        execvp(command[0], command);
        _exit(127);
    }
    sleep_until(now_us() + 300000);
    struct fed fed = feed(p.master, log, len, rate, seconds);
    sleep_until(now_us() + 300000);
    kill(child, SIGTERM);
    wait4(child, NULL, 0, &used);
    print_fed(&fed);
    printf("cpu=%.4f\n", cpu_of(&used));
    return 0;
}

/* --- the console
 * ----------------------------------------------------------------------------------- */

struct console {
    struct port port;
    struct term *term;
};

static struct console console_start(char *airleash, int rows, int columns, char *recording) {
    struct console c = {.port = port_open()};
    struct term_setup setup = {.rows = rows, .columns = columns, .folder = "/tmp"};
    char *const argv[] = {airleash,  "watch", "--yes", c.port.name, recording ? "--out" : NULL,
                          recording, NULL};
    c.term = term_start(&setup, argv);
    if (!c.term || !term_wait(c.term, "events"))
        fail(c.term ? term_text(c.term) : "term");
    return c;
}

static void pump_for(struct term *t, int64_t us) {
    for (int64_t end = now_us() + us; now_us() < end;)
        term_pump(t, 5);
}

static double console_end(struct console *c) {
    struct rusage used;
    getrusage(RUSAGE_CHILDREN, &used);
    double before = cpu_of(&used);
    term_send(c->term, "q");
    term_wait_end(c->term);
    getrusage(RUSAGE_CHILDREN, &used);
    return cpu_of(&used) - before;
}

static int run_watch(char *airleash, const char *path, double rate, double seconds,
                     char *recording) {
    size_t len;
    int tell;
    char *log = read_log(path, &len);
    struct console c = console_start(airleash, 24, 80, recording);
    pid_t feeder = feed_apart(c.port.master, log, len, rate, seconds, &tell);
    pump_for(c.term, (int64_t)(seconds * 1e6) + 500000);
    struct fed fed = feed_end(feeder, tell);
    pump_for(c.term, 300000);
    print_fed(&fed);
    printf("cpu=%.4f\n", console_end(&c));
    return 0;
}

/* --- bytes
 * ---------------------------------------------------------------------------------------- */

/* Takes what comes for so long; bursts more than 3 ms apart are pictures. */
static unsigned long pictures(struct term *t, int64_t us, size_t *bytes) {
    size_t before, after;
    unsigned long count = 0;
    int64_t last = 0;
    term_bytes(t, &before);
    for (int64_t end = now_us() + us; now_us() < end;) {
        if (!term_pump(t, 1))
            continue;
        count += now_us() - last > 3000;
        last = now_us();
    }
    term_bytes(t, &after);
    *bytes = after - before;
    return count;
}

static int run_bytes(char *airleash, const char *path, int rows, int columns) {
    enum { SECONDS = 10, LINES = 50 };
    size_t len, bytes, full;
    int tell;
    char *log = read_log(path, &len);
    struct console c = console_start(airleash, rows, columns, NULL);
    double rate = 0;
    for (size_t at = 0, lines = 0; at < len && lines < SECONDS * LINES; at++) {
        lines += log[at] == '\n';
        rate = (double)at / SECONDS;
    }
    pid_t feeder = feed_apart(c.port.master, log, len, rate, SECONDS, &tell);
    unsigned long painted = pictures(c.term, SECONDS * 1000000, &bytes);
    term_send(c.term, "\f"); /* paint all of it anew */
    pictures(c.term, 200000, &full);
    feed_end(feeder, tell);
    printf("pictures=%lu bytes=%zu full=%zu\n", painted, bytes, full);
    console_end(&c);
    return 0;
}

/* --- latency
 * --------------------------------------------------------------------------------------- */

static int by_value(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* CRC-16/IBM-3740, a bit at a time. */
static unsigned crc_of(const char *text, size_t len) {
    unsigned crc = 0xFFFF;
    for (size_t i = 0; i < len; i++) {
        crc ^= (unsigned)(unsigned char)text[i] << 8;
        for (int bit = 0; bit < 8; bit++)
            crc = (crc << 1 ^ (crc & 0x8000 ? 0x1021u : 0)) & 0xFFFF;
    }
    return crc;
}

/* Lines of which only the number, the time and one channel change. */
static size_t make_line(char *out, unsigned n, unsigned t_ms, int value) {
    int len = snprintf(out, LINE_MAX_BYTES,
                       "rx n=%u t=%u ch=%d,1500,1500,1500,1000,1000,1100,1300 "
                       "in=%d,1500,1500,1500,1000,1000 lock=0 seq=%u tboot=7 got=%u lost=0 pat=o "
                       "age=1 gap=20 fs=0 fsn=0 mv=5000 mvmin=4990 heard=0/1 noise=0/4 reg=ok",
                       n, t_ms, value, value, n % 65536, n);
    return (size_t)(len + snprintf(out + len, LINE_MAX_BYTES - (size_t)len, " *%04X\r\n",
                                   crc_of(out, (size_t)len)));
}

enum { VALUES = 800 };

/* The child writes lines and, at each change of the value, when it did; the values differ from all
 * else on the page. */
static void feed_values(int fd, int tell, double rate, double seconds, int64_t change_us) {
    char line[LINE_MAX_BYTES];
    int64_t begin = now_us(), change = begin + change_us;
    unsigned n = 0, value = 0;
    size_t bytes = 0;
    for (int64_t tick = begin; tick < begin + (int64_t)(seconds * 1e6); tick += TICK_US) {
        sleep_until(tick);
        for (bool first = true; (double)bytes < (double)(tick - begin) * rate / 1e6;
             first = false) {
            bool fresh = first && tick >= change;
            value = fresh ? (value + 1) % VALUES : value;
            size_t len =
                make_line(line, n + 1, (unsigned)((tick - begin) / 1000), 1111 + (int)value);
            n++;
            bytes += len;
            int64_t at = now_us();
            put(fd, line, len);
            if (fresh) {
                put(tell, (const char *)&at, sizeof at);
                change += change_us;
            }
        }
    }
}

/* Takes the next change of the value, its number and time; after one that was never seen all those
 * that came meanwhile, which are gone as well. */
static bool next_change(int told, bool seen, int64_t *at, unsigned *value) {
    struct pollfd more = {.fd = told, .events = POLLIN};
    do {
        if (read(told, at, sizeof *at) != (ssize_t)sizeof *at)
            return false;
        *value = (*value + 1) % VALUES;
    } while (!seen && poll(&more, 1, 0) > 0 && (more.revents & POLLIN) != 0);
    return true;
}

static int run_latency(char *airleash, double rate, double seconds) {
    static double late[SAMPLES_MAX];
    int ends[2], row, column, count = 0;
    char text[16] = "1111";
    struct console c = console_start(airleash, 24, 80, NULL);
    const int64_t change_us = 71000; /* in step neither with lines nor with pictures */
    if (pipe(ends) != 0)
        fail("pipe");
    pid_t feeder = fork();
    if (feeder == 0) {
        feed_values(c.port.master, ends[1], rate, seconds, change_us);
        _exit(0);
    }
    close(ends[1]);
    int64_t at, seen = 0;
    unsigned value = 0, missed = 0;
    bool there = true;
    while (next_change(ends[0], there, &at, &value) && count < SAMPLES_MAX) {
        snprintf(text, sizeof text, "%u", 1111 + value);
        int64_t until = now_us() + 500000;
        there = false;
        while (now_us() < until && !(there = term_find(c.term, text, &row, &column)))
            term_pump(c.term, 1);
        seen = now_us();
        if (there)
            late[count++] = (double)(seen - at) / 1000;
        else
            missed++;
    }
    waitpid(feeder, NULL, 0);
    console_end(&c);
    qsort(late, (size_t)count, sizeof late[0], by_value);
    if (count == 0)
        return 1;
    printf("samples=%d missed=%u p50=%.3f p90=%.3f p99=%.3f max=%.3f\n", count, missed,
           late[count / 2], late[count * 9 / 10], late[count * 99 / 100], late[count - 1]);
    return 0;
}

/* --- start
 * ----------------------------------------------------------------------------------------- */

enum { STARTS = 21 };

static int print_median(double *ms) {
    qsort(ms, STARTS, sizeof *ms, by_value);
    printf("ms=%.3f\n", ms[STARTS / 2]);
    return 0;
}

static double screen_ms(char *airleash, const struct port *p) {
    struct term_setup setup = {.rows = 24, .columns = 80, .folder = "/tmp"};
    char *const argv[] = {airleash, "watch", "--yes", (char *)(uintptr_t)p->name, NULL};
    int64_t begin = now_us();
    struct term *t = term_start(&setup, argv);
    if (!t || !term_wait(t, "n note"))
        fail("no screen");
    double ms = (double)(now_us() - begin) / 1000;
    term_send(t, "q");
    term_wait_end(t);
    term_free(t);
    return ms;
}

static int run_start(char *airleash) {
    double ms[STARTS];
    struct port p = port_open();
    for (int i = 0; i < STARTS; i++)
        ms[i] = screen_ms(airleash, &p);
    return print_median(ms);
}

static double run_ms(char **command) {
    extern char **environ;
    posix_spawn_file_actions_t actions;
    pid_t child;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    int64_t begin = now_us();
    if (posix_spawnp(&child, command[0], &actions, NULL, command, environ) != 0)
        fail(command[0]);
    waitpid(child, NULL, 0);
    posix_spawn_file_actions_destroy(&actions);
    return (double)(now_us() - begin) / 1000;
}

static int run_run(char **command) {
    double ms[STARTS];
    for (int i = 0; i < STARTS; i++)
        ms[i] = run_ms(command);
    return print_median(ms);
}

int main(int argc, char **argv) {
    const char *what = argc > 1 ? argv[1] : "";
    signal(SIGPIPE, SIG_IGN);
    if (strcmp(what, "feed") == 0 && argc > 5)
        return run_feed(argv[2], atof(argv[3]), atof(argv[4]), argv + 5);
    if (strcmp(what, "watch") == 0 && argc > 5)
        return run_watch(argv[2], argv[3], atof(argv[4]), atof(argv[5]), argv[6]);
    if (strcmp(what, "bytes") == 0 && argc > 5)
        return run_bytes(argv[2], argv[3], atoi(argv[4]), atoi(argv[5]));
    if (strcmp(what, "latency") == 0 && argc > 4)
        return run_latency(argv[2], atof(argv[3]), atof(argv[4]));
    if (strcmp(what, "start") == 0 && argc > 2)
        return run_start(argv[2]);
    if (strcmp(what, "run") == 0 && argc > 2)
        return run_run(argv + 2);
    fputs("usage: see the head of tests/bench/console.c\n", stderr);
    return 2;
}
