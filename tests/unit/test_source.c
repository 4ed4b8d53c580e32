/* Sources without hardware: files, pipes and pseudo-terminals made here.  What pipes and
 * terminals do at their end is POSIX (read, poll) and Linux (pty(7), fifo(7)). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
/* cmocka needs the four above first */
#include <cmocka.h>

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

#include "source/source.h"

enum { DEADLINE_MS = 20000, NOBODY = 65534 };

static char folder[] = "/tmp/test-source-XXXXXX";

static const char *in_folder(const char *name) {
    static char path[100]; /* a socket's name has room for 108 */
    snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

static void write_file(const char *name, size_t size) {
    FILE *f = fopen(in_folder(name), "w");
    assert_non_null(f);
    for (size_t i = 0; i < size; i++)
        fputc((int)('a' + i % 23), f);
    assert_int_equal(fclose(f), 0);
}

static void make_socket(const char *name) {
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    snprintf(address.sun_path, sizeof address.sun_path, "%s", in_folder(name));
    int fd = socket(AF_UNIX, SOCK_STREAM, 0);
    assert_int_equal(bind(fd, (struct sockaddr *)&address, sizeof address), 0);
    close(fd);
}

static int make_folder(void **state) {
    (void)state;
    if (!mkdtemp(folder))
        return -1;
    chmod(folder, 0755);
    write_file("file", 100000);
    write_file("empty", 0);
    write_file("secret", 10);
    chmod(in_folder("secret"), 0);
    make_socket("socket");
    return mkfifo(in_folder("fifo"), 0644) + symlink("file", in_folder("link")) +
           symlink("nowhere", in_folder("dangling"));
}

static int remove_folder(void **state) {
    (void)state;
    static const char *const names[] = {"file", "empty", "secret",  "socket",
                                        "fifo", "link",  "dangling"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        unlink(in_folder(names[i]));
    return rmdir(folder);
}

/* A pseudo-terminal whose slave nobody holds open. */
static int make_pty(char name[static 64]) {
    int master, slave;
    assert_int_equal(openpty(&master, &slave, name, NULL, NULL), 0);
    close(slave);
    return master;
}

static struct source *open_ok(const char *path, int speed) {
    struct source *s;
    struct source_error error;
    struct source_wish wish = {path, speed};
    enum source_fault fault = source_open(&s, &wish, &error);
    if (fault != SOURCE_OK)
        fail_msg("%s: fault %d, errno %d", path, fault, error.code);
    assert_non_null(s);
    assert_int_equal(error.fault, SOURCE_OK);
    return s;
}

static struct source_error open_refused(const char *path, int speed) {
    struct source *s = (struct source *)folder; /* anything but NULL */
    struct source_error error;
    struct source_wish wish = {path, speed};
    enum source_fault fault = source_open(&s, &wish, &error);
    assert_null(s);
    assert_int_not_equal(fault, SOURCE_OK);
    assert_int_equal(fault, error.fault);
    return error;
}

/* Reads until there is something, waiting for it by poll. */
static enum source_read read_some(struct source *s, char *buffer, size_t size, size_t *got) {
    for (;;) {
        struct pollfd p = {.fd = source_fd(s), .events = POLLIN};
        assert_int_equal(poll(&p, 1, DEADLINE_MS), 1);
        enum source_read r = source_read(s, buffer, size, got);
        if (r != SOURCE_EMPTY)
            return r;
    }
}

static void expect_text(struct source *s, const char *text) {
    char buffer[256];
    size_t have = 0, got = 0;
    while (have < strlen(text)) {
        assert_int_equal(read_some(s, buffer + have, sizeof buffer - have, &got), SOURCE_BYTES);
        have += got;
    }
    assert_int_equal(have, strlen(text));
    assert_memory_equal(buffer, text, have);
}

static void expect_state(struct source *s, enum source_read wanted) {
    char buffer[16];
    size_t got = 99;
    assert_int_equal(source_read(s, buffer, sizeof buffer, &got), wanted);
    assert_int_equal(got, 0);
}

static void write_text(int fd, const char *text) {
    assert_int_equal(write(fd, text, strlen(text)), (ssize_t)strlen(text));
}

/* ---- what a path is ---- */

struct look {
    const char *legend, *path; /* relative ones in the folder */
    enum source_fault fault;
    enum source_kind kind;
};

static const struct look looks[] = {
    {"a file", "file", SOURCE_OK, SOURCE_FILE},
    {"an empty file", "empty", SOURCE_OK, SOURCE_FILE},
    {"a link to a file", "link", SOURCE_OK, SOURCE_FILE},
    {"a FIFO", "fifo", SOURCE_OK, SOURCE_PIPE},
    {"the null device", "/dev/null", SOURCE_OK, SOURCE_PIPE},
    {"a folder", "", SOURCE_DIRECTORY, SOURCE_PIPE},
    {"no such file", "nothing", SOURCE_MISSING, SOURCE_PIPE},
    {"no such folder", "nothing/file", SOURCE_MISSING, SOURCE_PIPE},
    {"a file taken for a folder", "file/file", SOURCE_MISSING, SOURCE_PIPE},
    {"a link to nowhere", "dangling", SOURCE_MISSING, SOURCE_PIPE},
    {"no name at all", "//", SOURCE_DIRECTORY, SOURCE_PIPE},
    {"a socket's place", "socket", SOURCE_NOT_READABLE, SOURCE_PIPE},
    {"the maker of pseudo-terminals", "/dev/ptmx", SOURCE_NOT_READABLE, SOURCE_PIPE},
    {"the program's own terminal", "/dev/tty", SOURCE_KEYBOARD, SOURCE_PIPE},
};

static void test_look(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof looks / sizeof *looks; i++) {
        const struct look *l = &looks[i];
        const char *path = l->path[0] == '/' ? l->path : in_folder(l->path);
        struct source_error error;
        enum source_kind kind = source_look(path, &error);
        if (error.fault != l->fault || (l->fault == SOURCE_OK && kind != l->kind))
            fail_msg("%s: fault %d, kind %d", l->legend, error.fault, kind);
        assert_false(source_may_restart(path));
        if (l->fault != SOURCE_OK)
            assert_int_equal(open_refused(path, 115200).fault, l->fault);
    }
}

/* Root may read anything, so that only somebody else can be refused. */
static void test_permission(void **state) {
    (void)state;
    struct source_error error;
    uid_t us = geteuid();
    if (us == 0)
        assert_int_equal(seteuid(NOBODY), 0);
    source_look(in_folder("secret"), &error);
    enum source_fault looked = error.fault;
    error = open_refused(in_folder("secret"), 0);
    if (us == 0)
        assert_int_equal(seteuid(0), 0);
    assert_int_equal(looked, SOURCE_PERMISSION);
    assert_int_equal(error.fault, SOURCE_PERMISSION);
    assert_int_equal(error.code, EACCES);
}

/* ---- files and pipes ---- */

static void test_file_in_blocks(void **state) {
    (void)state;
    struct source *s = open_ok(in_folder("file"), 115200);
    char *buffer = malloc(65536);
    size_t got, total = 0;
    enum source_read r;
    assert_int_equal(source_kind(s), SOURCE_FILE);
    assert_int_equal(source_speed(s), 0);
    assert_int_equal(source_read(s, buffer, 65536, &got), SOURCE_BYTES);
    assert_int_equal(got, 65536); /* a whole block, not a line or a page */
    for (total = got; (r = source_read(s, buffer, 4096, &got)) == SOURCE_BYTES; total += got)
        for (size_t i = 0; i < got; i++)
            assert_int_equal(buffer[i], 'a' + (int)((total + i) % 23));
    assert_int_equal(r, SOURCE_END);
    assert_int_equal(total, 100000);
    expect_state(s, SOURCE_END);
    source_close(s);
    free(buffer);
}

static void test_nothing_to_read(void **state) {
    (void)state;
    struct source *s = open_ok(in_folder("empty"), 0);
    expect_state(s, SOURCE_END);
    source_close(s);
    s = open_ok("/dev/null", 0);
    expect_state(s, SOURCE_END);
    source_close(s);
    source_close(NULL);
}

static void test_no_room(void **state) {
    (void)state;
    struct source *s = open_ok(in_folder("file"), 0);
    size_t got = 1;
    char none[1];
    assert_int_equal(source_read(s, none, 0, &got), SOURCE_EMPTY); /* not an end */
    assert_int_equal(got, 0);
    source_close(s);
}

static void test_fifo(void **state) {
    (void)state;
    struct source *s = open_ok(in_folder("fifo"), 0);
    assert_int_equal(source_kind(s), SOURCE_PIPE);
    expect_state(s, SOURCE_EMPTY); /* nobody writes yet: that is no end */
    int writer = open(in_folder("fifo"), O_WRONLY);
    expect_state(s, SOURCE_EMPTY);
    write_text(writer, "rx ch=1500\n");
    expect_text(s, "rx ch=1500\n");
    write_text(writer, "last");
    close(writer);
    expect_text(s, "last"); /* what was written before the end still comes */
    expect_state(s, SOURCE_END);
    source_close(s);
}

/* Runs with fd in the place of standard input. */
static void with_input(int fd, void body(int other), int other) {
    int kept = dup(0);
    assert_int_equal(dup2(fd, 0), 0);
    close(fd);
    body(other);
    assert_int_equal(dup2(kept, 0), 0);
    close(kept);
}

static void read_input(int writer) {
    struct source *s = open_ok("-", 115200);
    assert_int_equal(source_kind(s), SOURCE_PIPE);
    expect_state(s, SOURCE_EMPTY);
    write_text(writer, "12,34\n");
    expect_text(s, "12,34\n");
    expect_state(s, SOURCE_EMPTY);
    assert_int_equal(fcntl(0, F_GETFL) & O_NONBLOCK, 0); /* others share it */
    close(writer);
    expect_state(s, SOURCE_END);
    source_close(s);
    assert_true(fcntl(0, F_GETFD) >= 0); /* still open */
}

static void read_input_file(int unused) {
    (void)unused;
    struct source *s = open_ok("-", 0);
    assert_int_equal(source_kind(s), SOURCE_FILE);
    char buffer[10];
    size_t got;
    assert_int_equal(source_read(s, buffer, sizeof buffer, &got), SOURCE_BYTES);
    assert_memory_equal(buffer, "abcdefghij", 10);
    source_close(s);
}

static void refuse_input(int fault) {
    struct source_error error;
    source_look("-", &error);
    assert_int_equal(error.fault, fault);
    assert_int_equal(open_refused("-", 0).fault, fault);
}

static void test_standard_input(void **state) {
    (void)state;
    int ends[2];
    char name[64];
    assert_int_equal(pipe(ends), 0);
    with_input(ends[0], read_input, ends[1]);
    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM, 0, ends), 0);
    with_input(ends[0], read_input, ends[1]);
    with_input(open(in_folder("file"), O_RDONLY), read_input_file, 0);
    with_input(open(folder, O_RDONLY), refuse_input, SOURCE_DIRECTORY);
    int master = make_pty(name);
    with_input(open(name, O_RDWR | O_NOCTTY), refuse_input, SOURCE_KEYBOARD);
    close(master);
}

