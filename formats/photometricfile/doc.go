// Package photometricfile reads the files in which makers and laboratories hand
// on how a lamp spreads its light: LM-63 (.ies) of 1986, 1991, 1995, 2002 and
// 2019, and EULUMDAT (.ldt). It answers: which lamp does this text describe, what
// had to be assumed to read it, and if it cannot be read, why and in which line?
//
// The command lamp reads through it, and whatever else takes a photometric file.
// What is read and assumed is laid down in docs/formats/photometric.md.
//
// # Conventions
//
//   - Files in the field break the standards in many small ways. What can be
//     read in one way only is read, with a note that says so; what could mean two
//     things is refused. A note has the line that it concerns.
//   - Lines count from 1.
//   - Lengths become m, whatever the file measures in; intensities become cd with
//     multiplier and ballast factor in them.
//   - The web is of type C whatever the file holds, the lamp facing down.
//
// # What is left out, and why
//
// The XML formats (TM-33 and its kin): no authentic file was at hand to judge a
// reader by. Tilt: only the factor at 0° is used; a bench
// file that tilts such a lamp gets a warning. Of
// several lamp sets in a EULUMDAT file the first is taken: they are alternatives.
//
// # Limits
//
// 4 MiB of text, a million intensities. Real files stay under a tenth of that.
//
// # Sources
//
//   - LM63: ANSI/IES LM-63 of 1986, 1991, 1995, 2002 and 2019 (excerpts, and
//     open programs that read them).
//   - Stockmar1990: A. Stockmar (1990, version 2 of 1998), EULUMDAT, a data format
//     for luminaires (published tables of its lines).
package photometricfile
