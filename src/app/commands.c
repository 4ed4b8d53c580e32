#include "app/commands.h"

#include <stdio.h>
#include <string.h>

#include "app/words.h"
#include "base/text.h"

const struct command commands[COMMANDS] = {
    [COMMAND_PORTS] =
        {"ports", "list the serial ports, opening none", "",
         "Lists what is plugged in, with the name to give to watch and record. A stable name "
         "is shown where the system has one: it stays the same after unplugging.",
         OPERAND_NONE, 0, 0, false, command_ports},
    [COMMAND_WATCH] =
        {"watch", "the live console", "[PORT]",
         "Shows what the link is doing, live. PORT is a serial port, another tty, a pipe, or "
         "- for standard input; without it the only port there is gets offered. Press ? in it "
         "for its keys.\n"
         "\n"
         "Opening a port restarts many boards: take the propeller off, or keep the wheels off "
         "the ground, before you answer yes.",
         OPERAND_PORT, 0, 1, false, command_watch},
    [COMMAND_RECORD] =
        {"record", "record without a screen", "PORT|-|FILE",
         "Writes every line into a CSV file that any spreadsheet opens and that replays to "
         "the same figures. Takes a serial port, another tty, a pipe, - for standard input, or "
         "a raw capture of lines. Ctrl-C ends it in good order.\n"
         "\n"
         "  airleash record /dev/ttyUSB0 --speed auto --out pond.csv\n"
         "  airleash record - --out pond.csv < capture.log",
         OPERAND_PORT, 1, 1, false, command_record},
    [COMMAND_REPLAY] =
        {"replay", "the console on a recording", "FILE.csv",
         "Shows a recording, or a raw capture of lines, as if it were live. Press ? in it for "
         "its keys: pause, pace, and moving about in time. With --switch its chart of a range "
         "walk shows the stops by a switch of the transmitter, as walk finds them.",
         OPERAND_FILE, 1, 1, false, command_replay},
    [COMMAND_FIGURES] =
        {"figures", "the link in figures", "FILE|-",
         "Says what a recording or a raw capture of lines holds: packets, outages, lines, "
         "restarts, failsafe, supply, channels. What can't be known is said, with the key "
         "that the receiver would have to print.",
         OPERAND_FILE, 1, 1, false, command_figures},
    [COMMAND_BUDGET] =
        {"budget", "the link on paper", "",
         "Works out what arrives over a distance, how far the link should reach with so much "
         "in hand, what is radiated against commonly cited limits, and how long a packet "
         "takes. Every figure has a default: give what you know.\n"
         "\n"
         "  airleash budget --kbps 1000 --distance 80\n"
         "  airleash budget --amplified --tx-gain-dbi 3 --margin-db 15",
         OPERAND_NONE, 0, 0, false, command_budget},
    [COMMAND_CAUSES] =
        {"causes", "why the link dropped", "FILE|-",
         "Lists the drops of a recording or raw capture, each with what came before it, and "
         "from ten of a sort on holds them against what could be their cause: servos and "
         "supply, restarts, noise on the air, a rhythm, distance, heading, another "
         "transmitter, the serial lead. A cause is shown when it comes before drops more "
         "often than chance brings; \"not shown\" is a proper answer.",
         OPERAND_FILE, 1, 1, false, command_causes},
    [COMMAND_WALK] =
        {"walk", "the range walk, stop by stop", "FILE|-",
         "Says of each stop of a range walk whether it held, the first distance that failed, "
         "how far to plan, and how far the link reaches. Stops are the marks of a recording; "
         "with --switch they are found by a switch of the transmitter, in a raw capture too.\n"
         "\n"
         "Before the walk let the failsafe trial pass. Model held, propeller off or wheels free, "
         "a helper beside it; mind traffic, water and people, and put a lowered transmit power "
         "back to full afterwards. A range on the ground is no clearance to fly.\n"
         "\n"
         "  airleash walk pond.csv\n"
         "  airleash walk --switch 6 --plan 5,10,20,40 capture.log",
         OPERAND_FILE, 1, 1, false, command_walk},
    [COMMAND_STOPS] =
        {"stops", "mend a walk's marks afterwards", "FILE.csv",
         "Lists the marks of a recording with their numbers; with --add, --move or --strike "
         "mends them. Nothing is rewritten: a change is a row at the end of the file, and "
         "airleash walk goes by it. Times are seconds of the run, as walk shows them.\n"
         "\n"
         "  airleash stops pond.csv --add 61.5:40\n"
         "  airleash stops pond.csv --move 3:75 --strike 4",
         OPERAND_FILE, 1, 1, false, command_stops},
    [COMMAND_JUDGE] =
        {"judge", "the guided trials of a recording, judged again", "FILE|-",
         "Says what the guided trials of a recording showed: what is proven, what failed, what "
         "was never tried. They are judged from what was recorded, with the model file's limits, "
         "or "
         "with others:\n"
         "\n"
         "  airleash judge bench.csv --limit throttle_low_ms=800\n"
         "\n"
         "The exit status is 1 where a trial failed.",
         OPERAND_FILE, 1, 1, false, command_judge},
    [COMMAND_COMPARE] =
        {"compare", "did a change help", "A... --with B...",
         "Compares recordings from before a change (A) with those from after it (B): loss, "
         "with what chance alone would do, outages, jitter, supply, noise. One A and one B "
         "can't tell a change from drift: record in turns, A, B, B, A, changing nothing else. "
         "--keep writes what it needs of A into a file that can stand for A later on.\n"
         "\n"
         "  airleash compare old1.csv old2.csv --with new1.csv new2.csv\n"
         "  airleash compare good1.csv good2.csv --keep tug.base\n"
         "  airleash compare tug.base --with today.csv",
         OPERAND_FILE, 1, 64, false, command_compare},
    [COMMAND_MODEL] =
        {"model", "a model file to begin with", "PORT|-|FILE",
         "Writes a commented model file from what is on the wire: a port is watched for "
         "some seconds, a recording or a capture of lines is read. What the lines tell is "
         "filled in, the rest stands there as comments.\n"
         "\n"
         "  airleash model /dev/ttyUSB0 > tug.ini\n"
         "\n"
         "Opening a port restarts many boards: take the propeller off, or keep the wheels off "
         "the ground, before you answer yes.",
         OPERAND_PORT, 1, 1, false, command_model},
    [COMMAND_CHART] =
        {"chart", "pictures of a recording", "FILE...",
         "Draws a picture of a recording or raw capture: into an .svg, .png or .pdf file, or, "
         "without --out, as characters on the terminal. Which one, --what says: "
         "loss, channels, supply, outages, walk, paper, band, trials, or compare (two sets, "
         "with --with between them). Equal recordings give equal files.\n"
         "\n"
         "  airleash chart pond.csv\n"
         "  airleash chart pond.csv --what supply --out supply.svg\n"
         "  airleash chart before.csv --with after.csv --out helped.png",
         OPERAND_FILE, 1, 64, false, command_chart},
    [COMMAND_REPORT] =
        {"report", "a recording on one page", "FILE",
         "Writes one page of HTML about a recording or raw capture: the answers first, "
         "then pictures, the range walk, the link budget against it, the band, the guided "
         "trials, causes, figures with intervals, what is unknown and which key would "
         "tell, the facts of the recording, cautions. It needs no network and no scripts. "
         "Equal recordings give equal pages.\n"
         "\n"
         "  airleash report pond.csv --out pond.html",
         OPERAND_FILE, 1, 1, false, command_report},
    [COMMAND_SIMULATE] =
        {"simulate", "a simulated receiver", "",
         "Prints what a receiver in a home-built harbour tug would print, on a "
         "pseudo-terminal whose name it tells (or with --lines on standard output), so that "
         "everything can be tried without hardware. Equal seeds give equal lines.",
         OPERAND_NONE, 0, 0, false, command_simulate},
    [COMMAND_DEMO] = {"demo", "a simulated receiver and the console on it", "",
                      "Runs the simulated receiver and the live console on it.", OPERAND_NONE, 0, 0,
                      false, command_demo},
    [COMMAND_SKETCH] =
        {"sketch", "the encoder for your own sketch", "[emit.h|emit.c]",
         "Prints emit.h or emit.c, the two files that make your own sketch print the lines: "
         "freestanding C99 for an 8-bit board, also for use from C++. Without a name it says "
         "how to use them.\n"
         "\n"
         "  airleash sketch emit.h > emit.h\n"
         "  airleash sketch emit.c > emit.c",
         OPERAND_SKETCH, 0, 1, false, command_sketch},
    [COMMAND_COMPLETION] =
        {"completion", "completion for a shell", "bash|zsh|fish",
         "Prints the completion script of a shell. Installed ones are found by themselves.",
         OPERAND_SHELL, 1, 1, true, command_completion},
    [COMMAND_HELP] = {"help", "this help, or that of a command", "[COMMAND]",
                      "airleash help COMMAND is the same as airleash COMMAND --help.",
                      OPERAND_COMMAND, 0, 1, false, command_help},
};

