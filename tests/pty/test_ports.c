/* Ports that are opened again, and boards that turn out to be others, in the real console.  A USB
 * port is made up by tests/tools/serial_shim.c, which notes every opening: that is what raises DTR,
 * and may start a motor. */
#include <fcntl.h>
#include <poll.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <unistd.h>

#include <cmocka.h>

#include "world.h"

static const struct start plain = {0};

/* --- a USB port under the world's folder ------------------------------------------------------ */

struct usb {
    char preload[300], root[100], asan[300];
    const char *env[4];
};

#define USB  "usb/sys/devices/pci0000:00/usb1/1-1"
#define NODE USB "/1-1:1.0/ttyUSB0/tty/ttyUSB0"
static const char by_id[] = "usb/dev/serial/by-id/usb-Pond_Yard_Tug_receiver-if00-port0";

static const char *path_of(const struct world *w, const char *name) {
    static char path[256];
    snprintf(path, sizeof path, "%s/%s", w->folder, name);
    return path;
}

static void make_folders(const struct world *w, const char *name) {
    char path[256];
    snprintf(path, sizeof path, "%s/%s", w->folder, name);
    for (char *c = path + strlen(w->folder) + 1; (c = strchr(c, '/')) != NULL; *c++ = '/') {
        *c = '\0';
        mkdir(path, 0700);
    }
    mkdir(path, 0700);
}

/* A fact of the USB device; NULL takes it away. */
static void put_fact(const struct world *w, const char *name, const char *value) {
    char place[128];
    snprintf(place, sizeof place, USB "/%s", name);
    if (value == NULL) {
        unlink(path_of(w, place));
        return;
    }
    FILE *file = fopen(path_of(w, place), "we");
    assert_non_null(file);
    fprintf(file, "%s\n", value);
    fclose(file);
}

static void put_link(const struct world *w, const char *place, const char *target) {
    unlink(path_of(w, place));
    if (target != NULL)
        assert_int_equal(symlink(target, path_of(w, place)), 0);
}

static struct start usb_start(struct world *w, struct usb *u) {
    static const char *const folders[] = {NODE, "usb/sys/class/tty", "usb/sys/dev/char",
                                          "usb/dev/serial/by-id"};
    static const char *const facts[][2] = {{"busnum", "1"},
                                           {"devnum", "4"},
                                           {"idVendor", "1209"},
                                           {"idProduct", "0001"},
                                           {"manufacturer", "Pond Yard"},
                                           {"product", "Tug receiver"}};
    const char *asan = getenv("ASAN_OPTIONS");
    for (size_t i = 0; i < sizeof folders / sizeof folders[0]; i++)
        make_folders(w, folders[i]);
    for (size_t i = 0; i < sizeof facts / sizeof facts[0]; i++)
        put_fact(w, facts[i][0], facts[i][1]);
    put_link(w, NODE "/device", "../../../ttyUSB0");
    snprintf(u->preload, sizeof u->preload, "LD_PRELOAD=%s", getenv("SERIAL_SHIM"));
    snprintf(u->root, sizeof u->root, "SERIAL_SHIM_ROOT=%s/usb", w->folder);
    snprintf(u->asan, sizeof u->asan, "ASAN_OPTIONS=%s%sverify_asan_link_order=0",
             asan != NULL ? asan : "", asan != NULL ? ":" : "");
    u->env[0] = u->preload;
    u->env[1] = u->root;
    u->env[2] = u->asan;
    u->env[3] = NULL;
    return (struct start){.rows = 24, .env = u->env};
}

static void usb_links(struct world *w, bool there) {
    static const char node[] = "../../devices/pci0000:00/usb1/1-1/1-1:1.0/ttyUSB0/tty/ttyUSB0";
    static char number[64];
    struct stat st;
    if (there) {
        assert_int_equal(stat(w->port_name, &st), 0);
        snprintf(number, sizeof number, "usb/sys/dev/char/%u:%u", major(st.st_rdev),
                 minor(st.st_rdev));
    }
    put_link(w, "usb/dev/ttyUSB0", there ? w->port_name : NULL);
    put_link(w, by_id, there ? "../../ttyUSB0" : NULL);
    put_link(w, "usb/sys/class/tty/ttyUSB0", there ? node : NULL);
    put_link(w, number, there ? node : NULL);
}

