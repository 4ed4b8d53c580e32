/* The program: finds the command, reads its options, runs it. */
#include <jansson.h>
#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "app/commands.h"
#include "app/standard_out.h"
#include "app/words.h"

static int unknown_command(const char *word) {
    if (word[0] == '-')
        words_say("there is no option '%s' before a command", word);
    else if (access(word, F_OK) == 0)
        words_say("'%s' is a file or port, not a command: say what to do with it, such as watch, "
                  "record or figures",
                  word);
    else
        words_say("there is no command '%s'", word);
    fputs("See: airleash --help\n", stderr);
    return STATUS_USAGE;
}

/* An object that lacks a member for want of memory would pass for whole. */
static void *json_memory(size_t size) {
    void *at = malloc(size);
    if (at || size == 0)
        return at;
    words_say("no memory left");
    exit(STATUS_TROUBLE);
}

static bool draws(const struct command *c) {
    enum command_id id = (enum command_id)(c - commands);
    return id == COMMAND_WATCH || id == COMMAND_REPLAY || id == COMMAND_DEMO;
}

/* Numbers keep their point in every locale; only the character set is the user's.  It takes a while
 * to load, and what is said without a command is ASCII. */
static void take_locale(void) {
    setlocale(LC_CTYPE, "");
}

static int run(int argc, char **argv) {
    if (argc < 2) {
        take_locale();
        return command_offer();
    }
    const struct command *c = command_find(argv[1]);
    if (!c || !draws(c))
        standard_out_begin();
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0) {
        help_main();
        return STATUS_ANSWER;
    }
    if (strcmp(argv[1], "--version") == 0 || strcmp(argv[1], "-V") == 0) {
        puts("airleash " AIRLEASH_VERSION "\n"
             "Licence: GNU General Public License, version 3 or later. There is no warranty.");
        return STATUS_ANSWER;
    }
    if (!c)
        return unknown_command(argv[1]);
    take_locale();
    struct options o;
    switch (options_parse(&o, (enum command_id)(c - commands), argc - 1, argv + 1)) {
    case PARSED_HELP:
        help_command(c);
        return STATUS_ANSWER;
    case PARSED_WRONG:
        return STATUS_USAGE;
    default:
        return c->run(&o);
    }
}

int main(int argc, char **argv) {
    standard_hold();
    json_set_alloc_funcs(json_memory, free);
    return standard_out_end(run(argc, argv));
}
