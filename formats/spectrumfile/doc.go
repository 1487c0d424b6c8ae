// Package spectrumfile reads the spectrum of a lamp from the text that a
// spectrometer, a maker's data sheet or a spreadsheet gives: two columns,
// wavelength and value, in whatever dress. It answers with samples for package
// spectrum, and with every liberty that it took.
//
// # Conventions
//
//   - [Read] takes any step and separator (tab, semicolon, comma, blanks),
//     decimal points or commas, headings, comments, footers, any line ends, UTF-8,
//     UTF-16 and Windows-1252. It never asks the file's name for anything.
//   - Units are guessed from the headings and the guess is among the notes. If
//     nothing tells energy from photons, [Data.BasisKnown] is false and the
//     caller must ask: the difference is half of the blue share.
//   - What is mended is said: order, doubles, gaps, noise below zero. What cannot
//     be mended without a guess about the numbers themselves is refused, with the
//     line, the reason and what to do: see [Error].
//   - The size is bounded by [MaxBytes] and [MaxSamples].
//
// # What is left out, and why
//
// Several spectra in one file: which one is meant is the person's to say. Binary
// files, and counts of a detector: without its sensitivity they are not a
// spectrum. TM-33 files: no authentic one was at hand.
package spectrumfile
