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
#include "print/picture_compare.h"
#include "print/picture_paper.h"
#include "print/picture_trials.h"
#include "print/picture_walk.h"
#include "print/pictures.h"

struct gallery {
    const struct options *o;
    struct setup setup;
    struct fold fold;
    struct course course;
    struct snapshot s;
    struct measures m;
    struct feed_facts fed;
    struct picture_facts facts;
    char name[128];        /* of the file, without its folder, printable */
    struct walk_run *walk; /* NULL before gallery_walk */
    struct reach reach;    /* of it */
    struct on_paper paper;
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
    /* An enum status; what is wrong was said. */
    int (*draw)(struct gallery *g, struct picture *p, enum picture_size size);
};
extern const struct gallery_row gallery_rows[];
extern const size_t gallery_row_count;

int gallery_find(const char *name); /* index, -1: there is none */

/* Empty; gallery_read is left out where two sets are compared. */
void gallery_init(struct gallery *g, const struct options *o);

/* Reads a recording or capture.  g is large: the caller allocates it.  An enum status; what is
 * wrong was said. */
int gallery_read(struct gallery *g, const char *path);
void gallery_release(struct gallery *g);

/* The walk in it, read anew, once: a walk's marks may be amended.  An enum status; what is wrong
 * was said. */
int gallery_walk(struct gallery *g);

/* The link on paper, with the field's range where there is one: by --walked, else by a walk. */
int gallery_paper(struct gallery *g, struct picture_paper *out);

/* The picture to show where none was named: what the recording is about. */
int gallery_first(const struct gallery *g);

#endif