static const char *own_terminal;

static void refuse_own_terminal(int unused) {
    (void)unused;
    assert_int_equal(open_refused(own_terminal, 115200).fault, SOURCE_KEYBOARD);
    assert_int_equal(open_refused("/dev/stdin", 115200).fault, SOURCE_KEYBOARD);
}

static void test_own_terminal_by_name(void **state) {
    (void)state;
    char name[64];
    int master = make_pty(name);
    own_terminal = name;
    with_input(open(name, O_RDWR | O_NOCTTY), refuse_own_terminal, 0);
    close(master);
}

/* ---- terminals ---- */

static void test_tty_reads(void **state) {
    (void)state;
    char name[64];
    int master = make_pty(name);
    struct source_error error;
    assert_int_equal(source_look(name, &error), SOURCE_TTY);
    assert_false(source_may_restart(name));
    struct source *s = open_ok(name, 57600);
    assert_int_equal(source_kind(s), SOURCE_TTY);
    assert_int_equal(source_speed(s), 57600);
    expect_state(s, SOURCE_EMPTY);
    /* Raw: carriage returns, control characters, XOFF and the eighth bit come as they were sent. */
    write_text(master, "rx ch=1\r\n\003\004\021\023\032\377\376 no line end");
    expect_text(s, "rx ch=1\r\n\003\004\021\023\032\377\376 no line end");
    expect_state(s, SOURCE_EMPTY);
    struct pollfd echo = {.fd = master, .events = POLLIN};
    assert_int_equal(poll(&echo, 1, 0), 0); /* nothing sent back */
    close(master);
    char buffer[8];
    size_t got;
    assert_int_equal(read_some(s, buffer, sizeof buffer, &got), SOURCE_GONE);
    expect_state(s, SOURCE_GONE);
    source_close(s);
    assert_int_equal(open_refused(name, 0).fault, SOURCE_MISSING);
}

