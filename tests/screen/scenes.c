#include "scenes.h"

#include <stdio.h>
#include <string.h>

static void happen(struct scene *sc, enum log_entry_kind kind, int64_t at_ms, int64_t a, int64_t b,
                   const char *text) {
    struct log_entry *h = &sc->log_entry[sc->s.log_entries++ % LOG_ENTRIES_MAX];
    *h = (struct log_entry){.kind = kind, .at_ms = at_ms, .host_us = TIME_UNKNOWN, .a = a, .b = b};
    snprintf(h->text, sizeof h->text, "%s", text);
}

static void channel(struct scene *sc, const char *name, int32_t value, int32_t rest, int32_t low,
                    int32_t high, double noise) {
    struct channel_state *c = &sc->s.channel[sc->s.channel_count++];
    snprintf(c->name, sizeof c->name, "%.23s", name);
    c->present = true;
    c->value = value;
    c->has_input = true;
    c->input = value;
    c->ends_known = c->rest_known = true;
    c->low = low;
    c->high = high;
    c->rest = rest;
    c->noise = noise;
    c->noise_peak = (int32_t)(4 * noise);
    c->changes_hz = noise;
    c->reports = 15000;
}

static void minute(struct scene *sc, const char *picture) {
    for (int i = 0; i < RECENT_SECONDS; i++) {
        struct second_cell *cell = &sc->s.recent[i];
        char c = picture[i];
        cell->observed = c != ' ';
        cell->silent = c == 'x';
        cell->lost = c >= '0' && c <= '9' ? (uint32_t)(c - '0') * 2 : 0;
        cell->got = c == 'x' || c == ' ' ? 0 : 20 - cell->lost;
    }
}

static void calm_channels(struct scene *sc) {
    channel(sc, "rudder", 1612, 1500, 1102, 1898, 0.8);
    channel(sc, "throttle", 1000, 1000, 1000, 1950, 0.4);
    channel(sc, "bow thruster", 1380, 1502, 1210, 1790, 2.3);
    channel(sc, "winch", 1500, 1500, 1300, 1700, 0.5);
    channel(sc, "horn", 1000, 1000, 1000, 2000, 0);
    channel(sc, "marker", CHANNEL_OFF, 1500, 1100, 1900, 0.6);
    channel(sc, "crane turn", 1820, 1490, 1150, 1840, 1.1);
    channel(sc, "lights", 2000, 2000, 1000, 2000, 0);
    minute(sc, "          0000000000000000000000100000000030000000000000000100");
}

static void calm_log_entries(struct scene *sc) {
    sc->s.log_entry = sc->log_entry;
    happen(sc, LOG_ENTRY_PORT_OPENED, 0, 0, 0, "");
    happen(sc, LOG_ENTRY_RECEIVER_RESTART, 120, BOOT_RESET, 1, "");
    happen(sc, LOG_ENTRY_FIRMWARE, 180, 0, 0, "tug-rx-1.4");
    happen(sc, LOG_ENTRY_FIRST_PACKET, 1240, 0, 0, "");
    happen(sc, LOG_ENTRY_MARK, 401200, MARK_STOP, 4000, "");
    happen(sc, LOG_ENTRY_OUTAGE_BEGAN, 431050, 0, 0, "");
    happen(sc, LOG_ENTRY_FAILSAFE_ENTERED, 431350, 1, 0, "");
    happen(sc, LOG_ENTRY_OUTAGE_ENDED, 432550, 1500, 0, "");
    happen(sc, LOG_ENTRY_FAILSAFE_LEFT, 432600, 1250, 0, "");
    happen(sc, LOG_ENTRY_LINES_MISSING, 520050, 3, 0, "");
    happen(sc, LOG_ENTRY_MARK, 611000, MARK_FACING, -1, "bow to the jetty");
    happen(sc, LOG_ENTRY_DAMAGE, 700400, DAMAGE_BAD_CHECKSUM, 2, "");
}

static void calm_page(struct page *p) {
    p->source = "/dev/ttyUSB0";
    p->sound = true;
    p->recording = true;
    p->recording_path = "tug.csv";
    p->recording_bytes = 3412000;
    p->replay_length_us = TIME_UNKNOWN;
}

