#!/usr/bin/python3
"""Random decays of every law, each fitted by scipy.optimize.least_squares from 50 starts: the lowest sum of squares.

Writes law_fits.csv: law, trial, offset, samples, sum of y (shows that the reader made the same trace), lowest sum of
squares. The traces are made from a counter by a few lines of integer arithmetic, the same here and in
random_decay.hpp.
"""
import math
import os
import sys
import warnings

import numpy
import scipy
from scipy.optimize import least_squares

LAWS = ["exponential", "two_exponentials", "three_exponentials", "stretched", "power"]
SEED = 20261127
# Short traces first, then traces of 20 to 1,999 samples; each part draws its starts anew.
PARTS = [range(200), range(200, 220)]
STARTS = 50


class Numbers:
    """splitmix64, public domain (Vigna)."""

    def __init__(self, seed):
        self.state = seed

    def uniform(self):
        self.state = (self.state + 0x9E3779B97F4A7C15) & 0xFFFFFFFFFFFFFFFF
        z = self.state
        z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) & 0xFFFFFFFFFFFFFFFF
        z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & 0xFFFFFFFFFFFFFFFF
        z ^= z >> 31
        return (z >> 11) * 2.0**-53

    def between(self, low, high):
        return math.exp(math.log(low) + self.uniform() * math.log(high / low))

    def normal(self):
        radius = math.sqrt(-2 * math.log(1 - self.uniform()))
        return radius * math.cos(2 * math.pi * self.uniform())


def columns(law, x, theta):
    if law == "stretched":
        return numpy.exp(-((x / theta[0]) ** theta[1]))[:, None]
    if law == "power":
        return ((1 + x / theta[0]) ** -theta[1])[:, None]
    return numpy.exp(-x[:, None] / numpy.asarray(theta)[None, :])


def trace(law, trial):
    numbers = Numbers(SEED + trial + 1000 * LAWS.index(law))
    length = numbers.uniform()
    count = 40 + int(360 * length) if trial < PARTS[1].start else int(20 * 100**length)
    even = numbers.uniform() < 0.5
    i = numpy.arange(count) / (count - 1)
    x = i.copy() if even else 10 ** (-3 + 3 * i)
    offset = numbers.uniform() < 0.5
    if law in ("stretched", "power"):
        theta = [numbers.between(0.02, 0.5)]
        theta.append(0.3 + 0.9 * numbers.uniform() if law == "stretched" else 0.5 + 2 * numbers.uniform())
        amplitudes = [1.0]
    else:
        theta, amplitudes, constant = [], [], numbers.between(0.02, 0.2)
        for _ in range(LAWS.index(law) + 1):
            theta.append(constant)
            constant *= 1.5 + 4 * numbers.uniform()
            amplitudes.append((-1 if numbers.uniform() < 0.2 else 1) * (0.2 + numbers.uniform()))
    level = 0.2 * numbers.normal() if offset else 0.0
    noise = numbers.between(1e-4, 1e-1)
    y = columns(law, x, theta) @ numpy.asarray(amplitudes) + level
    y = y + numpy.array([noise * numbers.normal() for _ in range(count)])
    return x, y, offset, len(theta)


def lowest(law, x, y, offset, shapes, random):
    def design(logs):
        phi = columns(law, x, numpy.exp(logs))
        return numpy.column_stack([phi, numpy.ones_like(x)]) if offset else phi

    def residual(p):
        return design(p[:shapes]) @ p[shapes:] - y

    def jacobian(p):
        theta, amplitude = numpy.exp(p[:shapes]), p[shapes:]
        phi = design(p[:shapes])
        if law == "stretched":
            z = (x / theta[0]) ** theta[1]
            log_ratio = numpy.log(numpy.where(x > 0, x, 1.0) / theta[0])
            by = numpy.column_stack([theta[1] * z * phi[:, 0], numpy.where(x > 0, -z * theta[1] * log_ratio * phi[:, 0], 0)])
            by *= amplitude[0]
        elif law == "power":
            r = x / theta[0]
            by = numpy.column_stack([theta[1] * r / (1 + r) * phi[:, 0], -theta[1] * numpy.log1p(r) * phi[:, 0]])
            by *= amplitude[0]
        else:
            by = phi[:, :shapes] * (x[:, None] / theta[None, :]) * amplitude[None, :shapes]
        return numpy.column_stack([by, phi])

    best = math.inf
    for _ in range(STARTS):
        if law in ("stretched", "power"):
            logs = numpy.array([random.uniform(math.log(1e-3), math.log(10)), random.uniform(math.log(0.2), math.log(3))])
        else:
            logs = numpy.sort(random.uniform(math.log(1e-3), math.log(10), shapes))
        amplitude = numpy.linalg.lstsq(design(logs), y, rcond=None)[0]
        try:
            found = least_squares(residual, numpy.concatenate([logs, amplitude]), jacobian, method="trf", x_scale="jac",
                                  ftol=1e-14, xtol=1e-12, gtol=1e-14, max_nfev=200)
        except (ValueError, numpy.linalg.LinAlgError):
            continue
        theta = numpy.exp(found.x[:shapes])
        # Beyond what the product searches, a start may run away to constants that no sample can see.
        if math.isfinite(found.cost) and 1e-6 < theta.min() and theta.max() < 3e4:
            best = min(best, 2 * found.cost)
    return best


def main():
    warnings.simplefilter("ignore")
    with open(sys.argv[1] if len(sys.argv) > 1 else os.path.join(os.path.dirname(__file__), "law_fits.csv"), "w") as out:
        out.write(f"# scipy {scipy.__version__}, numpy {numpy.__version__}, tests/published/references/law_fits.py\n")
        out.write("# law,trial,offset,samples,sum_of_y,lowest_rss\n")
        for part in PARTS:
            random = numpy.random.default_rng(SEED + part.start)
            for law in LAWS:
                for trial in part:
                    x, y, offset, shapes = trace(law, trial)
                    rss = lowest(law, x, y, offset, shapes, random)
                    out.write(f"{law},{trial},{int(offset)},{len(x)},{math.fsum(y)!r},{rss!r}\n")
                    out.flush()


if __name__ == "__main__":
    main()
