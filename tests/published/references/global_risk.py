"""Consumer's risk at a ratio of four, by Simpson's rule, to thirteen digits: a second way to the figures of
risk_test.cpp, whose printed source is good to about 1e-6 percent only.

Python 3.11, standard library. Prints the share within the limits and the risk in percent.
"""
import math
from statistics import NormalDist

normal = NormalDist()


def consumers_risk_percent(share, ratio=4, points=20001):
    s = 1 / normal.inv_cdf((1 + share) / 2)
    u = s / ratio

    def density(truth):
        accepted = normal.cdf((1 - truth) / u) - normal.cdf((-1 - truth) / u)
        return accepted * math.exp(-0.5 * (truth / s) ** 2) / s / math.sqrt(2 * math.pi)

    first, last = 1, 1 + 9 * u
    step = (last - first) / (points - 1)
    weights = (1 if i in (0, points - 1) else 4 if i % 2 else 2 for i in range(points))
    return 200 * step / 3 * sum(w * density(first + i * step) for i, w in enumerate(weights))


for share in (0.6, 0.7, 0.8, 0.9, 0.95, 0.99):
    print(share, f"{consumers_risk_percent(share):.10f}")
