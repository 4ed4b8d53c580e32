#include "picture/picture.h"

const char *picture_role_name(enum picture_role role) {
    static const char *const names[PICTURE_ROLES] = {"paper",  "ink",  "muted", "grid", "accent",
                                                     "second", "warn", "bad",   "good", "band"};
    return names[role];
}
