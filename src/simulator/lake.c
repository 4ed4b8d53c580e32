#include "simulator/lake.h"

enum {
    LOSS_AT_1M = 4023, /* free space, 2450 MHz */
    BREAKPOINT_CM = 2125,
    ANTENNAS = -200, /* two dipoles, less the hull, the mast and the hand */
    SENSITIVITY = -8500,
    CO_CHANNEL = 1200,
    SHADOW = 150,
    AMPLIFIER = 2000,
    OVERLOAD = -1700, /* with an amplifier before it, */
    OVERLOAD_SLOPE = 1200,
    IMAGE = -4600,
};

/* Of each kind: steady part and scatter of the field (4096 is the whole), its correlation over 20
 * ms and the fresh part beside it (65536ths, squares adding up to one). */
static const struct {
    int32_t steady, scatter, keep, fresh;
} fadings[FADINGS] = {
    [FADING_BENCH] = {3997, 632, 65208, 6545},      /* K = 13 dB, nothing moves */
    [FADING_STANDING] = {3792, 1095, 58982, 28566}, /* K = 8 dB, the tug bobs */
    [FADING_WALKING] = {3664, 1295, 47186, 45480},  /* K = 6 dB, half a wavelength in some 60 ms */
};

/* Share of packets (65536ths) that arrive at -12..+6 dB from the sensitivity: 233 bits of
 * non-coherent FSK, bit error 0.5 exp(-s/2), set to 0.1 % at the sensitivity. */
static const int32_t arrivals[] = {0,    0,     0,     0,     0,     0,     0,     0,     3,    351,
                                   6438, 28350, 51909, 62551, 65134, 65505, 65535, 65536, 65536};
enum { ARRIVALS_FROM = -1200, ARRIVALS_LAST = sizeof arrivals / sizeof *arrivals - 1 };

static int32_t hundredths(uint64_t ratio) { /* 1000 log10(ratio) */
    return (int32_t)((int64_t)chance_log2(ratio) * 30103 / 6553600);
}

void lake_init(struct lake *l, uint64_t seed) {
    *l = (struct lake){.walk_from_cm = 200, .walk_to_cm = 200};
    chance_init(&l->chance, seed, 1);
    l->fade_x = chance_normal(&l->chance);
    l->fade_y = chance_normal(&l->chance);
    l->shadow = chance_normal(&l->chance);
}

void lake_walk(struct lake *l, int64_t now_us, int32_t to_cm, int32_t cm_s) {
    l->walk_from_cm = cm_s > 0 ? lake_distance_cm(l, now_us) : to_cm;
    l->walk_to_cm = to_cm;
    l->walk_cm_s = cm_s;
    l->walk_from_us = now_us;
}

int32_t lake_distance_cm(const struct lake *l, int64_t now_us) {
    int64_t gone = (now_us - l->walk_from_us) * l->walk_cm_s / 1000000;
    int64_t way = (int64_t)l->walk_to_cm - l->walk_from_cm;
    if (way >= 0)
        return (int32_t)(gone < way ? l->walk_from_cm + gone : l->walk_to_cm);
    return (int32_t)(gone < -way ? l->walk_from_cm - gone : l->walk_to_cm);
}

void lake_disturb(struct lake *l, int64_t now_us, int32_t bursts_a_minute, int32_t mean_us,
                  int32_t dbm) {
    l->bursts_a_minute = bursts_a_minute;
    l->burst_mean_us = mean_us;
    l->burst_dbm = dbm;
    l->burst = false;
    l->burst_change_us = now_us;
    if (bursts_a_minute > 0)
        l->burst_change_us += chance_wait(&l->chance, 60000000 / bursts_a_minute);
}

static int32_t drift(struct lake *l, int32_t value, int32_t keep, int32_t fresh) {
    return (int32_t)(((int64_t)value * keep + (int64_t)chance_normal(&l->chance) * fresh) / 65536);
}

void lake_step(struct lake *l, int64_t now_us) {
    l->fading = lake_distance_cm(l, now_us) == l->walk_to_cm ? l->at_rest : FADING_WALKING;
    int32_t keep = fadings[l->fading].keep;
    int32_t fresh = fadings[l->fading].fresh;
    l->fade_x = drift(l, l->fade_x, keep, fresh);
    l->fade_y = drift(l, l->fade_y, keep, fresh);
    l->shadow = drift(l, l->shadow, 65405, 4143); /* 0.998: some 10 s */
}

