#include <langinfo.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/commands.h"
#include "app/print_out.h"
#include "app/walk_file.h"
#include "app/words.h"
#include "picture/picture_out.h"
#include "picture/picture_walk.h"
#include "text/walk_text.h"
#include "json/json.h"

/* Of the long version. */
static int print_picture(const struct walk_run *run, const struct reach *reach) {
    struct picture *p = malloc(sizeof *p);
    bool ascii = strcmp(nl_langinfo(CODESET), "UTF-8") != 0;
    if (!p)
        return print_out_no_memory(); /* the text itself has been printed */
    putchar('\n');
    picture_walk(p, PICTURE_CELLS,
                 &(struct picture_walk){.walk = &run->walk, .reach = reach, .acked = run->acked});
    bool drawn = picture_cells(p, ascii, print_out, NULL);
    free(p);
    return drawn ? STATUS_ANSWER : print_out_no_memory();
}

static int print(const struct options *o, const struct walk_run *run) {
    struct reach reach;
    struct reduced reduced;
    walk_file_reach(o, run, &reach, &reduced);
    struct walk_facts facts;
    walk_file_facts(o, run, o->operands[0], &facts);
    facts.reach = &reach;
    facts.reduced = &reduced;
    if (!o->json) {
        walk_text(&run->walk, &facts, print_out, NULL);
        if (o->all && run->walk.count > 0)
            return print_picture(run, &reach);
        return STATUS_ANSWER;
    }
    return print_out_json(walk_json(&run->walk, &facts));
}

int command_walk(const struct options *o) {
    struct walk_run *run = malloc(sizeof *run);
    if (!run)
        return print_out_no_memory();
    int status = walk_file_read(o, o->operands[0], WALK_STOPS, run);
    if (status == STATUS_ANSWER)
        status = print(o, run);
    free(run);
    return status;
}