static void test_tty_settings(void **state) {
    (void)state;
    char name[64];
    int master = make_pty(name);
    struct termios t;
    int slave = open(name, O_RDWR | O_NOCTTY);
    assert_int_equal(tcgetattr(slave, &t), 0);
    t.c_cflag |= HUPCL | CRTSCTS | CSTOPB;
    t.c_iflag |= IXON | IXOFF;
    assert_int_equal(tcsetattr(slave, TCSANOW, &t), 0);
    struct source *s = open_ok(name, 9600);
    assert_int_equal(tcgetattr(slave, &t), 0);
    assert_int_equal(t.c_cflag & (HUPCL | CRTSCTS | CSTOPB | PARENB), 0);
    assert_int_equal(t.c_cflag & CSIZE, CS8);
    assert_int_equal(t.c_iflag & (IXON | IXOFF | ICRNL | ISTRIP), 0);
    assert_int_equal(t.c_lflag & (ICANON | ECHO | ISIG), 0);
    assert_int_equal(cfgetospeed(&t), B9600);
    assert_true(fcntl(source_fd(s), F_GETFL) & O_NONBLOCK);
    assert_true(fcntl(source_fd(s), F_GETFD) & FD_CLOEXEC);
    source_close(s);
    close(slave);
    close(master);
}

