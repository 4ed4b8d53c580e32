#include "board/stick.h"

/* 0 to 500 of the way from `from` to `to`, rounded. */
static uint16_t part(int32_t at, int32_t from, int32_t to) {
    int32_t way = to - from, done = at - from;
    if (way < 0) {
        way = -way;
        done = -done;
    }
    if (done <= 0 || way == 0)
        return 0;
    return (uint16_t)(done >= way ? 500 : (done * 500 + way / 2) / way);
}

uint16_t stick_us(const int16_t point[3], uint16_t sum, uint8_t looks) {
    int32_t low = (int32_t)point[0] * looks, rest = (int32_t)point[1] * looks;
    int32_t high = (int32_t)point[2] * looks;
    return (uint16_t)(1000 + part(sum, low, rest) + part(sum, rest, high));
}
