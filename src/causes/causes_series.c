#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "causes/causes_parts.h"

/* --- what a cell says of a candidate ---------------------------------------------------------- */

static bool unseen(const struct trace_cell *c) {
    return (c->flags & TRACE_SEEN) == 0;
}

static float moved(const struct trace *t, uint32_t cell, int channel, float *memory) {
    (void)memory;
    return (t->cell[cell].flags & TRACE_MOVES) == 0 ? NAN : (float)t->cell[cell].move[channel];
}

static float throttle(const struct trace *t, uint32_t cell, int channel, float *memory) {
    const struct trace_cell *c = &t->cell[cell];
    (void)channel;
    (void)memory;
    bool held = (c->flags & TRACE_FAILSAFE) != 0 || c->throttle == TRACE_NOTHING;
    return held ? NAN : (float)c->throttle;
}

/* How far below its own slow mean (some 10 s): a battery that runs down is no dip. */
static float below(int16_t low, int16_t usual, float *memory) {
    if (low == TRACE_NOTHING)
        return NAN;
    float now = (float)(usual != TRACE_NOTHING ? usual : low);
    *memory = isnan(*memory) ? now : *memory + (now - *memory) / 40;
    return *memory - (float)low;
}

static float dip(const struct trace *t, uint32_t cell, int channel, float *memory) {
    (void)channel;
    return below(t->cell[cell].supply_low, t->cell[cell].supply, memory);
}

static float transmitter_low(const struct trace *t, uint32_t cell, int channel, float *memory) {
    (void)channel;
    return below(t->cell[cell].transmitter, TRACE_NOTHING, memory);
}

static float noise(const struct trace *t, uint32_t cell, int channel, float *memory) {
    const struct trace_cell *c = &t->cell[cell];
    (void)channel;
    (void)memory;
    if (c->noise_hits == 1) /* one alone is the detector's own */
        return 0;
    return c->noise_looks == 0 ? NAN : (float)c->noise_hits / (float)c->noise_looks;
}

/* In a drop there is no signal, whatever ended it: only what packets came by tells of strength. */
static float weak(const struct trace *t, uint32_t cell, int channel, float *memory) {
    const struct trace_cell *c = &t->cell[cell];
    (void)channel;
    (void)memory;
    if ((c->flags & (TRACE_DROP | TRACE_FAILSAFE)) != 0)
        return NAN;
    if (c->rssi != TRACE_NOTHING)
        return -(float)c->rssi;
    return c->heard_looks == 0 ? NAN : -(float)c->heard_hits / (float)c->heard_looks;
}

static float lines_away(const struct trace *t, uint32_t cell, int channel, float *memory) {
    (void)channel;
    (void)memory;
    return (t->cell[cell].flags & (TRACE_HOLE | TRACE_HOST)) != 0 ? 1.0F : 0.0F;
}

static float packets_lost(const struct trace *t, uint32_t cell, int channel, float *memory) {
    const struct trace_cell *c = &t->cell[cell];
    (void)channel;
    (void)memory;
    return unseen(c) ? NAN : (float)c->lost;
}

static float failsafe_changed(const struct trace *t, uint32_t cell, int channel, float *memory) {
    float now = (t->cell[cell].flags & TRACE_FAILSAFE) != 0 ? 1.0F : 0.0F;
    float before = isnan(*memory) ? now : *memory;
    (void)channel;
    *memory = now;
    return now > before || now < before ? 1.0F : 0.0F;
}

static float restarted(const struct trace *t, uint32_t cell, int channel, float *memory) {
    (void)channel;
    (void)memory;
    return (t->cell[cell].flags & TRACE_RESTART) != 0 ? 1.0F : 0.0F;
}

static float transmitter_started(const struct trace *t, uint32_t cell, int channel, float *memory) {
    (void)channel;
    (void)memory;
    return (t->cell[cell].flags & TRACE_TRANSMITTER) != 0 ? 1.0F : 0.0F;
}

/* --- the candidates --------------------------------------------------------------------------- */

#define KEY(key) (1u << KEY_##key)

