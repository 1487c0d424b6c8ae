// Package sensitivity tells how much of the variance of an answer each
// uncertain input carries, from the draws of an ensemble alone. The outlook uses
// it to say what to measure next.
//
// # What the figure means
//
// The share of input X in the variance of Y is the first-order index of Sobol,
//
//	S = Var(E[Y | X]) / Var(Y),
//
// the part of the variance that would vanish, on average, if X were known. It is
// estimated from given draws by the correlation ratio of Pearson over classes of
// X of equal number, less what chance alone would show. So it needs no runs of
// its own, sees bends as well as slopes, and does not see what only two inputs
// together do: shares of independent inputs add up to 1 less those
// interactions.
//
// # Sources
//
//   - Sobol2001: I. M. Sobol' (2001), Global sensitivity indices for nonlinear
//     mathematical models and their Monte Carlo estimates, Mathematics and
//     Computers in Simulation 55:271-280: the index.
//   - Kelley1935: T. L. Kelley (1935), An unbiased correlation ratio measure,
//     Proceedings of the National Academy of Sciences 21:554-559: the correction.
//   - IshigamiHomma1990: T. Ishigami, T. Homma (1990), An importance
//     quantification technique in uncertainty analysis for computer models,
//     First International Symposium on Uncertainty Modeling and Analysis: the
//     function that checks it.
package sensitivity