static void test_tty_speeds(void **state) {
    (void)state;
    char name[64];
    int master = make_pty(name), slave = open(name, O_RDWR | O_NOCTTY);
    struct termios t;
    struct source *s = open_ok(name, 115200);
    static const int speeds[] = {57600, 38400, 9600, 19200, 230400, 250000, 500000, 1000000};
    for (size_t i = 0; i < sizeof speeds / sizeof *speeds; i++) {
        assert_int_equal(source_set_speed(s, speeds[i]), SOURCE_OK);
        assert_int_equal(source_speed(s), speeds[i]);
    }
    assert_int_equal(tcgetattr(slave, &t), 0);
    assert_int_equal(cfgetospeed(&t), B1000000);
    assert_int_equal(source_set_speed(s, 1200), SOURCE_SPEED);
    assert_int_equal(source_set_speed(s, -1), SOURCE_SPEED);
    assert_int_equal(source_speed(s), 1000000);
    assert_int_equal(source_set_speed(s, 250000), SOURCE_OK);
    source_close(s);
    s = open_ok(name, 0); /* as it is: read back from the kernel */
    assert_int_equal(source_speed(s), 250000);
    source_close(s);
    close(slave);
    close(master);
}

static void test_boot_loader_speed_opens_nothing(void **state) {
    (void)state;
    char name[64];
    int master = make_pty(name);
    struct termios t;
    assert_int_equal(open_refused(name, 1200).fault, SOURCE_SPEED);
    assert_int_equal(open_refused(name, -5).fault, SOURCE_SPEED);
    int slave = open(name, O_RDWR | O_NOCTTY);
    assert_int_equal(tcgetattr(slave, &t), 0);
    assert_true(t.c_lflag & ICANON); /* untouched */
    assert_int_not_equal(cfgetospeed(&t), B1200);
    close(slave);
    close(master);
}

/* ---- one holder ---- */

static void test_busy_with_ourselves(void **state) {
    (void)state;
    char name[64], us[32];
    int master = make_pty(name);
    struct source *s = open_ok(name, 115200);
    struct source_error error = open_refused(name, 9600);
    assert_int_equal(error.fault, SOURCE_BUSY);
    snprintf(us, sizeof us, "(pid %d)", (int)getpid());
    assert_non_null(strstr(error.holder, us));
    write_text(master, "still ours\n");
    expect_text(s, "still ours\n");
    assert_int_equal(source_speed(s), 115200);
    source_close(s);
    source_close(open_ok(name, 9600));
    close(master);
}

