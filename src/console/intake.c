#include "console/intake.h"

#include <ctype.h>
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>

#include "app/clock.h"
#include "app/options.h"
#include "app/words.h"
#include "base/text.h"
#include "session/session.h"
#include "telemetry/pairs.h"

enum {
    LOOK_US = 500000,   /* between two looks for a vanished port */
    SLEPT_US = 1000000, /* a shorter sleep isn't worth a row */
    BLOCK = 64 * 1024,
    BLOCKS_A_WAKE = 8, /* so that a fast source can't keep keys and signals waiting */
};

static void ignore_event(void *context, const struct event *event) {
    (void)context;
    (void)event;
}

static bool is_port(const struct intake *in) {
    return in->kind == SOURCE_SERIAL || in->kind == SOURCE_TTY;
}

int64_t intake_host_us(const struct intake *in) {
    return in->kind == SOURCE_FILE ? TIME_UNKNOWN : clock_us() - in->start_us;
}

static void send_port(struct intake *in, enum port_change change, const char *note) {
    struct event e = {.kind = EVENT_PORT, .host_us = intake_host_us(in)};
    e.port.change = change;
    e.port.note = slice_of(note);
    in->sink(in->context, &e);
}

/* Of an opening: what a reader of the recording needs to tell a restart of ours from a fault. */
static void send_opened(struct intake *in, enum port_change change) {
    char note[48];
    const char *kind = in->kind == SOURCE_SERIAL ? "serial" : "tty";
    if (in->speed != SPEED_AUTO)
        snprintf(note, sizeof note, "kind=%s speed=%d", kind, in->speed);
    else
        snprintf(note, sizeof note, "kind=%s speed=auto", kind);
    send_port(in, change, note);
}

/* The name under which the port comes back: the one by its serial number where it has one. */
static void stable_find(struct intake *in) {
    if (!source_stable(in->path, in->stable, sizeof in->stable))
        snprintf(in->stable, sizeof in->stable, "%s", in->path);
}

/* The line waits for a person's word: what it says may be another board's. */
static void begin_doubt(struct intake *in, const struct event *e, enum board_news news) {
    size_t len = e->id.pairs.len < sizeof in->held ? e->id.pairs.len : sizeof in->held - 1;
    memcpy(in->held, e->id.pairs.at, len);
    in->held[len] = '\0';
    in->held_bytes = e->bytes;
    in->news = news;
    in->state = INTAKE_DOUBTED;
}

/* A note in the run: what the line says that is new, and what came of it. */
static void send_news(struct intake *in, const struct identity *id, const char *answer) {
    struct event note = {.kind = EVENT_MARK, .host_us = intake_host_us(in)};
    char news[BOARD_NEWS], text[BOARD_NEWS + 60];
    board_words(&in->board, id, news);
    snprintf(text, sizeof text, "%s %s", news, answer);
    note.mark.type = MARK_TEXT;
    note.mark.distance_m = -1;
    note.mark.text = slice_of(text);
    in->sink(in->context, &note);
}

/* The line that waits, as it came; its slices point into the intake. */
static void held_line(const struct intake *in, struct event *e) {
    enum damage_reason why;
    *e = (struct event){.kind = EVENT_ID, .bytes = in->held_bytes};
    identity_parse(slice_of(in->held), &e->id, &why); /* which the decoder took */
}

/* Between the decoder and the run. */
static void deliver(void *context, const struct event *e) {
    struct intake *in = context;
    if (in->state == INTAKE_DOUBTED)
        return; /* the rest of what was read with that line */
    if (e->kind == EVENT_ID && is_port(in)) {
        enum board_news news = board_look(&in->board, &e->id);
        if (news != BOARD_SAME && !in->any_board) {
            begin_doubt(in, e, news);
            return;
        }
        if (news != BOARD_SAME) {
            send_news(in, &e->id, "Not asked, because of --yes.");
            in->unasked++;
        }
        board_take(&in->board, &e->id);
    }
    in->sink(in->context, e);
}

