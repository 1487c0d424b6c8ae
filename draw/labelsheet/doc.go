// Package labelsheet prints labels of plants (package plantlabel) on sheets, as PDF in exact
// millimetres: on sheets of self-adhesive labels, or on plain paper with marks to cut along.
//
// # Conventions
//
//   - Lengths are millimetres, from the upper left corner of the page.
//   - A printer may scale what it prints. [Check] is a page with lines of known distance; what
//     a ruler reads between them gives a [Scale] that prints the rest to size.
//   - Words are set in the Go fonts (Bigelow & Holmes, BSD licence), which have the letters
//     of Latin, Greek and Cyrillic. [Writable] tells whether they have those of a text.
//   - The same labels give the same bytes.
//
// The formats of label sheets are sizes common in the trade (common practice, no source):
// they are named by their size, and hold for every maker of such sheets.
package labelsheet
