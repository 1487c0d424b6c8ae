// Package tables answers: what is in a table, column by column, and how does it come out
// as CSV or JSON?
//
// A [Table] has typed columns with units, descriptions and limits, a key, and references
// to other tables. All formats that leave the program (open package, workbook, Parquet,
// JSON, CSV) are written from it, so that none can part from another.
//
// # Conventions
//
//   - A cell is nil (missing), a string, a float64, an int64, a bool, a [Day] or a
//     time.Time, as its column says. NaN and infinities are no values: they are missing.
//   - Numbers are printed with the fewest digits that give the same float64 again
//     (strconv, 'g', -1), so that a value survives to the last bit.
//   - Days are YYYY-MM-DD; instants are RFC 3339 in UTC, to the millisecond.
//   - A missing cell is empty in CSV and null in JSON. So an empty text is missing.
//   - Names are those of programs: lower case, digits and _.
//
// # Sources
//
//   - RFC4180: the form of CSV.
//   - RFC3339: instants.
//   - DataPackageV1: the words of the schema, see package datapackage.
package tables
