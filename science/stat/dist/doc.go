// Package dist holds distributions that tests and powers need and gonum lacks or
// has with too few digits: the studentised range, the largest of Dunnett's t, the
// noncentral F and t, and quantiles of t, F, chi-square and beta.
//
// # Method
//
// Everything that is divided by an estimated standard deviation s is an integral
// over s of the same thing with s known. The integral is a rule of Gauss and
// Legendre on pieces that end where the integrand stops moving, with the density
// of s normalised by the same rule. Two groups give the t distribution exactly,
// which a test holds. R's ptukey is off by 7e-5 at two degrees of freedom and is not
// what the studentised range is checked against.
//
// # Conventions
//
//   - Degrees of freedom are at least 1 for what is studentised and above 0 for the
//     rest; +Inf means that s is known. Nonsense is an error of the caller and
//     panics: whoever has no degrees of freedom must refuse before.
//   - Upper functions give the chance of more than x, and keep their digits where
//     it is small.
package dist
