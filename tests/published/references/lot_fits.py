#!/usr/bin/python3
"""A thousand random lots, fitted by R's package survival; their distributions of largest likelihood by plain EM.

Writes lot_fits.csv; its second line names the columns. The lots are made from a counter by a few lines of integer
arithmetic, the same here and in random_lot.hpp.
"""
import math
import os
import subprocess
import sys
import tempfile

import numpy

from law_fits import Numbers

SEED = 20261201
LOTS = 1000
INFINITE = math.inf

R_SCRIPT = r"""
suppressMessages(library(survival))
path <- commandArgs(trailingOnly = TRUE)
all <- read.csv(path[1])
tight <- survreg.control(rel.tolerance = 1e-13, maxiter = 500)
rows <- lapply(split(all, all$trial), function(lot) {
  y <- Surv(lot$lower, lot$upper, type = "interval2")
  law <- function(dist) {
    fit <- survreg(y ~ 1, dist = dist, control = tight)
    error <- sqrt(diag(fit$var))
    c(coef(fit), error[1], fit$scale, error[2], fit$loglik[1])
  }
  shares <- c(NA, NA)
  if (all(is.na(lot$upper) | (!is.na(lot$lower) & lot$lower == lot$upper))) {
    steps <- summary(survfit(Surv(lot$lower, !is.na(lot$upper)) ~ 1))
    shares <- c(sum(steps$surv), sum(steps$std.err[steps$surv > 1e-12]))
  }
  c(lot$trial[1], law("lognormal"), law("weibull"), shares)
})
write.table(format(do.call(rbind, rows), digits = 9), path[2], col.names = FALSE, row.names = FALSE, quote = FALSE)
cat(R.version$version.string, ", survival ", as.character(packageVersion("survival")), sep = "")
"""


def lot(trial):
    """Bounds of every time: equal where it is known exactly."""
    numbers = Numbers(SEED + trial)
    count = 5 + int(26 * numbers.uniform())
    median, sigma = numbers.between(0.05, 5), numbers.between(0.1, 1)
    normal = numbers.uniform() < 0.5
    kind = trial % 4
    limit = median * math.exp(0.5 * sigma) if kind > 0 else INFINITE
    resolution = median * math.exp(-sigma) if kind == 2 else 0
    step = 0.5 * median * sigma
    out = []
    for _ in range(count):
        z = numbers.normal() if normal else math.log(-math.log(1 - numbers.uniform()))
        time = median * math.exp(sigma * z)
        if time > limit:
            out.append((limit, INFINITE))
        elif time < resolution:
            out.append((0.0, resolution))
        elif kind == 3:
            k = math.ceil(time / step) - 1
            out.append((k * step, (k + 1) * step))
        else:
            out.append((time, time))
    return out


def has_fit(bounds):
    """A largest likelihood exists where no one time agrees with all and some are located."""
    return max(b[0] for b in bounds) > min(b[1] for b in bounds) and any(b[0] > 0 and b[1] < INFINITE for b in bounds)


def largest_log_likelihood(bounds):
    """Over all distributions: shares of all points and stretches between the bounds, by plain EM."""
    ends = sorted({end for b in bounds for end in b})
    cells = [(e, e) for e in ends] + list(zip(ends, ends[1:]))
    inside = numpy.array(
        [[lo == hi == c[0] == c[1] if lo == hi else (lo <= c[0] and c[1] <= hi and not (c[0] == c[1] == lo)) for c in cells]
         for lo, hi in bounds], dtype=float)
    share = numpy.full(len(cells), 1 / len(cells))
    for _ in range(400000):
        held = inside @ share
        rise = (inside / held[:, None]).sum(axis=0) / len(bounds)
        if len(bounds) * (rise.max() - 1) < 1e-7:
            break
        share = share * rise
    return float(numpy.log(inside @ share).sum())


def main():
    lots = [lot(trial) for trial in range(LOTS)]
    na = lambda end: "NA" if end in (0.0, INFINITE) else repr(end)
    with tempfile.TemporaryDirectory() as folder:
        given, found, script = (os.path.join(folder, name) for name in ("lots.csv", "fits.txt", "fits.R"))
        with open(script, "w") as out:
            out.write(R_SCRIPT)
        with open(given, "w") as out:
            out.write("trial,lower,upper\n")
            for trial, bounds in enumerate(lots):
                if has_fit(bounds):
                    out.writelines(f"{trial},{na(b[0])},{na(b[1])}\n" for b in bounds)
        version = subprocess.run(["Rscript", script, given, found], check=True, capture_output=True, text=True).stdout
        fits = {}
        for line in open(found):
            words = line.split()
            fits[int(float(words[0]))] = ",".join("" if w == "NA" else f"{float(w):.8g}" for w in words[1:])
    with open(sys.argv[1] if len(sys.argv) > 1 else os.path.join(os.path.dirname(__file__), "lot_fits.csv"), "w") as out:
        out.write(f"# {version}, numpy {numpy.__version__}, tests/published/references/lot_fits.py\n")
        out.write("# trial,values,sum of finite bounds; lognormal: mu,its error,sigma,error of ln sigma,log-likelihood; weibull: the "
                  "same; Kaplan-Meier: sum of shares,sum of errors; largest log-likelihood of any distribution\n")
        for trial, bounds in enumerate(lots):
            total = math.fsum(end for b in bounds for end in b if end < INFINITE)
            fit = fits.get(trial, "," * 11)
            # The slow one of every second lot that it is asked of.
            any_law = f"{largest_log_likelihood(bounds):.9g}" if trial % 8 in (2, 3) else ""
            out.write(f"{trial},{len(bounds)},{total:.12g},{fit},{any_law}\n")


if __name__ == "__main__":
    main()
