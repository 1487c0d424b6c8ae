// Package binary fits the chance of yes-or-no outcomes counted in units: logistic
// regression with covariance by clusters, Firth's penalised form where ordinary
// likelihood has no maximum, the beta-binomial, and the dose at which a chance is
// reached.
//
// # Method
//
//   - Separation, complete or not, is found before fitting, by non-negative least
//     squares on the theorem of Stiemke: it is there just if no positive weights balance
//     the rows. Ordinary likelihood then has no maximum and is refused.
//   - [Firth] maximises the penalised likelihood of Firth1993; its limits are by
//     profile of that likelihood (HeinzeSchemper2002). Wald limits are wrong there.
//   - [Fit.Clustered] is the sandwich over clusters with factor G/(G − lost):
//     subsamples of one unit count once, however many.
//   - [BetaBinomial] works with γ = ρ/(1 − ρ), in which ρ = 0 is an ordinary end of the
//     range (Williams1982).
//   - The dose for a chance has limits of Fieller1954 with t on the clusters
//     ([Dose]), or by profile of the beta-binomial with F ([BetaBinomial.Dose]).
//
// # Conventions
//
//   - A row is a unit: Yes of N subsamples, and its columns, intercept first.
//   - The curve is that of the average subsample, not of the median unit.
package binary
