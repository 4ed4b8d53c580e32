#include "view/figure.h"

#include <inttypes.h>
#include <stdio.h>

#include "base/percent.h"

/* A percentage with as many places as keep "some" apart from "none" and from "all". */
static void share_text(char *out, uint64_t part, uint64_t whole) {
    double percent = 100.0 * (double)part / (double)whole;
    if (part > 0 && percent < 0.005) {
        snprintf(out, FIGURE_MAX, "<0.01 %%");
    } else if (part > 0 && percent < 0.05) {
        snprintf(out, FIGURE_MAX, "%.2f %%", percent);
    } else if (part < whole && percent >= 99.95) {
        snprintf(out, FIGURE_MAX, ">99.9 %%");
    } else {
        snprintf(out, FIGURE_MAX, "%.1f %%", percent);
    }
}

void figure_share(char *out, const struct packet_count *count) {
    if (!count->known) {
        snprintf(out, FIGURE_MAX, "unknown");
    } else if (count->got + count->lost == 0) {
        snprintf(out, FIGURE_MAX, "no packets");
    } else {
        share_text(out, count->lost, count->got + count->lost);
    }
}

void figure_loss(char *out, const struct packet_count *count) {
    char share[FIGURE_MAX];
    figure_share(share, count);
    if (!count->known || count->got + count->lost == 0) {
        snprintf(out, FIGURE_MAX, "%s", share);
        return;
    }
    snprintf(out, FIGURE_MAX, "%.9s (%" PRIu64 " of %" PRIu64 ")", share, count->lost % 10000000000,
             (count->got + count->lost) % 10000000000);
}

bool figure_recent(char *out, const struct snapshot *s, const struct packet_count *count) {
    char span[FIGURE_MAX];
    if (!s->silent_at_end || s->outage_ms == TIME_UNKNOWN) {
        figure_loss(out, count);
        return true;
    }
    figure_span(span, s->outage_ms);
    snprintf(out, FIGURE_MAX, "no packet for %.20s", span);
    return false;
}

void figure_bounds(char *out, const struct packet_count *count) {
    out[0] = '\0';
    if (!count->known)
        return;
    char span[PERCENT_SPAN_MAX];
    if (count->low_known) {
        percent_span(span, count->low, "-", count->high);
        snprintf(out, FIGURE_MAX, ", %.40s %%", span);
    } else if (count->high_known) {
        percent_text(span, count->high);
        snprintf(out, FIGURE_MAX, ", under %.30s %%", span);
    }
}

bool figure_few(const struct packet_count *count) {
    return !count->known || count->got + count->lost < FEW_PACKETS;
}

void figure_moment(char *out, int64_t ms, bool tenths) {
    if (ms == TIME_UNKNOWN) {
        snprintf(out, FIGURE_MAX, tenths ? "-:--:--.-" : "-:--:--");
        return;
    }
    const char *sign = ms <= (tenths ? -100 : -1000) ? "-" : ""; /* no "-0:00:00" */
    int64_t size = ms < 0 ? -ms : ms;
    int64_t hours = size / 3600000;
    int minutes = (int)(size / 60000 % 60), seconds = (int)(size / 1000 % 60);
    if (tenths) {
        snprintf(out, FIGURE_MAX, "%s%" PRId64 ":%02d:%02d.%d", sign, hours, minutes, seconds,
                 (int)(size / 100 % 10));
    } else {
        snprintf(out, FIGURE_MAX, "%s%" PRId64 ":%02d:%02d", sign, hours, minutes, seconds);
    }
}

void figure_span(char *out, int64_t ms) {
    if (ms == TIME_UNKNOWN || ms < 0) {
        snprintf(out, FIGURE_MAX, "unknown");
    } else if (ms < 1000) {
        snprintf(out, FIGURE_MAX, "%d ms", (int)ms);
    } else if (ms < 9995) {
        snprintf(out, FIGURE_MAX, "%.2f s", (double)ms / 1000.0);
    } else if (ms < 120000) {
        snprintf(out, FIGURE_MAX, "%.1f s", (double)ms / 1000.0);
    } else if (ms < 3600000) {
        snprintf(out, FIGURE_MAX, "%d min %02d s", (int)(ms / 60000), (int)(ms / 1000 % 60));
    } else {
        snprintf(out, FIGURE_MAX, "%" PRId64 " h %02d min", ms / 3600000, (int)(ms / 60000 % 60));
    }
}

void figure_bytes(char *out, uint64_t bytes) {
    if (bytes < 1000) {
        snprintf(out, FIGURE_MAX, "%u B", (unsigned)bytes);
    } else if (bytes < 1000000) {
        snprintf(out, FIGURE_MAX, "%.1f kB", (double)bytes / 1e3);
    } else if (bytes < 1000000000) {
        snprintf(out, FIGURE_MAX, "%.1f MB", (double)bytes / 1e6);
    } else {
        snprintf(out, FIGURE_MAX, "%.1f GB", (double)bytes / 1e9);
    }
}
