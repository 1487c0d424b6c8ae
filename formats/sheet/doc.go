// Package sheet reads tables that people keep: CSV and its relatives, workbooks of
// spreadsheet programs (XLSX as ECMA-376 lays it down, ODS as OpenDocument does). It
// answers: which cells are there, what kind is each, where does it stand, and which row is
// the heading?
//
// # Conventions
//
//   - What a file is, its content tells, not its name.
//   - A cell is text, a number, a day (perhaps with a clock), yes or no, or a fault of the
//     spreadsheet such as #N/A, which counts as missing and is told.
//   - A day of a workbook is a number whose format is one of days (ECMA-376 Part 1,
//     §18.8.30), counted from 1900 or 1904 (§18.17.4). Serial 60 of the first is
//     1900-02-29, a day that never was: it is read as no day, and told. Days of text are
//     read by [Table.Date], never guessed where day and month can be meant both ways.
//   - Of a formula the stored result counts, and that is told; one without a stored result
//     is missing.
//   - A cell that is merged downwards stands for each of its rows. One merged sideways
//     stands once.
//   - Hidden rows and columns are read, and told.
//   - Clocks have no zone: times are as written, held in UTC.
//
// # What is left out, and why
//
// Older workbooks (XLS), encrypted ones, and macros: save as XLSX, ODS or CSV. Pictures and
// charts are no cells. Formulas are not computed anew.
//
// # Limits
//
// [MaxBytes] of a file, [Options.MaxUnpacked] of a workbook, [MaxCells] cells, 500 columns,
// 100 sheets, a cell of 32 767 characters.
package sheet
