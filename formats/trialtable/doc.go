// Package trialtable reads and writes the observations of a trial: a table (CSV) that
// only grows, with one thing seen of one plant in each line. It takes tables of others
// in, CSV or XLSX, by a mapping of their columns, knows duplicates again, and asks
// about values that can hardly be meant.
//
// # Conventions
//
//   - A line is never changed. A correction is a new line that names the old one.
//   - A warning never stops anything.
//   - Of XLSX (ECMA-376, Office Open XML) the first sheet is read, text and numbers
//     as stored; formulas count by their stored result. Files of more than 8 MiB, or
//     32 MiB unpacked, are refused.
package trialtable
