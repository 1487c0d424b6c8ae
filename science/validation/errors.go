package validation

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// A Metric is one figure that sums up how far many results lie from what was
// published. It is printed whatever it is; no bound makes it pass.
type Metric struct {
	Group string // what it sums up: growth, tipburn
	Name  string
	Unit  string
	Value float64 // NaN: could not be had
	Aim   string  // what was aimed at, in words; empty for none
	Note  string  // over what, and how it was reckoned
}

// Metrics are all figures of error, in the order of the document.
func Metrics(checks []Check, burn []Treatment) []Metric {
	return slices.Concat(GrowthMetrics(checks), TipburnMetrics(checks, burn))
}

// A SourceError is one published value with what the tool computed for it.
type SourceError struct {
	Source, Name, Unit string
	Purpose            string
	Published          float64
	Computed           float64
}

// Percent is the error in percent of the published value.
func (e SourceError) Percent() float64 {
	return 100 * (e.Computed - e.Published) / math.Abs(e.Published)
}

// SourceErrors lists every published value of an area, sources in order of their
// key. Orders and rows without an expected value have no error and are left out.
func SourceErrors(area string, checks []Check) []SourceError {
	var out []SourceError
	for _, c := range checks {
		if c.Area == area && c.Kind == Value && c.Expected != 0 && !math.IsNaN(c.Expected) {
			out = append(out, SourceError{c.Source, c.Name, c.Unit, c.Purpose, c.Expected, c.Got})
		}
	}
	slices.SortStableFunc(out, func(a, b SourceError) int { return strings.Compare(a.Source, b.Source) })
	return out
}

// MeanAbsolutePercent is the mean of the absolute errors in percent of what was
// published, over the rows that pick takes; NaN and 0 if it takes none.
func MeanAbsolutePercent(errors []SourceError, pick func(SourceError) bool) (mean float64, rows int) {
	sum := 0.0
	for _, e := range errors {
		if pick(e) {
			sum += math.Abs(e.Percent())
			rows++
		}
	}
	return sum / float64(rows), rows
}

// GrowthMetrics are the mean absolute errors of mass. Only rows of purpose
// "check" enter; those that parameters were fitted to prove nothing.
func GrowthMetrics(checks []Check) []Metric {
	list := SourceErrors("growth", checks)
	about := func(words ...string) func(SourceError) bool {
		return func(e SourceError) bool {
			return e.Purpose == Published && slices.ContainsFunc(words, func(w string) bool { return slices.Contains(cases[w], caseOf(e.Name)) })
		}
	}
	mean := func(name, aim string, pick func(SourceError) bool) Metric {
		v, n := MeanAbsolutePercent(list, pick)
		return Metric{Group: "growth", Name: "mean absolute error of " + name, Unit: "%", Value: v, Aim: aim, Note: fmt.Sprintf("%d rows that no parameter was fitted to", n)}
	}
	const aim = "20 % or less"
	return []Metric{
		mean("fresh mass", aim, about("fresh")),
		mean("dry mass", aim, about("dry", "dry ratio")),
		mean("dry mass, absolute values alone", aim, about("dry")),
		mean("dry mass, ratios of two treatments alone", "", about("dry ratio")),
		mean("leaf area", "", func(e SourceError) bool {
			return e.Purpose == Published && strings.HasPrefix(e.Name, "leaf area of")
		}),
	}
}

// cases says what each growth case measures. G09 is a bound on a mean of 53
// studies, not a treatment, and has no error.
var cases = map[string][]string{
	"fresh":     {"G05", "G06", "G14"},
	"dry":       {"G03", "G07", "G08", "G20"},
	"dry ratio": {"G10", "G11", "G12", "G13", "G15", "G16", "G17", "G18"},
}

func caseOf(name string) string { w, _, _ := strings.Cut(name, " "); return w }

// metricsSection writes the figures of error, and the growth rows by source.
func metricsSection(b *strings.Builder, checks []Check) {
	burn := TipburnTreatments()
	metrics := Metrics(checks, burn)
	if len(metrics) == 0 {
		return
	}
	b.WriteString("## Error by source\n\nThese figures are printed whatever they are.\n\n")
	b.WriteString("| area | figure | unit | value | aimed at | over what |\n|---|---|---|---|---|---|\n")
	for _, m := range metrics {
		fmt.Fprintf(b, "| %s | %s | %s | %s | %s | %s |\n", m.Group, cell(m.Name), m.Unit, number(m.Value), cell(m.Aim), cell(m.Note))
	}
	b.WriteString("\nEvery published value of growth, by source:\n\n")
	b.WriteString("| source | result | purpose | unit | published | computed | error |\n|---|---|---|---|---|---|---|\n")
	for _, e := range SourceErrors("growth", checks) {
		fmt.Fprintf(b, "| %s | %s | %s | %s | %s | %s | %+.0f %% |\n", e.Source, cell(e.Name), e.Purpose, e.Unit, number(e.Published), number(e.Computed), e.Percent())
	}
	b.WriteString("\n")
	treatmentsSection(b, burn)
}
