/* The encoder, to be copied into a sketch. */
#include <stdio.h>
#include <string.h>

#include "app/commands.h"
#include "app/sketch_text.h"
#include "app/words.h"

static const struct {
    const char *name;
    const char *const *lines;
} files[] = {{"emit.h", emit_h}, {"emit.c", emit_c}};

static void print_file(const char *const *line) {
    for (; *line; line++)
        puts(*line);
}

static void explain(void) {
    fputs("emit.h and emit.c print the lines from your own sketch. Put both beside it:\n"
          "\n"
          "  airleash sketch emit.h > emit.h\n"
          "  airleash sketch emit.c > emit.c\n"
          "\n"
          "The head of emit.h shows their use; man airleash-board has a whole sketch.\n",
          stdout);
}

int command_sketch(const struct options *o) {
    if (o->operand_count == 0) {
        explain();
        return STATUS_ANSWER;
    }
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++)
        if (strcmp(o->operands[0], files[i].name) == 0) {
            print_file(files[i].lines);
            return STATUS_ANSWER;
        }
    words_say("there is no '%s' to print: it is emit.h or emit.c", o->operands[0]);
    fputs("See: airleash sketch --help\n", stderr);
    return STATUS_USAGE;
}