static void calm_figures(struct scene *sc) {
    struct snapshot *s = &sc->s;
    s->link_ms = s->now_ms = 754250;
    s->live = true;
    s->lines_age_ms = 20;
    s->uptime_ms = 768400;
    s->state = STATE_LINKED;
    s->evidence = EVIDENCE_PATTERN;
    s->heard = true;
    s->rate_hz = 50;
    s->total = (struct packet_count){37500, 212, true, true, true, 0.0047, 0.0068};
    s->last_10s = (struct packet_count){497, 3, true, true, false, 0, 0.0176};
    s->last_1s = (struct packet_count){50, 0, true, false, false, 0, 0};
    s->refused_known = true;
    s->refused = 3;
    s->outage_ms = 12;
    s->outstanding_known = true;
    s->outages = 4;
    s->outage_limit_ms = 100;
    s->longest_gap_ms = 310;
    s->longest_low_ms = 290;
    s->longest_at_ms = 432000;
    s->lines_good = s->reports = 15004;
    s->lines_damaged = 2;
    s->lines_missing = 3;
    s->missing_known = true;
    s->line_hz = 20;
    s->byte_hz = 4100;
    s->opening_restarts = 1;
    s->transmitter_restarts_known = true;
    s->failsafe_known = s->lock_known = true;
    s->failsafe_entries = s->failsafe_count = 1;
    sc->failsafe[0] = (struct failsafe_event){{431300, 431350},
                                              {432550, 432600},
                                              false,
                                              TIME_UNKNOWN,
                                              {TIME_UNKNOWN, TIME_UNKNOWN},
                                              {TIME_UNKNOWN, TIME_UNKNOWN}};
    s->failsafe_events = sc->failsafe;
    s->supply_known = s->supply_min_known = true;
    s->supply_mv = 4980;
    s->supply_low_mv = 4710;
    s->transmitter_supply_known = s->step_known = true;
    s->transmitter_mv = 7920;
    s->transmitter_low_mv = 7880;
    s->step = s->steps = s->full_step = 4;
    s->registers_known = true;
    s->span_low = 1000;
    s->span_high = 2000;
    snprintf(s->firmware, sizeof s->firmware, "tug-rx-1.4");
    s->mhz = 2476;
    s->kbps = 250;
}

/* The tug on the bench, all well. */
static void make_calm(struct scene *sc) {
    calm_figures(sc);
    calm_channels(sc);
    calm_log_entries(sc);
    calm_page(&sc->p);
}

/* Out of range with the throttle raised before: the receiver has gone to its presets. */
static void make_failsafe(struct scene *sc) {
    make_calm(sc);
    struct snapshot *s = &sc->s;
    s->state = STATE_FAILSAFE;
    s->failsafe = true;
    s->failsafe_entries = s->failsafe_count = 2;
    sc->failsafe[1] = (struct failsafe_event){
        {751000, 751050}, {TIME_UNKNOWN, TIME_UNKNOWN}, false,
        TIME_UNKNOWN,     {TIME_UNKNOWN, TIME_UNKNOWN}, {TIME_UNKNOWN, TIME_UNKNOWN}};
    s->outage_ms = 3550;
    s->silent_at_end = true;
    s->outstanding = 177;
    s->outages_unsure = 2;
    s->longest_gap_ms = 3550;
    s->longest_at_ms = 750700;
    s->last_1s = (struct packet_count){0, 0, true, false, false, 0, 0};
    s->last_10s = (struct packet_count){290, 42, true, true, true, 0.083, 0.181};
    s->channel[0].value = 1500;
    s->channel[0].input = 1612;
    s->channel[1].input = 1950;
    s->alarm[ALARM_FAILSAFE] = s->alarm[ALARM_OUTAGE] = true;
    minute(sc, "          000000000000000000000010000000003000000001235790xxxx");
    happen(sc, LOG_ENTRY_OUTAGE_BEGAN, 750800, 0, 0, "");
    happen(sc, LOG_ENTRY_FAILSAFE_ENTERED, 751050, 1, 0, "");
}

