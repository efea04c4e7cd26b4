"""The decay time of a check standard from ten uncertain inputs, a million trials for each line on standard input.

In blocks that stay in the cache; the same model as in monte_carlo_row.cpp. Answers the width of the 95 % interval.
"""
import sys
import time

import numpy as np

inputs = (
    (1e10, 5e7),
    (-2e-6, 5e-7),
    (1e-4, 3e-5),
    (0, 1),
    (1e-10, 5e-13),
    (2e-12, 5e-13),
    (1e-12, 3e-13),
    (5000, 25),
    (0, 5),
    (0, 2e-3),
)
trials, block = 1_000_000, 10_000


def width():
    random = np.random.default_rng(1)
    values = np.empty(trials)
    for first in range(0, trials, block):
        R, kV, kT, dT, C, Cs, Cc, V0, z, t0 = (value + u * random.standard_normal(block) for value, u in inputs)
        values[first : first + block] = R * (1 + 5000 * kV) * (1 + kT * dT) * (C + Cs + Cc) * np.log(V0 / (500 + z)) + t0
    low, high = trials // 40, trials - trials // 40
    values.partition((low, high))
    return values[high] - values[low]


for _ in sys.stdin:
    began = time.process_time()
    answer = width()
    print(f"{time.process_time() - began:.9f} {answer:.17g}", flush=True)
