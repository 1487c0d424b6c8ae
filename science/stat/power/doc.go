// Package power answers, before a trial, what it could show: the chance to find a
// difference, the smallest difference it would find, how many units it takes, and what
// more subsamples cannot buy.
//
// # Method
//
//   - Means of subsamples under units: noncentral F and t at the level of the units
//     (Searle1992, Murray1998). The variance of a unit's mean is
//     σ²unit + σ²sub/n, so with many subsamples the power stops at a ceiling.
//   - Shares of a yes-or-no outcome: simulation of beta-binomial counts, tested as a
//     trial would be, on the shares of the units.
//   - [Naive] is the true error of a test that takes subsamples for units, by exact
//     integration (Hurlbert1984 is the warning).
//
// # Conventions
//
//   - There is no power after the fact from an observed effect (Lenth2001).
//   - Simulations have one random stream per trial: the result depends on the seed
//     and not on the number of cores.
package power
