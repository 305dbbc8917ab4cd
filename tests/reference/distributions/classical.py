"""Writes classical/NAME.csv: tails and quantiles of the normal, t, chi-square, gamma, F and beta distributions at 34 digits.

    python3 classical.py [NAME ...]    # needs mpmath (with gmpy2), and scipy for choosing the points; versions stand in each file

A tail is the integral of the density outward from the point, by Gauss-Legendre rules of 32 points on panels laid from the point
outward, over the logarithm of the variable (of x / (1 - x) for the beta); F and beta with moderate parameters are mpmath's
hypergeometric function instead. Every row is checked before it is written: the two tails, computed apart, sum to one to 1e-20, and
moderate gammas equal mpmath's own incomplete gamma function to 1e-20.

Columns: distribution, its parameters (first, second; empty where it has fewer), the point, the natural logarithms of the lower
and the upper tail. Where `kind` is `quantile`, the logarithm of the smaller tail was asked for, and the point is the answer.
"""
import csv
import math
import os
import platform
import sys

import mpmath as mp
import scipy
from scipy import stats

mp.mp.dps = 34
HYPERGEOMETRIC = 2000
TAILS = (1e-300, 1e-150, 1e-40, 1e-12, 1e-4, 0.02, 0.2, 0.48)


def legendre(count):
    """Gauss-Legendre points and weights on 0 to 1, by Newton's method."""
    points = []
    for index in range(count):
        z = mp.cos(mp.pi * (index + mp.mpf(3) / 4) / (count + mp.mpf(1) / 2))
        for _ in range(8):
            before, value = mp.mpf(0), mp.mpf(1)
            for k in range(count):
                before, value = value, ((2 * k + 1) * z * value - k * before) / (k + 1)
            slope = count * (z * value - before) / (z * z - 1)
            z -= value / slope
        points.append(((1 + z) / 2, 1 / ((1 - z * z) * slope * slope)))
    return points


RULE = legendre(32)


def integral(log_integrand, scale, settled, widest):
    """The integral over v > 0 of a function that falls away on the given scale or slower, nothing above e^-60 of its top left out.

    Up to `settled` it may have a peak somewhere, and no panel is wider than `widest`; beyond it is an exponential.
    """
    total, top, at, width = mp.mpf(0), -mp.inf, mp.mpf(0), mp.mpf(scale)
    while True:
        values = [(log_integrand(at + width * x), w) for x, w in RULE]
        total += width * sum(w * mp.exp(v) for v, w in values)
        top = max(top, *(v for v, _ in values))
        at += width
        if log_integrand(at) < top - 60:
            return total
        width = max(mp.mpf(scale), at / 4)
        if at < settled:
            width = min(width, widest)


def gamma_tails(a, x, sides=(0, 1)):
    a, x = mp.mpf(a), mp.mpf(x)
    constant = a * mp.log(x) - x - mp.loggamma(a)
    scale = 2 * min(1 / abs(a - x) if a != x else mp.inf, 1 / mp.sqrt(max(a, x)), 1 / a, 1)
    shapes = (lambda v: -a * v - x * mp.expm1(-v), lambda v: a * v - x * mp.expm1(v))
    settled, widest = (mp.log(x) + 50, mp.inf), 4 * min(mp.mpf(1) / 2, 1 / mp.sqrt(a))
    return [constant + mp.log(integral(shapes[side], scale, settled[side], widest)) if side in sides else None for side in (0, 1)]


def beta_tails(a, b, x, y, sides=(0, 1)):
    """y is 1 - x, given apart. With large parameters an integral over v, the change of ln(x / y): both ends are exponential."""
    a, b, x, y = map(mp.mpf, (a, b, x, y))
    if max(a, b) < HYPERGEOMETRIC:
        value = lambda p, q, at: mp.log(mp.betainc(p, q, 0, at, regularized=True))
        lower = value(a, b, x) if x < 0.999 else None
        upper = value(b, a, y) if y < 0.999 else None
        # an argument that rounds to one says nothing about what is left
        return [mp.log1p(-mp.exp(upper)) if lower is None else lower, mp.log1p(-mp.exp(lower)) if upper is None else upper]
    constant = a * mp.log(x) + b * mp.log(y) + mp.loggamma(a + b) - mp.loggamma(a) - mp.loggamma(b)
    scale = 2 * min(1 / a, 1 / b, 1 / mp.sqrt((a + b) * x * y), 1 / (abs(b * x - a * y) + mp.mpf(10) ** -30), 1)
    shapes = (lambda v: -a * v - (a + b) * mp.log1p(x * mp.expm1(-v)), lambda v: a * v - (a + b) * mp.log1p(x * mp.expm1(v)))
    settled, widest = (mp.log(x / y) + 50, mp.log(y / x) + 50), 4 * min(mp.mpf(1) / 2, 1 / mp.sqrt(min(a, b)))
    return [constant + mp.log(integral(shapes[side], scale, settled[side], widest)) if side in sides else None for side in (0, 1)]


def normal_tails(z, sides=(0, 1)):
    return [mp.log(mp.ncdf(z)), mp.log(mp.ncdf(-mp.mpf(z)))]


def t_tails(df, t, sides=(0, 1)):
    df, t = mp.mpf(df), mp.mpf(t)
    size = abs(t)
    constant = mp.loggamma((df + 1) / 2) - mp.loggamma(df / 2) - mp.log(df * mp.pi) / 2
    # over v with t + unit (e^v - 1): both a heavy tail and a normal one end within a few panels
    unit = max(min(1, mp.sqrt(df)), size / (df + 1))
    shape = lambda v: v - (df + 1) / 2 * mp.log1p((size + unit * mp.expm1(v)) ** 2 / df)
    outside = constant + mp.log(unit) + mp.log(integral(shape, min(mp.mpf(1) / 4, 1 / (size + 1)) if df > 50 else mp.mpf(1) / 4, mp.inf, mp.mpf(1) / 2))
    inside = mp.log1p(-mp.exp(outside))
    return (inside, outside) if t >= 0 else (outside, inside)


