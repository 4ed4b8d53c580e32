#include "stranger.h"

enum { LENGTH = 16 };

static void send(struct chip *c, const uint8_t *bytes, int count, int64_t now) {
    chip_set_csn(c, false, now);
    for (int i = 0; i < count; i++)
        chip_spi(c, bytes[i], now);
    chip_set_csn(c, true, now);
}

void stranger_init(struct stranger *s) {
    *s = (struct stranger){0};
    chip_init(&s->chip);
    s->chip.reset_ticks = 0;
}

static void set_up(struct stranger *s, int64_t now) {
    const uint8_t settings[][2] = {
        {0x21, 0x00}, {0x24, 0x00}, {0x25, s->channel}, {0x26, 0x26}, {0x20, 0x0E}};
    chip_power(&s->chip, true, now);
    for (unsigned i = 0; i < sizeof settings / sizeof settings[0]; i++)
        send(&s->chip, settings[i], 2, now);
}

void stranger_send(struct stranger *s, int64_t period, uint8_t channel, int64_t now) {
    s->period = period;
    s->next = now + period;
    s->channel = channel;
    chip_power(&s->chip, false, now);
    if (period > 0)
        set_up(s, now);
}

void stranger_advance(struct stranger *s, int64_t now) {
    uint8_t payload[1 + LENGTH] = {0xA0};
    chip_advance(&s->chip, now);
    if (s->period == 0 || now < s->next)
        return;
    s->next += s->period;
    send(&s->chip, payload, sizeof payload, now);
    chip_set_ce(&s->chip, true, now);
    chip_set_ce(&s->chip, false, now + 12 * TICKS_US);
}
