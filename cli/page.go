package cli

import (
	"bytes"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp/report/pdf"
	"underlamp/science/quantity"
)

// A paperFlag says what a PDF is set on.
type paperFlag struct{ name string }

func (p *paperFlag) flag(cmd *cobra.Command) {
	cmd.Flags().StringVar(&p.name, "paper", "", "what a PDF is set on: a4 or letter (default: letter for a bench in US units, else a4)")
}

// of is the paper of a page whose lengths are in the units given.
func (p paperFlag) of(units quantity.System) (pdf.Paper, error) {
	switch {
	case p.name != "":
		paper, err := pdf.PaperOf(p.name)
		if err != nil {
			return paper, wrongf("--paper: %v", err)
		}
		return paper, nil
	case units == quantity.US:
		return pdf.Letter, nil
	}
	return pdf.A4, nil
}

// isPDF says that a file is a PDF by its name.
func isPDF(name string) bool { return strings.EqualFold(filepath.Ext(name), ".pdf") }

// writePage writes a report to a file, whole or not at all: as the HTML that it is, or as
// PDF if the name says so. Every command that writes a page does it here. It returns how many
// bytes the file has. What the PDF lacks is said on the error output.
func writePage(w World, name string, page []byte, paper paperFlag, units quantity.System) (int, error) {
	on, err := paper.of(units)
	if err != nil {
		return 0, err
	}
	if !isPDF(name) {
		if paper.name != "" {
			return 0, wrongf("--paper is for a PDF: give a name that ends in .pdf, or leave it out")
		}
		return len(page), writeFile(name, page)
	}
	day := time.Now()
	var b bytes.Buffer
	made, err := pdf.Write(&b, page, pdf.Options{Paper: on, Written: day.Format(time.DateOnly), Version: version,
		Created: time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, time.UTC)}) // of a day, so that a report that is written again is the same file
	if err != nil {
		return 0, fmt.Errorf("%s: %w", name, err)
	}
	for _, s := range made.Says() {
		fmt.Fprintf(w.Err, "%s: %s\n", name, s)
	}
	return b.Len(), writeFile(name, b.Bytes())
}