const struct candidate causes_candidates[CAUSES] = {
    [CAUSE_MOVE] = {"channel moves", moved, KEY(CH), "ch", BEFORE_CELLS, 0, 1, 1, true,
                    "Move that servo alone, first as it is, then fed from a supply of its own."},
    [CAUSE_THROTTLE] = {"throttle up", throttle, KEY(CH), "throttle in the model file",
                        BEFORE_CELLS, 0, 1, 1 | 4, true,
                        "Propeller off: raise the throttle in steps, with the radio on its own "
                        "battery, then as it is."},
    [CAUSE_SUPPLY] = {"supply dips", dip, KEY(MVMIN), "mvmin", BEFORE_CELLS, 0, 2, 1, true,
                      "Feed the servos from a supply of their own, grounds joined, and record "
                      "again."},
    [CAUSE_BROWNOUT] = {"receiver browned out", NULL, 0, NULL, 0, 0, 4, 1, false,
                        "The receiver's supply falls too low: a supply of its own for the servos, "
                        "thicker leads, 470 to 1000 uF more (mind polarity; rated 10 V or more)."},
    [CAUSE_WATCHDOG] = {"receiver's watchdog", NULL, 0, NULL, 0, 0, 4, 1, false,
                        "The receiver's program hung: look for waits without an end in the "
                        "sketch."},
    [CAUSE_RESET] = {"receiver was reset", NULL, 0, NULL, 0, 0, 4, 1, false,
                     "Something pulled the reset line: the serial lead, or noise on it."},
    [CAUSE_RESTART] = {"receiver restarted", restarted, 0, NULL, BEFORE_CELLS, 1, 4, 1, true,
                       "Print boot cause=... to learn whether it was the supply."},
    [CAUSE_POWER] = {"receiver lost its power", NULL, 0, NULL, 0, 0, 4, 1, false,
                     "Look at plug, switch and battery. Propeller off: wiggle each while the "
                     "receiver runs."},
    [CAUSE_STALL] = {"receiver's loop stalls", NULL, KEY(N), "n and t", 0, 0, 4, 16, false,
                     "Look for what holds the receiver's program up: waits, long prints, a "
                     "display, a library's own retries."},
    [CAUSE_PAUSE] = {"transmitter pauses", NULL, KEY(SEQ) | KEY(LOST), "seq or lost", 0, 0, 0, 4,
                     false,
                     "Look for what holds the transmitter's program up: waits, a display, saving "
                     "settings, a scan."},
    [CAUSE_OVERLOAD] = {"too strong near by", NULL, 0, "five stops marked with their distance", 0,
                        0, 1, 8, false,
                        "Keep the ends 3 m apart, or turn the transmitter's power down near by."},
    [CAUSE_SETTINGS_LOST] =
        {"radio lost its settings", NULL, KEY(REG), "reg", 0, 0, 3, 1, false,
         "The radio's own supply dips: 10 to 100 uF at the module (mind polarity; "
         "rated 6.3 V or more), or a regulator of its own."},
    [CAUSE_TRANSMITTER_SUPPLY] = {"transmitter's supply low", transmitter_low, KEY(TMV), "tmv",
                                  BEFORE_CELLS, 1, 2, 2, false,
                                  "Feed the transmitter from a bench supply and record again."},
    [CAUSE_TRANSMITTER] = {"transmitter restarted", transmitter_started, KEY(SEQ) | KEY(TBOOT),
                           "seq or tboot", BEFORE_CELLS, 2, 4, 2, true,
                           "Feed the transmitter from a bench supply; look at its switch and "
                           "battery leads."},
    [CAUSE_STRANGER] = {"second transmitter", NULL, KEY(TBOOT), "tboot", 0, 0, 0, 0, false,
                        "Propeller off, model held: another sender may drive it. Switch your "
                        "transmitter off: packets that still come are another's. Take another "
                        "address."},
    [CAUSE_INTERFERENCE] = {"noise on the air", noise, KEY(NOISE), "noise", 1, 1, 2, 4, false,
                            "Propeller off, transmitter off: sweep the band, and record again on a "
                            "quieter frequency."},
    [CAUSE_RHYTHM] = {"losses in a rhythm", NULL, 0, "the packets' order (pat)", 0, 0, 1, 4, false,
                      "Look for what ticks at that period: a Wi-Fi beacon (102.4 ms), the mains, a "
                      "hop cycle, the sketch's own printing."},
    [CAUSE_SIGNAL] = {"signal weak before", weak, KEY(RSSI) | KEY(HEARD), "rssi or heard",
                      BEFORE_CELLS, -1, 2, 8, false,
                      "Shorten the distance or raise both antennas, and record again."},
    [CAUSE_DISTANCE] = {"distance", NULL, 0, "five stops marked with their distance", 0, 0, 1, 8,
                        false, "Walk the range: airleash walk tells how far it reaches."},
    [CAUSE_ANTENNA] = {"weak at every distance", NULL, 0,
                       "rssi, or heard near by, at three stops, and the transmitter's power "
                       "(--step, --power-dbm or --amplified)",
                       0, 0, 0, 8, false,
                       "Look at both antennas, their cables and plugs; set up a known good one at "
                       "one end, then at the other, and walk again."},
    [CAUSE_DRIFT] = {"slow drift", NULL, 0, "five minutes at one place", 0, 0, 0, 0, false,
                     "Keep the distance, measure both batteries under load, fill them, and record "
                     "again; if losses grow as before, let the modules cool down first."},
    [CAUSE_HEADING] = {"the model's heading", NULL, 0, "headings marked (press a)", 0, 0, 1, 8,
                       false, "Power off: move the antenna clear of battery and metal, upright."},
    [CAUSE_RETRIES] = {"acknowledgements", NULL, 0, "ack and rate in the id line", 0, 0, 0, 0,
                       false,
                       "Switch acknowledgement off at both ends: if the rate is whole then, the "
                       "way back is at fault."},
    [CAUSE_CABLE] = {"serial lead or computer", lines_away, 0, NULL, 1, 1, 0, 0, false,
                     "Another lead, another port, a shorter line, before the air is blamed."},
    [CAUSE_LOSS] = {"packets lost", packets_lost, 0, NULL, 0, 0, 5, 1, true,
                    "The link is at fault: see why it drops."},
    [CAUSE_FAILSAFE] = {"failsafe came or went", failsafe_changed, KEY(FS), "fs", 0, 0, 6, 1, true,
                        "The hold time is too short for this link, or the link too poor."},
};

