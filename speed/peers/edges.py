"""Finds the runs of a long record by a threshold and its edges, on the whole record at once."""
import sys
import time

import numpy as np

value = np.fromfile(sys.argv[1])


def runs():
    high = np.abs(value) > 500.0
    edges = np.flatnonzero(high[1:] != high[:-1])
    return len(edges) // 2


for _ in sys.stdin:
    began = time.perf_counter()
    answer = runs()
    print(f"{time.perf_counter() - began:.9f} {answer:.17g}", flush=True)
