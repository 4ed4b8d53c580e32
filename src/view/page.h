/* The console's page: a snapshot and what the person is doing, drawn into a grid of any size. */
#ifndef VIEW_PAGE_H
#define VIEW_PAGE_H

#include "link/snapshot.h"
#include "study/survey.h"
#include "view/grid.h"
#include "view/keys.h"
#include "view/walk.h"

enum overlay {
    OVERLAY_NONE,
    OVERLAY_HELP,    /* keys, from the table below */
    OVERLAY_BAND,    /* page.survey as a picture */
    OVERLAY_CAUTION, /* a caution that wants a yes; page.question holds its lines */
    OVERLAY_ENTRY,   /* one line of text is being typed: page.question, page.entry */
    OVERLAY_LEAVE,   /* about to quit: what is still open (reduced power, recording) */
};

struct trial_view;
struct charts_view;

enum replay_mode { REPLAY_NONE, REPLAY_RUNNING, REPLAY_PAUSED, REPLAY_ENDED };

struct page {
    bool far;    /* the big view, read from three metres */
    bool paused; /* the picture stands still; data is still taken */
    enum overlay overlay;
    const char *question;        /* lines divided by \n; may be NULL */
    bool held;                   /* it came by itself just now, and takes no answer yet */
    const char *entry;           /* what was typed so far; may be NULL */
    const struct survey *survey; /* of the band; NULL: none yet */
    const char *source;          /* port or file, for the top line */
    const char *notice;          /* one passing line at the bottom (what a key did); may be NULL */
    enum { LINK_OPEN, LINK_WAITING, LINK_BACK, LINK_LET_GO, LINK_ENDED } port;
    bool read_failed; /* which is why the input, or the replayed file, ended */
    bool recording;
    const char *recording_path; /* NULL when none was asked for */
    uint64_t recording_bytes;
    const char *recording_trouble; /* why rows aren't being written; NULL when all is well */
    bool sound;
    bool reduced_power; /* reminder: the transmitter is, or was last seen, below full power */
    const struct walk_view *walk;     /* its pane over the log_entries; NULL: none */
    int scroll;                       /* log_entries scrolled back by so many lines */
    const struct trial_view *trial;   /* a guided trial, or their list; NULL: none */
    const struct charts_view *charts; /* a chart over the page; NULL: none */
    /* replay */
    enum replay_mode replay;
    int64_t replay_at_us, replay_length_us; /* length TIME_UNKNOWN when not known */
    double replay_pace;                     /* times real time; 0 as fast as possible */
};

/* Where keys work, IN_LIVE and so on, by what the page shows. */
unsigned page_keys(const struct page *p);

/* What a key does there; on a chart what it doesn't want does what it does without. */
enum action page_action(const struct page *p, int key);

/* Rows and columns that a chart has on a screen of that size; both 0 where it has none. */
void page_chart_room(int rows, int columns, const struct page *p, int *room_rows,
                     int *room_columns);

/* Draws everything; g has its size already. */
void page_draw(struct grid *g, const struct snapshot *s, const struct page *p);

/* Words for a log_entry, as the console lists it. */
void page_log_entry_text(char *out, size_t size, const struct log_entry *h);

#endif
