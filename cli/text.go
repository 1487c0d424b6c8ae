package cli

import (
	"fmt"
	"io"
	"strings"

	"underlamp/app/outlook"
	"underlamp/draw/terminal"
	"underlamp/wire"
	"underlamp/working"
)

// column is one column of a table in the terminal.
type column struct {
	head  string
	right bool // numbers stand to the right
}

// writeTable prints rows under their heads, columns aligned. A letter may take two
// columns of the terminal, or none.
func writeTable(w io.Writer, cols []column, rows [][]string) {
	heads := make([]string, len(cols))
	titled := false
	for c, col := range cols {
		heads[c] = col.head
		titled = titled || col.head != ""
	}
	if titled {
		rows = append([][]string{heads}, rows...)
	}
	widths := make([]int, len(cols))
	for _, r := range rows {
		for c := range cols {
			widths[c] = max(widths[c], terminal.Cells(r[c]))
		}
	}
	for _, r := range rows {
		line := ""
		for c, col := range cols {
			line += "  " + terminal.Pad(r[c], widths[c], col.right)
		}
		fmt.Fprintln(w, strings.TrimRight(line, " "))
	}
}

// writeFigures prints figures one a line: name, value, band.
func writeFigures(w io.Writer, figures []working.Figure) {
	rows := [][]string{}
	for _, f := range figures {
		rows = append(rows, []string{f.Name, f.Text(), f.BandText()})
	}
	writeTable(w, []column{{}, {}, {}}, rows)
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
	pad := strings.Repeat(" ", terminal.Cells(lead))
	line := lead
	fresh := true
	for _, word := range strings.Fields(text) {
		if !fresh && terminal.Cells(line)+1+terminal.Cells(word) > textWidth {
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

// number may be unknown: null in JSON.
type number = wire.Number

// bandOut is where 90 % of the draws lie.
type bandOut = wire.Band

func band(b outlook.Band) bandOut {
	return bandOut{Low: number(b.Low), Mid: number(b.Mid), High: number(b.High)}
}
