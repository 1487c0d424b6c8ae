// Package sensitivity answers which of the uncertain inputs of an ensemble makes how
// much of the spread of its result, from the draws and results that are there already:
// the first-order share of Sobol1993, Var(E[y|x])/Var(y).
//
// # Method
//
// The mean of y given one input is fitted by cosines of the input's rank (given-data
// estimation, Plischke2012); over ranks they are orthonormal, so every coefficient is
// a mean. What n draws of nothing but noise would give is subtracted. The standard
// error is a jackknife over twenty groups of draws.
//
// # Conventions
//
//   - Draws are independent of each other. Any scale will do for an input: ranks count.
//   - A share may come out slightly below 0; it is not cut off, so that the mean over
//     repetitions is right.
//
// # What it cannot say
//
//   - Shares of independent inputs add to at most 1; what is missing are interactions
//     and noise. Inputs that hang together, as draws of a posterior do, each count what
//     they share: their sum may pass 1.
//   - An input that acts in more than MaxOrder/2 waves over its range is missed.
package sensitivity
