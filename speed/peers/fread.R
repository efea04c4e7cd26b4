# Reads the named file with data.table::fread on one thread, once for each line on standard input.
suppressMessages(library(data.table))
setDTthreads(1)
path <- commandArgs(trailingOnly = TRUE)[1]
lines <- file("stdin", "r")
while (length(readLines(lines, 1)) == 1) {
  gc(verbose = FALSE)
  began <- Sys.time()
  table <- fread(path, showProgress = FALSE)
  seconds <- as.numeric(Sys.time() - began, units = "secs")
  cat(sprintf("%.9f %.17g\n", seconds, sum(table[[2]])))
  flush(stdout())
}
