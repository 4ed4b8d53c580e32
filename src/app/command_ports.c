#include <errno.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "app/commands.h"
#include "app/words.h"
#include "base/number.h"
#include "base/printable.h"
#include "source/source.h"
#include "json/json_text.h"

enum { PORTS_MAX = 64 };

/* The ports, to be freed, and their number (-1: trouble, said). */
static struct source_port *list(int *count) {
    struct source_port *ports = calloc(PORTS_MAX, sizeof *ports);
    *count = ports ? source_list(ports, PORTS_MAX) : -1;
    if (*count > PORTS_MAX)
        *count = PORTS_MAX;
    if (*count < 0)
        words_say("can't list the serial ports: %s", strerror(ports ? errno : ENOMEM));
    return ports;
}

static void print_text(const struct source_port *ports, int count) {
    char path[sizeof ports->path];
    for (int i = 0; i < count; i++) {
        printf("%s\n", printable(path, sizeof path, ports[i].path));
        if (strcmp(ports[i].path, ports[i].device) != 0)
            printf("    now %s\n", printable(path, sizeof path, ports[i].device));
        if (ports[i].description[0])
            printf("    %s\n", ports[i].description);
        if (ports[i].vendor >= 0)
            printf("    USB %04x:%04x\n", (unsigned)ports[i].vendor, (unsigned)ports[i].product);
    }
    if (count == 0)
        puts("There is no serial port. Plug the receiver in (with a cable that carries data, not\n"
             "only power), or try without one: airleash demo");
}

static json_t *usb_id(int id) {
    return id >= 0 ? json_integer(id) : json_null();
}

static void print_json(const struct source_port *ports, int count) {
    json_t *list = json_array();
    for (int i = 0; i < count; i++)
        json_array_append_new(
            list, json_pack("{s:s, s:s, s:s, s:o, s:o}", "path", ports[i].path, "device",
                            ports[i].device, "description", ports[i].description, "vendor",
                            usb_id(ports[i].vendor), "product", usb_id(ports[i].product)));
    json_t *all = json_pack("{s:s, s:o}", "format", "airleash-ports-1", "ports", list);
    char *text = json_text(all, 15);
    puts(text ? text : "null");
    free(text);
}

int command_ports(const struct options *o) {
    int count;
    struct source_port *ports = list(&count);
    if (count >= 0 && o->json)
        print_json(ports, count);
    else if (count >= 0)
        print_text(ports, count);
    free(ports);
    return count < 0 ? STATUS_TROUBLE : STATUS_ANSWER;
}

/* The port that the person chooses, or -1. */
static int choose(int count) {
    char answer[16] = "";
    uint32_t number;
    if (count == 1)
        return words_ask("Start watching it? y/n") ? 0 : -1;
    fprintf(stderr, "Watch which one? 1-%d, or only Enter for none: ", count);
    if (!fgets(answer, sizeof answer, stdin))
        return -1;
    answer[strcspn(answer, "\r\n")] = '\0';
    if (number_u32(slice_of(answer), &number) != NUMBER_OK || number < 1 ||
        number > (uint32_t)count)
        return -1;
    return (int)number - 1;
}

int command_offer(void) {
    int count;
    struct source_port *ports = list(&count);
    int status = count < 0 ? STATUS_TROUBLE : STATUS_ANSWER;
    if (count >= 0)
        print_text(ports, count);
    fflush(stdout);
    int chosen = count > 0 && isatty(STDIN_FILENO) && isatty(STDOUT_FILENO) ? choose(count) : -1;
    if (chosen >= 0) {
        struct options o;
        char *operands[] = {ports[chosen].path, NULL};
        options_default(&o, COMMAND_WATCH);
        o.operands = operands;
        o.operand_count = 1;
        status = command_watch(&o);
    } else if (count > 0)
        printf("Watch one with: airleash watch %s\n", ports[0].path);
    if (count >= 0 && chosen < 0)
        puts("All commands: airleash --help");
    free(ports);
    return status;
}
