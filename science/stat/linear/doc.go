// Package linear fits linear models with fixed effects: factors, covariates and
// their products, by least squares. The analyses of standard layouts, trends and
// adjusted means are made of it.
//
// # Method
//
// Columns are made orthogonal one after the other (Gram and Schmidt, twice over),
// in the order of the terms; a column that depends on those before it is left out, as
// R does. The first value is subtracted before anything is summed.
//
// # Conventions
//
//   - There is always an intercept. Factors are coded by their levels but the first.
//   - A linear function of the coefficients that the layout does not determine
//     (missing cells) is refused with a [stat.Refusal].
//   - Means of a factor are taken with every other factor at an even mix of its
//     levels and every covariate at its mean.
package linear
