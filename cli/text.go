package cli

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"
	"text/tabwriter"

	"underlamp/working"
)

// column is one column of a table in the terminal.
type column struct {
	head  string
	right bool // numbers stand to the right
}

// writeTable prints rows under their heads, columns aligned.
func writeTable(w io.Writer, cols []column, rows [][]string) {
	// tabwriter aligns a whole table one way; numbers are padded here first.
	widths := make([]int, len(cols))
	for c, col := range cols {
		widths[c] = len([]rune(col.head))
		for _, r := range rows {
			widths[c] = max(widths[c], len([]rune(r[c])))
		}
	}
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	line := func(cells []string) {
		out := make([]string, len(cells))
		for c, s := range cells {
			if cols[c].right {
				s = strings.Repeat(" ", widths[c]-len([]rune(s))) + s
			}
			out[c] = s
		}
		fmt.Fprintln(tw, strings.TrimRight("  "+strings.Join(out, "\t"), " \t"))
	}
	heads := make([]string, len(cols))
	for c, col := range cols {
		heads[c] = col.head
	}
	line(heads)
	for _, r := range rows {
		line(r)
	}
	tw.Flush()
}

// writeFigures prints figures one a line: name, value, band.
func writeFigures(w io.Writer, figures []working.Figure) {
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, f := range figures {
		band := f.BandText()
		fmt.Fprintln(tw, strings.TrimRight("  "+f.Name+"\t"+f.Text()+"\t"+band, "\t"))
	}
	tw.Flush()
}

// writeWorking prints how each figure was reached.
func writeWorking(w io.Writer, figures []working.Figure) {
	for _, f := range figures {
		fmt.Fprintf(w, "\n%s: %s\n", f.Name, f.Text())
		if f.Band != nil {
			fmt.Fprintf(w, "  band     %s\n", f.BandText())
		}
		fmt.Fprintf(w, "  formula  %s\n", f.Working.Formula)
		rows := [][]string{}
		for _, in := range f.Working.Inputs {
			rows = append(rows, []string{in.Name, in.Value, in.Origin, in.Note})
		}
		if len(rows) > 0 {
			writeTable(w, []column{{head: "  input"}, {head: "value"}, {head: "origin"}, {head: "note"}}, indent(rows))
		}
		writeParagraphs(w, "  step     ", f.Working.Steps)
		writeParagraphs(w, "  note     ", f.Working.Notes)
		for _, key := range f.Working.Sources {
			writeParagraph(w, "  source   ", working.Cite(key))
		}
	}
}

func indent(rows [][]string) [][]string {
	for _, r := range rows {
		r[0] = "  " + r[0]
	}
	return rows
}

// textWidth is the width that running text is broken to.
const textWidth = 88

// writeParagraph prints text after a lead, broken into lines under it.
func writeParagraph(w io.Writer, lead, text string) {
	pad := strings.Repeat(" ", len([]rune(lead)))
	line := lead
	fresh := true
	for _, word := range strings.Fields(text) {
		if !fresh && len([]rune(line))+1+len([]rune(word)) > textWidth {
			fmt.Fprintln(w, strings.TrimRight(line, " "))
			line, fresh = pad, true
		}
		if !fresh {
			line += " "
		}
		line += word
		fresh = false
	}
	fmt.Fprintln(w, strings.TrimRight(line, " "))
}

// writeParagraphs prints each text after a lead.
func writeParagraphs(w io.Writer, lead string, texts []string) {
	for _, s := range texts {
		writeParagraph(w, lead, s)
	}
}

// progress shows a line of what goes on, if somebody is watching, and takes it away
// when it is done.
func (w World) progress(done bool, format string, args ...any) {
	if !w.Colour {
		return
	}
	fmt.Fprintf(w.Err, "\r\033[K  "+format, args...)
	if done {
		fmt.Fprint(w.Err, "\r\033[K")
	}
}

// writeJSON prints a value for programs.
func writeJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

// number is a JSON number, or null for what is not known.
type number float64

// MarshalJSON writes null for NaN and infinities, which JSON cannot hold.
func (n number) MarshalJSON() ([]byte, error) {
	v := float64(n)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return []byte("null"), nil
	}
	return json.Marshal(v)
}
