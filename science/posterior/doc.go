// Package posterior answers what is left of a prior after a likelihood, as draws,
// and how far those draws can be trusted. It asks for values of the density only,
// no slopes, and is meant for up to some ten dimensions and a likelihood that costs
// about a millisecond.
//
// # Method
//
//   - [Sample] begins with draws of the prior and carries them to the posterior
//     through tempered densities, prior · likelihood^β, β from 0 to 1 in steps that
//     leave half of the effective sample (sequential Monte Carlo, DelMoral2006). So it
//     needs no start near the answer, and separate modes keep their share.
//   - From there chains go on with steps along differences of two earlier states
//     (differential evolution, TerBraakVrugt2008, with subsets of coordinates as in
//     Vrugt2009 and one step in ten toward or away from another state): scales and
//     correlations need no tuning.
//   - Part of the steps jump to a draw of a Student distribution around all states so
//     far, which forgets the past where the posterior is nearly normal. How many, the
//     warm-up finds out.
//   - What they step along is frozen when the kept draws begin. From then on each chain
//     is an ordinary Metropolis chain, exact for the posterior, and independent of
//     the others.
//
// The diagnostics are those of Vehtari2021: rank-normalised split R-hat, bulk and
// tail effective sample size, Monte Carlo standard errors.
//
// # Why this one
//
// The likelihoods of this tool have no slopes and kinks where burn begins, which
// rules out Hamiltonian samplers. gonum's samplemv has a single chain with a fixed
// proposal and neither start nor diagnostics. The affine-invariant stretch move needs
// twice as many walkers as dimensions to run forever; differences of a frozen archive
// need no more chains than the machine has use for.
//
// # Conventions
//
//   - A draw is a []float64 of Dim; chains are indexed [chain][draw][coordinate];
//     the diagnostics take one coordinate as [chain][draw].
//   - Logarithms are natural. A density of NaN counts as 0.
//   - The result depends on the seed alone, not on the number of cores: every chain
//     and every particle has a random stream of its own.
//
// # What is left out, and why
//
// Densities whose width changes by orders of magnitude within the support (a funnel
// with a standard deviation of 3 in the logarithm of the width) are not drawn well;
// the diagnostics say so. Parametrise them apart from their scale.
package posterior
