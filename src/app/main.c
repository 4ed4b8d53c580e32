/* The program: finds the command, reads its options, runs it. */
#include <errno.h>
#include <locale.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "app/commands.h"
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

static int run(int argc, char **argv) {
    if (argc < 2)
        return command_offer();
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0) {
        help_main();
        return STATUS_ANSWER;
    }
    if (strcmp(argv[1], "--version") == 0 || strcmp(argv[1], "-V") == 0) {
        puts("airleash " AIRLEASH_VERSION);
        return STATUS_ANSWER;
    }
    const struct command *c = command_find(argv[1]);
    if (!c)
        return unknown_command(argv[1]);
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
    /* Numbers keep their point in every locale; only the character set is the user's. */
    setlocale(LC_CTYPE, "");
    int status = run(argc, argv);
    bool failed = ferror(stdout) != 0;
    errno = 0;
    if (fflush(stdout) == 0 && !failed)
        return status;
    /* A reader that has had enough, such as head, is no trouble. */
    if (errno == EPIPE)
        return status;
    words_say("can't write to standard output: %s",
              errno ? strerror(errno) : "an earlier write failed");
    return status == STATUS_ANSWER ? STATUS_TROUBLE : status;
}