static int32_t path_loss(int32_t cm) {
    int32_t breakpoint = hundredths(BREAKPOINT_CM);
    int32_t way = hundredths((uint64_t)(cm > 30 ? cm : 30));
    int32_t far = way > breakpoint ? way - breakpoint : 0;
    return LOSS_AT_1M + 2 * (way - 2000) + 2 * far;
}

static int32_t fade(const struct lake *l) {
    int64_t scatter = fadings[l->fading].scatter;
    int64_t x = fadings[l->fading].steady + scatter * l->fade_x / 4096;
    int64_t y = scatter * l->fade_y / 4096;
    return hundredths((uint64_t)(x * x + y * y)) - 7225; /* 1000 log10(2^24) */
}

int32_t lake_level(const struct lake *l, int64_t now_us) {
    return l->power - l->antenna + (l->strong ? AMPLIFIER : 0) + (l->image ? IMAGE : 0) + ANTENNAS -
           path_loss(lake_distance_cm(l, now_us)) + fade(l) + SHADOW * l->shadow / 4096;
}

int32_t lake_noise(struct lake *l, int64_t now_us) {
    while (l->bursts_a_minute > 0 && l->burst_change_us <= now_us) {
        l->burst = !l->burst;
        if (l->burst) {
            l->bursts++;
            l->burst_level = 100 * l->burst_dbm + chance_between(&l->chance, -600, 600);
            l->burst_change_us += chance_wait(&l->chance, l->burst_mean_us);
        } else {
            l->burst_change_us += chance_wait(&l->chance, 60000000 / l->bursts_a_minute);
        }
    }
    int32_t level = l->burst ? l->burst_level : LAKE_QUIET;
    if (l->beacon_us > 0 && now_us % l->beacon_us < l->beacon_long_us && l->beacon_level > level)
        level = l->beacon_level;
    if (l->sparks > 0 && l->spark_level > level && chance_hits(&l->chance, (uint32_t)l->sparks))
        level = l->spark_level;
    return level;
}

void lake_wifi(struct lake *l, int32_t channel, int32_t thousandths, int32_t dbm) {
    int32_t mhz = 2407 + 5 * channel;
    int at = 0;
    while (at < l->wifi_count && l->wifi[at].mhz != mhz)
        at++;
    if (at == LAKE_WIFI_MAX)
        return;
    l->wifi[at] = (struct lake_wifi){mhz, thousandths * 65536 / 1000, dbm};
    l->wifi_count += at == l->wifi_count;
}

/* What a receiver 1 MHz wide gets of a network: a twentieth (13 dB less), and beside it what the
 * spectral mask of OFDM leaves (IEEE 802.11: -20 dB at 11 MHz, -28 at 20, -40 at 30; from memory).
 */
static int32_t wifi_level(const struct lake_wifi *w, int32_t mhz) {
    int32_t away = mhz > w->mhz ? mhz - w->mhz : w->mhz - mhz;
    int32_t mask = away <= 9 ? 0 : away <= 11 ? 20 : away <= 20 ? 28 : 40;
    return 100 * (w->dbm - 13 - mask);
}

bool lake_look(struct lake *l, int32_t mhz) {
    bool heard = false;
    for (int i = 0; i < l->wifi_count; i++)
        heard |= chance_hits(&l->chance, (uint32_t)l->wifi[i].share) &&
                 wifi_level(&l->wifi[i], mhz) > LAKE_CARRIER;
    return heard;
}

static int32_t arrival_share(int32_t margin) {
    int32_t at = margin - ARRIVALS_FROM;
    if (at <= 0)
        return 0;
    if (at / 100 >= ARRIVALS_LAST)
        return 65536;
    int32_t low = arrivals[at / 100];
    return low + (arrivals[at / 100 + 1] - low) * (at % 100) / 100;
}

/* Drowned in itself. */
static bool overloads(struct lake *l, int32_t level) {
    if (!l->strong || level <= OVERLOAD)
        return false;
    return chance_between(&l->chance, 0, OVERLOAD_SLOPE) < level - OVERLOAD;
}

enum lake_outcome lake_carry(struct lake *l, int64_t now_us) {
    int32_t level = lake_level(l, now_us);
    int32_t before = lake_noise(l, now_us);
    int32_t after = lake_noise(l, now_us + LAKE_PACKET_US);
    int32_t clear = level - SENSITIVITY;
    int32_t over_noise = level - (before > after ? before : after) - CO_CHANNEL;
    int32_t margin = clear < over_noise ? clear : over_noise;
    if (overloads(l, level))
        return PACKET_DROWNED;
    if (chance_hits(&l->chance, (uint32_t)arrival_share(margin)))
        return PACKET_ARRIVED;
    return over_noise < clear ? PACKET_DROWNED : PACKET_WEAK;
}
