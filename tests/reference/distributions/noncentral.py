"""Writes noncentral.csv: tails of the noncentral t, F, chi-square and beta distributions.

    python3 noncentral.py        # needs mpmath (quick with gmpy2); versions stand in the first line of the file

Brute force: the Poisson mixtures are summed from zero in arithmetic of 450 digits, in which neither the cancellation of a
recurrence nor that of alternating signs matters. (Guardrow sums from the bulk in doubles, and integrates for the noncentral t.)
Each row's two tails are summed apart and must add up to one to 1e-40.

Columns: distribution, its parameters (t: df, delta; F: df, df, lambda; chi_square: df, lambda; beta: a, b, lambda), the point, the
natural logarithms of the lower and the upper tail.
"""
import csv
import platform

import mpmath as mp

mp.mp.dps = 450
TINY = mp.mpf(10) ** -440


def beta_series(a, b, x, y):
    """I_x(a, b), all terms positive."""
    term = mp.exp(a * mp.log(x) + b * mp.log(y) + mp.loggamma(a + b) - mp.loggamma(a + 1) - mp.loggamma(b))
    total, n = term, 0
    while term > TINY * total:
        term *= x * (a + b + n) / (a + 1 + n)
        total += term
        n += 1
    return total


def beta_lower(a, b, x, y):
    return beta_series(a, b, x, y) if x < 0.5 else 1 - beta_series(b, a, y, x)


def beta_family(a, b, x, y):
    """I_x(a + j, b) for j = 0, 1, ..."""
    lower = beta_lower(a, b, x, y)
    step = mp.exp(a * mp.log(x) + b * mp.log(y) + mp.loggamma(a + b) - mp.loggamma(a + 1) - mp.loggamma(b))
    j = 0
    while True:
        yield lower
        lower -= step
        step *= x * (a + b + j) / (a + j + 1)
        j += 1


def gamma_family(a, x):
    """P(a + j, x) for j = 0, 1, ..."""
    step = mp.exp(a * mp.log(x) - x - mp.loggamma(a + 1))
    term, total, n = step, step, 0
    while term > TINY * total:
        n += 1
        term *= x / (a + n)
        total += term
    lower, j = total, 0
    while True:
        yield lower
        lower -= step
        step *= x / (a + j + 1)
        j += 1


def mixture(half, family):
    """Sums of Poisson(j; half) times lower and upper probabilities, until all Poisson mass is used."""
    weight, lower, upper = mp.exp(-half), mp.mpf(0), mp.mpf(0)
    for j, probability in enumerate(family):
        lower += weight * probability
        upper += weight * (1 - probability)
        weight *= half / (j + 1)
        if j > half and weight < TINY:
            return lower, upper


def f_tails(d1, d2, lam, f):
    x = d1 * f / (d1 * f + d2)
    return mixture(lam / 2, beta_family(d1 / 2, d2 / 2, x, d2 / (d1 * f + d2)))


def chi_square_tails(df, lam, x):
    return mixture(lam / 2, gamma_family(df / 2, x / 2))


def beta_tails(a, b, lam, x):
    return mixture(lam / 2, beta_family(a, b, x, 1 - x))


def t_tails(df, delta, t):
    """Lenth (1989), AS 243: P(0 < T < t) by two mixtures; the point's sign moves to the noncentrality."""
    if t < 0:
        return tuple(reversed(t_tails(df, -delta, -t)))
    x, y = t * t / (df + t * t), df / (df + t * t)
    half = delta * delta / 2
    even = mp.exp(-half)
    odd = delta * mp.exp(-half) / mp.sqrt(2) / mp.gamma(mp.mpf(3) / 2)
    inside = mp.mpf(0)
    families = zip(beta_family(mp.mpf(1) / 2, df / 2, x, y), beta_family(mp.mpf(1), df / 2, x, y))
    for j, (of_even, of_odd) in enumerate(families):
        inside += (even * of_even + odd * of_odd) / 2
        even *= half / (j + 1)
        odd *= half / (j + mp.mpf(3) / 2)
        if j > half and even < TINY:
            break
    lower = mp.ncdf(-delta) + inside
    return lower, 1 - lower


def rows():
    for df in (0.5, 1, 2.7, 6, 27, 120.5, 4000):
        for delta in (-3, 0.001, 0.7, 2.8, 8, 40, 200):
            spread = (1 + delta * delta / (2 * df)) ** 0.5
            for z in (-9, -4, -2, -0.5, 0, 1, 3, 7, 25):
                t = float(f"{delta + z * spread:.4g}")
                if t != 0:
                    yield "t", (df, delta), t, t_tails(mp.mpf(df), mp.mpf(delta), mp.mpf(t))
    shares = (0.003, 0.2, 0.6, 0.9, 1, 1.1, 1.5, 4, 30)
    for d1 in (1, 3, 11, 48.5):
        for d2 in (2, 6.5, 27, 400, 20000):
            for lam in (0.01, 0.5, 7, 60, 1000, 20000):
                for share in shares:
                    f = float(f"{share * (1 + lam / d1):.4g}")
                    yield "F", (d1, d2, lam), f, f_tails(mp.mpf(d1), mp.mpf(d2), mp.mpf(lam), mp.mpf(f))
    for df in (0.5, 1, 4, 30.5, 900):
        for lam in (0.01, 2, 30, 1500, 40000):
            for share in shares:
                x = float(f"{share * (df + lam):.4g}")
                yield "chi_square", (df, lam), x, chi_square_tails(mp.mpf(df), mp.mpf(lam), mp.mpf(x))
    for a in (0.5, 2, 20):
        for b in (0.5, 6, 200):
            for lam in (1, 30, 5000):
                for x in (0.001, 0.05, 0.3, 0.7, 0.95, 0.999):
                    yield "beta", (a, b, lam), x, beta_tails(mp.mpf(a), mp.mpf(b), mp.mpf(lam), mp.mpf(x))


with open("noncentral.csv", "w", newline="") as file:
    file.write(f"# made by noncentral.py with python {platform.python_version()}, mpmath {mp.__version__}\n")
    out = csv.writer(file, lineterminator="\n")
    out.writerow(("distribution", "first", "second", "third", "point", "log_lower", "log_upper"))
    seen = None
    for name, parameters, point, (lower, upper) in rows():
        if (name, parameters[0]) != seen:
            seen = (name, parameters[0])
            print(*seen, flush=True)
        assert abs(lower + upper - 1) < mp.mpf(10) ** -40, (name, parameters, point)
        if min(lower, upper) < mp.mpf(10) ** -320:
            continue  # the difference from one may have no digits left
        label = [repr(float(it)) for it in parameters] + [""] * (3 - len(parameters))
        out.writerow([name, *label, repr(point), mp.nstr(mp.log(lower), 20), mp.nstr(mp.log(upper), 20)])
