#include "stat/logit.h"

#include <math.h>

#include "stat/distribution.h"

enum { STEPS_MAX = 100 };

static double share_of(double eta) {
    return eta >= 0 ? 1 / (1 + exp(-eta)) : exp(eta) / (1 + exp(eta));
}

/* ln(1 + e^eta), whatever eta. */
static double log_one_plus_exp(double eta) {
    return eta > 0 ? eta + log1p(exp(-eta)) : log1p(exp(eta));
}

static double times_log(double a, double b) { /* a ln(a/b), 0 for a = 0 */
    return a > 0 ? a * log(a / b) : 0;
}

/* What one point's loss at eta is short of its own loss, times -2. */
static double deviance_at(const struct logit_point *p, double eta) {
    double n = p->packets, y = p->lost;
    double own = times_log(y, n) + times_log(n - y, n);
    return 2 * (own - (y * eta - n * log_one_plus_exp(eta)));
}

/* The line a + b z over z = (x - middle) / scale, so that the two coefficients hardly hang
 * together. */
struct frame {
    double middle, scale;
};

static double eta_at(const struct frame *f, const double *coefficients, double x) {
    return coefficients[0] + coefficients[1] * (x - f->middle) / f->scale;
}

static double deviance_of(const struct logit_point *points, size_t count, const struct frame *f,
                          const double *coefficients) {
    double sum = 0;
    for (size_t i = 0; i < count; i++)
        if (points[i].packets > 0)
            sum += deviance_at(&points[i], eta_at(f, coefficients, points[i].x));
    return sum;
}

struct counts {
    size_t points;
    double lost, packets;
    double least, most;                 /* x */
    double lost_least, lost_most;       /* x of points with a lost packet */
    double arrived_least, arrived_most; /* x of points with an arrived one */
};

static void widen(double x, double *least, double *most) {
    *least = fmin(*least, x);
    *most = fmax(*most, x);
}

static struct counts count_points(const struct logit_point *points, size_t count) {
    struct counts c = {0, 0, 0, INFINITY, -INFINITY, INFINITY, -INFINITY, INFINITY, -INFINITY};
    for (size_t i = 0; i < count; i++) {
        const struct logit_point *p = &points[i];
        if (!(p->packets > 0))
            continue;
        c.points++;
        c.lost += p->lost;
        c.packets += p->packets;
        widen(p->x, &c.least, &c.most);
        if (p->lost > 0)
            widen(p->x, &c.lost_least, &c.lost_most);
        if (p->lost < p->packets)
            widen(p->x, &c.arrived_least, &c.arrived_most);
    }
    return c;
}

static enum logit_kind refuse(const struct counts *c) {
    if (c->points < 2 || !(c->least < c->most))
        return LOGIT_FEW;
    if (!(c->lost > 0))
        return LOGIT_NONE_LOST;
    if (!(c->lost < c->packets))
        return LOGIT_ALL_LOST;
    if (c->arrived_most <= c->lost_least || c->lost_most <= c->arrived_least)
        return LOGIT_SEPARATED;
    return LOGIT_FITS;
}

/* Slope of the likelihood and the information, at the given coefficients. */
struct slope {
    double u[2], i00, i01, i11;
};

static struct slope climb(const struct logit_point *points, size_t count, const struct frame *f,
                          const double *coefficients) {
    struct slope s = {{0, 0}, 0, 0, 0};
    for (size_t i = 0; i < count; i++) {
        double n = points[i].packets, z = (points[i].x - f->middle) / f->scale;
        double p = share_of(eta_at(f, coefficients, points[i].x));
        double miss = points[i].lost - n * p, weight = n * p * (1 - p);
        s.u[0] += miss;
        s.u[1] += miss * z;
        s.i00 += weight;
        s.i01 += weight * z;
        s.i11 += weight * z * z;
    }
    return s;
}

/* Newton's steps, which for this link are those of iteratively reweighted least squares, halved
 * where one would lead downhill. */
