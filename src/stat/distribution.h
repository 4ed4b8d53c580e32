/* Quantiles and tails of distributions, by the GNU Scientific Library: this is its only door.
 * Probabilities lie in 0..1, degrees of freedom and shapes above 0 (they need not be whole); an
 * argument outside gives NaN.  Relative error below 1e-8 for shapes and half degrees of freedom up
 * to a million; beyond that the library's own approximations show.  Nothing is allocated, and its
 * habit of aborting on errors is switched off at each call. */
#ifndef STAT_DISTRIBUTION_H
#define STAT_DISTRIBUTION_H

/* x with P(X <= x) = p. */
double stat_normal_quantile(double p); /* mean 0, standard deviation 1 */
double stat_t_quantile(double p, double df);
double stat_chi2_quantile(double p, double df); /* df 0 gives 0 */
double stat_f_quantile(double p, double df1, double df2);
double stat_beta_quantile(double p, double a, double b);
double stat_gamma_quantile(double p, double shape, double scale);

/* P(X > x), exact far out where 1 - P(X <= x) would be rounding noise. */
double stat_normal_tail(double x);
double stat_t_tail(double x, double df);
double stat_chi2_tail(double x, double df);
double stat_f_tail(double x, double df1, double df2);

/* P(X <= x) of the beta distribution: the regularised incomplete beta function I_x(a, b). */
double stat_beta_below(double x, double a, double b);

/* P(X <= x) of the gamma distribution of scale 1; for a whole shape m also the probability that a
 * Poisson count of mean x is m or more. */
double stat_gamma_below(double x, double shape);

#endif