const struct command *command_find(const char *name) {
    for (size_t i = 0; i < COMMANDS; i++)
        if (strcmp(commands[i].name, name) == 0)
            return &commands[i];
    return NULL;
}

void help_main(void) {
    printf("airleash %s: a bench console for home-built radio-control links\n\n"
           "usage: airleash COMMAND [OPTIONS] [PORT or FILE]\n\n",
           AIRLEASH_VERSION);
    for (size_t i = 0; i < COMMANDS; i++)
        if (!commands[i].hidden)
            printf("  %-9s %-13s %s\n", commands[i].name, commands[i].synopsis,
                   commands[i].summary);
    fputs("\nWithout a command the ports are listed, and one is offered.\n"
          "No hardware at hand? Try: airleash demo\n"
          "Options of a command: airleash COMMAND --help\n"
          "Exit status: 0 an answer was given, 1 a trial or check failed, 2 usage,\n"
          "3 trouble with a file or port.\n"
          "Also: airleash --version, airleash completion bash|zsh|fish\n",
          stdout);
}

/* A text in lines of 80 columns, those after the first indented. */
static void put_filled(const char *text, int indent) {
    enum { COLUMNS = 80 };
    for (const char *line = text; *line != '\0';) {
        const char *rest;
        size_t len = text_fill(line, (size_t)(COLUMNS - indent), &rest);
        printf("%*s%.*s\n", line == text ? 0 : indent, "", (int)len, line);
        line = rest;
    }
}

