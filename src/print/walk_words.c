#include <stdio.h>

#include "print/walk.h"

void walk_plan(const struct walk *w, bool drive, struct walk_plan *out) {
    *out = (struct walk_plan){.share = drive ? 0.5 : 0.25, .planned_m = -1};
    out->failed = walk_first_failed(w, &out->first_failed_m);
    out->held = walk_held_to(w, &out->held_to_m);
    out->at_least = !out->failed;
    if (out->failed)
        out->planned_m = out->share * out->first_failed_m;
    else if (out->held)
        out->planned_m = out->share * out->held_to_m;
}

void walk_loss(const struct walk_stop *stop, struct walk_loss *out) {
    uint64_t packets = stop->got + stop->lost;
    struct loss_interval interval;
    *out = (struct walk_loss){.low = -1, .high = -1};
    if (!stop->counted || packets == 0) {
        out->why = stop->counted ? "no packet at this stop" : "got";
        return;
    }
    out->known = true;
    out->rate = (double)stop->lost / (double)packets;
    if (stop->lost > 0 && stop->order_unknown) {
        out->why = "pat"; /* without their order the runs aren't known */
        return;
    }
    stat_loss_interval(&stop->runs, 0.95, &interval);
    out->method = interval.method;
    out->low = interval.low;
    out->high = interval.high;
    if (interval.kind == LOSS_NONE_LOST) {
        out->high = stat_loss_none_bound(packets, 1, 0.95);
    } else if (interval.kind == LOSS_UNKNOWN) {
        out->low = out->high = -1;
        out->method = NULL;
        out->why = "no packet arrived";
    }
}

const char *walk_fault_name(unsigned fault) {
    switch (fault) {
    case WALK_LOSS:
        return "loss";
    case WALK_GAP:
        return "gap";
    case WALK_FAILSAFE:
        return "failsafe";
    case WALK_RESTART:
        return "restart";
    default:
        return "link died";
    }
}

void walk_fault_words(char *out, size_t size, unsigned faults) {
    size_t len = 0;
    out[0] = '\0';
    for (unsigned bit = 1; bit <= WALK_DIED && len < size; bit <<= 1) {
        if ((faults & bit) == 0)
            continue;
        int put =
            snprintf(out + len, size - len, "%s%s", len > 0 ? ", " : "", walk_fault_name(bit));
        len += put > 0 ? (size_t)put : 0;
    }
}

const char *walk_verdict(unsigned faults, const struct walk_stop *stop) {
    if (faults != 0)
        return "failed";
    return stop->counted && stop->got + stop->lost > 0 ? "held" : "can't tell";
}
