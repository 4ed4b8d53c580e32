/* Completion scripts, made from the tables of commands and options. */
#include <stdio.h>
#include <string.h>

#include "app/commands.h"
#include "app/gallery.h"
#include "app/words.h"
#include "simulator/simulator.h"
#include "text/sections.h"

/* What can stand after an option: "@file" and the like made into words. */
static void put_values(const char *values) {
    if (strcmp(values, "@what") == 0) {
        for (size_t i = 0; i < gallery_row_count; i++)
            printf("%s%s", i ? " " : "", gallery_rows[i].name);
        return;
    }
    bool scenes = strcmp(values, "@scene") == 0;
    if (!scenes && strcmp(values, "@section") != 0) {
        fputs(values, stdout);
        return;
    }
    for (size_t i = 0; i < (scenes ? simulator_scene_count : (size_t)SECTIONS); i++)
        printf("%s%s", i ? " " : "", scenes ? simulator_scenes[i].name : figures_sections[i].name);
}

static bool is_file(const struct option_row *row) {
    return row->values && strcmp(row->values, "@file") == 0;
}

/* Text inside single quotes of bash and zsh. */
static void put_quoted(const char *text) {
    for (const char *c = text; *c; c++)
        if (*c == '\'')
            fputs("'\\''", stdout);
        else
            putchar(*c);
}

static void put_commands(const char *between) {
    for (size_t i = 0; i < COMMANDS; i++)
        printf("%s%s", i ? between : "", commands[i].name);
}

static void bash_options(enum command_id id) {
    printf("        %s) options='", commands[id].name);
    for (size_t i = 0; i < option_row_count; i++)
        if (option_taken(&option_rows[i], id))
            printf("--%s ", option_rows[i].name);
    puts("' ;;");
}

static void bash_argument(const struct option_row *row) {
    if (!row->argument)
        return;
    printf("        --%s", row->name);
    if (row->letter)
        printf("|-%c", row->letter);
    if (is_file(row)) {
        puts(") _airleash_files; return ;;");
        return;
    }
    fputs(") COMPREPLY=($(compgen -W '", stdout);
    if (row->values)
        put_values(row->values);
    puts("' -- \"$word\")); return ;;");
}

static const char *const bash_operands[] = {
    [OPERAND_NONE] = "",
    [OPERAND_PORT] = "_airleash_ports",
    [OPERAND_FILE] = "_airleash_files",
    [OPERAND_SKETCH] = "COMPREPLY=($(compgen -W 'emit.h emit.c' -- \"$word\"))",
    [OPERAND_SHELL] = "COMPREPLY=($(compgen -W 'bash zsh fish' -- \"$word\"))",
    [OPERAND_COMMAND] = "COMPREPLY=($(compgen -W \"$commands\" -- \"$word\"))",
};

static void bash(void) {
    fputs("# bash completion of airleash, made by: airleash completion bash\n"
          "_airleash_files() {\n"
          "    compopt -o filenames 2>/dev/null\n"
          "    mapfile -t COMPREPLY < <(compgen -f -- \"$word\")\n"
          "}\n\n"
          "_airleash_ports() {\n"
          "    local ports\n"
          "    ports=$(compgen -G '/dev/ttyUSB*'; compgen -G '/dev/ttyACM*'; "
          "compgen -G '/dev/serial/by-id/*'; compgen -G '/dev/pts/[0-9]*')\n"
          "    mapfile -t COMPREPLY < <(compgen -W \"$ports\" -- \"$word\")\n"
          "    ((${#COMPREPLY[@]} > 0)) || _airleash_files\n"
          "}\n\n"
          "_airleash() {\n"
          "    local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]}\n"
          "    local command=${COMP_WORDS[1]} options='' commands='",
          stdout);
    put_commands(" ");
    fputs("'\n"
          "    COMPREPLY=()\n"
          "    if ((COMP_CWORD == 1)); then\n"
          "        COMPREPLY=($(compgen -W \"$commands --help --version\" -- \"$word\"))\n"
          "        return\n"
          "    fi\n"
          "    case $before in\n",
          stdout);
    for (size_t i = 0; i < option_row_count; i++)
        bash_argument(&option_rows[i]);
    puts("    esac\n    case $command in");
    for (int i = 0; i < COMMANDS; i++)
        bash_options((enum command_id)i);
    puts("    esac\n"
         "    if [[ $word == -* ]]; then\n"
         "        COMPREPLY=($(compgen -W \"$options\" -- \"$word\"))\n"
         "        return\n"
         "    fi\n"
         "    case $command in");
    for (size_t i = 0; i < COMMANDS; i++)
        if (commands[i].operand != OPERAND_NONE)
            printf("        %s) %s ;;\n", commands[i].name, bash_operands[commands[i].operand]);
    puts("    esac\n}\n\ncomplete -F _airleash airleash");
}

