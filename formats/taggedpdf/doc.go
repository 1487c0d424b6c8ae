// Package taggedpdf writes PDF files whose content is tagged: pages of text in
// embedded fonts, drawings and pictures, and beside them the tree that says what
// is a heading, a paragraph, a table cell or a figure, so that a screen reader
// reads the page as it was written, and text can be searched and copied.
//
// # Conventions
//
//   - Lengths are in points (1/72 inch). x goes right and y goes DOWN from the
//     upper left corner of the page, as on a screen.
//   - Every drawing belongs to an [Element] of the tree, or to none: then it is an
//     artifact (a rule, a ground, a footer), which readers pass over. [Canvas.Mark]
//     says which.
//   - An [Element] is added where it stands in the text, when the tree is built; its
//     content may be drawn later, on any page, as a [Content] of it.
//   - The same calls give the same bytes: there is no clock and no chance in it. The
//     day is given by the caller, the identity of a file is a digest of its content.
//   - Mistakes of the programmer panic with "taggedpdf: what". What comes from
//     outside (pictures) gives an error.
//
// # What is written
//
// PDF 1.7 (ISO 32000-1) with object streams; fonts as composite TrueType with a
// map to Unicode, a glyph for every character, and only the glyphs used; a
// structure tree with parent tree; bookmarks; links within and out; XMP metadata;
// the language; the title for the window.
//
// # What is left out, and why
//
// The marks that claim PDF/UA or PDF/A: a claim needs a validator, and there is
// none in the registries that the tests may use. Encryption, forms, scripts: our
// reports need none of them.
//
// # Sources
//
//   - ISO32000: ISO 32000-1 (2008), Document management, Portable document format,
//     Part 1: PDF 1.7; clauses are named where they are followed.
//   - ISO14289: ISO 14289-1 (2014), PDF/UA-1, for what is asked of tagged files.
package taggedpdf
