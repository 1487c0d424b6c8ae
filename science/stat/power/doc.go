// Package power answers, before a trial, what it could show: the chance to find a
// difference, the smallest difference it would find, how many units it takes, and what
// more subsamples cannot buy.
//
// # Method
//
//   - Means of subsamples under units: noncentral F and t at the level of the units
//     (Searle1992, Murray1998). The variance of a unit's mean is
//     σ²unit + σ²sub/n, so with many subsamples the power stops at a ceiling.
//   - Any layout that linear models analyse, incomplete or uneven: [Plan], by the sum of
//     squares of the true means within it.
//   - Shares of a yes-or-no outcome, grades, and onset at rounds: simulation of
//     beta-binomial counts, proportional odds and Weibull times, tested as a trial would
//     be, on shares, mean midranks (McCullagh1980) and mean log-rank scores (Sun1996) of
//     the units. The error of the simulation is told.
//   - [Naive] is the true error of a test that takes subsamples for units, by exact
//     integration (Hurlbert1984 is the warning).
//
// # Conventions
//
//   - There is no power after the fact from an observed effect (Lenth2001).
//   - Simulations have one random stream per trial: the result depends on the seed
//     and not on the number of cores.
package power