static void help_option(const struct option_row *row) {
    enum { INDENT = 28 };
    char name[64];
    snprintf(name, sizeof name, "--%s%s%s", row->name, row->argument ? " " : "",
             row->argument ? row->argument : "");
    char letter[4] = {'-', row->letter, ',', '\0'};
    printf("  %3s %-21s ", row->letter ? letter : "", name);
    put_filled(row->help, INDENT);
}

void help_command(const struct command *c) {
    enum command_id id = (enum command_id)(c - commands);
    printf("usage: airleash %s%s%s [OPTIONS]\n\n%s: %s\n\n", c->name, c->synopsis[0] ? " " : "",
           c->synopsis, c->name, c->summary);
    put_filled(c->details, 0);
    putchar('\n');
    for (size_t i = 0; i < option_row_count; i++)
        if (option_taken(&option_rows[i], id))
            help_option(&option_rows[i]);
}

int command_help(const struct options *o) {
    if (o->operand_count == 0) {
        help_main();
        return STATUS_ANSWER;
    }
    const struct command *c = command_find(o->operands[0]);
    if (c) {
        help_command(c);
        return STATUS_ANSWER;
    }
    words_say("there is no command '%s'", o->operands[0]);
    fputs("See: airleash --help\n", stderr);
    return STATUS_USAGE;
}
