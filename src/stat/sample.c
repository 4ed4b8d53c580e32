#include "stat/sample.h"

#include <math.h>

#include "base/whole.h"

void stat_moments_add(struct stat_moments *m, double value) {
    m->count++;
    double before = value - m->mean;
    m->mean += before / (double)m->count;
    m->squares += before * (value - m->mean);
}

void stat_moments_join(struct stat_moments *a, const struct stat_moments *b) {
    if (b->count == 0)
        return;
    double na = (double)a->count, nb = (double)b->count, apart = b->mean - a->mean;
    a->count += b->count;
    a->mean += apart * nb / (na + nb);
    a->squares += b->squares + apart * apart * na * nb / (na + nb);
}

bool stat_moments_sd(const struct stat_moments *m, double *sd) {
    if (m->count < 2)
        return false;
    *sd = sqrt(m->squares / (double)(m->count - 1));
    return true;
}

/* Lets the value at `from` sink until no child below it in the heap of `count` is larger. */
static void sink(double *values, size_t count, size_t from) {
    double value = values[from];
    for (size_t child; (child = 2 * from + 1) < count; from = child) {
        if (child + 1 < count && values[child + 1] > values[child])
            child++;
        if (values[child] <= value)
            break;
        values[from] = values[child];
    }
    values[from] = value;
}

/* Heapsort: the C library's qsort may allocate. */
void stat_sort(double *values, size_t count) {
    for (size_t i = count / 2; i-- > 0;)
        sink(values, count, i);
    for (size_t last = count; last-- > 1;) {
        double largest = values[0];
        values[0] = values[last];
        values[last] = largest;
        sink(values, last, 0);
    }
}

double stat_quantile(const double *ascending, size_t count, double p) {
    double place = (double)(count - 1) * p;
    size_t i = (size_t)whole_u64(place);
    if (i + 1 >= count)
        return ascending[count - 1];
    double part = place - (double)i;
    return part > 0 ? ascending[i] + part * (ascending[i + 1] - ascending[i]) : ascending[i];
}

bool stat_lag1(const double *values, size_t count, double *r1) {
    struct stat_moments m = {0, 0, 0};
    double products = 0;
    for (size_t i = 0; i < count; i++)
        stat_moments_add(&m, values[i]);
    if (count < 2 || m.squares <= 0)
        return false;
    for (size_t i = 1; i < count; i++)
        products += (values[i] - m.mean) * (values[i - 1] - m.mean);
    *r1 = products / m.squares;
    return true;
}
