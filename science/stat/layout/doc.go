// Package layout assigns treatments to units at random, in the standard layouts,
// and tests their difference by going through the very assignments that could have
// been drawn.
//
// # Draws
//
// Each draw is uniform over all admissible layouts and follows from its seed alone:
// completely randomised, within blocks, Latin square, split plot, and the balanced
// sequences of Williams1949. Latin squares of up to six sides come from the full list
// of reduced squares with columns and rows permuted, which is exactly uniform;
// larger ones from the Markov chain of JacobsonMatthews1996, uniform in the limit.
//
// Blocks that hold some of the treatments each are found first, always the same for the
// same sizes ([Incomplete]: cyclic after John1966, α-designs after PattersonWilliams1976,
// exchanges), checked, and then given out at random; augmented blocks are drawn freely
// ([Augmented], Federer1956). [BestFraction] goes through all regular fractions of two-level
// factors for minimum aberration (FriesHunter1980) and says what they cannot tell apart.
//
// # Tests
//
// The statistic is the treatment sum of squares, which orders layouts as F does in
// balanced layouts; where blocks are incomplete, that with blocks taken out, over the
// orders within blocks. Up to a million layouts are gone through one by one; beyond
// that 100 000 are drawn and p is (k+1)/(m+1), which is never too small
// (PhipsonSmyth2010). A layout that was not drawn at random is refused: there is nothing to
// refer the result to (Fisher1935).
//
// # Conventions
//
//   - One value per unit. Treatments, blocks, rows, columns are [stat.Factor]s.
//   - Layouts with labels exchanged count as different, so the smallest p two
//     groups can have is 2 of all layouts.
package layout