/* A short outage, still within the failsafe's delay. */
static void make_silent(struct scene *sc) {
    make_calm(sc);
    sc->s.state = STATE_OUTAGE;
    sc->s.outage_ms = 430;
    sc->s.outstanding = 21;
    sc->s.silent_at_end = true;
    sc->s.longest_gap_ms = 430;
    sc->s.longest_at_ms = 753820;
    sc->s.last_1s = (struct packet_count){28, 1, true, false, false, 0, 0};
    minute(sc, "          00000000000000000000001000000000300000000000000012xx");
    happen(sc, LOG_ENTRY_OUTAGE_BEGAN, 753920, 0, 0, "");
    happen(sc, LOG_ENTRY_ALARM, 753920, ALARM_OUTAGE, 1, "");
}

/* Walking away with reduced power and a tired battery: loss above the limit. */
static void make_thin(struct scene *sc) {
    make_calm(sc);
    struct snapshot *s = &sc->s;
    s->state = STATE_LOSSY;
    s->last_10s = (struct packet_count){430, 70, true, false, false, 0, 0};
    s->last_1s = (struct packet_count){36, 14, true, false, false, 0, 0};
    s->supply_mv = 3920;
    s->supply_low_mv = 3410;
    s->step = 1;
    s->transmitter_mv = s->transmitter_low_mv = 6810;
    s->alarm[ALARM_SUPPLY] = s->alarm[ALARM_LOSS] = true;
    s->registers = REGISTERS_DEFAULT;
    s->receiver_restarts = 3;
    s->alarm[ALARM_RECEIVER_RESTART] = true;
    sc->p.reduced_power = true;
    minute(sc, "000000000001002010200301021300402130020310240300213103121334");
    happen(sc, LOG_ENTRY_SUPPLY_DIP, 741000, 3410, 0, "");
    happen(sc, LOG_ENTRY_RECEIVER_RESTART, 741300, BOOT_BROWNOUT, 0, "");
    happen(sc, LOG_ENTRY_REGISTERS, 741900, REGISTERS_DEFAULT, 0, "");
    happen(sc, LOG_ENTRY_POWER_STEP, 745000, 1, 4, "reduced");
    happen(sc, LOG_ENTRY_ALARM, 746000, ALARM_LOSS, 1, "");
}

/* Any sketch's bare numbers: the outputs are known, nothing else is. */
static void make_bare(struct scene *sc) {
    struct snapshot *s = &sc->s;
    s->link_ms = s->now_ms = 8200;
    s->link_time_rough = true;
    s->live = true;
    s->lines_age_ms = 30;
    s->uptime_ms = s->outage_ms = s->longest_gap_ms = TIME_UNKNOWN;
    s->longest_low_ms = s->longest_at_ms = TIME_UNKNOWN;
    s->state = STATE_UNKNOWN;
    s->bare = true;
    s->outage_limit_ms = 100;
    s->lines_good = s->reports = 164;
    s->line_hz = 20;
    s->span_low = 1000;
    s->span_high = 2000;
    channel(sc, "ch1", 1500, 1500, 1500, 1500, 0);
    channel(sc, "ch2", 1010, 1000, 1000, 1010, 0);
    channel(sc, "ch3", 1740, 1500, 1500, 1740, 0);
    s->channel[2].rest_known = false;
    for (int i = 0; i < 3; i++) {
        s->channel[i].has_input = false;
    }
    minute(sc, "                                                            ");
    s->log_entry = sc->log_entry;
    happen(sc, LOG_ENTRY_PORT_OPENED, TIME_UNKNOWN, 0, 0, "");
    sc->log_entry[0].host_us = 0;
    sc->p.source = "/dev/serial/by-id/usb-harbour_tug_receiver_board_0042-if00-port0";
    sc->p.replay_length_us = TIME_UNKNOWN;
}

/* The port is open, and nothing comes. */
static void make_nothing(struct scene *sc) {
    struct snapshot *s = &sc->s;
    s->link_ms = s->now_ms = s->uptime_ms = s->outage_ms = TIME_UNKNOWN;
    s->longest_gap_ms = s->longest_low_ms = s->longest_at_ms = TIME_UNKNOWN;
    s->live = true;
    s->lines_age_ms = TIME_UNKNOWN;
    s->state = STATE_NO_LINES;
    s->span_low = 1000;
    s->span_high = 2000;
    s->log_entry = sc->log_entry;
    sc->p.source = "/dev/ttyUSB0";
    sc->p.sound = true;
    sc->p.replay_length_us = TIME_UNKNOWN;
}

