// Package dataset answers: which tables and files tell everything of a trial, or of a bench
// with its cycle, and how does the analysis start again from them?
//
// [OfTrial] and [OfBench] make a [datapackage.Package]: tables with units and descriptions,
// the files as they were, findings, what a reader would want and does not have. [Folder] makes
// of a package a folder again, from which the very code of findings reads.
//
// # Conventions
//
//   - What people wrote by hand goes as it is, byte for byte, under files/. What was seen
//     goes into tables too, and findings of a package are read from the table, so that the table
//     is known to hold everything.
//   - Every column of every table stands in [Schemas], with its unit and a sentence; a table
//     that has no rows is left out.
//   - Nothing is invented: no licence, no author, no place. What is missing is listed with how
//     to give it.
//   - Lengths are m for benches and cm for plants, as the tables of trials have them.
//
// # Sources
//
//   - DataPackageV1, CFF12: the forms.
//   - MIAPPE11: what researchers want to know of an experiment with plants.
package dataset
