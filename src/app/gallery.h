/* Everything that the pictures of a recording need, by one reading of it, and which pictures there
 * are: a table that options, help and completion walk. */
#ifndef APP_GALLERY_H
#define APP_GALLERY_H

#include "app/feed.h"
#include "app/fold.h"
#include "app/on_paper.h"
#include "app/samples.h"
#include "app/trials.h"
#include "app/walk_file.h"
#include "picture/picture_compare.h"
#include "picture/picture_paper.h"
#include "picture/picture_trials.h"
#include "picture/picture_walk.h"
#include "picture/pictures.h"

struct gallery {
    const struct options *o;
    struct setup setup;
    struct fold fold;
    struct course course;
    struct snapshot s;
    struct measures m;
    struct feed_facts fed;
    struct picture_facts facts;
    char name[128];         /* of the file, without its folder, printable */
    struct walk_run *walk;  /* NULL before gallery_walk */
    struct reach reach;     /* of it */
    struct reduced reduced; /* what it tells of full power */
    struct on_paper paper;  /* of gallery_paper */
    struct budget_facts field;
    struct budget_walk walked;
    struct missing by_range, by_level;
    struct trials trials;
    struct samples before, after; /* of a comparison */
    /* Who else looks on at gallery_read, set before it; NULL: nobody. */
    event_sink *events;
    moment_sink *moments;
    void *also; /* context of both */
    struct compare compared;
};

struct gallery_row {
    const char *name;  /* as --what takes it */
    const char *about; /* one line */
    /* Whether the recording holds anything of it. */
    bool (*holds)(const struct gallery *g);
    /* One of the two: by the recording's facts alone, or by more.  The latter gives an enum status;
     * what is wrong was said. */
    void (*picture)(struct picture *p, enum picture_size size, const struct picture_facts *facts);
    int (*draw)(struct gallery *g, struct picture *p, enum picture_size size);
};
extern const struct gallery_row gallery_rows[];
extern const size_t gallery_row_count;

int gallery_find(const char *name); /* index, -1: there is none */

/* Draws that row's picture.  An enum status; what is wrong was said. */
int gallery_draw(struct gallery *g, int row, struct picture *p, enum picture_size size);

/* Empty; gallery_read is left out where two sets are compared. */
void gallery_init(struct gallery *g, const struct options *o);

/* Reads a recording or capture.  g is large: the caller allocates it.  An enum status; what is
 * wrong was said. */
int gallery_read(struct gallery *g, const char *path);
void gallery_release(struct gallery *g);

/* The walk in it, read anew, once: a walk's marks may be amended.  An enum status; what is wrong
 * was said. */
int gallery_walk(struct gallery *g);

/* Whether paper has a field to stand against: a walk with stops, --walked or --level-dbm. */
bool gallery_has_field(const struct gallery *g);

/* The link on paper into paper, and what the field says against it into field: by --walked and
 * --level-dbm, and by a walk where there are stops.  An enum status; what is wrong was said. */
int gallery_paper(struct gallery *g);

/* The picture to show where none was named: what the recording is about. */
int gallery_first(const struct gallery *g);

#endif
