package validation

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"unicode"

	"underlamp/science/calibration"
	"underlamp/science/reference"
)

// areas are the parts of the document, in its order.
var areas = []struct{ key, title string }{
	{"quantities", "Quantities and electricity"},
	{"air", "Moist air"},
	{"leaf", "Leaf and stand"},
	{"room", "Room, fan, and air by any of its measures"},
	{"light", "Light"},
	{"photometry", "Photometric files"},
	{"spectrum", "Colour of light"},
	{"aim", "Dimming to a target"},
	{"learning", "Learning"},
	{"statistics", "Statistics of trials"},
	{"growth", "Growth"},
	{"tipburn", "Tipburn"},
	{"trouble", "Causes of trouble"},
	{"feed", "Feed"},
	{"photos", "Plants in photos"},
}

// Summary counts the checks that hold among those that count.
func Summary(checks []Check) (held, counted int) {
	for _, c := range checks {
		if c.Counted() {
			counted++
			if c.Held {
				held++
			}
		}
	}
	return held, counted
}

// Markdown writes the document of all checks: how many hold and which do not,
// what was fitted to what, a table for every area, and the works cited. It runs
// the fits again, which takes some seconds. The error is that of w.
func Markdown(w io.Writer, checks []Check) error {
	var b strings.Builder
	b.WriteString("# Validation\n\n")
	b.WriteString("What the tool computes, beside what was published. This page is written by the tool itself; a row that does not hold is printed like any other.\n\n")
	summary(&b, checks)
	metricsSection(&b, checks)
	calibrated(&b)
	rules(&b)
	for _, a := range areas {
		var list []Check
		for _, c := range checks {
			if c.Area == a.key {
				list = append(list, c)
			}
		}
		if len(list) > 0 {
			section(&b, a.title, list)
		}
	}
	works(&b, checks)
	_, err := io.WriteString(w, b.String())
	return err
}

func summary(b *strings.Builder, checks []Check) {
	held, counted := Summary(checks)
	fmt.Fprintf(b, "## Summary\n\n%d of %d checks hold; %d do not. ", held, counted, counted-held)
	fmt.Fprintf(b, "%d further rows were used to calibrate and are not counted.\n\n", len(checks)-counted)
	b.WriteString("| area | purpose | hold | do not hold |\n|---|---|---|---|\n")
	for _, a := range areas {
		for _, purpose := range []string{Independent, Published, Practice, Calibrated} {
			yes, no := 0, 0
			for _, c := range checks {
				if c.Area != a.key || c.Purpose != purpose {
					continue
				}
				if c.Held {
					yes++
				} else {
					no++
				}
			}
			if yes+no > 0 {
				fmt.Fprintf(b, "| %s | %s | %d | %d |\n", a.title, purpose, yes, no)
			}
		}
	}
	b.WriteString("\nWhat does not hold:\n\n")
	for _, c := range checks {
		if c.Held {
			continue
		}
		fmt.Fprintf(b, "- %s (%s)", cell(c.Name), c.Purpose)
		if c.Kind == Value {
			fmt.Fprintf(b, ": published %s, computed %s %s", number(c.Expected), number(c.Got), c.Unit)
		}
		b.WriteString("\n")
	}
	b.WriteString("\n")
}

func calibrated(b *strings.Builder) {
	b.WriteString("## What was calibrated on what\n\n")
	growth, heart := calibration.FitGrowth(), calibration.FitHeart()
	fmt.Fprintf(b, "%d parameters of growth are fitted, and %d of the heart, one of them a spread; all else was set before. The misfit is the sum of squared residuals in units of their weights, with that of the priors; see package calibration.\n\n", len(growth.Names), len(heart.Names))
	for _, f := range []struct {
		title string
		fit   calibration.Fit
	}{{"Growth", growth}, {"Heart", heart}} {
		fmt.Fprintf(b, "%s, misfit %.2g:\n\n| parameter | fitted |\n|---|---|\n", f.title, f.fit.Misfit)
		for i, n := range f.fit.Names {
			fmt.Fprintf(b, "| %s | %.3g |\n", n, f.fit.Values[i])
		}
		b.WriteString("\n| target | published | reached |\n|---|---|---|\n")
		for _, r := range f.fit.Rows {
			fmt.Fprintf(b, "| %s | %.3g | %.3g |\n", r.Case, r.Target, r.Got)
		}
		b.WriteString("\n")
	}
}