static void usb_plug(struct world *w, const char *serial) {
    put_fact(w, "serial", serial);
    world_plug(w);
    usb_links(w, true);
}

static void usb_unplug(struct world *w) {
    usb_links(w, false);
    world_unplug(w);
    world_shows(w, "PORT GONE");
}

static int usb_openings(struct world *w) {
    int count = 0;
    char *log = world_file(w, "usb/log");
    for (const char *at = log; at != NULL && *at != '\0'; at++)
        count += (at == log || at[-1] == '\n') && strncmp(at, "open ", 5) == 0;
    free(log);
    return count;
}

static int end(void **state) {
    struct world *w = *state;
    char command[160];
    snprintf(command, sizeof command, "rm -rf '%s/usb'", w->folder);
    if (system(command) != 0)
        return -1;
    return world_end(state);
}

/* The first opening is asked about on the plain terminal. */
static void usb_watch(struct world *w, struct usb *u, const char *serial, bool yes) {
    struct start how = usb_start(w, u);
    usb_plug(w, serial);
    if (yes) {
        world_run(w, how, WORDS("watch", "/dev/ttyUSB0", "--mute", "--out", "out.csv", "--yes"));
    } else {
        world_run(w, how, WORDS("watch", "/dev/ttyUSB0", "--mute", "--out", "out.csv"));
        world_shows(w, "Type yes");
        assert_int_equal(usb_openings(w), 0);
        term_send(w->term, "yes\r");
    }
    world_shows(w, "no line on the cable");
    world_identity(w);
    world_reports(w, 3, 5, 0, "fs=0");
    world_shows_row(w, WORDS("lines", "4 good"));
}

static int file_count(struct world *w, const char *name, const char *what) {
    int count = 0;
    char *text = world_file(w, name);
    for (const char *at = text; at != NULL && (at = strstr(at, what)) != NULL; at += strlen(what))
        count++;
    free(text);
    return count;
}

static void quit(struct world *w) {
    term_send(w->term, "q");
    assert_int_equal(term_wait_end(w->term), 0);
}

/* --- the port is back ------------------------------------------------------------------------- */

static void waits_for_a_yes(struct world *w, int before) {
    term_send(w->term, "\r\r ");
    world_shows(w, "yes, go on");
    term_send(w->term, "n");
    world_shows(w, "not opened; g asks again");
    world_shows(w, "PORT BACK, NOT OPEN");
    term_send(w->term, "g");
    world_shows(w, "propeller off");
    world_shows(w, "yes, go on");
    assert_int_equal(usb_openings(w), before);
    term_send(w->term, "y");
    world_hides(w, "PORT BACK");
    assert_true(usb_openings(w) > before);
    world_reports(w, 3, 5, 0, "fs=0");
    world_shows_row(w, WORDS("lines", "7 good"));
}

static void asks_before_it_reopens(void **state) {
    struct world *w = *state;
    struct usb u;
    usb_watch(w, &u, "0007", false);
    int before = usb_openings(w);
    usb_unplug(w);
    usb_plug(w, "0007");
    world_shows(w, "The same board (USB serial number 0007)");
    world_shows(w, "propeller off");
    waits_for_a_yes(w, before);
    quit(w);
    assert_int_equal(file_count(w, "out.csv", ",back:"), 1);
}

/* Under the same name, with another serial number or none: --yes was not said of that one. */
static void asks_about_another_board(void **state) {
    static const char *const serials[] = {"0008", NULL};
    struct world *w = *state;
    for (size_t i = 0; i < 2; i++) {
        struct usb u;
        usb_watch(w, &u, "0007", true);
        int before = usb_openings(w);
        usb_unplug(w);
        usb_plug(w, serials[i]);
        world_shows(w, "THIS IS ANOTHER BOARD");
        world_shows(w, i == 0 ? "is 0008, it was 0007" : "is missing, it was 0007");
        world_shows(w, "propeller off");
        waits_for_a_yes(w, before);
        quit(w);
        unlink(path_of(w, "out.csv"));
        usb_links(w, false);
        world_unplug(w);
        w->n += 1000; /* another board's counters */
    }
}

