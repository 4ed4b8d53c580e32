#include "stat/line.h"

#include <math.h>

#include "stat/sample.h"

static double residual_squares(const double *x, const double *y, const struct line_fit *f,
                               double mean_y) {
    double sum = 0;
    for (size_t i = 0; i < f->count; i++) {
        double r = (y[i] - mean_y) - f->slope * (x[i] - f->mean_x);
        sum += r * r;
    }
    return sum;
}

bool stat_line_fit(const double *x, const double *y, size_t count, struct line_fit *out) {
    struct stat_moments mx = {0, 0, 0}, my = {0, 0, 0};
    double products = 0;
    for (size_t i = 0; i < count; i++) {
        stat_moments_add(&mx, x[i]);
        stat_moments_add(&my, y[i]);
    }
    if (count < 2 || !(mx.squares > 0))
        return false;
    for (size_t i = 0; i < count; i++)
        products += (x[i] - mx.mean) * (y[i] - my.mean);
    double n = (double)count;
    *out = (struct line_fit){.count = count, .mean_x = mx.mean, .squares_x = mx.squares};
    out->slope = products / mx.squares;
    out->intercept = my.mean - out->slope * mx.mean;
    double squares = residual_squares(x, y, out, my.mean);
    out->r2 = my.squares > 0 ? 1 - squares / my.squares : 1;
    if (count == 2)
        return true;
    out->residual_sd = sqrt(squares / (n - 2));
    out->slope_se = out->residual_sd / sqrt(mx.squares);
    out->intercept_se = stat_line_se_at(out, 0);
    return true;
}

double stat_line_se_at(const struct line_fit *fit, double x) {
    double away = x - fit->mean_x;
    return fit->residual_sd * sqrt(1 / (double)fit->count + away * away / fit->squares_x);
}

bool stat_line_through(const double *x, const double *y, size_t count, double x0, double y0,
                       struct line_through *out) {
    double squares_x = 0, products = 0;
    for (size_t i = 0; i < count; i++) {
        squares_x += (x[i] - x0) * (x[i] - x0);
        products += (x[i] - x0) * (y[i] - y0);
    }
    if (!(squares_x > 0))
        return false;
    *out = (struct line_through){.count = count, .slope = products / squares_x};
    for (size_t i = 0; i < count; i++) {
        double r = (y[i] - y0) - out->slope * (x[i] - x0);
        out->squares += r * r;
    }
    out->sd_n = sqrt(out->squares / (double)count);
    if (count == 1)
        return true;
    out->sd_less = sqrt(out->squares / (double)(count - 1));
    out->slope_se = out->sd_less / sqrt(squares_x);
    return true;
}
