/* Any bytes as a model file, and as a baseline: both are files that a person edits.  A model file
 * that is understood twice gives the same; a baseline that is read can be written and read again.
 */
#include <stdlib.h>
#include <string.h>

#include "model/model.h"
#include "study/baseline.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void read_model(const char *text) {
    struct model first, second;
    char why[200];
    memset(&first, 0, sizeof first);
    memset(&second, 0, sizeof second);
    model_init(&first);
    model_init(&second);
    int line = model_parse(&first, text, why, sizeof why);
    if (line != model_parse(&second, text, why, sizeof why))
        abort();
    if (line != 0 && (why[0] == '\0' || strlen(why) >= sizeof why))
        abort();
    if (first.motors < 0 || first.motors > MODEL_CHANNELS || first.idles < 0 ||
        first.idles > MODEL_CHANNELS ||
        (first.idles > 1 && first.motors > 0 && first.idles != first.motors))
        abort();
    for (int i = 0; i < first.motors; i++)
        if (first.motor[i] < 0 || first.motor[i] >= MODEL_CHANNELS)
            abort();
}

struct written {
    char at[1 << 16];
    size_t len;
};

static void put(void *where, const char *bytes, size_t len) {
    struct written *w = where;
    if (len > sizeof w->at - w->len)
        abort();
    memcpy(w->at + w->len, bytes, len);
    w->len += len;
}

static void read_baseline(struct slice text, bool again) {
    static struct sample sample, copy;
    static struct written written;
    struct baseline_reader reader;
    memset(&reader, 0, sizeof reader);
    memset(&sample, 0, sizeof sample);
    while (text.at != NULL && text.len > 0) {
        enum baseline_step step = baseline_line(&reader, slice_cut(&text, '\n'), &sample);
        if (step == BASELINE_BAD)
            return;
        if (step == BASELINE_DONE && again) {
            written.len = 0;
            baseline_head(put, &written);
            baseline_write(&sample, put, &written);
            copy = sample;
            read_baseline((struct slice){written.at, written.len}, false);
            if (sample.got != copy.got || sample.lost != copy.lost || sample.full != copy.full)
                abort();
            return;
        }
        if (step == BASELINE_DONE)
            return;
    }
    if (!again)
        abort(); /* what was written is whole */
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    char *text = malloc(size + 1);
    if (text == NULL)
        return 0;
    memcpy(text, data, size);
    text[size] = '\0';
    read_model(text);
    read_baseline((struct slice){text, size}, true);
    free(text);
    return 0;
}
