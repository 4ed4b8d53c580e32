/* Made-up moments on the bench of a home-built harbour tug, as snapshots to draw. */
#ifndef TESTS_SCREEN_SCENES_H
#define TESTS_SCREEN_SCENES_H

#include "view/page.h"
#include "view/trial.h"

struct scene {
    struct snapshot s;
    struct page p;
    struct log_entry log_entry[LOG_ENTRIES_MAX];
    struct failsafe_event failsafe[4];
    struct walk walk;
    struct walk_view walk_view;
    struct survey survey;
    struct trial_view trial;
};

struct scene_row {
    const char *name;
    void (*make)(struct scene *scene);
};

extern const struct scene_row scene_rows[];
extern const size_t scene_rows_count;

/* Fills the scene of that name; false where there is none. */
bool scene_make(struct scene *scene, const char *name);

#endif
