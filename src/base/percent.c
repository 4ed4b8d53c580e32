#include "base/percent.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* The places after the point that leave so many significant digits, once rounded. */
static int places_for(double value, int digits) {
    char scientific[PERCENT_MAX];
    if (value == 0 || !isfinite(value))
        return 0;
    snprintf(scientific, sizeof scientific, "%.*e", digits - 1, value);
    int places = digits - 1 - atoi(strchr(scientific, 'e') + 1);
    return places < 0 ? 0 : places > 12 ? 12 : places;
}

static void put(char *out, double value, int digits, bool plus) {
    snprintf(out, PERCENT_MAX, plus && value > 0 ? "+%.*f" : "%.*f", places_for(value, digits),
             value);
}

void percent_text(char *out, double share) {
    put(out, 100 * share, 2, false);
}

void percent_rate(char *out, double share) {
    int places = places_for(100 * share, 2);
    snprintf(out, PERCENT_MAX, "%.*f", places > 2 ? places : 2, 100 * share);
}

void percent_between(char *out, double low, const char *between, double high, bool plus) {
    char from[PERCENT_MAX], to[PERCENT_MAX];
    int digits = 2;
    do {
        put(from, low, digits, plus);
        put(to, high, digits, plus);
    } while (low < high && strcmp(from, to) == 0 && ++digits < 9);
    snprintf(out, PERCENT_SPAN_MAX, "%s%.6s%s", from, between, to);
}

void percent_span(char *out, double low, const char *between, double high) {
    percent_between(out, 100 * low, between, 100 * high, false);
}
