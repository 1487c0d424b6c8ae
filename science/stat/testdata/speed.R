# Times R on the plants of BenchmarkPlants2000Lamps40:
#   go test ./science/stat/mixed -run TableForR -v -table /tmp/plants.csv
#   Rscript science/stat/testdata/speed.R /tmp/plants.csv
suppressMessages({library(lme4); library(pbkrtest)})
d <- read.csv(commandArgs(TRUE)[1]); d$level <- factor(d$level); d$lamp <- factor(d$lamp)
ms <- function(n, f) { t <- numeric(n); for (i in seq_len(n)) t[i] <- sum(system.time(f())[1:2]); 1000 * median(t) }
fit <- function() lmer(y ~ level + (1 | lamp), d)
m <- fit()
test <- function() KRmodcomp(m, update(m, . ~ . - level))
k <- test()
cat(sprintf("%s; lme4 %s, pbkrtest %s\n", R.version.string, packageVersion("lme4"), packageVersion("pbkrtest")))
cat(sprintf("fit %.0f ms, test of Kenward and Roger %.0f ms (processor time, median of 5)\n", ms(5, fit), ms(5, test)))
cat(sprintf("variances %.4f and %.4f, F %.6f with %.4f and %.4f degrees of freedom, p %.6g\n", as.data.frame(VarCorr(m))$vcov[1], as.data.frame(VarCorr(m))$vcov[2],
  k$test["Ftest", "stat"], k$test["Ftest", "ndf"], k$test["Ftest", "ddf"], k$test["Ftest", "p.value"]))
