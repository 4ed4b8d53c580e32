/* The commands: a const table that main, help and completion walk, and how each of them runs. */
#ifndef APP_COMMANDS_H
#define APP_COMMANDS_H

#include "app/options.h"

enum status {
    STATUS_ANSWER = 0,  /* an answer was given */
    STATUS_FAILED = 1,  /* a trial or check failed */
    STATUS_USAGE = 2,   /* the command line */
    STATUS_TROUBLE = 3, /* a file or a port */
};

enum operand {
    OPERAND_NONE,
    OPERAND_PORT,
    OPERAND_FILE,
    OPERAND_SKETCH,
    OPERAND_SHELL,
    OPERAND_COMMAND
};

struct command {
    const char *name;
    const char *summary;  /* one line */
    const char *synopsis; /* its operands, "" for none */
    const char *details;  /* paragraphs for its help */
    enum operand operand;
    int least, most; /* operands */
    bool hidden;     /* named in the last line of the main help only */
    int (*run)(const struct options *o);
};

/* Indexed by enum command_id. */
extern const struct command commands[COMMANDS];

/* The command of this name, or NULL. */
const struct command *command_find(const char *name);

/* The main help, and that of a command, on standard output. */
void help_main(void);
void help_command(const struct command *c);

/* Each returns an enum status. */
int command_ports(const struct options *o);
int command_watch(const struct options *o);  /* console.c */
int command_replay(const struct options *o); /* console.c */
int command_demo(const struct options *o);   /* console.c */
int command_record(const struct options *o);
int command_figures(const struct options *o);
int command_budget(const struct options *o);
int command_causes(const struct options *o);
int command_walk(const struct options *o);
int command_stops(const struct options *o);
int command_judge(const struct options *o);
int command_compare(const struct options *o);
int command_model(const struct options *o);
int command_report(const struct options *o);
int command_chart(const struct options *o);
int command_simulate(const struct options *o);
int command_sketch(const struct options *o);
int command_completion(const struct options *o);
int command_help(const struct options *o);

/* No argument at all: the ports are listed, and one is offered. */
int command_offer(void);

#endif