/* The receiver runs, but isn't bound: lines without a packet. */
static void make_unbound(struct scene *sc) {
    make_nothing(sc);
    struct snapshot *s = &sc->s;
    s->state = STATE_NEVER_HEARD;
    s->link_ms = s->now_ms = 14300;
    s->uptime_ms = 14900;
    s->lines_age_ms = 12;
    s->evidence = EVIDENCE_COUNTERS;
    s->total.known = s->last_10s.known = s->last_1s.known = true;
    s->lines_good = s->reports = 286;
    s->missing_known = true;
    s->failsafe_known = s->failsafe = true;
    s->registers_known = true;
    s->supply_known = true;
    s->supply_mv = s->supply_low_mv = 5020;
    s->rate_hz = 50;
    channel(sc, "rudder", 1500, 1500, 1500, 1500, 0);
    channel(sc, "throttle", CHANNEL_OFF, 1000, 1000, 1000, 0);
    s->channel[1].ends_known = s->channel[1].rest_known = false;
}

/* The receiver's program hangs, and an interrupt prints its last report again and again. */
static void make_repeating(struct scene *sc) {
    make_calm(sc);
    sc->s.state = STATE_NO_REPORTS;
    sc->s.reports_age_ms = 5000;
    sc->s.reports_repeat = true;
    sc->s.last_1s.known = sc->s.last_10s.known = false;
    sc->s.alarm[ALARM_NO_REPORTS] = true;
    happen(sc, LOG_ENTRY_ALARM, 751250, ALARM_NO_REPORTS, 1, "");
}

/* Sixteen outputs, more than a small screen has rows for. */
static void make_sixteen(struct scene *sc) {
    make_calm(sc);
    for (int i = 9; i <= 16; i++) {
        char name[32];
        snprintf(name, sizeof name, "deck light %d", i);
        channel(sc, name, 1000 + i * 50, 1500, 1000, 2000, 0.1 * i);
    }
    sc->s.state = STATE_LOCKED;
    sc->s.locked = true;
}

static void make_replay(struct scene *sc) {
    make_calm(sc);
    sc->p.source = "tug.csv";
    sc->p.recording = false;
    sc->p.replay = REPLAY_RUNNING;
    sc->p.replay_at_us = 754250000;
    sc->p.replay_length_us = 1832000000;
    sc->p.replay_pace = 4;
}

static void make_replay_end(struct scene *sc) {
    make_failsafe(sc);
    sc->p.source = "tug.csv";
    sc->p.recording = false;
    sc->p.replay = REPLAY_ENDED;
    sc->p.replay_at_us = sc->p.replay_length_us = 754250000;
}

static void make_far(struct scene *sc) {
    make_calm(sc);
    sc->p.far = true;
}

static void make_far_failsafe(struct scene *sc) {
    make_failsafe(sc);
    sc->p.far = true;
}

static void make_help(struct scene *sc) {
    make_calm(sc);
    sc->p.overlay = OVERLAY_HELP;
}

/* Two sweeps in a park: Wi-Fi on channels 1 and 11, and a narrow carrier at 2480 MHz. */
static void make_band(struct scene *sc) {
    make_calm(sc);
    for (int i = 0; i < 84; i++) {
        int wave = i * 7 % 5;
        sc->survey.looks[i] = 200;
        sc->survey.hits[i] = i >= 3 && i <= 21    ? (uint64_t)(34 + wave)
                             : i >= 53 && i <= 71 ? (uint64_t)(12 + wave)
                             : i == 80            ? 150
                                                  : 0;
    }
    sc->survey.lines = 12;
    sc->survey.sweeps = 2;
    sc->survey.mhz = 2450;
    sc->survey.kbps = 1000;
    sc->p.survey = &sc->survey;
    sc->p.overlay = OVERLAY_BAND;
}

static void make_no_band(struct scene *sc) {
    make_calm(sc);
    sc->p.overlay = OVERLAY_BAND;
}

