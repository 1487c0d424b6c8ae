// Package docs is the book of the program: the very files that stand in the repository, so
// that the binary can show them at /help without a network.
package docs

import "embed"

// Files are the pages in Markdown, their pictures, and the schemas of the files that people
// write. README.md is the table of contents.
//
//go:embed *.md *.png *.json formats how-to schemas
var Files embed.FS
