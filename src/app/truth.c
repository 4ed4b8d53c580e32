#include "app/truth.h"

#include <errno.h>
#include <stdio.h>

#include "app/commands.h"
#include "app/words.h"

static void put(void *where, const char *bytes, size_t len) {
    fwrite(bytes, 1, len, where);
}

static int refuse(const char *path) {
    char why[WORDS_MAX];
    words_writing(why, path, errno);
    words_say("the truth: %s", why);
    return STATUS_TROUBLE;
}

int truth_check(const char *path) {
    FILE *file = fopen(path, "ae");
    if (!file)
        return refuse(path);
    fclose(file);
    return STATUS_ANSWER;
}

int truth_write(const struct pretend *p, const char *path) {
    FILE *file = fopen(path, "we");
    bool good = file != NULL;
    if (file) {
        pretend_truth_text(p, put, file);
        good = !ferror(file);
        good = fclose(file) == 0 && good;
    }
    return good ? STATUS_ANSWER : refuse(path);
}