/* One specification of zsh's _arguments. */
static void zsh_option(const struct option_row *row) {
    fputs("            '", stdout);
    if (row->letter)
        printf("(-%c --%s)'{-%c,--%s}'", row->letter, row->name, row->letter, row->name);
    else
        printf("--%s", row->name);
    putchar('[');
    put_quoted(row->help);
    putchar(']');
    if (row->argument) {
        printf(":%s:", row->argument);
        if (is_file(row))
            fputs("_files", stdout);
        else if (row->values) {
            putchar('(');
            put_values(row->values);
            putchar(')');
        }
    }
    puts("' \\");
}

static const char *const zsh_operands[] = {
    [OPERAND_NONE] = "",
    [OPERAND_PORT] = "'1:port:_files'",
    [OPERAND_FILE] = "'1:file:_files'",
    [OPERAND_SKETCH] = "'1:file:(emit.h emit.c)'",
    [OPERAND_SHELL] = "'1:shell:(bash zsh fish)'",
    [OPERAND_COMMAND] = "\"1:command:($names)\"", /* the shell fills the names in */
};

static void zsh(void) {
    puts("#compdef airleash\n"
         "# zsh completion of airleash, made by: airleash completion zsh\n\n"
         "_airleash() {\n"
         "    local -a names described\n"
         "    described=(");
    for (size_t i = 0; i < COMMANDS; i++) {
        printf("        '%s:", commands[i].name);
        put_quoted(commands[i].summary);
        puts("'");
    }
    puts("    )\n"
         "    names=(${described%%:*})\n"
         "    if ((CURRENT == 2)); then\n"
         "        _describe command described\n"
         "        return\n"
         "    fi\n"
         "    local command=$words[2]\n"
         "    shift words\n"
         "    ((CURRENT--))\n"
         "    case $command in");
    for (int c = 0; c < COMMANDS; c++) {
        printf("    %s)\n        _arguments -s \\\n", commands[c].name);
        for (size_t i = 0; i < option_row_count; i++)
            if (option_taken(&option_rows[i], (enum command_id)c))
                zsh_option(&option_rows[i]);
        const char *operand = zsh_operands[commands[c].operand];
        printf("            %s\n        ;;\n", operand[0] ? operand : "'*::'");
    }
    puts("    esac\n}\n\n_airleash \"$@\"");
}

/* Text inside single quotes of fish. */
static void put_fish(const char *text) {
    for (const char *c = text; *c; c++) {
        if (*c == '\'' || *c == '\\')
            putchar('\\');
        putchar(*c);
    }
}

static void fish_option(const struct command *c, const struct option_row *row) {
    printf("complete -c airleash -n '__fish_seen_subcommand_from %s' -l %s", c->name, row->name);
    if (row->letter)
        printf(" -s %c", row->letter);
    if (row->argument)
        fputs(is_file(row) ? " -r -F" : " -x", stdout);
    if (row->argument && row->values && !is_file(row)) {
        fputs(" -a '", stdout);
        put_values(row->values);
        putchar('\'');
    }
    fputs(" -d '", stdout);
    put_fish(row->help);
    puts("'");
}

static void fish(void) {
    fputs("# fish completion of airleash, made by: airleash completion fish\n"
          "complete -c airleash -f\n"
          "set -l commands ",
          stdout);
    put_commands(" ");
    putchar('\n');
    for (int i = 0; i < COMMANDS; i++) {
        const struct command *c = &commands[i];
        printf("complete -c airleash -n \"not __fish_seen_subcommand_from $commands\" -a %s -d '",
               c->name);
        put_fish(c->summary);
        puts("'");
        for (size_t k = 0; k < option_row_count; k++)
            if (option_taken(&option_rows[k], (enum command_id)i))
                fish_option(c, &option_rows[k]);
        if (c->operand == OPERAND_PORT || c->operand == OPERAND_FILE)
            printf("complete -c airleash -n '__fish_seen_subcommand_from %s' -F\n", c->name);
        else if (c->operand == OPERAND_SKETCH)
            printf("complete -c airleash -n '__fish_seen_subcommand_from %s' -a 'emit.h emit.c'\n",
                   c->name);
        else if (c->operand == OPERAND_SHELL)
            printf("complete -c airleash -n '__fish_seen_subcommand_from %s' -a 'bash zsh fish'\n",
                   c->name);
    }
}

int command_completion(const struct options *o) {
    static const struct {
        const char *shell;
        void (*print)(void);
    } shells[] = {{"bash", bash}, {"zsh", zsh}, {"fish", fish}};
    for (size_t i = 0; i < sizeof shells / sizeof shells[0]; i++)
        if (strcmp(o->operands[0], shells[i].shell) == 0) {
            shells[i].print();
            return STATUS_ANSWER;
        }
    words_say("no completion for '%s': it takes bash, zsh or fish", o->operands[0]);
    fputs("See: airleash completion --help\n", stderr);
    return STATUS_USAGE;
}
