// Package residualfield answers what the readings of a meter say about places
// where none was taken, beyond what lamps and walls explain: a smooth field of
// ln(reading/model) over the bench, with its standard deviation everywhere. It
// also answers which further reading would narrow the light of the plants most.
//
// Package app/light asks it, after lightfield has fitted lamps and walls. What
// is left then is no noise alone: lamps of one make that are not equal, a cable
// that shades, a wall that is dull in one corner. The field carries such a
// difference to its surroundings and no further.
//
// # Method
//
// A reading is y = s·β + δ(place) + ε. β are the parameters of lamps, walls and
// meter, linear about the fit, with their normal prior; s is the slope of y by
// them; δ is a Gaussian process of mean 0; ε is the error of the reading. β and δ
// are found together (RasmussenWilliams2006, algorithm 2.1 and section 2.7, with
// a proper prior), so that what the lamps explain is not explained twice and the
// standard deviation of the light holds both. The covariance of δ is
//
//	σ² exp(−r²/2ℓ²) exp(−(Δ ln d)²/2λ²) (m·m′)
//
// r is the distance in plan. d is the distance under the lamps: what readings
// taught at one height holds less and less at another, half of its variance is
// lost at a ratio of 1.8. m is the unit vector of the light that each lamp gave:
// equal dimming of all lamps changes nothing, and a reading under other lamps
// teaches as much as the lamps are shared.
//
// σ and ℓ are not known. A grid of both is weighed by marginal likelihood times
// prior, and the answer is the mean over the grid: with half a dozen readings the
// single best pair would often be σ = 0 and look surer than it is.
//
// # Conventions
//
//   - Lengths in m, values are natural logarithms of ratios, all spreads are
//     standard deviations.
//   - Every reading has two spreads: Noise decides how much it pulls, Spread how
//     much it narrows. lightfield.Fit has them apart in the same way (mode by
//     robust weights, covariance by expected information).
//   - The result is deterministic and safe for parallel use.
//
// # What is left out, and why
//
//   - Edges of shadows: the field is smooth, an edge needs readings on both sides.
//   - Different lengths along and across the bench: too few readings to tell.
//   - With more than 120 readings the grid is weighed on 120 of them, evenly
//     picked, and the best pair alone is used with all: by then it is known well.
//
// # Sources
//
//   - RasmussenWilliams2006: C. E. Rasmussen, C. K. I. Williams (2006), Gaussian
//     Processes for Machine Learning, MIT Press, algorithm 2.1, sections 2.7, 5.4
//     (from memory; checked against scikit-learn in the tests).
//   - ChalonerVerdinelli1995: K. Chaloner, I. Verdinelli (1995), Bayesian
//     experimental design: a review, Statistical Science 10:273-304 (from memory).
package residualfield