void intake_init(struct intake *in, const struct intake_wish *wish, event_sink *sink,
                 void *context) {
    struct source_error error;
    *in = (struct intake){.sink = sink,
                          .context = context,
                          .path = wish->path,
                          .speed = wish->speed,
                          .yes = wish->yes,
                          .harmless = wish->harmless,
                          .any_board = wish->any_board};
    in->kind = source_look(in->path, &error);
    in->start_us = clock_us();
    in->slept_us = clock_slept_us();
    in->state = INTAKE_WAITING;
    board_init(&in->board);
    telemetry_init(&in->telemetry, deliver, in);
    if (!is_port(in))
        return;
    stable_find(in);
    source_identify(in->path, &in->first);
}

static enum source_fault open_source(struct intake *in, const char *path,
                                     struct source_error *error) {
    int speed = in->speed != SPEED_AUTO ? in->speed : speed_search_rate(&in->search);
    struct source_wish wish = {.path = path, .speed = speed};
    return source_open(&in->source, &wish, error);
}

enum source_fault intake_open(struct intake *in, struct source_error *error) {
    speed_search_begin(&in->search, clock_us());
    telemetry_init(&in->trial, ignore_event, NULL);
    enum source_fault fault = open_source(in, in->path, error);
    if (fault != SOURCE_OK)
        return fault;
    in->kind = source_kind(in->source);
    in->state = INTAKE_OPEN;
    if (!is_port(in))
        return SOURCE_OK;
    send_opened(in, PORT_OPENED);
    if (in->speed == SPEED_AUTO)
        in->state = INTAKE_SEARCHING;
    return SOURCE_OK;
}

bool intake_reads(const struct intake *in) {
    return in->state == INTAKE_OPEN || in->state == INTAKE_SEARCHING || in->state == INTAKE_DOUBTED;
}

int intake_fd(const struct intake *in) {
    return in->source ? source_fd(in->source) : -1;
}

int64_t intake_deadline_us(const struct intake *in) {
    switch (in->state) {
    case INTAKE_SEARCHING:
        return in->search.since_us + SPEED_TRY_US;
    case INTAKE_WAITING:
    case INTAKE_ASKING:
        return in->next_look_us;
    default:
        return INT64_MAX;
    }
}

/* Ends the open line where the connection ends. */
static void let_go(struct intake *in, enum port_change change, enum intake_state state) {
    telemetry_rejoin(&in->telemetry, intake_host_us(in));
    if (in->state != INTAKE_DOUBTED || change != PORT_LET_GO) /* which was told when it began */
        send_port(in, change, "");
    source_close(in->source);
    in->source = NULL;
    in->state = state;
    in->next_look_us = clock_us() + LOOK_US;
}

static void ended(struct intake *in, int broken) {
    in->state = INTAKE_ENDED;
    in->broken = broken;
    source_close(in->source);
    in->source = NULL;
}

static void gone(struct intake *in) {
    if (is_port(in))
        let_go(in, PORT_LOST, INTAKE_WAITING);
    else
        ended(in, source_trouble(in->source));
}

/* Takes bytes of the run; false when they are no stream of lines. */
static bool take_bytes(struct intake *in, const char *bytes, size_t len) {
    if (!in->looked_at && !is_port(in) && session_recognises(bytes, len)) {
        in->state = INTAKE_NOT_LINES;
        return false;
    }
    in->looked_at = true;
    in->bytes += len;
    telemetry_feed(&in->telemetry, bytes, len, intake_host_us(in));
    if (in->state != INTAKE_DOUBTED)
        return true;
    static const char *const asked[] = {[BOARD_SAME] = "",
                                        [BOARD_OTHER_END] = "asked=end",
                                        [BOARD_FIRMWARE] = "asked=fw",
                                        [BOARD_ADDRESS] = "asked=addr"};
    telemetry_rejoin(&in->telemetry, intake_host_us(in));
    send_port(in, PORT_LET_GO, asked[in->news]);
    return false;
}

static void read_run(struct intake *in) {
    char block[BLOCK];
    for (int i = 0; i < BLOCKS_A_WAKE; i++) {
        size_t got = 0;
        switch (source_read(in->source, block, sizeof block, &got)) {
        case SOURCE_BYTES:
            if (!take_bytes(in, block, got))
                return;
            break;
        case SOURCE_EMPTY:
            return;
        case SOURCE_END:
            ended(in, 0);
            return;
        case SOURCE_GONE:
            gone(in);
            return;
        }
    }
}

