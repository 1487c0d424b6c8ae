package report

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"underlamp"
	"underlamp/app/environment"
	"underlamp/app/trial"
	"underlamp/draw"
	"underlamp/science/quantity"
	"underlamp/working"
)

// A TrialDocument is what a report of a trial holds.
type TrialDocument struct {
	Head
	Findings *trial.Findings
	Bench    *underlamp.Bench   // nil: the plan names none
	Light    *trial.TrialLight  // nil: no layout is drawn to scale
	Around   *environment.Table // nil leaves it out
	Strips   []Strip
}

const trialKind = "Report on a trial"

func (d *TrialDocument) question() string {
	t := d.Findings.Trial
	if t.Question != "" {
		return t.Question
	}
	var names []string
	for _, x := range t.Treatments {
		names = append(names, x.Name)
	}
	return fmt.Sprintf("Do %s differ in %s?", strings.Join(names, ", "), strings.ToLower(responseName(t.Response)))
}

// told are the first sentences of the parts that tell something.
func (d *TrialDocument) told(what trial.Telling) []string {
	var out []string
	for _, p := range d.Findings.Parts {
		if p.Tells == what {
			out = append(out, p.Says[:min(p.Heads, len(p.Says))]...)
		}
	}
	return out
}

func (d *TrialDocument) summary() summary {
	f := d.Findings
	s := summary{Asked: []string{d.question()}, Came: d.told(trial.Outcome), Do: d.told(trial.Advice), Sure: d.told(trial.Certainty)}
	// Tests stand under Findings; here in plain words.
	s.Came = slices.DeleteFunc(s.Came, func(x string) bool { return strings.HasPrefix(x, "F = ") })
	for _, l := range f.Lines {
		if !l.Tested || l.Name != "treatment" {
			continue
		}
		says := "That the treatments differ in " + strings.ToLower(responseName(f.Trial.Response)) + " is more than chance would make"
		if l.P >= 0.05 {
			says = "Chance alone would make differences in " + strings.ToLower(responseName(f.Trial.Response)) + " like these"
		}
		s.Came = append([]string{says + " (p " + pWord(l.P) + ")."}, s.Came...)
	}
	if len(f.Summary) > 0 {
		s.Sure = append([]string{f.Summary[0]}, s.Sure...) // how many units, which are the repeats
		if last := f.Summary[len(f.Summary)-1]; !slices.Contains(s.all(), last) {
			s.Sure = append(s.Sure, last) // lamps that cannot be told from treatments
		}
	}
	if len(s.Do) == 0 {
		s.Do = []string{d.choice()}
	}
	return s
}

func pWord(p float64) string {
	if p < 0.001 {
		return "under 0.001"
	}
	return "= " + pCell(p)
}

func (s summary) all() []string { return slices.Concat(s.Asked, s.Came, s.Do, s.Sure) }

// choice is what to do where the trial is of no levels of light: what its largest contrast says.
func (d *TrialDocument) choice() string {
	c, ok := d.contrast()
	if !ok {
		return "Run it on: it does not tell yet which treatment to take."
	}
	a, b, _ := strings.Cut(c.Name, " − ")
	if c.Band == nil || c.Band.Low <= 0 && c.Band.High >= 0 {
		return "Take whichever treatment is cheaper or easier: the trial does not tell which has more."
	}
	better := a
	less := d.Findings.Trial.Response == underlamp.ResponseBurn || d.Findings.Trial.Response == underlamp.ResponseSeverity
	if (c.Value < 0) != less {
		better = b
	}
	return fmt.Sprintf("By %s alone take %s. Whether it is worth its cost is yours to judge: the difference may be as small as %s.", strings.ToLower(responseName(d.Findings.Trial.Response)), better,
		c.Place(math.Min(math.Abs(c.Band.Low), math.Abs(c.Band.High))))
}

// contrast is the largest difference between two treatments in the primary response.
func (d *TrialDocument) contrast() (best working.Figure, ok bool) {
	for _, p := range d.Findings.Parts {
		if p.Tells != trial.Outcome {
			continue
		}
		for _, f := range p.Figures {
			if strings.Contains(f.Name, " − ") && (!ok || math.Abs(f.Value) > math.Abs(best.Value)) {
				best, ok = f, true
			}
		}
		if ok {
			return best, true // of the first part, which is that of the primary response
		}
	}
	return best, false
}

