// Package typeface holds the letters that printed pages carry within themselves:
// how wide they are, how they look, and the part of a font that a text needs.
//
// The fonts are parts of Noto Sans (regular, bold, italic, both), of Noto Sans
// Math for signs that text faces lack, and of Noto Sans Symbols2 for check marks
// and their like: Latin, Greek and Cyrillic of Europe, raised and lowered
// figures, arrows, money, signs of mathematics. They are under the SIL Open Font
// License 1.1; its text lies beside them, and so does the script that cut them
// out of those of the Debian package fonts-noto-core (20201225-1).
//
// Lengths are in units of the font, of which 1000 make the size of the type
// ([UnitsPerEm], the same for all faces here; a test holds it). y goes upwards.
//
// # What is left out, and why
//
// Kerning and ligatures: text that is set letter by letter is found and copied
// letter by letter. Scripts that need shaping (Arabic, Indic) and ideographs: a
// character without a letter is set as an empty box ([Letter].Missing), and keeps
// its identity for search and for screen readers.
//
// # Sources
//
//   - ISO14496: ISO/IEC 14496-22 (2019), Open Font Format: tables glyf, head, hhea,
//     hmtx, loca, maxp.
package typeface
