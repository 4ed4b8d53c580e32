/* A floating number as a whole one: the only place where one becomes the other.  The fraction is
 * cut off, as a cast does; what the type can't hold becomes its nearest end, where a cast isn't
 * defined.  NaN becomes 0: who may hold one asks before. */
#ifndef BASE_WHOLE_H
#define BASE_WHOLE_H

#include <stdint.h>

int32_t whole_i32(double value);
int64_t whole_i64(double value);
uint32_t whole_u32(double value);
uint64_t whole_u64(double value);

#endif
