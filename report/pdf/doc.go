// Package pdf makes a PDF of a report: the HTML that package report writes goes in,
// pages of paper come out, with the same text, the same tables and the same
// pictures.
//
// # What it reads
//
// The HTML of our reports, not any page of the web: headings, paragraphs, lists,
// tables, definition lists, figures with inline SVG or with pictures in data URIs,
// what is folded away on screens (it is unfolded on paper), notes, links. How it
// looks follows from the elements and from the classes of report.css that
// styles.go lists; style sheets are not read. Elements it does not know are set by
// what they hold, so no text is lost.
//
//   - Pictures stay vectors. Their text is text, in the fonts of the file.
//   - Of the two pictures that package draw makes for wide and narrow screens the
//     wide one is set. The table behind a picture follows it.
//   - A table repeats its head on each page, and keeps all its columns: what does not
//     fit is set smaller, then broken within words. A row higher than a page goes on
//     on the next.
//   - Figures and the rows of tables are not split; a heading stays with what follows.
//   - What nothing can be done about is said in [Result]: characters without a letter
//     in the fonts, pictures that could not be read.
//
// The same HTML and options give the same bytes.
package pdf
