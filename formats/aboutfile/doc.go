// Package aboutfile reads what a person says of data that leave: title, licence, who made
// them, where. It answers: what does this text say, and if it is wrong, what must be changed,
// and where?
//
// The layout is laid down in docs/formats/about.md, which the tests hold against this package.
//
// # Conventions
//
//   - As in package handwritten: everything is reported in one run, with line and column.
//   - Nothing is invented: what nobody wrote is empty.
//
// # Limits
//
// Those of package handwritten; 100 people, 100 sources.
package aboutfile
