// Package fileintake watches a folder for the tables of data loggers, and takes what is
// new in them.
//
// It looks into the folder every few seconds and compares size and time of each file with
// the last look, which works on drives of other machines too, where a system tells nobody
// of changes. The time of a file is only ever compared with itself, so no clocks need to
// agree. A file that has stayed the same for some looks is read.
//
//   - Of a file that grew, the rows that were added are taken; any other file is taken
//     whole. A reading that is in the store already, by sensor and instant, is not sent
//     again; one with another value is, and the later counts.
//   - A last line without its end may be half written: it waits until the file has been
//     left alone for longer, and is looked at again when the file grows.
//   - Which column is which sensor is a document of kind "table" in the store
//     (package tablefile), one for each place and heading. It is made by rule at the first
//     meeting, and the person's to change.
//   - A file that cannot be read is reported with a sentence and left alone, until it
//     changes. No file is ever changed or deleted. Of a file that is refused nothing is
//     kept.
//
// What was read up to where is a document of kind "table file", so that nothing is read
// twice after a new start.
package fileintake
