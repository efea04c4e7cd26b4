#!/usr/bin/python3
"""Groups of the lots of lot_fits.py, three by three, fitted by R's survreg(): a mean of its own for each group,
or a mean that follows the group's number, with one spread for all.

Writes group_fits.csv; its second line names the columns.
"""
import math
import os
import subprocess
import sys
import tempfile

from lot_fits import INFINITE, lot

TRIPLES = 200

R_SCRIPT = r"""
suppressMessages(library(survival))
path <- commandArgs(trailingOnly = TRUE)
all <- read.csv(path[1])
tight <- survreg.control(rel.tolerance = 1e-13, maxiter = 500)
rows <- lapply(split(all, all$triple), function(times) {
  y <- Surv(times$lower, times$upper, type = "interval2")
  figures <- function(fit) {
    n <- length(coef(fit))
    c(coef(fit), sqrt(diag(fit$var))[1:n], fit$scale, fit$loglik[2])
  }
  law <- function(dist) {
    own <- survreg(y ~ 0 + factor(group), data = times, dist = dist, control = tight)
    trend <- survreg(y ~ group, data = times, dist = dist, control = tight)
    c(figures(own), figures(trend), trend$loglik[1])
  }
  c(times$triple[1], law("lognormal"), law("weibull"))
})
write.table(format(do.call(rbind, rows), digits = 9), path[2], col.names = FALSE, row.names = FALSE, quote = FALSE)
cat(R.version$version.string, ", survival ", as.character(packageVersion("survival")), sep = "")
"""


def has_own_mean(bounds):
    """A group's mean is bounded on both sides."""
    return max(b[0] for b in bounds) > 0 and min(b[1] for b in bounds) < INFINITE


def main():
    na = lambda end: "NA" if end in (0.0, INFINITE) else repr(end)
    with tempfile.TemporaryDirectory() as folder:
        given, found, script = (os.path.join(folder, name) for name in ("times.csv", "fits.txt", "fits.R"))
        with open(script, "w") as out:
            out.write(R_SCRIPT)
        with open(given, "w") as out:
            out.write("triple,group,lower,upper\n")
            for triple in range(TRIPLES):
                groups = [lot(3 * triple + group) for group in range(3)]
                if all(has_own_mean(bounds) for bounds in groups):
                    for group, bounds in enumerate(groups):
                        out.writelines(f"{triple},{group},{na(b[0])},{na(b[1])}\n" for b in bounds)
        version = subprocess.run(["Rscript", script, given, found], check=True, capture_output=True, text=True).stdout
        lines = [line.split() for line in open(found)]
    target = sys.argv[1] if len(sys.argv) > 1 else os.path.join(os.path.dirname(__file__), "group_fits.csv")
    with open(target, "w") as out:
        out.write(f"# {version}, tests/published/references/group_fits.py\n")
        out.write("# triple; lognormal, a mean for each group: three means, three errors, scale, log-likelihood; mean follows the "
                  "group's number: intercept, slope, two errors, scale, log-likelihood, log-likelihood of one mean for all; "
                  "weibull: the same\n")
        for words in lines:
            out.write(f"{int(float(words[0]))}," + ",".join(f"{float(w):.9g}" for w in words[1:]) + "\n")


if __name__ == "__main__":
    main()
