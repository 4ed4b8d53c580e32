/* The words that a fuzz target's inputs are made of, as a libFuzzer dictionary on standard output,
 * out of the tables that the program itself goes by: so none can go stale.
 *
 * usage: words telemetry|recording|model file|options */
#include <stdio.h>
#include <string.h>

#include "app/commands.h"
#include "app/gallery.h"
#include "app/options.h"
#include "model/model.h"
#include "session/columns.h"
#include "simulator/simulator.h"
#include "study/amend.h"
#include "study/baseline.h"
#include "telemetry/words.h"
#include "text/sections.h"
#include "trial/trial.h"

/* "before word after", escaped as libFuzzer wants it. */
static void entry(const char *before, const char *word, const char *after) {
    const char *parts[] = {before, word, after};
    if (word[0] == '\0')
        return;
    putchar('"');
    for (int i = 0; i < 3; i++)
        for (const char *c = parts[i]; *c != '\0'; c++) {
            unsigned char byte = (unsigned char)*c;
            if (byte < 0x20 || byte > 0x7E)
                printf("\\x%02X", byte);
            else
                printf(*c == '"' || *c == '\\' ? "\\%c" : "%c", *c);
        }
    puts("\"");
}

/* Words divided by one of the bytes of `dividers`. */
static void entries(const char *before, const char *words, const char *dividers) {
    char word[80];
    for (const char *at = words; at != NULL && *at != '\0';) {
        size_t len = strcspn(at, dividers);
        snprintf(word, sizeof word, "%.*s", (int)len, at);
        entry(before, word, "");
        at += len + (at[len] != '\0');
    }
}

static void telemetry_words(void) {
    for (int i = 0; i < REPORT_KEYS; i++)
        entry(" ", report_fields[i].key, "=");
    for (int i = 0; i < IDENTITY_KEYS; i++)
        entry(" ", identity_fields[i].key, "=");
    for (int i = 0; i <= REGISTERS_DIFFER; i++)
        entry("reg=", registers_name((enum radio_registers)i), "");
    for (int i = 0; i <= BOOT_WATCHDOG; i++)
        entry("boot cause=", boot_cause_name((enum boot_cause)i), "\n");
    entries("\n", "rx |id |boot |air |say ", "|");
    entries("", "from=|step=|per=|hits=|hold|off|dyn|raw|us|rx|tx| *|-|4294967295|65535", "|");
}

static void trial_words(void) {
    entries("", "begin|step=|answer=yes|answer=no|answer=ready|answer=|skip|quit|end", "|");
    for (int t = 0; t < TRIALS; t++) {
        const struct trial_kind *kind = trial_kinds[t];
        if (kind == NULL)
            continue;
        entry("", kind->name, " ");
        for (uint32_t i = 0; i < kind->step_count; i++) {
            entry("step=", kind->steps[i].name, "");
            entries("answer=", kind->steps[i].choices, "|");
        }
    }
}

static void recording_words(void) {
    for (size_t i = 0; i < COLUMN_COUNT; i++)
        entry("", session_columns[i].name, ",");
    for (int i = 0; i < EVENT_KINDS; i++)
        entry("\r\n", event_kind_name((enum event_kind)i), ",");
    for (int i = 0; i < DAMAGE_REASONS; i++)
        entry("", damage_name((enum damage_reason)i), "");
    for (int i = 0; i <= PORT_SPEED; i++)
        entry("", port_change_name((enum port_change)i), "");
    for (int i = 0; i <= MARK_TEXT; i++)
        entry("", mark_name((enum mark_type)i), "");
    for (int i = AMEND_ADD; i <= AMEND_STRIKE; i++)
        entry("", amendment_key((enum amendment_kind)i), "=");
    for (size_t i = 0; i < model_key_count; i++) {
        char section[40];
        snprintf(section, sizeof section, "model.%s.", model_keys[i].section);
        entry(section, model_keys[i].key, "=");
    }
    entries("", "format=1|begun=|rows_missing=|off|,,,,|\"\"|option.rate=", "|");
    telemetry_words();
    trial_words();
}

/* The first word of each line of a baseline is one of its keys. */
static void baseline_word(void *where, const char *bytes, size_t len) {
    char *line = where;
    for (size_t i = 0; i < len; i++) {
        size_t have = strlen(line);
        if (bytes[i] == '\n') {
            line[strcspn(line, " =")] = '\0';
            entry("\n", line, " ");
            line[0] = '\0';
        } else if (have < BASELINE_LINE) {
            line[have] = bytes[i];
            line[have + 1] = '\0';
        }
    }
}

static void model_words(void) {
    static struct sample sample;
    char line[BASELINE_LINE + 1] = "";
    baseline_head(baseline_word, line);
    baseline_write(&sample, baseline_word, line);
    for (size_t i = 0; i < model_key_count; i++) {
        entry("[", model_keys[i].section, "]\n");
        entry("\n", model_keys[i].key, "=");
    }
    entries("", "hold|off|low|high|usb|battery|regulator|yes|no|-1|1e9|;|#", "|");
}

static void options_words(void) {
    for (int i = 0; i < COMMANDS; i++)
        entry("", commands[i].name, "\n");
    for (size_t i = 0; i < option_row_count; i++) {
        const struct option_row *row = &option_rows[i];
        entry("\n--", row->name, row->argument != NULL ? "=" : "\n");
        entries("", row->argument, "|");
        entries("=", row->values != NULL && row->values[0] != '@' ? row->values : NULL, " ");
    }
    for (size_t i = 0; i < simulator_scene_count; i++)
        entry("", simulator_scenes[i].name, "");
    for (size_t i = 0; i < gallery_row_count; i++)
        entry("", gallery_rows[i].name, "");
    for (int i = 0; i < SECTIONS; i++)
        entry("", figures_sections[i].name, ",");
    for (size_t i = 0; i < model_key_count; i++) {
        entry("--limit=", model_keys[i].key, "=");
        entry("", model_keys[i].section, ".");
    }
    entries("", "61.5:40|3:75|:leave|%|,|--|1e|0.001|99.999", "|");
}

int main(int argc, char **argv) {
    static const struct {
        const char *name;
        void (*print)(void);
    } lists[] = {{"telemetry", telemetry_words},
                 {"recording", recording_words},
                 {"model", model_words},
                 {"options", options_words}};
    for (size_t i = 0; argc == 2 && i < sizeof lists / sizeof lists[0]; i++)
        if (strcmp(argv[1], lists[i].name) == 0) {
            lists[i].print();
            return 0;
        }
    fputs("usage: words telemetry|recording|model file|options\n", stderr);
    return 2;
}