// method says how the trial was made and read.
func (d *TrialDocument) method() [][2]string {
	t := d.Findings.Trial
	rows := [][2]string{{"layout", fmt.Sprintf("%s, drawn at random by seed %d", t.Layout, t.Seed)}}
	if t.Layout == underlamp.SystematicLayout {
		rows[0][1] = "systematic, by hand: nothing was drawn at random"
	}
	var names []string
	for _, x := range t.Treatments {
		n := x.Name
		if x.DLI > 0 {
			n += " (" + quantity.DailyIntegral.Format(float64(x.DLI), t.Units, 3) + " aimed at)"
		}
		if x.Control {
			n += ", the control"
		}
		if x.Note != "" {
			n += ", " + x.Note
		}
		names = append(names, n)
	}
	rows = append(rows, [2]string{"treatments", strings.Join(names, "; ")})
	rows = append(rows, [2]string{"chosen before the run", "looked at first: " + strings.ToLower(responseName(t.Response))})
	if t.Difference > 0 {
		rows[len(rows)-1][1] += "; smallest difference worth knowing " + strings.TrimSpace(quantity.Number(t.Difference, 3)+" "+t.Response.Unit())
	}
	if t.BurnLimit > 0 {
		rows[len(rows)-1][1] += "; burn that is borne: " + working.Percent(float64(t.BurnLimit)) + " of the heads"
	}
	plants := 0
	for _, u := range d.Findings.Units {
		plants += u.N
	}
	rows = append(rows, [2]string{"experimental unit", fmt.Sprintf("%d units, mostly a lamp in a cycle; %d plants under them are subsamples, not repeats", len(d.Findings.Units), plants)})
	for _, c := range t.Cycles {
		text := "transplanted " + c.Transplanted
		if c.Harvested != "" {
			text += ", harvested " + c.Harvested
		}
		if c.StartMass != nil {
			text += ", from " + quantity.Mass.Format(float64(c.StartMass.Value), t.Units, 3)
		}
		rows = append(rows, [2]string{cmp.Or(c.Block, "cycle"), text})
	}
	return append(rows, [2]string{"analysis", "means of units, compared by the layout as it was drawn; intervals hold 95 % unless they say otherwise; further tests are adjusted (Holm). Every figure has its working in the appendix"})
}

// layout is what each lamp got, drawn to scale where there is a bench.
func (d *TrialDocument) layout() template.HTML {
	t := d.Findings.Trial
	head, rows := TrialLayout(t)
	out := scrolled(draw.Table{Caption: fmt.Sprintf("What each lamp got; layout: %s, seed %d", t.Layout, t.Seed), Head: head, Rows: rows})
	if d.Light == nil {
		return joined(out, paragraph("The plan names no bench with its lamps, so the layout is not drawn to scale: name it (bench: mine.yaml) and the places of units and plants are drawn, with the light that each gets."))
	}
	for i := range d.Light.Blocks {
		b := &d.Light.Blocks[i]
		out = joined(out, heading(cmp.Or(b.Block, "The block")), `<div class="pictures">`, TrialPlanFigure(fmt.Sprintf("layout%d", i+1), d.Light, b), "</div>", scrolled(TrialLightTable(b)))
	}
	return joined(out, bullets(d.Light.Says))
}

// limits are what could not be told apart, and how small a difference could have been seen.
func (d *TrialDocument) limits() template.HTML {
	f := d.Findings
	var says []string
	if c, ok := d.contrast(); ok && c.Band != nil {
		says = append(says, fmt.Sprintf("The intervals of differences between two treatments reach about ± %s: what is smaller than that, these units cannot tell from nothing.", strings.TrimSpace(quantity.Number((c.Band.High-c.Band.Low)/2, 2)+" "+c.Unit)))
	}
	units := map[string]int{}
	for _, u := range f.Units {
		units[u.Treatment]++
	}
	for _, t := range f.Trial.Treatments {
		if units[t.Name] == 1 {
			says = append(says, fmt.Sprintf("%s has one unit: what is odd about its lamp or its cycle looks like the treatment.", t.Name))
		}
	}
	measured := 0
	for _, u := range f.Units {
		if u.DLI > 0 {
			measured++
		}
	}
	if byLight(f) && measured < len(f.Units) {
		says = append(says, fmt.Sprintf("Of %d units %d have the light that their plants got, by meter; of the others it is what was aimed at.", len(f.Units), measured))
	}
	says = append(says, "It holds for these lamps, this cultivar and this room. A lamp of another kind, another season or another grower is another trial.")
	out := bullets(append(says, f.Notes...))
	if d.Light != nil {
		if c, ok := ConfoundTable(d.Light); ok {
			out = joined(out, scrolled(c))
		}
	}
	return joined(out, partsHTML(f, trial.Certainty))
}

// partsHTML are the parts of findings that tell something, without workings.
func partsHTML(f *trial.Findings, tells ...trial.Telling) template.HTML {
	var out template.HTML
	for _, p := range f.Parts {
		if slices.Contains(tells, p.Tells) {
			out = joined(out, render("findingpart.tmpl", findingPart(f, p, p.Says, false)))
		}
	}
	return out
}

