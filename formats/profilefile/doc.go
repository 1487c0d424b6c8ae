// Package profilefile writes and reads what was learned of a cultivar in a room, so
// that a bench file can name it and others can be given it. It answers: which
// profile does this text hold, and if it holds none, where is it wrong?
//
// The layout is laid down in docs/formats/profile.md, which the tests hold against
// this package.
//
// # Conventions
//
//   - YAML, read with package handwritten: every mistake with its line and column.
//   - Numbers are written with all their digits: a profile that was written and read
//     gives the same draws as before.
//   - The part `factors` is for people and other programs; forecasts are made from
//     `summary` alone, and both are held against each other.
//
// # Limits
//
// Those of package handwritten; 64 parameters, 200 cycles.
package profilefile
