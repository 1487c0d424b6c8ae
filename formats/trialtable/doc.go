// Package trialtable reads and writes the observations of a trial: a table (CSV) that
// only grows, with one thing seen of one plant in each line. It takes tables of others
// in, CSV, XLSX or ODS, by a mapping of their columns, knows duplicates again, and asks
// about values that can hardly be meant.
//
// # Conventions
//
//   - A line is never changed. A correction is a new line that names the old one.
//   - A warning never stops anything.
//   - Tables of others are read by package sheet, whatever their kind. Numbers without a unit
//     are in that of their heading, then in that of the response.
package trialtable
