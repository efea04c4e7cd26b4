"""Fits by scipy.optimize.leastsq (MINPACK) with slopes in closed form: fits.py LAW TRACES SAMPLES SUMS.

TRACES holds doubles, for every trace the start of the search and then SAMPLES voltages, a millisecond apart. For each line on
standard input all traces are fitted once; the answer is the time for one fit and the sum of all sums of squares. Each of these
goes to the file SUMS, off the clock.
"""
import sys
import time

import numpy as np
from scipy.optimize import leastsq

law, traces, samples, sums = sys.argv[1], sys.argv[2], int(sys.argv[3]), sys.argv[4]
x = np.arange(samples) * 1e-3
log_x = np.log(np.maximum(x, 1e-300))


def two_exponentials(p, y):
    return p[2] * np.exp(x * -np.exp(-p[0])) + p[3] * np.exp(x * -np.exp(-p[1])) + p[4] - y


def two_exponentials_slopes(p, y):
    rate_1, rate_2 = np.exp(-p[0]), np.exp(-p[1])
    out = np.empty((5, samples))
    np.exp(x * -rate_1, out=out[2])
    np.exp(x * -rate_2, out=out[3])
    np.multiply(out[2], x * (p[2] * rate_1), out=out[0])
    np.multiply(out[3], x * (p[3] * rate_2), out=out[1])
    out[4] = 1
    return out


def stretched(p, y):
    return p[2] * np.exp(-np.exp((log_x - p[0]) * np.exp(p[1]))) - y


def stretched_slopes(p, y):
    exponent = np.exp(p[1])
    distance = log_x - p[0]
    power = np.exp(distance * exponent)
    out = np.empty((3, samples))
    np.exp(-power, out=out[2])
    np.multiply(out[2], power * (p[2] * exponent), out=out[0])
    np.multiply(out[0], -distance, out=out[1])
    return out


residual, slopes, parameters = {
    "two_exponentials": (two_exponentials, two_exponentials_slopes, 5),
    "stretched": (stretched, stretched_slopes, 3),
}[law]
table = np.fromfile(traces).reshape(-1, parameters + samples)
starts, voltages = table[:, :parameters].copy(), table[:, parameters:].copy()
reached = np.empty(len(table))
for _ in sys.stdin:
    began = time.process_time()
    for i, (start, y) in enumerate(zip(starts, voltages)):
        found = leastsq(residual, start, (y,), slopes, full_output=True, col_deriv=True)
        reached[i] = found[2]["fvec"] @ found[2]["fvec"]
    seconds = time.process_time() - began
    reached.tofile(sums)
    print(f"{seconds / len(table):.12f} {reached.sum():.17g}", flush=True)
