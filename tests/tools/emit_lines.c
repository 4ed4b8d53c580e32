/* emit_lines COUNT SEED: prints COUNT random lines made by emit/, for a check from outside. */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include "emit/emit.h"

/* xorshift32 (Marsaglia, "Xorshift RNGs", 2003) */
static uint32_t draw(uint32_t *state) {
    *state ^= *state << 13;
    *state ^= *state >> 17;
    *state ^= *state << 5;
    return *state;
}

static void print_byte(void *where, uint8_t byte) {
    fputc(byte, where);
}

static void add_piece(struct emit *e, uint32_t *state) {
    int32_t values[16];
    uint8_t bytes[8];
    char text[17];
    for (int i = 0; i < 16; i++)
        values[i] = (int32_t)draw(state) >> (draw(state) & 31u);
    for (int i = 0; i < 8; i++)
        bytes[i] = (uint8_t)draw(state);
    for (int i = 0; i < 16; i++)
        text[i] = (char)(1 + draw(state) % 255u);
    text[draw(state) % 17u] = '\0';
    text[16] = '\0';
    switch (draw(state) % 8u) {
    case 0:
        emit_u32(e, "u", draw(state));
        break;
    case 1:
        emit_i32(e, "i", values[0]);
        break;
    case 2:
        emit_word(e, "w", text);
        break;
    case 3:
        emit_pair(e, "p", draw(state), draw(state));
        break;
    case 4:
        emit_list(e, "l", values, (uint8_t)(draw(state) % 17u));
        break;
    case 5:
        emit_pattern(e, "pat", bytes, (uint8_t)(draw(state) % 65u));
        break;
    case 6:
        emit_hex(e, "h", bytes, (uint8_t)(draw(state) % 9u));
        break;
    default:
        emit_text(e, text);
        break;
    }
}

int main(int argc, char **argv) {
    if (argc != 3) {
        fputs("usage: emit_lines COUNT SEED\n", stderr);
        return 2;
    }
    long count = strtol(argv[1], NULL, 10);
    uint32_t state = (uint32_t)strtoul(argv[2], NULL, 10) | 1u;
    while (count-- > 0) {
        struct emit e;
        emit_begin(&e, print_byte, stdout, "line");
        for (uint32_t pieces = draw(&state) % 6u; pieces > 0; pieces--)
            add_piece(&e, &state);
        emit_end(&e);
    }
    return fflush(stdout) == 0 ? 0 : 3;
}