func rules(b *strings.Builder) {
	u := calibration.Usual()
	b.WriteString("## When a row holds\n\n")
	b.WriteString("The bounds were set before the results were seen. A printed error counts twice. Where none is printed, a figure of a trial holds between 0.8 and 1.25 of what was published, one standard deviation between plants as the forecast states it, and a ratio of two treatments within a tenth. An order holds or does not.\n\n")
	b.WriteString("Most trials could be read in their abstracts only. What an abstract leaves out is assumed: ")
	fmt.Fprintf(b, "%g °C by day and %g °C by night, %.0f %% humidity by day and %.0f %% by night, %g ppm CO2, air at %g m/s without a fan, %g plants per m², %g g fresh at transplanting, %g h of light, %g days, %g mg/L of calcium and %g mS/cm in the feed.",
		u.DayC, u.NightC, 100*u.DayRH, 100*u.NightRH, u.CO2, u.Speed, u.Density, u.StartG, u.Hours, float64(u.Days), u.Calcium, u.EC)
	b.WriteString(" The column \"moved\" is the span of the result when these are moved one at a time: 16 or 36 plants per m², a third of the start or twice it, 2 °C down or up, and, where CO2 is not printed, 400 or 1000 ppm. It does not change the verdict.\n\n")
}

func section(b *strings.Builder, title string, list []Check) {
	fmt.Fprintf(b, "## %s\n\n", title)
	b.WriteString("| check | source | purpose | unit | published | holds from | to | computed | error | moved | verdict |\n|---|---|---|---|---|---|---|---|---|---|---|\n")
	notes := false
	for _, c := range list {
		verdict := "holds"
		if !c.Held {
			verdict = "DOES NOT HOLD"
		}
		if c.Purpose == Calibrated {
			verdict += " (calibrated)"
		}
		source := c.Source
		if source == "" {
			source = "no source"
			if c.Purpose != Practice {
				source = "see below"
			}
		}
		off, moved := "", ""
		if e := c.ErrorPercent(); !math.IsNaN(e) {
			off = strings.Replace(fmt.Sprintf("%+.2f %%", e), "-0.00", "+0.00", 1)
		}
		if !math.IsNaN(c.SpanLow) {
			moved = number(c.SpanLow) + " to " + number(c.SpanHigh)
		}
		fmt.Fprintf(b, "| %s | %s | %s | %s | %s | %s | %s | %s | %s | %s | %s |\n", cell(c.Name), source, c.Purpose, c.Unit,
			number(c.Expected), number(c.Low), number(c.High), number(c.Got), off, moved, verdict)
		notes = notes || c.Note != ""
	}
	if notes {
		b.WriteString("\nAssumed, and what the figures are:\n\n")
		for _, c := range list {
			if c.Note != "" {
				fmt.Fprintf(b, "- %s: %s.\n", cell(c.Name), cell(c.Note))
			}
		}
	}
	b.WriteString("\n")
}

// cell keeps a bar from ending a cell of a table.
func cell(s string) string { return strings.ReplaceAll(s, "|", "/") }

// names says that a note names a work by its key.
func names(note, key string) bool {
	return slices.Contains(strings.FieldsFunc(note, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), key)
}

func works(b *strings.Builder, checks []Check) {
	var cited []reference.Work
	for _, w := range reference.Works() {
		if slices.ContainsFunc(checks, func(c Check) bool { return c.Source == w.Key || names(c.Note, w.Key) }) {
			cited = append(cited, w)
		}
	}
	b.WriteString("## Works\n\n")
	for _, w := range cited {
		fmt.Fprintf(b, "- %s: %s", w.Key, w.Authors)
		if w.Year > 0 {
			fmt.Fprintf(b, " (%d)", w.Year)
		}
		for _, part := range []string{w.Title, w.Where} {
			if part != "" {
				fmt.Fprintf(b, ". %s", part)
			}
		}
		fmt.Fprintf(b, ". Read: %s.\n", w.Read)
	}
}
