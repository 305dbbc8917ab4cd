"""Writes values.csv: probabilities and quantiles for checking Guardrow's distributions.

    python3 make_values.py        # needs numpy and scipy; versions stand in the first lines of values.csv

Columns: function, then up to three arguments, then the value. Dunnett's probability is a double integral by scipy.integrate.quad
over the control's deviation and the estimated standard deviation, with the factors as given in `lambdas` (joined by ;).
"""
import csv
import itertools
import platform

import numpy as np
import scipy
from scipy import integrate, special, stats


def dunnett_upper(t, lambdas, df):
    """P(max |T_i| > t), correlations lambda_i lambda_j."""
    rest = [np.sqrt(1 - l * l) for l in lambdas]

    def outside(h):
        def integrand(z):
            log_inside = sum(np.log1p(-special.ndtr((-h - l * z) / r) - special.ndtr((l * z - h) / r)) for l, r in zip(lambdas, rest))
            return stats.norm.pdf(z) * -np.expm1(log_inside)

        return integrate.quad(integrand, -9, 9, epsabs=1e-14, epsrel=1e-12, limit=500)[0]

    if np.isinf(df):
        return outside(t)
    chi = stats.chi(df)
    low, high = chi.ppf(1e-16), chi.isf(1e-16)
    middle = chi.ppf([0.01, 0.5, 0.99])
    return integrate.quad(lambda c: chi.pdf(c) * outside(t * c / np.sqrt(df)), low, high, points=middle, epsabs=1e-13, epsrel=1e-11, limit=500)[0]


def rows():
    for z in (-37.0, -8.5, -3.1, -0.2, 0.0, 1.0, 2.5758, 6.0, 20.0):
        yield "normal_upper", z, "", "", stats.norm.sf(z)
    for p in (1e-300, 1e-20, 1e-5, 0.025, 0.3, 0.5, 0.9, 0.995, 1 - 1e-9):
        yield "normal_quantile", p, "", "", special.ndtri(p)
    for t, df in itertools.product((-3.0, -0.1, 0.3, 1.0, 2.2, 4.5, 12.0, 60.0), (1, 2, 2.7, 6, 16.5523, 45, 180, 4000, 1e6, 3e8)):
        yield "t_upper", t, df, "", stats.t.sf(t, df)
    for p, df in itertools.product((1e-12, 1e-4, 0.025, 0.05, 0.4, 0.75, 0.975, 0.9999), (1, 2.7, 6, 16.5523, 45, 1e4, np.inf)):
        yield "t_quantile", p, df, "", stats.t.ppf(p, df) if np.isfinite(df) else special.ndtri(p)
    for f, a, b in itertools.product((0.01, 0.5, 1.0, 3.4, 29.7, 400.0), (1, 2, 4, 16, 49), (1, 3.5, 8, 27, 60, 400)):
        yield "f_upper", f, a, b, stats.f.sf(f, a, b)
        yield "f_lower", f, a, b, stats.f.cdf(f, a, b)
    for p, a, b in itertools.product((1e-6, 0.05, 0.5, 0.95, 0.999), (1, 4, 16), (3.5, 27, 400)):
        yield "f_quantile", p, a, b, stats.f.ppf(p, a, b)
    for x, df in itertools.product((1e-3, 0.5, 3.0, 20.0, 90.0), (1, 2.5, 10, 60)):
        yield "chi_square_upper", x, df, "", stats.chi2.sf(x, df)
        yield "chi_square_lower", x, df, "", stats.chi2.cdf(x, df)
    for p, df in itertools.product((1e-8, 0.05, 0.5, 0.999), (1, 2.5, 10, 60)):
        yield "chi_square_quantile", p, df, "", stats.chi2.ppf(p, df)
    for q, k, df in itertools.product((0.3, 1.5, 3.0, 4.2, 6.5, 10.0), (2, 3, 4, 12, 45, 100), (2, 4.6, 6, 16.5523, 27, 120, 1000)):
        yield "studentised_range_upper", q, k, df, stats.studentized_range.sf(q, k, df)
    for p, k, df in itertools.product((0.01, 0.05, 0.2), (3, 6, 20), (4, 15, 60)):
        yield "studentised_range_quantile_of_upper", p, k, df, stats.studentized_range.isf(p, k, df)
    equal = [0.5 ** 0.5]
    families = [equal * 2, equal * 8, [0.5, 0.7, 0.9], [1 / 3] * 7, [0.1, 0.99], [0.7, -0.4, 0.2]]
    for t, lambdas, df in itertools.product((0.4, 1.6, 2.8, 5.0), families, (3, 12, 27.5, 200, np.inf)):
        yield "dunnett_upper", t, df, ";".join(map(repr, lambdas)), dunnett_upper(t, lambdas, df)


with open("values.csv", "w", newline="") as file:
    file.write(f"# made by make_values.py with python {platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}\n")
    out = csv.writer(file, lineterminator="\n")
    out.writerow(("function", "first", "second", "third", "value"))
    for row in rows():
        out.writerow([repr(float(it)) if isinstance(it, (int, float, np.floating)) else it for it in row])
