# Makes chains.csv and expected.csv: chains, and what the R package posterior says of
# them. Run in this folder: Rscript diagnose.R. Written with R 4.2.2, posterior 1.4.0.
library(posterior)
set.seed(7)
ar <- function(n, phi, mean = 0, sd = 1) mean + sd * as.numeric(arima.sim(list(ar = phi), n))
cases <- list(
  white = sapply(1:4, function(i) rnorm(100)),
  slow = sapply(1:4, function(i) ar(200, 0.9)),
  alternating = sapply(1:4, function(i) ar(150, -0.6)),
  apart = sapply(1:4, function(i) ar(100, 0.3, mean = i / 2)),
  wide = sapply(1:4, function(i) ar(100, 0.3, sd = i)),
  heavy = sapply(1:4, function(i) rt(120, 1)),
  ties = sapply(1:4, function(i) round(ar(101, 0.5))),
  single = matrix(ar(250, 0.7), ncol = 1),
  short = sapply(1:2, function(i) rnorm(13)),
  trend = sapply(1:3, function(i) rnorm(80) + (1:80) / 20)
)
out <- file("chains.csv", "w")
writeLines("case,chain,draws", out)
for (k in names(cases)) {
  x <- signif(cases[[k]], 8); cases[[k]] <- x
  for (j in seq_len(ncol(x))) writeLines(paste0(k, ",", j, ",", paste(format(x[, j], digits = 8, trim = TRUE, scientific = FALSE), collapse = " ")), out)
}
close(out)
res <- do.call(rbind, lapply(names(cases), function(k) {
  x <- as.matrix(read.csv("chains.csv", colClasses = "character")[read.csv("chains.csv")$case == k, "draws", drop = FALSE])
  x <- sapply(strsplit(x, " "), as.numeric)
  data.frame(case = k, rhat = rhat(x), ess_bulk = ess_bulk(x), ess_tail = ess_tail(x),
    ess_q10 = ess_quantile(x, 0.1), mcse_mean = mcse_mean(x), mcse_q10 = as.numeric(mcse_quantile(x, 0.1)), mcse_q50 = as.numeric(mcse_quantile(x, 0.5)))
}))
num <- sapply(res, is.numeric)
res[num] <- lapply(res[num], function(v) format(v, digits = 12, trim = TRUE, scientific = FALSE))
write.csv(res, "expected.csv", row.names = FALSE, quote = FALSE)
cat(R.version.string, "posterior", as.character(packageVersion("posterior")), "\n")
