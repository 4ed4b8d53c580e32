/* The pictures: each a pure function from what is known of a run to a picture.  Whatever has an
 * interval shows it; what isn't known is said in words on the page, with what would tell. */
#ifndef PICTURE_PICTURES_H
#define PICTURE_PICTURES_H

#include "link/measure.h"
#include "picture/picture.h"
#include "study/course.h"
#include "study/survey.h"

struct picture_facts {
    const char *file; /* shown under the title; NULL: nothing */
    const struct snapshot *s;
    const struct measures *m;
    const struct course *course;
    const struct survey *survey;
    double supply_alarm_mv;          /* alarm below; 0: none */
    const struct picture_room *room; /* NULL: the usual page */
};

/* Each begins with picture_init. */
void picture_loss(struct picture *p, enum picture_size size, const struct picture_facts *facts);
void picture_supply(struct picture *p, enum picture_size size, const struct picture_facts *facts);
void picture_channels(struct picture *p, enum picture_size size, const struct picture_facts *facts);
void picture_outages(struct picture *p, enum picture_size size, const struct picture_facts *facts);
void picture_band(struct picture *p, enum picture_size size, const struct picture_facts *facts);

#endif
