// Package feedfile reads how the nutrient solution of a bench is made: the target, the analysis of
// the water, the cupboard, the tank, and the log of what was read of it. It answers: what feed
// does this text describe, and if it describes none, what must be changed, and where?
//
// The layout is laid down in docs/formats/feed.md, which the tests hold against this package.
//
// # Conventions
//
//   - As in package handwritten: everything is reported in one run, with line and column. A file with
//     an error gives no feed.
//   - Ions are written by their chemical symbols, since labels and water analyses give the same
//     thing in several ways: no3-n is the nitrogen of nitrate, no3 the whole ion, and they differ by
//     four times. A figure is mg/L of what stands before it, or mmol/L.
//   - What cannot be guessed is asked for: which calcium nitrate, the strength of an acid, the share of
//     metal in a chelate.
//
// # Limits
//
// Those of package handwritten; 60 products, 2000 entries of the log.
package feedfile