def f_tails(d1, d2, f, sides=(0, 1)):
    d1, d2, f = map(mp.mpf, (d1, d2, f))
    total = d1 * f + d2
    return beta_tails(d1 / 2, d2 / 2, d1 * f / total, d2 / total, sides)


DISTRIBUTIONS = {
    "normal": (normal_tails, stats.norm, [()]),
    "t": (t_tails, stats.t, [(d,) for d in (0.3, 1, 2, 2.7, 6, 16.5523, 45, 180, 4000.5, 1e6, 3e9)]),
    "chi_square": (lambda d, x, sides=(0, 1): gamma_tails(mp.mpf(d) / 2, mp.mpf(x) / 2, sides), stats.chi2, [(d,) for d in (0.02, 0.5, 1, 2, 2.7, 10, 33.3, 120, 1000, 12345.6, 1e6, 1e9)]),
    "gamma": (gamma_tails, stats.gamma, [(a,) for a in (0.004, 0.3, 1, 7.25, 150, 1e5)]),
    "F": (f_tails, stats.f, [(a, b) for a in (0.3, 1, 2, 4.6, 16, 1000) for b in (0.6, 3.5, 27, 400)] + [(4.6, 1e8), (2e5, 1e5), (1e7, 3)]),
    "beta": (lambda a, b, x, sides=(0, 1): beta_tails(a, b, x, 1 - mp.mpf(x), sides), stats.beta, [(a, b) for a in (0.05, 0.5, 1, 3, 40, 1500.5) for b in (0.2, 1, 2.5, 30, 700)] + [(1e6, 3e5), (2.5, 1e5)]),
}


def check(name, parameters, point, tails):
    log_lower, log_upper = tails
    total = mp.exp(log_lower) + mp.exp(log_upper)
    assert abs(total - 1) < mp.mpf(10) ** -20, (name, parameters, point, total - 1)
    if name in ("gamma", "chi_square") and parameters[0] < 1000:
        half = 2 if name == "chi_square" else 1
        other = mp.gammainc(mp.mpf(parameters[0]) / half, 0, mp.mpf(point) / half, regularized=True)
        assert abs(other / mp.exp(log_lower) - 1) < mp.mpf(10) ** -20, (name, parameters, point)


def usable(name, point):
    """A stored double that is inside the support, far enough from its ends to be written with few digits."""
    if not math.isfinite(point):
        return False
    if name == "beta":
        return 1e-290 < point < 1 - 1e-9
    return name in ("normal", "t") or 1e-290 < point < 1e290


def points(name, frozen, tails):
    found = set()
    for p in tails:
        for value in (frozen.ppf(p), frozen.isf(p)):
            # seven digits: a round number that the grid may also be read at
            value = float(f"{value:.7g}")
            if usable(name, value):
                found.add(value)
    if name in ("normal", "t"):
        found |= {0.0, 1e-9, -1e-3}
    return sorted(found)


def quantile(tails, log_target, upper, start):
    """The root, by secant steps on the logarithm of the tail."""
    side = 1 if upper else 0
    return mp.findroot(lambda v: tails(v)[side] - log_target, (start, start * (1 + 1e-7)), tol=1e-44, maxsteps=60)


def rows(name):
    tails, scipy_one, grid = DISTRIBUTIONS[name]
    for parameters in grid:
        large = name in ("F", "beta") and max(parameters) > HYPERGEOMETRIC
        frozen = scipy_one(*parameters)
        label = [repr(float(it)) for it in parameters] + [""] * (2 - len(parameters))
        for point in points(name, frozen, TAILS[::2] if large else TAILS):
            found = tails(*parameters, point)
            check(name, parameters, point, found)
            # next to one, the logarithm is as small as the other tail and follows from it
            found = [mp.log1p(-mp.exp(other)) if one > -0.01 else one for one, other in zip(found, reversed(found))]
            yield ["tails", name, *label, repr(point), mp.nstr(found[0], 20), mp.nstr(found[1], 20)]
        for p in () if large else (1e-250, 1e-9, 0.025, 0.4):
            for upper in (False, True):
                start = float(frozen.isf(p) if upper else frozen.ppf(p))
                if not usable(name, start) or start == 0 or name == "beta" and start > 0.999:
                    continue
                log_p = mp.log(mp.mpf(p))
                try:
                    root = quantile(lambda v: tails(*parameters, v, sides=(int(upper),)), log_p, upper, mp.mpf(start))
                except ValueError:
                    continue
                reached = tails(*parameters, root)
                assert abs(reached[upper] - log_p) < mp.mpf(10) ** -20, (name, parameters, p)
                other = mp.log1p(-mp.exp(log_p))
                pair = (other, log_p) if upper else (log_p, other)
                yield ["quantile", name, *label, mp.nstr(root, 20), mp.nstr(pair[0], 20), mp.nstr(pair[1], 20)]


os.makedirs("classical", exist_ok=True)
for name in sys.argv[1:] or DISTRIBUTIONS:
    with open(f"classical/{name}.csv", "w", newline="") as file:
        file.write(f"# made by classical.py with python {platform.python_version()}, mpmath {mp.__version__}, scipy {scipy.__version__}\n")
        out = csv.writer(file, lineterminator="\n")
        out.writerow(("kind", "distribution", "first", "second", "point", "log_lower", "log_upper"))
        out.writerows(rows(name))
