#include <stdio.h>
#include <string.h>

#include "base/percent.h"
#include "page/report_parts.h"

const char *report_span(char out[static SPAN_TEXT], int64_t ms) {
    if (ms == TIME_UNKNOWN)
        snprintf(out, SPAN_TEXT, "unknown");
    else if (ms < 1000)
        snprintf(out, SPAN_TEXT, "%lld" GAP "ms", (long long)ms);
    else if (ms < 60000)
        snprintf(out, SPAN_TEXT, "%.2f" GAP "s", (double)ms / 1000);
    else if (ms < 3600000)
        snprintf(out, SPAN_TEXT, "%lld" GAP "min" GAP "%02lld" GAP "s", (long long)(ms / 60000),
                 (long long)(ms / 1000 % 60));
    else
        snprintf(out, SPAN_TEXT, "%lld" GAP "h" GAP "%02lld" GAP "min", (long long)(ms / 3600000),
                 (long long)(ms / 60000 % 60));
    return out;
}

const char *report_moment(char out[static SPAN_TEXT], int64_t ms) {
    if (ms == TIME_UNKNOWN)
        snprintf(out, SPAN_TEXT, "unknown");
    else if (ms < 3600000)
        snprintf(out, SPAN_TEXT, "%lld:%02lld.%lld", (long long)(ms / 60000),
                 (long long)(ms / 1000 % 60), (long long)(ms / 100 % 10));
    else
        snprintf(out, SPAN_TEXT, "%lld:%02lld:%02lld.%lld", (long long)(ms / 3600000),
                 (long long)(ms / 60000 % 60), (long long)(ms / 1000 % 60),
                 (long long)(ms / 100 % 10));
    return out;
}

const char *report_bounds(char out[static SPAN_TEXT], struct time_bounds b) {
    if (b.low_ms == TIME_UNKNOWN && b.high_ms == TIME_UNKNOWN)
        snprintf(out, SPAN_TEXT, "unknown");
    else if (b.low_ms == b.high_ms || b.low_ms == TIME_UNKNOWN)
        snprintf(out, SPAN_TEXT, "%.3f s", (double)b.high_ms / 1000);
    else if (b.high_ms == TIME_UNKNOWN)
        snprintf(out, SPAN_TEXT, "after %.3f s", (double)b.low_ms / 1000);
    else
        snprintf(out, SPAN_TEXT, "%.3f to %.3f s", (double)b.low_ms / 1000,
                 (double)b.high_ms / 1000);
    return out;
}

const char *report_when(char out[static SPAN_TEXT], struct time_bounds b) {
    char low[SPAN_TEXT], high[SPAN_TEXT];
    if (b.low_ms == TIME_UNKNOWN || b.high_ms == TIME_UNKNOWN || b.low_ms == b.high_ms)
        return report_moment(out, b.high_ms == TIME_UNKNOWN ? b.low_ms : b.high_ms);
    report_moment(low, b.low_ms);
    report_moment(high, b.high_ms);
    if (strcmp(low, high) == 0)
        return report_moment(out, b.high_ms);
    snprintf(out, SPAN_TEXT, "%.20s to %.20s", low, high);
    return out;
}

const char *report_times(char out[static SPAN_TEXT], uint64_t n) {
    if (n > 1)
        snprintf(out, SPAN_TEXT, "%llu times", (unsigned long long)n);
    else
        snprintf(out, SPAN_TEXT, "%s", n == 1 ? "once" : "never");
    return out;
}

const char *report_metres(char out[static SPAN_TEXT], double m) {
    snprintf(out, SPAN_TEXT,
             m >= 100  ? "%.0f" GAP "m"
             : m >= 10 ? "%.1f" GAP "m"
                       : "%.2f" GAP "m",
             m);
    return out;
}

void report_chain(char *chain, size_t size) {
    static const char arrow[] = " -> ", words[] = ", then ";
    char *at;
    while ((at = strstr(chain, arrow)) != NULL) {
        char rest[256];
        snprintf(rest, sizeof rest, "%s", at + sizeof arrow - 1);
        snprintf(at, size - (size_t)(at - chain), "%s%s", words, rest);
    }
}

const char *report_plural(uint64_t n) {
    return n == 1 ? "" : "s";
}

void report_why(struct text *out, const char *why) {
    if (strchr(why, ' '))
        text_string(out, why);
    else
        text_format(out, "the receiver's lines have no %s", why);
}

void report_loss_bounds(struct text *out, const struct measures *m) {
    char span[PERCENT_SPAN_MAX];
    percent_span(span, m->low, " to ", m->high);
    if (m->ground == GROUND_RUNS || m->ground == GROUND_COUNTS)
        text_format(out, "%s %%", span);
    else if (m->ground == GROUND_NONE_LOST && m->observed_ms > 0)
        text_format(out, "at most %.2g loss runs a minute", m->drops_a_minute);
}

const char *report_evidence(enum evidence evidence) {
    static const char *const words[] = {
        [EVIDENCE_NONE] = "nothing",
        [EVIDENCE_RATE] = "the growth of got against the packet rate",
        [EVIDENCE_SEQUENCE] = "got against the sequence number",
        [EVIDENCE_COUNTERS] = "the counters got and lost",
        [EVIDENCE_PATTERN] = "the outcome of each packet (pat)",
    };
    return words[evidence];
}

bool report_walked(const struct report_facts *f) {
    return f->walk != NULL && f->walk->count > 0;
}

bool report_dropped(const struct report_facts *f) {
    return f->causes != NULL && (f->causes->found->outages > 0 || f->causes->found->losses > 0 ||
                                 f->causes->twitched != NULL);
}
