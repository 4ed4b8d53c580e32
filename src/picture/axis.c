#include "picture/axis.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/whole.h"

double axis_step(double span, int most) {
    static const double parts[] = {1, 2, 5};
    int power = whole_i32(floor(log10(span / most))) - 1;
    for (;; power++)
        for (int i = 0; i < 3; i++) {
            double step = power < 0 ? parts[i] / pow(10, -power) : parts[i] * pow(10, power);
            if (step * most >= span * (1 - 1e-9))
                return step;
        }
}

static int decimals_of(double step) {
    int decimals = 0;
    while (decimals < 6 && fabs(step - round(step)) > 1e-6 * step) {
        step *= 10;
        decimals++;
    }
    return decimals;
}

static void begin(struct axis *a, double from, double to, bool log) {
    memset(a, 0, sizeof *a);
    a->from = from;
    a->to = to;
    a->log = log;
}

static void add_tick(struct axis *a, double value, int decimals) {
    if (a->ticks == AXIS_TICKS)
        return;
    a->tick[a->ticks] = value;
    snprintf(a->label[a->ticks], AXIS_LABEL, "%.*f", decimals, value);
    a->ticks++;
}

static double steps_between(double low, double high, double step) {
    return ceil(high / step - 1e-9) - floor(low / step + 1e-9);
}

/* What is no number, or beyond all that is drawn, would need steps without end. */
static double within(double value, double least) {
    static const double most = 1e15;
    return value > least ? fmin(value, most) : least;
}

void axis_linear(struct axis *a, double low, double high, int most) {
    low = within(low, -1e15);
    high = within(high, low);
    if (most < 3) /* two can't hold values on both sides of zero */
        most = 3;
    if (most > AXIS_TICKS)
        most = AXIS_TICKS;
    if (!(high > low)) {
        double middle = low;
        low = middle - fmax(fabs(middle) * 0.01, 0.5);
        high = middle + fmax(fabs(middle) * 0.01, 0.5);
    }
    double step = axis_step(high - low, most - 1);
    while (steps_between(low, high, step) > most - 1) /* widening to whole steps needs more */
        step = axis_step(step * 1.5, 1);
    double first = floor(low / step + 1e-9), last = ceil(high / step - 1e-9);
    begin(a, first * step, last * step, false);
    for (double i = first; i <= last; i++)
        add_tick(a, i * step, decimals_of(step));
}

static int log_ticks(struct axis *a, const double *parts, int count, bool add) {
    int found = 0;
    for (int power = whole_i32(floor(log10(a->from))); power <= whole_i32(ceil(log10(a->to)));
         power++)
        for (int i = 0; i < count; i++) {
            double value = parts[i] * pow(10, power);
            if (value < a->from * (1 - 1e-9) || value > a->to * (1 + 1e-9))
                continue;
            found++;
            if (add)
                add_tick(a, value, power < 0 ? -power : 0);
        }
    return found;
}

void axis_log(struct axis *a, double low, double high, int most) {
    static const struct {
        int count;
        double parts[9];
    } choices[] = {{9, {1, 2, 3, 4, 5, 6, 7, 8, 9}}, {3, {1, 2, 5}}, {2, {1, 3}}, {1, {1}}};
    low = within(low, 1e-6);
    high = within(high, low);
    begin(a, low, high, true);
    int choice = 0;
    while (choice < 3 && log_ticks(a, choices[choice].parts, choices[choice].count, false) > most)
        choice++;
    log_ticks(a, choices[choice].parts, choices[choice].count, true);
}

static const struct {
    double second;
    int form; /* 0 seconds, 1 minutes:seconds, 2 hours:minutes */
} time_steps[] = {{0.1, 0},  {0.2, 0},  {0.5, 0},  {1, 0},     {2, 0},     {5, 0},     {10, 0},
                  {15, 0},   {30, 1},   {60, 1},   {120, 1},   {300, 1},   {600, 1},   {900, 2},
                  {1800, 2}, {3600, 2}, {7200, 2}, {10800, 2}, {21600, 2}, {43200, 2}, {86400, 2}};
enum { TIME_STEPS = sizeof time_steps / sizeof time_steps[0] };

static void time_label(char *out, double second, int form, int decimals) {
    long whole = lround(second);
    if (form == 0)
        snprintf(out, AXIS_LABEL, "%.*f", decimals, second);
    else if (form == 1)
        snprintf(out, AXIS_LABEL, "%ld:%02ld", whole / 60, whole % 60);
    else
        snprintf(out, AXIS_LABEL, "%ld:%02ld", whole / 3600, whole / 60 % 60);
}

void axis_time(struct axis *a, double span_ms, int most) {
    double span = fmax(span_ms / 1000, 0.1);
    int i = 0;
    while (i < TIME_STEPS - 1 && floor(span / time_steps[i].second + 1e-9) + 1 > most)
        i++;
    double step = time_steps[i].second;
    while (floor(span / step + 1e-9) + 1 > most) /* days */
        step *= 2;
    /* A short step in a long run reads better with minutes. */
    int form = time_steps[i].form == 0 && span >= 180 ? 1 : time_steps[i].form;
    static const char *const units[] = {"seconds", "minutes:seconds", "hours:minutes"};
    begin(a, 0, span_ms > 0 ? span_ms : 100, false);
    a->unit = units[form];
    for (int k = 0; k * step <= span * (1 + 1e-9) && a->ticks < AXIS_TICKS; k++) {
        a->tick[a->ticks] = k * step * 1000;
        time_label(a->label[a->ticks], k * step, form, step < 1 ? 1 : 0);
        a->ticks++;
    }
}

void axis_place(struct axis *a, double at_from, double at_to) {
    a->at_from = at_from;
    a->at_to = at_to;
}

double axis_at(const struct axis *a, double value) {
    if (!(value > a->from))
        return a->at_from;
    if (value >= a->to)
        return a->at_to;
    double share = a->log ? log(value / a->from) / log(a->to / a->from)
                          : (value - a->from) / (a->to - a->from);
    return a->at_from + share * (a->at_to - a->at_from);
}
