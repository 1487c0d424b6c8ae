// Package workbook writes tables as a workbook (XLSX), for people with a spreadsheet.
//
// One sheet a table, with a heading that stays in sight; a sheet "about" in front and a sheet
// "fields" with type, unit and meaning of every column behind. Numbers are numbers, days and
// instants are dates, yes and no are such; texts are texts whatever they begin with: there
// are no formulas, macros, links or outside parts. Rows are streamed, so that size is bounded
// by the sheet alone.
//
// # Limits
//
// Those of the programs that open it: 1 048 576 rows, 16 384 columns, 32 767 characters in a
// cell. Beyond them an error says so. Instants lose their zone (all are in UTC) and what is
// finer than a millisecond; days before March 1900 and whole numbers beyond 2⁵³ are written as
// text, for a sheet cannot hold them.
//
// # Why it is written here
//
// The form is small and this package needs little of it; a general library cost 5.7 MiB of
// binary. Files are read back by two general readers in tools/datacheck.
//
// # Sources
//
//   - ECMA376: SpreadsheetML.
package workbook
