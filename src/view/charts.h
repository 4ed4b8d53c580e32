/* A chart of the run so far, as characters over the page.  What it shows was drawn before; here it
 * is only placed, with what must stay in sight: the link's state, cautions, keys. */
#ifndef VIEW_CHARTS_H
#define VIEW_CHARTS_H

#include "view/grid.h"

enum {
    CHART_COLUMNS_LEAST = 40,
    CHART_ROWS_LEAST = 5, /* without the rows about it */
};

struct charts_view {
    const char *title;
    int number, count;       /* which of how many, from 1 */
    int rows, columns;       /* of the chart; more rows than there is room for: it scrolls */
    const struct cell *cell; /* rows times columns of them */
    int scroll;              /* rows scrolled down */
};

#endif