static void make_caution(struct scene *sc) {
    make_calm(sc);
    sc->p.overlay = OVERLAY_CAUTION;
    sc->p.question =
        "Opening /dev/ttyUSB0 may restart the receiver, and a speed controller may "
        "arm anew.\nPropeller off, or the tug held fast? Transmitter on, throttle low?";
}

static void make_entry(struct scene *sc) {
    make_calm(sc);
    sc->p.overlay = OVERLAY_ENTRY;
    sc->p.question = "Distance from receiver to transmitter along the ground, in m:";
    sc->p.entry = "62.5";
}

static void make_paused(struct scene *sc) {
    make_calm(sc);
    sc->p.paused = true;
    sc->p.reduced_power = true;
    sc->p.port = LINK_WAITING;
    sc->p.recording_trouble = "no space left on the disk";
    sc->p.scroll = 4;
    sc->p.notice = "twitch marked at 0:12:31";
}

/* 15 s at 50 packets a second, the losses one by one. */
static void put_stop(struct scene *sc, double metres, uint64_t lost, int64_t gap_ms,
                     uint64_t failsafes) {
    struct walk_stop *s = &sc->walk.stop[sc->walk.count++];
    *s = (struct walk_stop){.distance_m = metres,
                            .from_ms = 0,
                            .to_ms = 15000,
                            .counted = true,
                            .got = 750 - lost,
                            .lost = lost,
                            .longest_gap_ms = gap_ms,
                            .longest_gap_low_ms = gap_ms,
                            .failsafes = failsafes,
                            .failsafe_known = true};
    for (uint64_t i = 0; i <= lost; i++) {
        stat_loss_take(&s->runs, true, s->got / (lost + 1));
        stat_loss_take(&s->runs, false, i < lost ? 1 : 0);
    }
}

static void make_way(struct scene *sc) {
    make_calm(sc);
    walk_limits_default(&sc->walk.limits);
    put_stop(sc, 5, 0, 20, 0);
    put_stop(sc, 10, 0, 20, 0);
    put_stop(sc, 20, 2, 40, 0);
    put_stop(sc, 30, 30, 180, 0);
    put_stop(sc, 40, 90, 520, 2);
    sc->walk.stop[4].died = true;
    sc->walk_view = (struct walk_view){.walk = &sc->walk,
                                       .rate_hz = 50,
                                       .planned = true,
                                       .next_m = 50,
                                       .by_switch = true,
                                       .channel = 6,
                                       .due_ms = TIME_UNKNOWN};
    sc->p.walk = &sc->walk_view;
}

static void make_stop(struct scene *sc) {
    make_way(sc);
    put_stop(sc, 45.5, 12, 60, 0);
    struct walk_stop *s = &sc->walk.stop[5];
    strcpy(s->facing, "90 degrees");
    s->open = sc->walk.here = true;
    s->to_ms = 9400;
    sc->walk_view.by_switch = false;
}

static void trial_open(struct scene *sc, enum trial_show show) {
    sc->trial.show = show;
    sc->trial.live = true;
    sc->trial.recorded = true;
    sc->trial.title = trial_kinds[TRIAL_FAILSAFE]->title;
    sc->p.trial = &sc->trial;
}

static void make_trials(struct scene *sc) {
    static const struct trial_row rows[TRIALS] = {
        {"failsafe", "the model stops when the signal is gone, and stays so", TRIAL_PASSED,
         "the firmware changed from tug-rx-1.3 to tug-rx-1.4"},
        {"bind", "both ends agree, and packets come", TRIAL_PASSED, NULL},
        {"controls", "each stick moves its channel, and no other", TRIAL_FAILED, NULL},
        {"rest", "hands off: how quiet the sticks are", TRIAL_NOT_SHOWN, NULL},
        {"supply", "which servo pulls the supply down", TRIAL_NOT_TRIED, NULL},
    };
    make_calm(sc);
    trial_open(sc, TRIAL_SHOW_LIST);
    memcpy(sc->trial.row, rows, sizeof rows);
    sc->trial.recorded = false;
    sc->p.recording = false;
}

static void trial_at(struct scene *sc, uint32_t step) {
    trial_open(sc, TRIAL_SHOW_STEP);
    sc->trial.step = &trial_kinds[TRIAL_FAILSAFE]->steps[step];
    sc->trial.number = step + 1;
    sc->trial.gate = step == 0;
    sc->trial.lasted_s = 3;
    sc->trial.pane.progress = -1;
}

