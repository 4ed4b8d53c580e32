#include "app/print_out.h"

#include <stdio.h>
#include <stdlib.h>

#include "app/commands.h"
#include "app/words.h"

void print_out(void *where, const char *bytes, size_t len) {
    (void)where;
    fwrite(bytes, 1, len, stdout);
}

int print_out_json(char *json) {
    if (!json)
        return print_out_no_memory();
    puts(json);
    free(json);
    return STATUS_ANSWER;
}

int print_out_no_memory(void) {
    words_say("no memory left");
    return STATUS_TROUBLE;
}