const char *cause_name(enum cause_id id) {
    return causes_candidates[id].name;
}

const char *cause_next(enum cause_id id) {
    return causes_candidates[id].next;
}

/* --- what stands still ------------------------------------------------------------------------ */

enum {
    MOVE_LEAST_US = 20,   /* a stick's own trembling is some us (common practice) */
    MOVE_LEAST_RAW = 2,   /* where the unit isn't known: the noise alone decides */
    MOVE_NOISE_MOST = 30, /* an output that always moves has no rest to learn its noise from */
    SAMPLE = 4096,
};

static int smaller(const void *a, const void *b) {
    const float *x = a, *y = b;
    return (*x > *y) - (*x < *y);
}

/* The known values in ascending order into work; at most SAMPLE of them, evenly taken. */
static uint32_t sorted(const float *values, uint32_t cells, float *work) {
    uint32_t count = 0, step = cells / SAMPLE + 1;
    for (uint32_t i = 0; i < cells; i += step)
        if (!isnan(values[i]))
            work[count++] = values[i];
    qsort(work, count, sizeof *work, smaller);
    return count;
}

/* Values up to `least` become 0. */
static void level(float *values, uint32_t cells, float least) {
    for (uint32_t i = 0; i < cells; i++)
        if (values[i] <= least)
            values[i] = 0;
}

/* A movement is at least 20 us, and three times what the output does in its calmest quarter. */
static void level_moves(const struct trace *t, float *values, float *work) {
    uint32_t count = sorted(values, t->cells, work);
    float noise = count > 0 ? work[count / 4] : 0;
    noise = noise < MOVE_NOISE_MOST ? noise : MOVE_NOISE_MOST;
    float least = t->raw_unit ? MOVE_LEAST_RAW : MOVE_LEAST_US;
    level(values, t->cells, fmaxf(least - 1, 3 * noise));
}

static float usual_millivolts(const struct trace *t, enum cause_id id) {
    double sum = 0;
    uint32_t count = 0;
    for (uint32_t i = 0; i < t->cells; i++) {
        int16_t mv = id == CAUSE_SUPPLY ? t->cell[i].supply_low : t->cell[i].transmitter;
        if (mv != TRACE_NOTHING) {
            sum += mv;
            count++;
        }
    }
    return count > 0 ? (float)(sum / count) : 0;
}

/* A dip is at least 1 % below what is usual, and three standard deviations of the calmer half: the
 * quartile lies 0.6745 of them from the median. */
static void level_dips(const struct trace *t, enum cause_id id, float *values, float *work) {
    uint32_t count = sorted(values, t->cells, work);
    if (count == 0)
        return;
    float middle = work[count / 2], sd = (middle - work[count / 4]) / 0.6745F;
    for (uint32_t i = 0; i < t->cells; i++)
        values[i] -= middle;
    level(values, t->cells, fmaxf(usual_millivolts(t, id) / 100, 3 * sd));
}

/* A throttle that moves by less than two movements, but for a twentieth of the time at either end,
 * stands still. */
static void level_throttle(const struct trace *t, float *values, float *work) {
    uint32_t count = sorted(values, t->cells, work);
    float least = 2 * (float)(t->raw_unit ? MOVE_LEAST_RAW : MOVE_LEAST_US);
    if (count > 0 && work[count - 1 - count / 20] - work[count / 20] < least)
        level(values, t->cells, INFINITY);
}

void causes_series(const struct trace *t, enum cause_id id, int channel, float *values,
                   float *work) {
    float memory = NAN;
    for (uint32_t i = 0; i < t->cells; i++)
        values[i] = causes_candidates[id].value(t, i, channel, &memory);
    if (id == CAUSE_MOVE)
        level_moves(t, values, work);
    else if (id == CAUSE_THROTTLE)
        level_throttle(t, values, work);
    else if (id == CAUSE_SUPPLY || id == CAUSE_TRANSMITTER_SUPPLY)
        level_dips(t, id, values, work);
}
