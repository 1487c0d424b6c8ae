// Package terminal draws numbers as text: the bench from above with its light, curves
// with their bands, a line of the last hours. The command line shows them.
//
// # Conventions
//
//   - A picture is a struct with named fields and a method Text, which gives whole lines,
//     each ended, without blanks at their ends. No line is wider than Columns.
//   - A [Style] says which colours and letters the terminal has; [StyleOf] reads it from
//     the environment. The colours are those of package draw. Where there are none,
//     letters of rising weight stand for them, so that a picture can be kept in a file.
//   - Nothing is told by colour alone: limits of bands stand in the key, lines at target
//     and ceiling have letters of their own.
//   - NaN and infinities are missing numbers: a blank. A mistake of the programmer, such
//     as series of different lengths, panics with "terminal: Type: what".
//   - The same input gives the same bytes.
//
// # What is left out, and why
//
// Pictures in protocols of single terminals (Sixel and the like) are not drawn: half
// blocks show on all of them, and a page shows the rest. Letters of ambiguous width
// (UAX #11) count as one cell, as they do outside of East Asian settings.
package terminal
