// Package notes takes the notes that people have kept before into the records of a bench: a
// sheet with a row a plant, a row a crop cycle, or a row a light reading.
//
// It proposes what each column is and why, reads every cell, and says before anything is
// kept what would be new, what is there already, what is in conflict, and what cannot be read
// and where it stands. What it takes is recorded, and can be taken back.
//
// # Conventions
//
//   - A look writes nothing, and a real run does what the look showed.
//   - All or nothing: what was seen of plants enters the store in one transaction, readings
//     enter the bench file in one change. Cycles are files of their own: the record of the
//     import is written first, so that a run that was stopped between two of them can be taken
//     back whole.
//   - The same file again brings nothing new, also after some of it was corrected.
//   - Of what is there and what a sheet says otherwise a person chooses; without a word what is
//     there stays.
//   - What was seen is never deleted: taking an import back strikes its entries, as far as
//     nobody has corrected them since.
//   - An import that was taken back can be taken in again.
//
// # What is left out, and why
//
// Records of trials are kept by trialbook, which reads tables through the same package sheet.
// Grades of burn on other scales are not converted, see [trialtable.FromCell]. The mean light
// of a cycle is that of its bench: sheets that name a lamp for each row are trials.
package notes
