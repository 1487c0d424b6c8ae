// Package loggercsv reads the tables that data loggers write: a time and some
// columns of values, in any of the dresses in which they come.
//
// Found out from the text itself, and said: encoding; what parts the cells; point or
// comma in numbers; which line is the heading, and what stands above it; units of the
// columns; the form of the times, with date and time in one cell or two; the order of
// day and month. Where the text leaves two readings open the reader does not choose: it
// fails and says which option decides.
//
// # Times
//
// A time with its offset ("Z", "+02:00"), or a heading that names one ("GMT+01:00"), is
// an instant. Else the clock on the wall is read in the zone of the options. When
// summer time ends an hour comes twice: rows that go back in time are taken as its
// second pass. When it begins an hour is left out: rows in that hour mean a clock that
// keeps winter time, and are said so.
//
// A table is read whole or not at all. A value that is no number is missing (NaN), as
// an empty cell is; a row without a time fails.
package loggercsv
