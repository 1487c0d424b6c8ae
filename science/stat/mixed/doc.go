// Package mixed fits linear models with random effects of groups, nested or
// crossed, by restricted maximum likelihood, and tests their fixed effects with the
// adjustment of Kenward and Roger. It is for layouts that package anova refuses or weighs
// badly: unequal numbers, several levels of nesting.
//
// # Method
//
//   - Variance components by Fisher scoring on the restricted likelihood
//     (PattersonThompson1971), kept at or above 0, each step held to raise the likelihood.
//     All sums over values are made once; an iteration costs the cube of the
//     number of groups, not of values.
//   - F and t with the adjusted covariance and degrees of freedom of
//     KenwardRoger1997, from the expected information.
//
// # At the boundary
//
// A component estimated as 0 makes such tests far too cautious or far too bold: in
// two groups of three units with little scatter between them that is 45 % of
// trials. The fit is then given with [Fit.Boundary] set and its tests are refused;
// the analysis of the unit means is the one to use.
//
// # Conventions
//
//   - One value per subsample; a random factor says which group it lies in.
//   - Random effects are shifts of groups; random slopes are not in it.
package mixed
