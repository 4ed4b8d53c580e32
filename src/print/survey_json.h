/* The section `air` of the figures' JSON: what the sweeps at boot found. */
#ifndef PRINT_SURVEY_JSON_H
#define PRINT_SURVEY_JSON_H

#include <jansson.h>

#include "study/survey.h"

/* Adds the section to root, and the reasons of what is null to because.  NULL is no sweep. */
void survey_json(const struct survey *s, json_t *root, json_t *because);

#endif