// HTML is the whole report.
func (d *TrialDocument) HTML() []byte {
	f := d.Findings
	t := f.Trial
	p := &paper{Kind: trialKind, Title: t.Name, Note: t.Note, Head: d.Head, Summary: d.summary()}
	p.add("question", "Question", paragraph(d.question()))
	bench := facts(d.method())
	if d.Bench != nil {
		bench = joined(bench, heading("The bench: "+d.Bench.Name), facts(BenchRows(d.Bench)))
	} else {
		bench = joined(bench, paragraph("The plan names no bench, so lamps, walls, air and feed are not told here."))
	}
	p.add("bench", "Bench and method", bench)
	if d.Around != nil {
		light := ""
		if d.Light != nil {
			light = "Light differs by treatment and stands under Layout; here it is that of the bench as its file has it."
		}
		p.add("environment", "Environment", joined(sentence(light), EnvironmentSection(d.Around, nil)))
	} else {
		p.add("environment", "Environment", paragraph("Not told: the environment of a trial is that of the bench that its plan names (bench: mine.yaml). All that guidelines for growth rooms ask for is missing here."))
	}
	p.add("layout", "Layout", d.layout())
	p.add("results", "Results", joined(`<div class="pictures">`, FindingsPicture(f), "</div>", scrolledHTML("The units", unitsTable(f)), scrolledHTML("Table of variance", varianceTable(f))))
	p.add("findings", "Findings", partsHTML(f, trial.Outcome, trial.Advice))
	p.add("limits", "Limits", d.limits())
	p.add("photos", "Photos", StripsSection(d.Strips))
	var workings template.HTML
	for _, x := range f.Parts {
		if len(x.Figures) > 0 {
			workings = joined(workings, heading(x.Title), WorkingSection(x.Figures))
		}
	}
	p.addix("working", "Working", workings)
	p.addix("raw", "Every plant", scrolled(rawTable(f)))
	p.Seed = fmt.Sprint(t.Seed)
	sources := sourcesOf(f.Figures())
	if d.Around != nil {
		sources = append(sources, guidelines...)
	}
	return p.close(sources)
}

// sentence is a paragraph, or nothing.
func sentence(text string) template.HTML {
	if text == "" {
		return ""
	}
	return paragraph(text)
}

func scrolledHTML(label string, table template.HTML) template.HTML {
	if table == "" {
		return ""
	}
	return template.HTML(`<div class="d-scroll" role="group" tabindex="0" aria-label="`+template.HTMLEscapeString(label)+`">`) + table + "</div>"
}

// rawTable is every value of the primary response, a row a unit.
func rawTable(f *trial.Findings) draw.Table {
	name := responseName(f.Trial.Response)
	if unit := f.Trial.Response.Unit(); unit != "" {
		name += ", " + unit
	}
	t := draw.Table{Caption: name + ", every plant", Head: []string{"unit", "treatment", "block", "values"}}
	for _, u := range f.Units {
		var v []string
		for _, x := range u.Raw {
			v = append(v, quantity.Number(x, 4))
		}
		t.Rows = append(t.Rows, []string{u.Name, u.Treatment, u.Block, strings.Join(v, "; ")})
	}
	return t
}

// Short is the report as one page: the largest difference, what to do, and how sure it is.
func (d *TrialDocument) Short() []byte {
	f := d.Findings
	s := short{Kind: trialKind, Title: f.Trial.Name, Lead: d.question(), Head: d.Head, Picture: FindingsPicture(f)}
	sentence := func(begin string, from []string) string {
		for _, x := range from {
			if strings.HasPrefix(x, begin) {
				return upper(strings.TrimSpace(strings.TrimPrefix(x, begin)))
			}
		}
		return ""
	}
	if c, ok := d.contrast(); ok {
		judgment := ""
		if whole := sentence(c.Name+":", f.Summary); whole != "" {
			if _, after, ok := strings.Cut(whole, "; "); ok {
				judgment = upper(after)
			}
		}
		c.Name, c.Digits = strings.ToLower(responseName(f.Trial.Response))+", "+c.Name, 3
		s.Numbers = append(s.Numbers, shortNumber{c, judgment})
	}
	advice := map[string]string{"safe light": "Stay at", "sweet spot: most mass": "Most saleable", "days to": "By the curves"}
	for _, name := range []string{"safe light", "sweet spot: most mass", "days to"} {
		if len(s.Numbers) > 1 {
			break
		}
		var best *working.Figure
		var says []string
		for _, p := range f.Parts {
			for i, x := range p.Figures {
				if strings.HasPrefix(x.Name, name) && (name != "days to" || strings.Contains(x.Name, " − ")) && best == nil {
					best, says = &p.Figures[i], p.Says
				}
			}
		}
		if best == nil {
			continue
		}
		text := ""
		for _, x := range says {
			if text == "" && strings.HasPrefix(x, advice[name]) {
				text = x
			}
		}
		figure := *best
		figure.Digits = 3
		s.Numbers = append(s.Numbers, shortNumber{figure, text})
	}
	for _, p := range f.Parts {
		for i, x := range p.Figures {
			if p.Tells == trial.Certainty && strings.HasPrefix(x.Name, "chance that another cycle") && len(p.Says) > 0 {
				s.Numbers = append(s.Numbers, shortNumber{p.Figures[i], p.Says[0]})
			}
		}
	}
	if len(f.Summary) > 0 && len(s.Numbers) < 3 {
		s.Numbers = append(s.Numbers, shortNumber{working.Figure{Name: "units, the repeats", Value: float64(len(f.Units))}, f.Summary[0]})
	}
	return s.html()
}
