#include "base/percent.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* The places after the point that leave so many significant digits, once rounded. */
static int places_for(double percent, int digits) {
    char scientific[PERCENT_MAX];
    if (!(percent > 0))
        return 0;
    snprintf(scientific, sizeof scientific, "%.*e", digits - 1, percent);
    int places = digits - 1 - atoi(strchr(scientific, 'e') + 1);
    return places < 0 ? 0 : places > 12 ? 12 : places;
}

static void put(char *out, double share, int digits) {
    snprintf(out, PERCENT_MAX, "%.*f", places_for(100 * share, digits), 100 * share);
}

void percent_text(char *out, double share) {
    put(out, share, 2);
}

void percent_rate(char *out, double share) {
    int places = places_for(100 * share, 2);
    snprintf(out, PERCENT_MAX, "%.*f", places > 2 ? places : 2, 100 * share);
}

void percent_span(char *out, double low, const char *between, double high) {
    char from[PERCENT_MAX], to[PERCENT_MAX];
    int digits = 2;
    do {
        put(from, low, digits);
        put(to, high, digits);
    } while (low < high && strcmp(from, to) == 0 && ++digits < 9);
    snprintf(out, PERCENT_SPAN_MAX, "%s%.6s%s", from, between, to);
}
