// Package numeric holds the few numerical tools that the statistical packages
// share and gonum lacks: a root in a bracket, a minimum on a line, and rules of
// Gauss and Legendre on an interval.
//
// # Conventions
//
//   - A bracket must be one: the function has different signs at its ends. The
//     callers see to that; it is not an error of data, so Root panics.
package numeric
