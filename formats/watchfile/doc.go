// Package watchfile reads what a person wants to be told of a bench, and what they say
// of its day. It answers: which limits does this text set, and if it sets none, what must
// be changed, and where?
//
// The layout is laid down in docs/formats/watch.md, which the tests hold against this
// package.
//
// # Conventions
//
//   - As in package handwritten: everything is reported in one run, with line and
//     column. A file with an error gives nothing.
//   - A key that is not written keeps its usual limit, which follows from the bench.
//
// # Limits
//
// Those of package handwritten.
package watchfile