/* What comes before the answer is thrown away: it would be old news after it. */
static void read_doubted(struct intake *in) {
    char block[4096];
    size_t got = 0;
    for (int i = 0; i < BLOCKS_A_WAKE; i++) {
        enum source_read read = source_read(in->source, block, sizeof block, &got);
        if (read == SOURCE_GONE || read == SOURCE_END)
            gone(in);
        if (read != SOURCE_BYTES)
            return;
    }
}

static void speed_found(struct intake *in) {
    if (!speed_search_done(&in->search, &in->speed)) {
        in->speed = SPEED_AUTO;
        source_set_speed(in->source, speed_search_rate(&in->search));
        telemetry_init(&in->trial, ignore_event, NULL);
        return;
    }
    if (in->speed == 0) {
        in->state = INTAKE_NO_SPEED;
        return;
    }
    char note[64];
    snprintf(note, sizeof note, "speed=%d bytes=%llu", in->speed, (unsigned long long)in->searched);
    if (source_speed(in->source) != in->speed)
        source_set_speed(in->source, in->speed);
    in->state = INTAKE_OPEN;
    send_port(in, PORT_SPEED, note);
}

/* One read at the rate being tried: what is left belongs to the run once the rate is known. */
static void read_search(struct intake *in) {
    char block[4096];
    size_t got = 0;
    enum source_read read = source_read(in->source, block, sizeof block, &got);
    if (read == SOURCE_GONE || read == SOURCE_END) {
        gone(in);
        return;
    }
    struct telemetry_tally before = in->trial.tally;
    telemetry_feed(&in->trial, block, got, TIME_UNKNOWN);
    in->searched += got;
    if (speed_search_step(&in->search, clock_us(), got,
                          in->trial.tally.lines_good - before.lines_good,
                          in->trial.tally.lines_refused - before.lines_refused))
        speed_found(in);
}

/* The terminal of the process whose /proc entry this is, as the kernel numbers it; 0: none. */
static unsigned terminal_of(const char *pid) {
    char path[300], stat[512], *end;
    snprintf(path, sizeof path, "/proc/%s/stat", pid);
    FILE *file = fopen(path, "re");
    if (!file)
        return 0;
    size_t len = fread(stat, 1, sizeof stat - 1, file);
    fclose(file);
    stat[len] = '\0';
    /* The name before the last parenthesis may hold anything. */
    end = strrchr(stat, ')');
    unsigned terminal = 0;
    if (!end || sscanf(end + 1, " %*c %*d %*d %*d %u", &terminal) != 1)
        return 0;
    return terminal;
}

/* True when a person's shell runs on path: the number of a pseudo-terminal that went away is given
 * to the next window that opens. */
static bool is_somebodys(const char *path) {
    struct stat st;
    if (stat(path, &st) != 0 || !S_ISCHR(st.st_mode))
        return false;
    unsigned low = minor(st.st_rdev), wanted = 0;
    wanted = (low & 0xFFu) | major(st.st_rdev) << 8 | (low & ~0xFFu) << 12;
    DIR *proc = opendir("/proc");
    bool found = false;
    for (struct dirent *d; proc && !found && (d = readdir(proc));)
        found = isdigit((unsigned char)d->d_name[0]) && terminal_of(d->d_name) == wanted;
    if (proc)
        closedir(proc);
    return found;
}

/* What is plugged in now, and how that fits the port that was opened first. */
static enum source_match look_closely(struct intake *in) {
    source_identify(in->stable, &in->back);
    return source_match(&in->first, &in->back);
}

/* Whether that is still what the person was asked about. */
static bool as_asked(const struct intake *in) {
    struct source_identity now;
    source_identify(in->stable, &now);
    return strcmp(now.serial, in->back.serial) == 0 && strcmp(now.name, in->back.name) == 0;
}

/* A yes given beforehand, or that opening is harmless, was said of the board that was there. */
static bool wants_yes(struct intake *in) {
    switch (look_closely(in)) {
    case MATCH_SAME:
        return !in->yes && !in->harmless && source_may_restart(in->stable);
    case MATCH_UNKNOWN:
        return !in->yes;
    case MATCH_OTHER:
        break;
    }
    return true;
}

void intake_ask(struct intake *in, char *out) {
    enum source_match match = look_closely(in);
    words_reopening(out, match, &in->first, &in->back);
}

