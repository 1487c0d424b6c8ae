// Package onset answers when something begins that is only looked for at rounds: it
// was not yet there at one round and there at the next, or never seen.
//
// # Method
//
//   - [NPMLE] is the maximum-likelihood distribution without a form (Turnbull1976): masses in
//     innermost intervals, by Newton steps over those that carry mass, until the
//     conditions of Kuhn and Tucker hold to 1e-9. Where inside an interval its mass
//     lies is not known; draw no line there.
//   - [NPMLE.Scores] are those of log-rank tests: Sun1996 by the hazard of the masses,
//     Finkelstein1986 by ln S; they differ a little. Averaged over the subsamples of each
//     unit they are values for packages anova and layout. Subsamples are not units.
//   - [FitRegression] fits Weibull, log-normal and log-logistic times by the likelihood of
//     the intervals, with covariance by clusters.
//
// # Conventions
//
//   - An observation is (Last, First]: last time without, first time with. First is +Inf
//     if it was never seen; Last is 0 if it was there at the first look. Last = First is
//     a time known exactly. Harvest ends the looking: it is a Last, no onset.
//   - The middle of an interval is no time of onset and is nowhere taken for one.
package onset