/* Taken out while it is asked about, and another one put in: it is asked anew. */
static void asks_anew_when_it_is_swapped(void **state) {
    struct world *w = *state;
    struct usb u;
    usb_watch(w, &u, "0007", true);
    int before = usb_openings(w);
    usb_unplug(w);
    usb_plug(w, "0008");
    world_shows(w, "is 0008, it was 0007");
    usb_links(w, false);
    world_unplug(w);
    world_hides(w, "ANOTHER BOARD");
    usb_plug(w, "0009");
    world_shows(w, "is 0009, it was 0007");
    world_shows(w, "yes, go on");
    assert_int_equal(usb_openings(w), before);
    term_send(w->term, "n");
    world_hides(w, "ANOTHER BOARD");
    assert_int_equal(usb_openings(w), before);
    quit(w);
}

static void reopens_the_same_board_after_yes(void **state) {
    struct world *w = *state;
    struct usb u;
    usb_watch(w, &u, "0007", true);
    usb_unplug(w);
    usb_plug(w, "0007");
    world_hides(w, "PORT GONE");
    world_reports(w, 3, 5, 0, "fs=0");
    world_shows_row(w, WORDS("lines", "7 good"));
    world_lacks(w, "CAUTION");
    quit(w);
}

/* A y that belongs to a note opens nothing: the question waits for the end of the line. */
static void takes_no_letter_of_a_note_for_a_yes(void **state) {
    struct world *w = *state;
    world_plug(w);
    world_run(w, plain, WORDS("watch", world_link(w, "tug"), "--mute", "--out", "note.csv"));
    world_shows(w, "no line on the cable");
    world_reports(w, 3, 5, 0, "fs=0");
    world_shows_row(w, WORDS("lines", "3 good"));
    term_send(w->term, "n");
    world_shows(w, "Enter takes it");
    world_unplug(w);
    free(world_file_holds(w, "note.csv", ",lost"));
    world_plug(w);
    world_link(w, "tug");
    world_shows(w, "PORT BACK, NOT OPEN");
    term_send(w->term, "yyy");
    world_shows(w, "> yyy");
    term_send(w->term, "\r");
    world_shows(w, "Is this the same board?");
    assert_int_equal(file_count(w, "note.csv", ",back"), 0);
    assert_int_equal(file_count(w, "note.csv", "text=yyy"), 1);
    world_shows(w, "yes, go on");
    term_send(w->term, "y");
    free(world_file_holds(w, "note.csv", ",back"));
}

/* --- released to be flashed ------------------------------------------------------------------- */

static bool is_open(struct world *w) {
    struct pollfd other = {.fd = w->port};
    return poll(&other, 1, 0) == 0 || (other.revents & POLLHUP) == 0;
}

static void cautions_before_flashing(void **state) {
    struct world *w = *state;
    world_watch(w, plain, WORDS("--mute", "--out", "flash.csv"));
    world_line(w, "id fw=tug-3 chans=4 rate=100");
    world_reports(w, 3, 5, 0, "fs=0");
    world_shows_row(w, WORDS("lines", "4 good"));
    term_send(w->term, "g");
    world_shows(w, "Flashing restarts the board");
    world_shows(w, "propeller off");
    term_send(w->term, "g\r");
    term_send(w->term, "\033");
    world_hides(w, "Flashing");
    assert_true(is_open(w));
    term_send(w->term, "gy");
    world_shows(w, "PORT LET GO");
    assert_false(is_open(w));
    term_send(w->term, "g");
    world_shows(w, "propeller off");
    assert_false(is_open(w));
    term_send(w->term, "y");
    world_hides(w, "PORT LET GO");
    world_line(w, "id fw=tug-4 chans=4 rate=100");
    world_shows(w, "The firmware is now tug-4, it was tug-3.");
    world_shows(w, "yes, go on");
    term_send(w->term, "y");
    world_hides(w, "the right board?");
    world_reports(w, 3, 5, 0, "fs=0");
    world_shows_row(w, WORDS("lines", "8 good"));
    quit(w);
    assert_int_equal(file_count(w, "flash.csv", "it was tug-3. Asked; it is the right board."), 1);
    assert_int_equal(file_count(w, "flash.csv", ",taken: answered=yes"), 1);
}

