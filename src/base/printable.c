#include "base/printable.h"

/* Unicode 15.0, DerivedGeneralCategory.txt: Cc, Cf, Zl, Zp, Cs, Co; the fillers, which are letters
 * that show nothing; and the blocks of combining marks and of variation selectors. */
static const struct {
    uint32_t first, last;
} unprintable[] = {
    {0x0000, 0x001F},   {0x007F, 0x009F},   {0x00AD, 0x00AD},   {0x0300, 0x036F},
    {0x0483, 0x0489},   {0x0600, 0x0605},   {0x061C, 0x061C},   {0x06DD, 0x06DD},
    {0x070F, 0x070F},   {0x0890, 0x0891},   {0x08E2, 0x08E2},   {0x115F, 0x1160},
    {0x180B, 0x180F},   {0x1AB0, 0x1AFF},   {0x1DC0, 0x1DFF},   {0x200B, 0x200F},
    {0x2028, 0x202E},   {0x2060, 0x206F},   {0x20D0, 0x20FF},   {0x3164, 0x3164},
    {0xD800, 0xF8FF},   {0xFDD0, 0xFDEF},   {0xFE00, 0xFE0F},   {0xFE20, 0xFE2F},
    {0xFEFF, 0xFEFF},   {0xFFA0, 0xFFA0},   {0xFFF0, 0xFFFB},   {0xFFFE, 0xFFFF},
    {0x110BD, 0x110BD}, {0x110CD, 0x110CD}, {0x13430, 0x1343F}, {0x1BCA0, 0x1BCA3},
    {0x1D173, 0x1D17A}, {0x1FFFE, 0x1FFFF}, {0x2FFFE, 0x2FFFF}, {0x3FFFE, 0xFFFFFFFF},
};

static bool rune_is_printable(uint32_t rune) {
    for (size_t i = 0; i < sizeof unprintable / sizeof unprintable[0]; i++)
        if (rune <= unprintable[i].last)
            return rune < unprintable[i].first;
    return true;
}

/* Bytes of a character by its lead byte (RFC 3629), 0 where none begins so; *rune takes the bits.
 */
static size_t lead(unsigned char byte, uint32_t *rune) {
    if (byte < 0x80) {
        *rune = byte;
        return 1;
    }
    if (byte >= 0xC2 && byte <= 0xDF) {
        *rune = byte & 0x1Fu;
        return 2;
    }
    if (byte >= 0xE0 && byte <= 0xEF) {
        *rune = byte & 0x0Fu;
        return 3;
    }
    *rune = byte & 0x07u;
    return byte >= 0xF0 && byte <= 0xF4 ? 4 : 0;
}

size_t printable_utf8(struct slice s, uint32_t *rune) {
    static const uint32_t least[] = {0, 0, 0x80, 0x800, 0x10000};
    size_t len = s.len > 0 ? lead((unsigned char)s.at[0], rune) : 0;
    if (len == 0 || len > s.len)
        return 0;
    for (size_t i = 1; i < len; i++) {
        unsigned char byte = (unsigned char)s.at[i];
        if ((byte & 0xC0u) != 0x80)
            return 0;
        *rune = *rune << 6 | (byte & 0x3Fu);
    }
    return *rune >= least[len] ? len : 0; /* longer than need be */
}

size_t printable_front(struct slice s) {
    uint32_t rune = 0;
    size_t len = printable_utf8(s, &rune);
    return len > 0 && rune_is_printable(rune) ? len : 0;
}

const char *printable(char *out, size_t size, const char *text) {
    struct slice rest = slice_of(text);
    size_t used = 0;
    while (rest.len > 0) {
        uint32_t rune;
        size_t good = printable_front(rest), whole = printable_utf8(rest, &rune);
        if (used + (good > 0 ? good : 1) >= size)
            break;
        memcpy(out + used, good > 0 ? rest.at : "?", good > 0 ? good : 1);
        used += good > 0 ? good : 1;
        rest = slice_sub(rest, whole > 0 ? whole : 1, rest.len);
    }
    out[used] = '\0';
    return out;
}
