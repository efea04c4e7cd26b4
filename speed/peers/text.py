"""Reads the named file with pandas or numpy, once for each line on standard input."""
import sys
import time

tool, path = sys.argv[1:]
if tool == "pandas":
    import pandas

    def read():
        return pandas.read_csv(path)["specimen_V"]

else:
    import numpy

    def read():
        return numpy.loadtxt(path, delimiter=",", skiprows=1)[:, 1]


for _ in sys.stdin:
    began = time.perf_counter()
    column = read()
    seconds = time.perf_counter() - began
    print(f"{seconds:.9f} {column.sum():.17g}", flush=True)
