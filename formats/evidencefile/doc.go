// Package evidencefile reads and writes the table of evidence of troubles: which causes
// there are, what may be found, and what each finding tells. It holds the table that comes
// with the program. It answers: what does this text say, how does it amend the table, and
// what must be changed in it, and where?
//
// The layout is laid down in docs/formats/evidence.md, which the tests hold against this
// package.
//
// # Conventions
//
//   - As in package handwritten: everything is reported in one run, with line and column.
//   - A file that amends says only what is otherwise. A cause or a finding whose key
//     is known takes the place of what is said of it, key by key; a row takes that of the
//     row of its finding, state and cause, and "is: nothing" takes the row away.
//   - The table is checked as a whole once it is put together.
//
// # Limits
//
// Those of package handwritten; 200 causes, 300 findings, 8 states of one.
package evidencefile
