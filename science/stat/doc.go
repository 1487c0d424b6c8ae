// Package stat holds the words that the statistical packages below it share: what
// an interval is, what a test says, how a grouping of units is given, and how an
// answer is refused. It knows nothing of lamps, light or plants.
//
// # Conventions
//
//   - The values handed in are one per unit, the thing to which a treatment was
//     assigned. Packages that take several values per unit say so.
//   - Nothing returned is NaN. What cannot be had is a [*Refusal], an error whose
//     text says what is missing.
//   - A limit that the data do not give is an infinity in an [Interval]. That is an
//     honest answer and no refusal.
//   - Levels are shares: 0.95, not 95. P values are two-sided unless it is said.
package stat
