/* Shares as percentages, and intervals of other figures: two significant digits of whatever they
 * are, so that nothing is rounded to nothing, and an interval never to a point. */
#ifndef BASE_PERCENT_H
#define BASE_PERCENT_H

#include <stdbool.h>

enum { PERCENT_MAX = 32, PERCENT_SPAN_MAX = 2 * PERCENT_MAX + 8 };

/* "0.0012", "1.3", "13", "100": without the sign.  A share of 0..1 into out[PERCENT_MAX]. */
void percent_text(char *out, double share);

/* "0.052 to 0.95", with as many digits as it takes to tell low < high apart; into
 * out[PERCENT_SPAN_MAX], `between` between them. */
void percent_span(char *out, double low, const char *between, double high);

/* The same of any two numbers as they are, "-0.31 to +1.2"; `plus`: with the sign of positive ones.
 */
void percent_between(char *out, double low, const char *between, double high, bool plus);

/* A loss as seen: two places after the point, or two significant digits where that is more. */
void percent_rate(char *out, double share);

#endif