static bool climb_up(const struct logit_point *points, size_t count, const struct frame *f,
                     double *coefficients) {
    double deviance = deviance_of(points, count, f, coefficients);
    for (int step = 0; step < STEPS_MAX; step++) {
        struct slope s = climb(points, count, f, coefficients);
        double determinant = s.i00 * s.i11 - s.i01 * s.i01;
        if (!(determinant > 0))
            return false;
        double d0 = (s.i11 * s.u[0] - s.i01 * s.u[1]) / determinant;
        double d1 = (s.i00 * s.u[1] - s.i01 * s.u[0]) / determinant;
        double next[2] = {coefficients[0], coefficients[1]}, found = INFINITY;
        for (double share = 1; share > 1e-6 && !(found <= deviance + 1e-9); share /= 2) {
            next[0] = coefficients[0] + share * d0;
            next[1] = coefficients[1] + share * d1;
            found = deviance_of(points, count, f, next);
        }
        coefficients[0] = next[0];
        coefficients[1] = next[1];
        deviance = found;
        if (fabs(d0) <= 1e-10 * (1 + fabs(next[0])) && fabs(d1) <= 1e-10 * (1 + fabs(next[1])))
            return true;
    }
    return false;
}

static double pearson_of(const struct logit_point *points, size_t count, const struct frame *f,
                         const double *coefficients) {
    double sum = 0;
    for (size_t i = 0; i < count; i++) {
        double n = points[i].packets;
        double p = share_of(eta_at(f, coefficients, points[i].x));
        double miss = points[i].lost - n * p;
        if (points[i].packets > 0)
            sum += miss * miss / (n * p * (1 - p));
    }
    return sum;
}

/* From the line over z to the line over x. */
static void take_fit(const struct logit_point *points, size_t count, const struct frame *f,
                     const double *coefficients, struct logit_fit *out) {
    struct slope s = climb(points, count, f, coefficients);
    double determinant = s.i00 * s.i11 - s.i01 * s.i01, m = f->middle / f->scale;
    double w00 = s.i11 / determinant, w01 = -s.i01 / determinant, w11 = s.i00 / determinant;
    out->slope = coefficients[1] / f->scale;
    out->intercept = coefficients[0] - coefficients[1] * m;
    out->v11 = w00 - 2 * m * w01 + m * m * w11;
    out->v12 = (w01 - m * w11) / f->scale;
    out->v22 = w11 / (f->scale * f->scale);
    out->deviance = deviance_of(points, count, f, coefficients);
    out->pearson = pearson_of(points, count, f, coefficients);
}

enum logit_kind stat_logit_fit(const struct logit_point *points, size_t count,
                               struct logit_fit *out) {
    struct counts c = count_points(points, count);
    enum logit_kind kind = refuse(&c);
    if (kind != LOGIT_FITS)
        return kind;
    struct frame frame = {(c.least + c.most) / 2, (c.most - c.least) / 2};
    double arrived = c.packets - c.lost;
    double coefficients[2] = {log(c.lost / arrived), 0};
    if (!climb_up(points, count, &frame, coefficients))
        return LOGIT_DIVERGES;
    out->points = c.points;
    out->df = (double)(c.points - 2);
    take_fit(points, count, &frame, coefficients, out);
    return LOGIT_FITS;
}

static double quantile_of(const struct logit_trust *trust) {
    double p = 0.5 + trust->level / 2;
    return isinf(trust->df) ? stat_normal_quantile(p) : stat_t_quantile(p, trust->df);
}

static double variance_at(const struct logit_fit *fit, double x) {
    return fit->v11 + 2 * x * fit->v12 + x * x * fit->v22;
}

/* The limits solve (slope u)^2 = t^2 (variance of the line at x + u): a square equation in the
 * distance u from the estimate, which keeps its digits where one in x itself would lose them. */
