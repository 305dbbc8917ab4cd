"""Writes crates/inference/src/distribution/lattice.txt: generating vectors of rank-1 lattice rules, by fast component-by-component construction.

    python3 lattice.py        # needs numpy

For each prime number of points the components are chosen one after the other so that the worst-case error in the weighted Korobov
space of order 2 is least, with product weights 1 / j^2 (Sloan & Reztsov 2002, Math. Comp. 71:263-273; the fast form by Nuyens & Cools
2006, Math. Comp. 75:903-920: a circulant product by way of a primitive root). Each line: the number of points, then the components.
"""
from pathlib import Path

import numpy as np

DIMENSIONS = 100


def primitive_root(n):
    rest, factors, f = n - 1, set(), 2
    while rest > 1:
        while rest % f == 0:
            factors.add(f)
            rest //= f
        f += 1
    return next(g for g in range(2, n) if all(pow(g, (n - 1) // f, n) != 1 for f in factors))


def vector(n):
    g = primitive_root(n)
    powers = np.empty(n - 1, dtype=np.int64)
    powers[0] = 1
    for k in range(1, n - 1):
        powers[k] = powers[k - 1] * g % n
    x = np.arange(n) / n
    kernel = 2 * np.pi**2 * (x * x - x + 1 / 6)
    # rows: candidate g^k; columns: point g^-m, so that the product k - m runs over a circle
    inverse = np.roll(powers[::-1], 1)
    transform = np.fft.rfft(kernel[powers])
    product = np.ones(n)
    chosen = []
    for j in range(1, DIMENSIONS + 1):
        weight = 1 / j**2
        sums = np.fft.irfft(transform * np.fft.rfft(product[inverse]), n - 1)
        best = int(np.argmin(np.round(sums, 9))) if j > 1 else 0
        z = int(powers[best])
        z = min(z, n - z)
        chosen.append(z)
        product *= 1 + weight * kernel[np.arange(n) * z % n]
    return chosen


TABLE = Path(__file__).parents[3] / "crates/inference/src/distribution/lattice.txt"
with open(TABLE, "w") as file:
    for n in (8191, 65521):
        file.write(" ".join(map(str, [n, *vector(n)])) + "\n")
