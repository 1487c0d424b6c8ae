// Package growth follows what gets bigger: relative growth rates, and curves of
// growth for individuals that are measured again and again, or measured once each.
//
// # Method
//
//   - The relative growth rate between two harvests is the difference of the means of
//     the logarithms over the time between them; its variance comes from the scatter
//     at both harvests (HoffmannPoorter2002). Of individuals that are measured
//     repeatedly it is the slope of the logarithm of each (MatthewsEtAl1990).
//   - Forms are the exponential, the curve of Gompertz1825 and the logistic of three
//     parameters. Of one individual they are fitted by least squares from starts that
//     are found on a grid, the size being linear once place and time scale are fixed.
//   - Of many individuals, curves with random effects are fitted by the alternating
//     method of LindstromBates1990: penalised least squares for the curves, and
//     maximum likelihood of the linear model that touches them there for the
//     variances. Individuals may be nested in units with random effects of their own.
//   - The time to a size has limits by the slope of the curve (delta), or of one curve
//     by profile of the sum of squares (BatesWatts1988).
//
// # Conventions
//
//   - Times in any unit, sizes above 0. Scatter is [Proportional] (about the logarithm)
//     or [Constant].
//   - A curve that has not bent has no asymptote in the data. [Choose] then keeps the
//     exponential and says so; [Fit.Asymptote] refuses.
//   - The likelihood is that of the linear model at the end, as other programs print it
//     too: it is an approximation, good where individuals do not differ wildly or the
//     errors are small.
package growth
