#include <stdio.h>
#include <stdlib.h>

#include "app/commands.h"
#include "app/print_out.h"
#include "app/samples.h"
#include "app/walk_file.h"
#include "app/words.h"
#include "base/printable.h"
#include "text/compare_text.h"
#include "json/json.h"

enum { DRAWS = 9999 };

struct sides {
    struct samples a, b;
};

static int usage(const char *text) {
    words_say("%s", text);
    fputs("See: airleash compare --help\n", stderr);
    return STATUS_USAGE;
}

static int check(const struct options *o) {
    if (o->with < 0 && o->keep == NULL)
        return usage("compare needs --with between the recordings before and those after the "
                     "change: airleash compare before.csv --with after.csv");
    if (o->with == 0)
        return usage(
            "there is no recording before --with: name those from before the change there");
    if (o->with == o->operand_count)
        return usage("there is no recording after --with: name those from after the change there");
    return STATUS_ANSWER;
}

static int load(struct sides *sides, const struct options *o) {
    int status = STATUS_ANSWER;
    for (int i = 0; i < o->operand_count && status == STATUS_ANSWER; i++) {
        bool after = o->with >= 0 && i >= o->with;
        status = samples_load(after ? &sides->b : &sides->a, o, o->operands[i]);
    }
    return status;
}

/* The walk's curve; an enum status. */
static int read_walk(const struct options *o, struct compare_walk *out) {
    struct reduced reduced;
    struct walk_run *run = malloc(sizeof *run);
    if (run == NULL)
        return print_out_no_memory();
    int status = walk_file_read(o, o->walk, WALK_STOPS, run);
    *out = (struct compare_walk){.file = o->walk};
    if (status == STATUS_ANSWER)
        walk_file_reach(o, run, &out->reach, &reduced);
    free(run);
    return status;
}

static int print(const struct options *o, const struct sides *sides, struct compare_walk *walk) {
    struct side_samples a = samples_side(&sides->a), b = samples_side(&sides->b);
    struct compare found;
    bool memory = compare_find(&a, &b, DRAWS, &found);
    if (memory && walk)
        worth_find(&found, &walk->reach, &walk->worth);
    char *json = memory && o->json ? compare_json(&found, &a, &b, walk) : NULL;
    if (!memory || (o->json && json == NULL))
        return print_out_no_memory();
    if (json)
        puts(json);
    else
        compare_text(&found, &a, &b, walk, print_out, NULL);
    free(json);
    return STATUS_ANSWER;
}

int command_compare(const struct options *o) {
    struct compare_walk walk;
    int status = check(o);
    if (status != STATUS_ANSWER)
        return status;
    struct sides *sides = calloc(1, sizeof *sides);
    if (sides == NULL)
        return print_out_no_memory();
    status = load(sides, o);
    if (status == STATUS_ANSWER && o->keep != NULL)
        status = samples_keep(&sides->a, o->keep, o->force);
    char kept[WORDS_MAX];
    if (status == STATUS_ANSWER && o->keep != NULL)
        fprintf(o->with < 0 ? stdout : stderr, "kept %u recording%s in %s\n", sides->a.count,
                sides->a.count == 1 ? "" : "s", printable(kept, sizeof kept, o->keep));
    if (status == STATUS_ANSWER && o->with >= 0 && o->walk)
        status = read_walk(o, &walk);
    if (status == STATUS_ANSWER && o->with >= 0)
        status = print(o, sides, o->walk ? &walk : NULL);
    samples_release(&sides->a);
    samples_release(&sides->b);
    free(sides);
    return status;
}
