#include "console/caution.h"

#include <stdio.h>
#include <termios.h>
#include <unistd.h>

#include "app/commands.h"
#include "app/words.h"
#include "source/source.h"

static bool caution_needed(const char *path, const struct options *o, const struct setup *s) {
    struct model model;
    setup_model(s, &model);
    return !o->yes && !model.opening_harmless && source_may_restart(path);
}

int caution_ask(const char *path, const struct options *o, const struct setup *s) {
    if (!caution_needed(path, o, s))
        return STATUS_ANSWER;
    fprintf(stderr, "%s\n", words_caution);
    if (!isatty(STDIN_FILENO)) {
        words_say("nobody can be asked here: add --yes when it is safe to open '%s'", path);
        return STATUS_USAGE;
    }
    tcflush(STDIN_FILENO, TCIFLUSH); /* what was typed before the question is no answer to it */
    if (words_ask("Open it? Type yes:"))
        return STATUS_ANSWER;
    words_say("not opened");
    return STATUS_USAGE;
}