/* --- another board's id line ------------------------------------------------------------------ */

static void asks_about_the_other_end(void **state) {
    struct world *w = *state;
    world_watch(w, plain, WORDS("--mute", "--out", "end.csv"));
    world_identity(w);
    world_reports(w, 3, 5, 0, "fs=0");
    world_shows_row(w, WORDS("lines", "4 good"));
    world_line(w, "id end=tx fw=tug-tx-7");
    world_shows(w, "This is the transmitter; a receiver is expected here.");
    world_reports(w, 5, 5, 0, "fs=0");
    world_shows(w, "yes, go on");
    term_send(w->term, "\r ");
    assert_int_equal(file_count(w, "end.csv", "\nrx,"), 3);
    assert_int_equal(file_count(w, "end.csv", "tug-tx-7"), 0);
    term_send(w->term, "n");
    world_shows(w, "PORT LET GO");
    assert_false(is_open(w));
    term_send(w->term, "g");
    world_shows(w, "propeller off");
    term_send(w->term, "y");
    world_hides(w, "PORT LET GO");
    world_line(w, "id end=tx fw=tug-tx-7");
    world_shows(w, "This is the transmitter");
    world_shows(w, "yes, go on");
    term_send(w->term, "y");
    world_hides(w, "the right board?");
    world_reports(w, 5, 5, 0, "fs=0");
    free(world_file_holds(w, "end.csv", "end=tx fw=tug-tx-7"));
    quit(w);
    assert_int_equal(file_count(w, "end.csv", "\nrx,"), 8);
    assert_int_equal(file_count(w, "end.csv", "Asked; it is not: the port was released."), 1);
    assert_int_equal(file_count(w, "end.csv", "Asked; it is the right board."), 1);
}

/* Unplugged while it is asked about: the question goes, and comes again with the board. */
static void forgets_a_question_of_a_port_that_went(void **state) {
    struct world *w = *state;
    world_plug(w);
    world_run(w, plain, WORDS("watch", world_link(w, "tug"), "--mute", "--out", "gone.csv"));
    world_shows(w, "no line on the cable");
    world_line(w, "id fw=tug-3 addr=c2c2");
    world_line(w, "id fw=tug-3 addr=c2c3");
    world_shows(w, "address is now c2c3, it was c2c2");
    world_unplug(w);
    world_hides(w, "the right board?");
    world_plug(w);
    world_link(w, "tug");
    world_shows(w, "Is this the same board?");
    world_shows(w, "yes, go on");
    term_send(w->term, "y");
    world_hides(w, "PORT BACK");
    world_line(w, "say first"); /* may be taken for one joined midway */
    world_line(w, "id fw=tug-3 addr=c2c2");
    free(world_file_holds(w, "gone.csv", ",back"));
    world_line(w, "id fw=tug-3 addr=c2c3");
    world_shows(w, "address is now c2c3, it was c2c2");
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, world_begin, end)

int main(void) {
    const struct CMUnitTest tests[] = {
        TEST(asks_before_it_reopens),
        TEST(asks_about_another_board),
        TEST(asks_anew_when_it_is_swapped),
        TEST(reopens_the_same_board_after_yes),
        TEST(takes_no_letter_of_a_note_for_a_yes),
        TEST(cautions_before_flashing),
        TEST(asks_about_the_other_end),
        TEST(forgets_a_question_of_a_port_that_went),
    };
    if (getenv("ONLY") != NULL)
        cmocka_set_test_filter(getenv("ONLY"));
    return cmocka_run_group_tests(tests, NULL, NULL);
}
