"""Writes range.csv and largest.csv: upper tails of the studentised range and of the largest of correlated t (Dunnett and beyond).

    python3 multivariate.py [range] [largest]        # needs numpy and scipy; versions stand in the first line of either file

Nested Gauss-Legendre rules on fine panels, every factor that is small computed as it is (log1p, expm1), so that far tails keep
their digits. Each value is computed twice, the second time with panels 1.37 times as many, and must agree to 2e-9 relative.
(Guardrow uses trapezoid rules, tables and a lattice.) scipy's studentized_range gives further rows where it is good to 1e-11.

Correlations that are not of product form have two factors, r_ij = lambda_i lambda_j + mu_i mu_j, so that a triple integral is
exact; their matrix is all that the Rust test passes on.

Columns: function, the point, degrees of freedom, then: means for range and scipy_range; lambda joined by ; for the largest of several
t; lambda, a |, and mu for two factors.
"""
import csv
import itertools
import platform
import sys

import numpy as np
import scipy
from scipy import special, stats

FINENESS = 1.0


def rule(low, high, panels):
    x, w = np.polynomial.legendre.leggauss(16)
    edges = np.linspace(low, high, int(panels * FINENESS) + 1)
    half = np.diff(edges) / 2
    return ((edges[:-1] + half)[:, None] + half[:, None] * x).ravel(), (half[:, None] * w).ravel()


def range_upper_known(w, k):
    """For an array of ranges: k int phi(u) (Phi(u)^(k-1) - (Phi(u) - Phi(u-w))^(k-1)) du."""
    found = np.empty_like(w)
    for i, width in enumerate(w):
        u, weight = rule(-9, max(9, width / 2 + 8), 14 + width)
        log_upper = special.log_ndtr(u)
        share = np.exp(special.log_ndtr(u - width) - log_upper)
        with np.errstate(divide="ignore"):
            difference = -np.expm1((k - 1) * np.log1p(-np.minimum(share, 1)))
        found[i] = k * np.sum(weight * np.exp(stats.norm.logpdf(u) + (k - 1) * log_upper) * difference)
    return found


def largest_upper_known(limit, factors, two_sided):
    """factors: comparisons x number of common normals (1 or 2)."""
    factors = np.asarray(factors)
    rest = np.sqrt(1 - (factors**2).sum(axis=1))
    found = np.empty_like(limit)
    for i, h in enumerate(limit):
        axis, weight = rule(-9.5, 9.5, 10 if factors.shape[1] == 2 else 24)
        if h > 8 and factors.shape[1] == 1:
            axis, weight = rule(-h - 9.5, h + 9.5, 24 + 2 * h)
        if factors.shape[1] == 1:
            shift, weights = axis[:, None] * factors[:, 0], weight * stats.norm.pdf(axis)
        else:
            a, b = np.meshgrid(axis, axis, indexing="ij")
            shift = a.ravel()[:, None] * factors[:, 0] + b.ravel()[:, None] * factors[:, 1]
            weights = np.outer(weight * stats.norm.pdf(axis), weight * stats.norm.pdf(axis)).ravel()
        outside = special.ndtr((shift - h) / rest)
        if two_sided:
            outside = outside + special.ndtr((-h - shift) / rest)
        with np.errstate(divide="ignore"):
            found[i] = np.sum(weights * -np.expm1(np.log1p(-np.minimum(outside, 1)).sum(axis=1)))
    return found


def over_deviation(known, q, df, most=20):
    """The mean of known(q s) over s, the root of a chi-square over its df."""
    if np.isinf(df):
        return known(np.array([q]))[0]
    log_density = lambda x: np.log(2) + df / 2 * np.log(df / 2) - special.gammaln(df / 2) + df * x - df / 2 * np.exp(2 * x)
    coarse = np.linspace(-80 / df - 3, 3.5, 90)
    with np.errstate(divide="ignore"):
        heights = log_density(coarse) + np.log(known(q * np.exp(coarse)))
    kept = np.flatnonzero(heights > heights.max() - 42)
    low, high = coarse[max(kept[0] - 1, 0)], coarse[min(kept[-1] + 1, 89)]
    x, weight = rule(low, high, max(12, (high - low) * min(most, np.sqrt(2 * df) + 4)))
    return np.sum(weight * np.exp(log_density(x)) * known(q * np.exp(x)))


def twice(known, q, df, most=20):
    global FINENESS
    values = []
    for FINENESS in (1.0, 1.37):
        values.append(over_deviation(known, q, df, most))
    FINENESS = 1.0
    assert abs(values[1] / values[0] - 1) < 2e-9, (q, df, values)
    return values[1]


def range_rows():
    for k in (3, 4, 7, 12, 16, 17, 45, 100, 400):
        for df in (1, 2, 4.6, 16.5523, 120, np.inf):
            for q in (0.3, 1.5, 3.3, 5.1, 9.0, 16.0, 45.0):
                yield "range", q, df, str(k), twice(lambda w: range_upper_known(w, k), q, df)
        print("range", k, flush=True)
    for q, k, df in itertools.product((0.3, 1.5, 3.0, 4.2, 6.5, 10.0), (2, 3, 4, 12, 45, 100), (2, 4.6, 6, 16.5523, 27, 120, 1000)):
        yield "scipy_range", q, df, str(k), stats.studentized_range.sf(q, k, df)


def largest_rows():
    half = 0.5**0.5
    families = ([half] * 2, [half] * 3, [half] * 8, [half] * 30, [0.5, 0.7, 0.9], [1 / 3] * 7, [0.1, 0.97], [0.7, -0.4, 0.2], [0.985, 0.6, 0.6])
    for lambdas in families:
        for df in (2, 27.5, np.inf):
            for t in (0.4, 1.6, 2.8, 5.0):
                for name, two_sided in (("largest_absolute", True), ("largest", False)):
                    known = lambda h: largest_upper_known(h, [[l] for l in lambdas], two_sided)
                    yield name, t, df, ";".join(map(repr, lambdas)), twice(known, t, df, 8)
        print("one factor", len(lambdas), flush=True)
    pairs = (
        ([half] * 4, [0.1, -0.1, 0.2, 0.0]),
        ([0.7, 0.65, 0.72, 0.68, 0.7, 0.66], [0.15, -0.1, 0.05, -0.2, 0.1, 0.0]),
        ([0.6, 0.5, 0.7], [0.5, -0.6, 0.2]),
        ([0.3, -0.5, 0.6, 0.1, 0.4], [0.7, 0.5, 0.1, -0.6, 0.3]),
    )
    for lambdas, mus in pairs:
        for df in (5, np.inf):
            for t in (0.8, 2.1, 3.4):
                for name, two_sided in (("largest_absolute", True), ("largest", False)):
                    known = lambda h: largest_upper_known(h, list(zip(lambdas, mus)), two_sided)
                    value = over_deviation(known, t, df, 8)
                    yield name + "_two_factors", t, df, ";".join(map(repr, lambdas)) + "|" + ";".join(map(repr, mus)), value
        print("two factors", len(lambdas), flush=True)


for section in sys.argv[1:] or ("range", "largest"):
    with open(section + ".csv", "w", newline="") as file:
        file.write(f"# made by multivariate.py with python {platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}\n")
        out = csv.writer(file, lineterminator="\n")
        out.writerow(("function", "point", "df", "which", "upper"))
        for name, point, df, which, value in range_rows() if section == "range" else largest_rows():
            out.writerow((name, repr(float(point)), repr(float(df)), which, repr(float(value))))
