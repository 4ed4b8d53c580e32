"""Prints src/session/csv_places.h: python3 tests/tools/make_csv_places.py > src/session/csv_places.h"""

print("""/* Made by tests/tools/make_csv_places.py, not by hand.  For each byte, which of its bits are set,
 * from the lowest on.  The last place tells how many less one, which it does by itself when all
 * eight are set. */
#ifndef SESSION_CSV_PLACES_H
#define SESSION_CSV_PLACES_H

#include <stdint.h>

/* clang-format off */
static const int16_t csv_places[256][8] = {""")
for first in range(0, 256, 4):
    rows = []
    for byte in range(first, first + 4):
        places = [bit for bit in range(8) if byte >> bit & 1]
        last = [len(places) - 1]
        rows.append("{" + ", ".join(map(str, (places + [0] * 7)[:7] + last)) + "}")
    print("    " + ", ".join(rows) + ",")
print("""};
/* clang-format on */

#endif""")
