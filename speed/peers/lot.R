# Fits lots, or works out their shares: lot.R fit|shares LOTS. LOTS holds lot, time and status (1: ended) on each line.
#
# For each line on standard input all lots are worked on once; the answer is the time for one and a sum of what was found. The
# fit is survreg.fit, the work without a formula and a data frame around it; shares are survfit's, with log-log bounds.
suppressMessages(library(survival))
words <- commandArgs(trailingOnly = TRUE)
lots <- split(read.table(words[2], col.names = c("lot", "time", "status")), ~lot)
fit_one <- function(lot) {
  n <- nrow(lot)
  fit <- survival:::survreg.fit(matrix(1, n, 1), cbind(log(lot$time), lot$status), rep(1, n), rep(0, n), NULL,
    survreg.control(), survreg.distributions$gaussian, 0, 1, rep(1, n), NULL, NULL)
  sum(fit$coefficients[1], exp(fit$coefficients[2]))
}
shares_of_one <- function(lot) {
  fit <- survfit(Surv(time, status) ~ 1, data = lot, conf.type = "log-log")
  sum(fit$surv[fit$n.event > 0])
}
one <- if (words[1] == "fit") fit_one else shares_of_one
lines <- file("stdin", "r")
while (length(readLines(lines, 1)) == 1) {
  gc(verbose = FALSE)
  began <- proc.time()
  answer <- 0
  for (k in 1:20) answer <- sum(vapply(lots, one, 0))
  seconds <- sum((proc.time() - began)[1:2])
  cat(sprintf("%.12f %.17g\n", seconds / (20 * length(lots)), answer))
  flush(stdout())
}
