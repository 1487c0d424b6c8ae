// Package trialfile reads and writes the plan of a trial, a YAML file that people
// write or have written for them: question, treatments, units, layout and seed. What
// was seen stands in a table beside it, see package trialtable. The layout of the file
// is laid down in docs/formats/trial.md.
//
// # Conventions
//
// As in package handwritten: everything is reported in one run, with line and column.
// A trial with an error is no trial.
package trialfile
