// Package validation answers how far the computations of the tool can be
// trusted: it runs them beside published results and prints both, also where
// they disagree. docs/validation.md is what it writes, and the command that
// checks the tool on a grower's own machine prints the same.
//
// # Conventions
//
//   - A [Check] is one comparison. Its expectation comes from outside: a printed
//     table, a trial, a computation by other code. None is a result of the tool.
//   - Rows of purpose "calibrate" have set parameters and prove nothing; they are
//     printed but never counted.
//   - A value of a trial holds within a fifth of what was published (factor 0.8
//     to 1.25): one standard deviation between plants, as the forecast states it.
//     A ratio of two treatments of one trial holds within a tenth: common
//     practice, no source. Where the source prints an error, twice that error is
//     taken. The bounds were set before the results were seen.
//   - What an abstract does not print is assumed, see package calibration. Each
//     case is run again with the assumptions moved one at a time; the span of the
//     results stands beside it, and it does not change the verdict.
//   - The same program gives the same text: no date, no timing.
//
// # Sources
//
// By key in the bibliography of science/reference.
package validation
