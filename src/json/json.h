/* The studies as JSON, for other programs: airleash-json(5). */
#ifndef JSON_JSON_H
#define JSON_JSON_H

#include "text/budget_text.h"
#include "text/causes_text.h"
#include "text/compare_text.h"
#include "text/figures_text.h"
#include "text/trials_text.h"
#include "text/walk_text.h"

/* One JSON object ("airleash-budget-1") without a line end, to be freed; NULL: no memory. */
char *budget_json(const struct budget_inputs *in, const struct budget *b,
                  const struct budget_facts *facts);

/* One JSON object ("airleash-causes-1") without a line end, to be freed; NULL: no memory. */
char *causes_json(const struct causes_facts *facts);

/* One JSON object ("airleash-compare-1") without a line end, to be freed; NULL: no memory. */
char *compare_json(const struct compare *c, const struct side_samples *a,
                   const struct side_samples *b, const struct compare_walk *w);

/* One JSON object ("airleash-figures-1") without a line end, to be freed; NULL: no memory. */
char *figures_json(const struct snapshot *s, const struct measures *m,
                   const struct figures_facts *facts);

/* One JSON object ("airleash-walk-1") without a line end, to be freed; NULL: no memory. */
char *walk_json(const struct walk *w, const struct walk_facts *facts);

/* One JSON object ("airleash-judge-1") without a line end, to be freed; NULL: no memory. */
char *trials_json(const struct book *book, const struct trials_facts *facts);

#endif
