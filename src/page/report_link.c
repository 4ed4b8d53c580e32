/* Answers that come before all others: why there is no link, and whether the packets are ours. */
#include "page/report_parts.h"
#include "text/unknown.h"
#include "trial/ends.h"

static unsigned long long count(uint64_t n) {
    return (unsigned long long)n;
}

static void answer(struct report_page *p, const char *question, const struct text *t) {
    html_markup(&p->h, "<div class=\"answer\">\n");
    html_element(&p->h, "h3", "%s", question);
    html_element(&p->h, "p", "%s", t->at);
    html_markup(&p->h, "</div>\n");
}

static void say_radio(struct text *t, const struct snapshot *s) {
    static const char *const words[] = {
        [REGISTERS_OK] = " The radio chip answers and holds its settings.",
        [REGISTERS_DEFAULT] = " The radio chip stands at its power-on settings: its own supply "
                              "broke down, or it was never set up.",
        [REGISTERS_ABSENT] = " The radio chip doesn't answer: measure 3.3 V at the module, check "
                             "ground, CE, CSN and the three SPI wires.",
        [REGISTERS_DIFFER] = " The radio chip holds other settings than were written: shorter "
                             "leads, a slower SPI clock.",
    };
    if (s->registers_known)
        text_string(t, words[s->registers]);
    if (s->registers_known && s->registers != REGISTERS_DEFAULT && s->registers_forgotten > 0)
        text_format(t, " In %llu of %llu reports it had forgotten them: look at its supply.",
                    count(s->registers_forgotten), count(s->reports));
}

static void say_ends(struct text *t, const struct ends *e) {
    if (e == NULL || ends_differ(e) == 0)
        return;
    text_string(t, " The two ends differ in ");
    ends_names(e, t);
    text_string(t, ": make them the same.");
}

/* Only where no report, or not a packet, came. */
void report_answer_link(struct report_page *p) {
    const struct snapshot *s = p->f->s;
    char text[900];
    struct text t;
    text_init(&t, text, sizeof text);
    if (s->reports == 0) {
        text_string(&t, "That can't be told: no report of the receiver came. Were port and speed "
                        "right, and did its program run? airleash watch --speed auto tries the "
                        "usual speeds.");
        answer(p, "Is there a link?", &t);
    }
    if (s->reports == 0 || s->heard || unknown_why(s, FIGURE_GOT) || s->total.got > 0)
        return;
    text_string(&t, "None: the receiver reports, but not a packet came.");
    say_radio(&t, s);
    if (s->refused_known && s->refused > 0)
        text_format(&t,
                    " It refused %llu packet%s, since their length or their owner's number is "
                    "wrong: they are another's, or the two programs differ.",
                    count(s->refused), report_plural(s->refused));
    say_ends(&t, p->f->ends);
    text_string(&t, " The guided trial bind finds the reason step by step (airleash watch, key "
                    "v).");
    answer(p, "Is there a link?", &t);
}

void report_answer_values(struct report_page *p) {
    struct layout_hint hint;
    char text[600];
    struct text t;
    layout_read(p->f->layout, p->f->s->raw_unit, &hint);
    if (hint.kind == LAYOUT_NONE || hint.kind == LAYOUT_NORMAL)
        return;
    text_init(&t, text, sizeof text);
    if (hint.says)
        text_format(&t, "Not as servo pulses. %s %s. %s", hint.says, hint.sum, hint.cure);
    else
        text_format(
            &t,
            "Some lie outside %d to %d us, which no servo pulse does, and no usual mistake of "
            "the packet's layout explains them all.",
            LAYOUT_LOW, LAYOUT_HIGH);
    answer(p, "Are the channels' values possible?", &t);
}

/* More packets than one transmitter sends can't all be its.  The margin leaves room for a nominal
 * rate that is told roughly. */
#define TOO_MANY 1.25
enum { LONG_ENOUGH_MS = 5000 };

void report_answer_ours(struct report_page *p) {
    const struct snapshot *s = p->f->s;
    char text[600];
    struct text t;
    if (s->rate_hz <= 0 || s->link_ms == TIME_UNKNOWN || s->link_ms < LONG_ENOUGH_MS)
        return;
    double hz = 1000.0 * (double)s->total.got / (double)s->link_ms;
    if (hz <= TOO_MANY * s->rate_hz)
        return;
    text_init(&t, text, sizeof text);
    text_format(
        &t,
        "Hardly: %.0f came in a second, and the transmitter sends %g. Another one sends on "
        "your address, or a data line of the radio floats, or the rate is told wrongly. "
        "Propeller off and the model held, since another may drive it, switch your transmitter "
        "off: packets that still come aren't its. Until that is "
        "settled the figures of this page don't tell of your link.",
        hz, s->rate_hz);
    answer(p, "Are these packets yours?", &t);
}