/* Killed without a chance to tidy up: the port is free again at once, for everybody. */
static void test_busy_with_another(void **state) {
    (void)state;
    char name[64], them[32], ready;
    int master = make_pty(name), ends[2];
    assert_int_equal(chmod(name, 0666), 0);
    assert_int_equal(pipe(ends), 0);
    pid_t child = fork();
    if (child == 0) {
        struct source *s;
        struct source_error e;
        bool ok = source_open(&s, &(struct source_wish){name, 9600}, &e) == SOURCE_OK;
        ok = write(ends[1], ok ? "y" : "n", 1) == 1;
        while (ok)
            pause();
        _exit(1);
    }
    assert_int_equal(read(ends[0], &ready, 1), 1);
    assert_int_equal(ready, 'y');
    struct source_error error = open_refused(name, 9600);
    snprintf(them, sizeof them, "(pid %d)", (int)child);
    kill(child, SIGKILL);
    waitpid(child, NULL, 0);
    assert_int_equal(error.fault, SOURCE_BUSY);
    assert_non_null(strstr(error.holder, them));
    if (geteuid() == 0)
        assert_int_equal(seteuid(NOBODY), 0);
    source_close(open_ok(name, 9600));
    if (getuid() == 0)
        assert_int_equal(seteuid(0), 0);
    close(ends[0]);
    close(ends[1]);
    close(master);
}

/* The same only where both facts are there on both sides and agree. */
static void matches_ports(void **state) {
    (void)state;
    static const struct {
        struct source_identity first, now;
        enum source_match match;
    } rows[] = {
        {{"0007", "/dev/serial/by-id/a"}, {"0007", "/dev/serial/by-id/a"}, MATCH_SAME},
        {{"0007", "/dev/serial/by-id/a"}, {"0008", "/dev/serial/by-id/a"}, MATCH_OTHER},
        {{"0007", "/dev/serial/by-id/a"}, {"0007", "/dev/serial/by-id/b"}, MATCH_OTHER},
        {{"0007", "/dev/serial/by-id/a"}, {"", "/dev/serial/by-id/a"}, MATCH_OTHER},
        {{"", "/dev/serial/by-id/a"}, {"0007", "/dev/serial/by-id/a"}, MATCH_OTHER},
        {{"0007", ""}, {"0007", "/dev/serial/by-id/a"}, MATCH_OTHER},
        {{"", "/dev/serial/by-id/a"}, {"", "/dev/serial/by-id/a"}, MATCH_UNKNOWN},
        {{"0007", ""}, {"0007", ""}, MATCH_UNKNOWN},
        {{"", ""}, {"", ""}, MATCH_UNKNOWN},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_int_equal(source_match(&rows[i].first, &rows[i].now), rows[i].match);
}

/* What isn't a USB port has no identity: a file, a pseudo-terminal, nothing at all. */
static void identifies_no_other_source(void **state) {
    (void)state;
    int master, slave;
    char name[64];
    assert_int_equal(openpty(&master, &slave, name, NULL, NULL), 0);
    const char *const paths[] = {in_folder("file"), name, "/dev/null", "/nowhere/at/all", "-"};
    for (size_t i = 0; i < sizeof paths / sizeof paths[0]; i++) {
        struct source_identity found = {"old", "old"};
        source_identify(paths[i], &found);
        assert_string_equal(found.serial, "");
        assert_string_equal(found.name, "");
    }
    close(slave);
    close(master);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(matches_ports),
        cmocka_unit_test(identifies_no_other_source),
        cmocka_unit_test(test_look),
        cmocka_unit_test(test_permission),
        cmocka_unit_test(test_file_in_blocks),
        cmocka_unit_test(test_nothing_to_read),
        cmocka_unit_test(test_no_room),
        cmocka_unit_test(test_fifo),
        cmocka_unit_test(test_standard_input),
        cmocka_unit_test(test_own_terminal_by_name),
        cmocka_unit_test(test_tty_reads),
        cmocka_unit_test(test_tty_settings),
        cmocka_unit_test(test_tty_speeds),
        cmocka_unit_test(test_boot_loader_speed_opens_nothing),
        cmocka_unit_test(test_busy_with_ourselves),
        cmocka_unit_test(test_busy_with_another),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