enum source_fault intake_take(struct intake *in, struct source_error *error) {
    enum port_change change = in->state == INTAKE_LET_GO ? PORT_TAKEN : PORT_BACK;
    if (!as_asked(in)) {
        *error = (struct source_error){.fault = SOURCE_MISSING};
        return SOURCE_MISSING;
    }
    enum source_fault fault = open_source(in, in->stable, error);
    if (fault != SOURCE_OK)
        return fault;
    in->state = in->speed == SPEED_AUTO ? INTAKE_SEARCHING : INTAKE_OPEN;
    in->search.since_us = clock_us();
    send_opened(in, change);
    return SOURCE_OK;
}

/* Looks whether the port is back. */
static void look(struct intake *in) {
    int64_t now_us = clock_us();
    if (now_us < in->next_look_us)
        return;
    in->next_look_us = now_us + LOOK_US;
    struct source_error error;
    source_look(in->stable, &error);
    bool back = error.fault == SOURCE_OK && !is_somebodys(in->stable);
    if (!back || (in->state == INTAKE_ASKING && !as_asked(in)))
        in->state = INTAKE_WAITING; /* for another board it is asked anew */
    else if (in->state != INTAKE_ASKING && wants_yes(in))
        in->state = INTAKE_ASKING;
    else if (in->state != INTAKE_ASKING)
        intake_take(in, &error); /* perhaps not yet allowed: the next look tries again */
    /* Permissions come a moment after the port: what still stands at the next look is told. */
    if (error.fault != SOURCE_MISSING && error.fault == in->seen)
        in->refused = error;
    in->seen = error.fault;
}

bool intake_refused(struct intake *in, char *why) {
    if (in->state != INTAKE_WAITING)
        in->refused.fault = SOURCE_OK;
    bool news = in->refused.fault != SOURCE_OK && in->refused.fault != in->refused_told;
    in->refused_told = in->refused.fault;
    if (news)
        words_source(why, in->path, &in->refused);
    return news;
}

static void sleep_check(struct intake *in) {
    int64_t slept_us = clock_slept_us(), more_us = slept_us - in->slept_us;
    if (more_us < SLEPT_US || !is_port(in))
        return;
    in->slept_us = slept_us;
    char note[48];
    snprintf(note, sizeof note, "seconds=%.1f", (double)more_us / 1e6);
    send_port(in, PORT_SLEPT, note);
}

enum intake_state intake_wake(struct intake *in) {
    sleep_check(in);
    switch (in->state) {
    case INTAKE_OPEN:
        read_run(in);
        break;
    case INTAKE_SEARCHING:
        read_search(in);
        break;
    case INTAKE_DOUBTED:
        read_doubted(in);
        break;
    case INTAKE_WAITING:
    case INTAKE_ASKING:
        look(in);
        break;
    default:
        break;
    }
    return in->state;
}

void intake_let_go(struct intake *in) {
    if (!in->source || !is_port(in))
        return;
    struct event e;
    if (in->state == INTAKE_DOUBTED) {
        held_line(in, &e);
        send_news(in, &e.id, "Asked; it is not: the port was released.");
    }
    let_go(in, PORT_LET_GO, INTAKE_LET_GO);
}

void intake_doubt(const struct intake *in, char *out) {
    struct event e;
    char news[BOARD_NEWS];
    held_line(in, &e);
    board_words(&in->board, &e.id, news);
    snprintf(out, WORDS_MAX,
             "%s\nIs this the right board? Nothing is read or recorded until you answer.", news);
}

void intake_accept(struct intake *in) {
    struct event e;
    if (in->state != INTAKE_DOUBTED)
        return;
    held_line(in, &e);
    send_news(in, &e.id, "Asked; it is the right board.");
    e.host_us = intake_host_us(in);
    board_take(&in->board, &e.id);
    in->state = INTAKE_OPEN;
    send_port(in, PORT_TAKEN, "answered=yes");
    in->sink(in->context, &e);
}

void intake_words(const struct intake *in, char *why) {
    words_reading(why, strcmp(in->path, "-") == 0 ? "standard input" : in->path, in->broken);
}

void intake_end(struct intake *in, const char *why) {
    telemetry_end(&in->telemetry, intake_host_us(in));
    struct event e = {.kind = EVENT_END, .host_us = intake_host_us(in)};
    e.text = slice_of(why);
    in->sink(in->context, &e);
}

void intake_close(struct intake *in) {
    source_close(in->source);
    in->source = NULL;
}
