/* The options of the whole program: one const table that parsing, help, completion and the man page
 * walk.  A command takes the options whose mask has its bit. */
#ifndef APP_OPTIONS_H
#define APP_OPTIONS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "radio/budget.h"
#include "study/switch.h"

enum command_id {
    COMMAND_PORTS,
    COMMAND_WATCH,
    COMMAND_RECORD,
    COMMAND_REPLAY,
    COMMAND_FIGURES,
    COMMAND_BUDGET,
    COMMAND_CAUSES,
    COMMAND_WALK,
    COMMAND_STOPS,
    COMMAND_JUDGE,
    COMMAND_COMPARE,
    COMMAND_MODEL,
    COMMAND_CHART,
    COMMAND_REPORT,
    COMMAND_SIMULATE,
    COMMAND_DEMO,
    COMMAND_SKETCH,
    COMMAND_COMPLETION,
    COMMAND_HELP,
    COMMANDS
};

enum { LIMITS_MAX = 24, OPTION_ROWS_MAX = 96 };

/* What the command line said.  Strings are those of argv. */
struct options {
    enum command_id command;
    char **operands; /* what is no option */
    int operand_count;
    int with; /* of compare: how many operands came before --with; -1 without it */
    const char *out, *model, *on_alarm, *truth, *keep, *reference, *other; /* NULL when not given */
    struct options_until {
        bool given, differs; /* differs from the reference, else a limit: */
        double loss;         /* share */
    } until;
    bool yes, far, ascii, mono, mute, force, json, all, lines, fast, scenes;
    int speed;                   /* bits a second, or SPEED_AUTO */
    int scene;                   /* index into simulator_scenes */
    int what;                    /* index into gallery_rows, -1 when not given */
    bool dark, narrow;           /* of chart */
    uint64_t seed;               /* default 1 */
    uint32_t only;               /* sections of the figures as a mask, 0 when not given */
    double rate_hz;              /* 0 when not given */
    double for_s;                /* 0 when not given */
    double from_s;               /* default 0 */
    uint32_t step;               /* power step of budget, 0 when not given */
    struct budget_inputs budget; /* NAN where a number follows from others unless it is given */
    double walked_m, level_dbm;  /* of budget, NAN when not given */
    const char *walk;            /* a walk's file for another command; NULL when not given */
    double pace;                 /* times real time, default 1; 0 as fast as possible */
    /* the walk */
    struct plan plan;                /* default: plan_default */
    bool planned;                    /* it was given */
    uint32_t switch_channel;         /* from 1; 0: not given */
    double stay_s;                   /* default 15 */
    bool drive;                      /* for boats and cars; default: for flying */
    double max_loss, max_turned;     /* per cent; 0 when not given */
    double max_gap_ms;               /* likewise */
    double loss_limit;               /* per cent, default 10 */
    double full_power_db;            /* 0 when not given */
    const char *add, *move, *strike; /* amendments; NULL when not given */
    int limit_count;
    const char *limits[LIMITS_MAX]; /* "NAME=VALUE", as in a model file */
    bool given[OPTION_ROWS_MAX];    /* by the place in option_rows; see options_given */
};

enum { SPEED_AUTO = 0, SPEED_DEFAULT = 115200 };

struct option_row {
    const char *name;
    char letter;          /* 0: none */
    const char *argument; /* its name in the help, NULL: takes none */
    int kind;             /* index into the kinds of options.c: how the value is read */
    uint32_t commands;    /* bit 1u << enum command_id */
    size_t offset;        /* in struct options */
    const char *help;     /* one line */
    const char
        *values; /* for completion: words, or "@file", "@scene", "@section"; NULL: none known */
};
extern const struct option_row option_rows[];
extern const size_t option_row_count;

static inline bool option_taken(const struct option_row *row, enum command_id command) {
    return (row->commands >> command & 1u) != 0;
}

enum parsed {
    PARSED_RUN,   /* run the command */
    PARSED_HELP,  /* its help was asked for */
    PARSED_WRONG, /* said on standard error what is wrong: exit with STATUS_USAGE */
};

/* Whether the command line gave the option of this name. */
bool options_given(const struct options *o, const char *name);

void options_default(struct options *o, enum command_id command);

/* Reads argv[1...] of a command (argv[0] is its name).  Changes the order of argv. */
enum parsed options_parse(struct options *o, enum command_id command, int argc, char **argv);

#endif
