// Package underlamp holds the nouns of the tool: the bench, its lamps, plants,
// readings, air and feed, and what may be turned. It does nothing with them;
// the packages of app do.
//
// # Conventions
//
//   - A bench is a growing area with one set of walls, lamps and air: an open
//     shelf, a tent, a tier of a rack. Lengths are in m, seen from the front:
//     x runs to the right, y to the back, z up from the planting surface.
//   - A value that a person could have given, or left out, is a [Given]: it
//     remembers where it came from, so that a default is never shown as a
//     measurement.
//   - A value holds only what was described; what is computed from it lives in
//     the packages of app.
package underlamp
