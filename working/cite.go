package working

import (
	"fmt"
	"strings"

	"underlamp/science/reference"
)

// Cite prints a source as a reader looks it up: authors, year, title, place, and
// how much of it was read. A key that the bibliography does not have panics: it
// is a mistake of the program, and a test cites every key in use.
func Cite(key string) string {
	w, ok := reference.Cite(key)
	if !ok {
		panic("working: Cite: no work has the key " + key)
	}
	var b strings.Builder
	b.WriteString(w.Authors)
	if w.Year > 0 {
		fmt.Fprintf(&b, " (%d)", w.Year)
	}
	for _, part := range []string{w.Title, w.Where} {
		if part != "" {
			b.WriteString(", " + part)
		}
	}
	fmt.Fprintf(&b, " [%s]", w.Read)
	return b.String()
}
