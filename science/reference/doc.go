// Package reference holds what the tool is judged by: printed tables and
// independent computations as CSV, each with its source in its first lines, and
// the bibliography with one key a work. The numbers that judge a formula are
// never in the file that computes it.
//
// # Conventions
//
// Lines of a table that begin with # are its source and its caveats; the first
// other line names the columns with their units. A table marked OWN COMPUTATION
// was computed outside this project, by other code, from the published
// equations it names. The text of a work's entry says how much of it could be
// read: a figure known from an abstract or from another author is weaker than
// one read in the work itself.
package reference
