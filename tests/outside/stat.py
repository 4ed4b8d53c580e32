#!/usr/bin/env python3
"""Holds src/stat/ against SciPy and statsmodels, over seeded random questions and the corners.

usage: stat.py PROBE
"""
import itertools
import math
import random
import subprocess
import sys

sys.dont_write_bytecode = True  # noqa: E402

from scipy import integrate, special, stats
from statsmodels.stats.proportion import proportion_confint, proportions_ztest

SHAPES = (0.3, 0.5, 1, 1.7, 5, 30, 999, 2.1e4, 1e6)
PS = (1e-6, 0.025, 0.4, 0.5, 0.975, 1 - 1e-6)
questions = []  # (line, expected numbers or None, relative tolerance)


def ask(word, numbers, expected, tolerance):
    line = word + " " + " ".join(repr(float(n)) for n in numbers)
    questions.append((line, expected, tolerance))


def ask_distributions():
    for p in PS:
        ask("normal", (p, 1.5), (stats.norm.ppf(p), stats.norm.sf(1.5)), 1e-12)
        for a in SHAPES:
            t, chi2, gamma = stats.t(a), stats.chi2(a), stats.gamma(a)
            if p != 0.5:  # where it is 0, SciPy gives 1e-17
                ask("t", (p, 2.2, a), (t.ppf(p), t.sf(2.2)), 3e-9)
            ask("chi2", (p, 1.2 * a, a), (chi2.ppf(p), chi2.sf(1.2 * a)), 1e-8)
            ask("gamma", (p, 0.9 * a, a), (gamma.ppf(p), gamma.cdf(0.9 * a)), 1e-8)
            for b in SHAPES:
                f, beta, x = stats.f(a, b), stats.beta(a, b), a / (a + b)
                ask("f", (p, 1.1, a, b), (f.ppf(p), f.sf(1.1)), 1e-8)
                ask("beta", (p, x, a, b), (beta.ppf(p), beta.cdf(x)), 1e-8)


def ask_proportions(chance):
    pairs = [(0, 20), (20, 20), (1, 10), (0, 1000), (9999, 10000), (1, 10**6), (10**6, 2 * 10**6)]
    for _ in range(60):
        n = round(10 ** chance.uniform(0, 5))
        pairs.append((chance.randint(0, n), n))
    for x, n in pairs:
        level = chance.choice((0.9, 0.95, 0.99))
        ask("wilson", (x, n, level), proportion_confint(x, n, 1 - level, "wilson"), 1e-9)
        ask("exact", (x, n, level), proportion_confint(x, n, 1 - level, "beta"), 1e-8)
        p0 = chance.choice((x / n, 0.05, 0.5, 0.9))
        if 0 < p0 < 1:
            ask("binomial", (x, n, p0), (stats.binomtest(x, n, p0).pvalue,), 1e-6)


def newcombe(x1, n1, x2, n2):
    low1, high1 = proportion_confint(x1, n1, 0.05, "wilson")
    low2, high2 = proportion_confint(x2, n2, 0.05, "wilson")
    p1, p2 = x1 / n1, x2 / n2
    return (p1 - p2 - math.hypot(p1 - low1, high2 - p2), p1 - p2 + math.hypot(high1 - p1, p2 - low2))


def ask_tables(chance):
    for _ in range(60):
        n1, n2 = (round(10 ** chance.uniform(0.5, 2)) for _ in range(2))
        a, c = chance.randint(0, n1), chance.randint(0, n2)
        ask("newcombe", (a, n1, c, n2, 0.95), newcombe(a, n1, c, n2), 1e-9)
        mixed = 0 < a + c < n1 + n2
        ask("pooled", (a, n1, c, n2), proportions_ztest((a, c), (n1, n2)) if mixed else None, 1e-9)
        if not mixed:
            continue
        table = [[a, n1 - a], [c, n2 - c]]
        odds = stats.contingency.odds_ratio(table, kind="conditional")
        limits = odds.confidence_interval(0.95)
        ps = [stats.fisher_exact(table, side)[1] for side in ("two-sided", "greater", "less")]
        ask("fisher", (a, n1 - a, c, n2 - c, 0.95), (*ps, odds.statistic, *limits), 1e-5)


def ask_orders(chance):
    for case in range(40):
        draw = (lambda: chance.randint(0, 12)) if case % 2 else chance.random
        x, y = [draw() for _ in range(chance.randint(3, 25))], [draw() for _ in range(12)]
        ties = len(set(x + y)) < len(x + y)
        result = [stats.mannwhitneyu(x, y, alternative=side, method="asymptotic" if ties else "exact")
                  for side in ("two-sided", "greater", "less")]
        ask("ranks", (len(x), *x, *y), (not ties, result[0].statistic, *(r.pvalue for r in result)),
            1e-9)


def ask_permutations(chance):
    def difference(x, y, axis):
        return y.mean(axis=axis) - x.mean(axis=axis)
    for _ in range(8):
        x = [chance.randint(0, 9) for _ in range(chance.randint(2, 6))]
        y = [chance.randint(0, 12) for _ in range(chance.randint(2, 6))]
        p = {side: stats.permutation_test((x, y), difference, n_resamples=math.inf, vectorized=True,
                                          alternative=side).pvalue for side in ("greater", "less")}
        distribution = stats.permutation_test((x, y), difference, n_resamples=math.inf,
                                              vectorized=True).null_distribution
        seen = sum(y) / len(y) - sum(x) / len(x)
        both = (abs(distribution) >= abs(seen) * (1 - 1e-10)).mean()
        ask("permute", (len(x), *x, *y), (seen, both, p["greater"], p["less"]), 1e-9)


def ask_periods(chance):
    """The exact law of a sum of n pointers (Kluyver 1906): P(R > r) = 1 - r int J1(rt) J0(t)^n dt."""
    for n in (12, 20, 40):
        for spread in (0.2, 0.3, 0.6):
            times = [chance.randint(0, 50) + chance.gauss(0, spread) for _ in range(n)]
            turns = [2 * math.pi * t for t in times]
            r = math.hypot(sum(map(math.cos, turns)), sum(map(math.sin, turns)))
            pieces = (integrate.quad(lambda t: special.j1(r * t) * special.j0(t) ** n, a, a + 1)[0]
                      for a in range(120))
            exact = 1 - r * sum(pieces)
            if exact > 1e-3:
                ask("period", (1, *times), (exact,), 0.05)


def same(got, expected, tolerance):
    if expected is None or got == "none":
        return expected is None and got == "none"
    numbers = [float(word) for word in got.split()]
    return len(numbers) == len(expected) and all(
        g == e or abs(g - e) <= tolerance * abs(e) + 1e-15 for g, e in zip(numbers, expected))


def main():
    chance = random.Random(4)
    ask_distributions()
    ask_proportions(chance)
    ask_tables(chance)
    ask_orders(chance)
    ask_permutations(chance)
    ask_periods(chance)
    text = "\n".join(line for line, _, _ in questions) + "\n"
    run = subprocess.run([sys.argv[1]], input=text, capture_output=True, text=True, check=True)
    answers = run.stdout.splitlines()
    faults = [f"{line[:120]}\n  got      {got}\n  expected {expected}"
              for (line, expected, tolerance), got in itertools.zip_longest(
                  questions, answers, fillvalue="") if not same(got, expected, tolerance)]
    print(f"{len(questions)} questions, {len(faults)} answered differently")
    print("\n".join(faults[:20]))
    return 1 if faults or len(answers) != len(questions) else 0


if __name__ == "__main__":
    sys.exit(main())
