// Package book makes pages of Markdown readable in a browser: the contents, one page with
// its headings, what comes before and after, and a search by words. It answers: what stands
// in this book, and where is it said?
//
// # Conventions
//
//   - The contents are README.md at the top of the folder: a heading of the second level is
//     a part, and each item of a list below it is a page, named by its first link.
//   - The address of a page is its path without .md; the contents have the empty address.
//   - Anchors are those that repositories of Markdown give to headings: small letters,
//     blanks as -, other signs left out, -1, -2 … behind what is there already.
//   - Raw HTML in a page is left out. Links that lead out of the folder become plain text,
//     as what they lead to is not in the binary.
package book
