// Package anova answers whether the units of several groups differ, in the
// layouts that have an exact test: completely randomised, randomised blocks, Latin
// square, split plot; and for two groups, paired or not, with equal variances or
// without, and whether they are equivalent.
//
// # Conventions
//
//   - One value per unit: the thing that a treatment was assigned to. Means of
//     subsamples are made before, with [UnitMeans]; subsamples never add degrees of
//     freedom.
//   - Blocks and rows of a square are fixed. What is not balanced is analysed by
//     leaving terms out one at a time, or refused where no exact test exists.
//   - A test with fewer than three degrees of freedom of error is given with
//     [Analysis.Weak] set: limits may be shown, the test should not be leant on.
//   - Sources: Searle1992, GomezGomez1984, CochranCox1957, Yates1937, Welch1951,
//     Welch1947, BrownForsythe1974, Schuirmann1987.
package anova
