// Package cyclefile reads the record of one crop on one bench: which bench file,
// from which day to which, what was set anew when, and what was seen of the
// plants. It answers: which cycle does this text record, and if it records none,
// what must be changed, and where?
//
// The layout is laid down in docs/formats/cycle.md, which the tests hold against
// this package.
//
// # Conventions
//
//   - As in package handwritten: everything is reported in one run, with line and
//     column. A file with an error gives no cycle.
//   - Day 0 is the day of transplanting. An observation of day k is of a plant that
//     has had the light of the days 0 to k − 1.
//   - An observation that another corrects, or that is struck out, stays in the
//     file and does not count.
//
// # What is left out, and why
//
// Photographs, and observations of groups of plants other than counts of burn: no
// part of the tool computes with them.
//
// # Limits
//
// Those of package handwritten; 5000 observations, 200 changes, 200 days.
package cyclefile