bool stat_logit_fieller(const struct logit_fit *fit, double p, const struct logit_trust *trust,
                        struct logit_where *out) {
    double t = quantile_of(trust), b = fit->slope;
    if (!(p > 0 && p < 1) || b == 0 || isnan(t) || !(trust->dispersion > 0))
        return false;
    out->x = (log(p / (1 - p)) - fit->intercept) / b;
    double at_x = trust->dispersion * fmax(0, variance_at(fit, out->x));
    double tilt = trust->dispersion * (fit->v12 + out->x * fit->v22);
    out->quantile = t;
    out->se = sqrt(at_x) / fabs(b);
    out->g = t * t * trust->dispersion * fit->v22 / (b * b);
    out->bounded = out->g < 1;
    out->low = -INFINITY;
    out->high = INFINITY;
    if (!out->bounded)
        return true;
    double lead = b * b * (1 - out->g), half = t * t * tilt;
    double root = sqrt(half * half + lead * t * t * at_x);
    out->low = out->x + (half - root) / lead;
    out->high = out->x + (half + root) / lead;
    return true;
}

void stat_logit_at(const struct logit_fit *fit, double x, const struct logit_trust *trust,
                   struct logit_at *out) {
    double t = quantile_of(trust);
    out->eta = fit->intercept + fit->slope * x;
    out->se = sqrt(trust->dispersion * fmax(0, variance_at(fit, x)));
    out->p = share_of(out->eta);
    out->low = share_of(out->eta - t * out->se);
    out->high = share_of(out->eta + t * out->se);
}

/* Least deviance where one coefficient is held, the other free from a guess on. */
static double held_deviance(const struct logit_point *points, size_t count,
                            enum logit_coefficient held, double value, double *free) {
    const struct frame plain = {0, 1};
    for (int step = 0; step < STEPS_MAX; step++) {
        double line[2] = {held == LOGIT_INTERCEPT ? value : *free,
                          held == LOGIT_INTERCEPT ? *free : value};
        struct slope s = climb(points, count, &plain, line);
        double by = held == LOGIT_INTERCEPT ? s.u[1] / s.i11 : s.u[0] / s.i00;
        if (!isfinite(by))
            return NAN;
        *free += by;
        if (fabs(by) <= 1e-11 * (1 + fabs(*free)))
            return deviance_of(points, count, &plain,
                               held == LOGIT_INTERCEPT ? (double[]){value, *free}
                                                       : (double[]){*free, value});
    }
    return NAN;
}

struct profile {
    const struct logit_point *points;
    size_t count;
    const struct logit_fit *fit;
    enum logit_coefficient held;
    double top, rise; /* best value, and by how much the deviance may grow */
};

/* The deviance's growth where the coefficient is held `away` from its best, less what it may be;
 * the free coefficient begins where the covariance expects it. */
static double growth(const struct profile *p, double away) {
    const struct logit_fit *f = p->fit;
    bool intercept = p->held == LOGIT_INTERCEPT;
    double free =
        intercept ? f->slope + away * f->v12 / f->v11 : f->intercept + away * f->v12 / f->v22;
    double deviance = held_deviance(p->points, p->count, p->held, p->top + away, &free);
    return deviance - f->deviance - p->rise;
}

/* Goes out by steps of a standard error till the growth is enough, then halves. */
static bool find_side(const struct profile *p, double step, double *out) {
    double near = 0, far = step;
    for (int i = 0; !(growth(p, far) > 0); i++) {
        if (i == 50 || isnan(growth(p, far)))
            return false;
        near = far;
        far += step;
    }
    for (int i = 0; i < 60; i++) {
        double middle = (near + far) / 2;
        *(growth(p, middle) > 0 ? &far : &near) = middle;
    }
    *out = p->top + far;
    return true;
}

bool stat_logit_profile(const struct logit_point *points, size_t count, const struct logit_fit *fit,
                        enum logit_coefficient which, const struct logit_trust *trust,
                        struct stat_interval *out) {
    double t = quantile_of(trust), rise = trust->dispersion * t * t;
    bool intercept = which == LOGIT_INTERCEPT;
    struct profile p = {points, count, fit, which, intercept ? fit->intercept : fit->slope, rise};
    double se = sqrt(trust->dispersion * (intercept ? fit->v11 : fit->v22));
    return find_side(&p, -se, &out->low) && find_side(&p, se, &out->high);
}