static void make_trial_caution(struct scene *sc) {
    make_calm(sc);
    trial_at(sc, 0);
}

static void pane_line(struct scene *sc, const char *text) {
    struct trial_pane *pane = &sc->trial.pane;
    snprintf(pane->line[pane->lines++], sizeof pane->line[0], "%s", text);
}

static void make_trial_which(struct scene *sc) {
    make_calm(sc);
    trial_at(sc, 1);
    pane_line(sc, "1 rudder          1497  moved by 2");
    pane_line(sc, "2 throttle        1004  moved by 412  <- most");
}

static void make_trial_stay(struct scene *sc) {
    make_failsafe(sc);
    trial_at(sc, 7);
    sc->trial.pane.progress = 0.6;
    pane_line(sc, "motor, channel 2: output 1000 (0 %), stick 1503 (50 %), "
                  "FAILSAFE, locked");
    pane_line(sc, "last packet 3.5 s ago");
    pane_line(sc, "outage 1: at rest after 449 to 551 ms, seen so for 3 s");
}

static void make_trial_leaving(struct scene *sc) {
    make_trial_stay(sc);
    static const struct trial_question leaving = {"Leave the trial?",
                                                  "yes, leave it: sticks to rest first", "no"};
    sc->trial.question = &leaving;
    sc->trial.recorded = false;
}

static void make_trial_outcome(struct scene *sc) {
    struct trial_outcome *o = &sc->trial.outcome;
    make_calm(sc);
    trial_open(sc, TRIAL_SHOW_OUTCOME);
    trial_find(o, "throttle_low", TRIAL_FAILED,
               "The throttle came low 1450 to 1501 ms after the last packet, at worst; the limit "
               "is 1000.");
    trial_find(o, "repeats", TRIAL_PASSED,
               "3 of 3 switch-offs with the throttle up brought it "
               "low. The middles lie 12 ms apart.");
    trial_find(o, "stays_until_low", TRIAL_NOT_SHOWN,
               "Whether the throttle waits for a low stick can't be told without in or lock.")
        ->missing = "in";
    for (int i = 1; i <= 8; i++)
        trial_find(o, "channel", TRIAL_PASSED, "Channel %d: went to 1500; wanted: 1500.", i);
    o->verdict = trial_sum(o);
    snprintf(o->headline, sizeof o->headline, "%s", o->finding[0].text);
    snprintf(o->next, sizeof o->next,
             "In the receiver: note the time of each good packet; half a "
             "second later set the throttle low. Then do this again.");
}

static void make_trial_scrolled(struct scene *sc) {
    make_trial_outcome(sc);
    sc->trial.scroll = 100;
}

const struct scene_row scene_rows[] = {
    {"trials", make_trials},
    {"trial-caution", make_trial_caution},
    {"trial-which", make_trial_which},
    {"trial-stay", make_trial_stay},
    {"trial-leaving", make_trial_leaving},
    {"trial-outcome", make_trial_outcome},
    {"trial-scrolled", make_trial_scrolled},
    {"calm", make_calm},
    {"failsafe", make_failsafe},
    {"silent", make_silent},
    {"thin", make_thin},
    {"bare", make_bare},
    {"nothing", make_nothing},
    {"unbound", make_unbound},
    {"repeating", make_repeating},
    {"sixteen", make_sixteen},
    {"replay", make_replay},
    {"replay-end", make_replay_end},
    {"far", make_far},
    {"far-failsafe", make_far_failsafe},
    {"help", make_help},
    {"caution", make_caution},
    {"entry", make_entry},
    {"paused", make_paused},
    {"way", make_way},
    {"stop", make_stop},
    {"way", make_way},
    {"stop", make_stop},
    {"band", make_band},
    {"band-none", make_no_band},
};
const size_t scene_rows_count = sizeof scene_rows / sizeof scene_rows[0];

bool scene_make(struct scene *scene, const char *name) {
    memset(scene, 0, sizeof *scene);
    for (size_t i = 0; i < scene_rows_count; i++) {
        if (strcmp(scene_rows[i].name, name) == 0) {
            scene_rows[i].make(scene);
            return true;
        }
    }
    return false;
}
