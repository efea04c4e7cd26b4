"""Finds the runs of a long record by two thresholds told in advance, on the whole record at once.

A run begins where the voltage rises over the upper threshold after it was under the lower one; one threshold alone would count
every dip of the noise.
"""
import sys
import time

import numpy as np

value = np.fromfile(sys.argv[1])


def runs():
    size = np.abs(value)
    high = size > 2500.0
    sure = np.flatnonzero(high | (size < 500.0))
    state = high[sure]
    return np.count_nonzero(state[1:] & ~state[:-1])


for _ in sys.stdin:
    began = time.perf_counter()
    answer = runs()
    print(f"{time.perf_counter() - began:.9f} {answer:.17g}", flush=True)
