#include "picture/palette.h"

uint32_t palette_colour(enum picture_role role, enum picture_theme theme) {
    static const uint32_t colours[PICTURE_ROLES][2] = {
        [ROLE_PAPER] = {0xFFFFFF, 0x14181D},  [ROLE_INK] = {0x1B1F24, 0xE8ECF0},
        [ROLE_MUTED] = {0x57606A, 0xA4AEB9},  [ROLE_GRID] = {0xDDE2E7, 0x323A43},
        [ROLE_ACCENT] = {0x0B5CAD, 0x6CB2FF}, [ROLE_SECOND] = {0x8A4B08, 0xE0A46A},
        [ROLE_WARN] = {0x8F5300, 0xF0B54A},   [ROLE_BAD] = {0xB3261E, 0xFF8A80},
        [ROLE_GOOD] = {0x1A6B34, 0x7FD79A},   [ROLE_BAND] = {0xC6DCF2, 0x214468},
    };
    return colours[role][theme];
}

double palette_face_size(enum picture_face face) {
    static const double sizes[PICTURE_FACES] = {16, 13, 11.5};
    return sizes[face];
}
