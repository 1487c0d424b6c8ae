package report

import (
	"cmp"
	"fmt"
	"html/template"
	"slices"
	"strings"

	"underlamp"
	"underlamp/app/trial"
	"underlamp/draw"
	"underlamp/science/quantity"
	"underlamp/working"
)

// TrialLayout is the layout as a table, cycles by lamps; units without a block stand in
// one row.
func TrialLayout(t *underlamp.Trial) (head []string, rows [][]string) {
	head = []string{"block"}
	var blocks []string
	for _, u := range t.Places {
		if !slices.Contains(head, u.Lamp) {
			head = append(head, u.Lamp)
		}
		if !slices.Contains(blocks, u.Block) {
			blocks = append(blocks, u.Block)
		}
	}
	for _, b := range blocks {
		row := make([]string, len(head))
		row[0] = b
		for _, u := range t.Places {
			if u.Block != b {
				continue
			}
			cell := u.Treatment
			if u.Part != "" {
				cell += " " + u.Part
			}
			j := slices.Index(head, u.Lamp)
			if row[j] != "" {
				cell = row[j] + ", " + cell
			}
			row[j] = cell
		}
		rows = append(rows, row)
	}
	return head, rows
}

// TrialPlan is the layout of a block on its bench, to scale, ready to be drawn.
func TrialPlan(l *trial.TrialLight, block *trial.BlockLight) draw.TrialPlan {
	b := l.Bench
	walls := b.Space.Walls
	p := draw.TrialPlan{
		Frame: draw.Frame{Units: b.Units}, Width: b.Space.Width, Depth: b.Space.Depth,
		Walls: [4]draw.Wall{wall(walls[underlamp.Left]), wall(walls[underlamp.Right]), wall(walls[underlamp.Front]), wall(walls[underlamp.Back])},
		Lamps: lamps(b, b.Setting()), Shelves: shelves(b), Block: block.Block, Light: "PPFD", Unit: quantity.PhotonFluxDensity.Unit(), Levels: true,
	}
	for _, t := range l.Trial.Treatments {
		p.Levels = p.Levels && t.DLI > 0
	}
	order := slices.Clone(l.Trial.Treatments)
	if p.Levels { // shades run from little light to much, whatever the order of the plan
		slices.SortStableFunc(order, func(x, y underlamp.Treatment) int { return cmp.Compare(x.DLI, y.DLI) })
	}
	for _, t := range order {
		p.Treatments = append(p.Treatments, t.Name)
	}
	var parts []string // letters of a split plot: "a: Tarn Copper"
	for _, u := range block.Units {
		for _, x := range u.Plants {
			if x.Part == "" {
				continue
			}
			label, _, _ := strings.Cut(strings.TrimPrefix(x.Code, u.Unit), "-P")
			if s := label + ": " + x.Part; label != "" && !slices.Contains(parts, s) {
				parts = append(parts, s)
			}
		}
	}
	slices.Sort(parts)
	p.Note = strings.Join(parts, ", ")
	for _, u := range block.Units {
		v := draw.TrialPlanUnit{Name: u.Unit, Treatment: slices.Index(p.Treatments, u.Treatment), Lamp: u.Lamp, Mean: float64(u.GotPPFD), Dimming: working.Percent(float64(u.Dimming))}
		for _, x := range u.Plants {
			_, label, ok := strings.Cut(x.Code, u.Unit)
			if !ok {
				label = x.Code
			}
			v.Plants = append(v.Plants, draw.TrialPlanPlant{Label: strings.TrimPrefix(label, "-"), Code: x.Code, X: x.X, Y: x.Y, Crown: l.Crown, Value: float64(x.PPFD), Guard: x.Guard})
		}
		p.Units = append(p.Units, v)
	}
	return p
}

// TrialPlanFigure is the drawing of a block for wide and narrow screens, with its table.
func TrialPlanFigure(id string, l *trial.TrialLight, block *trial.BlockLight) template.HTML {
	p := TrialPlan(l, block)
	return fit(id, l.Bench, func(f draw.Frame) draw.Picture {
		p.Frame = f
		return p.Draw()
	})
}

// TrialLightTable is the light of the units of a block as a table.
func TrialLightTable(block *trial.BlockLight) draw.Table {
	t := draw.Table{Caption: "The lamps and the light of their units", Head: []string{"unit", "lamp", "treatment", "dim to", "hours", "aim mol/m²/d", "gets", "µmol/m²/s", "off by", "spread", "W"}}
	for _, u := range block.Units {
		aim := ""
		if u.Aim > 0 {
			aim = quantity.Number(float64(u.Aim), 3)
		}
		t.Rows = append(t.Rows, []string{u.Unit, u.Lamp, u.Treatment, working.Percent(float64(u.Dimming)), quantity.Number(float64(u.Hours), 3), aim, quantity.Number(float64(u.Got), 3), quantity.Fixed(float64(u.GotPPFD), 0), trial.MissText(u), working.Percent(u.Spread), quantity.Number(float64(u.Power), 3)})
	}
	return t
}

// ConfoundTable is what goes along with the treatments; ok is false if nothing could be
// measured.
func ConfoundTable(l *trial.TrialLight) (t draw.Table, ok bool) {
	t = draw.Table{Caption: "What goes along with the treatments: associations from −1 to 1", Head: []string{"what", "here", "a draw gives about", "how much"}}
	for _, c := range l.Confounds {
		word := ""
		if c.Strong {
			word = "strong"
		}
		t.Rows = append(t.Rows, []string{c.Figure.Name, quantity.Fixed(c.Figure.Value, 2), quantity.Fixed(c.Chance, 2), word})
	}
	return t, len(t.Rows) > 0
}

// sheetBlock is a block for the template.
type sheetBlock struct {
	Name, When       string
	Plan, Light      template.HTML
	Says             []string
	Other            string      // lamps that bear no unit
	Guards           [][2]string // why, and which
	Lines            []sheetLines
	ReadUnits, Codes []string
}

// sheetLines are the lines of one unit to write on. They do not name the treatment: who
// knows it sees it.
type sheetLines struct {
	Unit, Lamp string
	Plants     []trial.SheetPlant
}

// TrialSheetSection is what one needs to run a trial, to be read and printed: what stands
// where, jobs by day, lines to write on, labels.
func TrialSheetSection(s *trial.Sheet) template.HTML {
	t := s.Trial
	scroll := func(x draw.Table) template.HTML {
		return template.HTML(`<div class="d-scroll" role="group" tabindex="0" aria-label="`+template.HTMLEscapeString(x.Caption)+`">`) + template.HTML(x.HTML()) + "</div>"
	}
	head, rows := TrialLayout(t)
	lay := draw.Table{Caption: fmt.Sprintf("What each lamp gets; layout: %s, seed %d", t.Layout, t.Seed), Head: head, Rows: rows}
	v := struct {
		Question, Response string
		Layout             template.HTML
		Says               []string
		Confounds          template.HTML
		Blocks             []sheetBlock
		Jobs               []trial.Job
		Ways               [][2]string
		Dated              bool
		Burn               bool // the first response is burn, so no second column for it
	}{Question: t.Question, Response: responseName(t.Response), Layout: scroll(lay), Jobs: s.Jobs, Ways: s.Ways(), Dated: s.Dated, Burn: t.Response == underlamp.ResponseBurn}
	if unit := t.Response.Unit(); unit != "" {
		v.Response += ", " + unit
	}
	if t.Difference > 0 {
		v.Says = append(v.Says, fmt.Sprintf("Looked at first: %s. The smallest difference worth knowing is %s.", strings.ToLower(responseName(t.Response)), strings.TrimSpace(quantity.Number(t.Difference, 3)+" "+t.Response.Unit())))
	}
	if s.Light != nil {
		v.Says = append(v.Says, s.Light.Says...)
		if c, ok := ConfoundTable(s.Light); ok {
			v.Confounds = scroll(c)
		}
	} else {
		v.Says = append(v.Says, "The plan names no bench, so nothing is drawn to scale and no dimming is worked out: read the light of every unit with a meter and turn the lamps until each has its level.")
	}
	for i, b := range s.Blocks {
		x := sheetBlock{Name: cmp.Or(b.Name, "the only block")}
		if b.Start != "" {
			x.When = fmt.Sprintf("from %s to %s, %d days", b.Start, b.End, b.Days)
		}
		if b.Light != nil {
			x.Plan, x.Light, x.Says = TrialPlanFigure(fmt.Sprintf("plan%d", i+1), s.Light, b.Light), scroll(TrialLightTable(b.Light)), b.Light.Says
			var idle []string
			for _, l := range b.Light.Lamps {
				if l.Unit == "" {
					idle = append(idle, fmt.Sprintf("%s stays at %s", l.Name, working.Percent(float64(l.After))))
				}
			}
			x.Other = strings.Join(idle, ", ")
		}
		for _, u := range b.Units {
			x.ReadUnits = append(x.ReadUnits, u.Name)
			lines := sheetLines{Unit: u.Name, Lamp: u.Lamp}
			for _, p := range u.Plants {
				x.Codes = append(x.Codes, p.Code)
				if p.Guard != "" {
					name := p.Code
					if p.Name != "" {
						name += " (" + p.Name + " of the bench)"
					}
					at := slices.IndexFunc(x.Guards, func(g [2]string) bool { return g[0] == p.Guard })
					if at < 0 {
						x.Guards = append(x.Guards, [2]string{p.Guard, name})
					} else {
						x.Guards[at][1] += ", " + name
					}
					continue
				}
				lines.Plants = append(lines.Plants, p)
			}
			x.Lines = append(x.Lines, lines)
		}
		v.Blocks = append(v.Blocks, x)
	}
	return render("trialsheet.tmpl", v)
}

// TrialSheet is [TrialSheetSection] as one HTML file to print on A4.
func TrialSheet(s *trial.Sheet) []byte {
	return []byte(render("sectionpage.tmpl", sectionPage{s.Trial.Name, "Sheet of the trial", "", template.CSS(CSS() + sheetCSS), TrialSheetSection(s), Cautions()}))
}

// SheetCSS is what the sheet of a trial needs beside [CSS].
func SheetCSS() string { return sheetCSS }

// sheetCSS dresses what is written on. Lines are as high as a hand needs.
const sheetCSS = `
.write{width:100%}
.write th{width:9rem}
.jobs td:last-child{min-width:13rem}
.jobs td:nth-child(2),.jobs td:nth-child(3){white-space:nowrap}
.write td{border:1px solid var(--soft);min-width:3.2rem}
.write td,.write th{padding:.42rem .5rem}
.write thead th{vertical-align:bottom}
.box{display:inline-block;width:1em;height:1em;border:1px solid var(--ink);vertical-align:-.1em}
.labels{display:grid;grid-template-columns:repeat(auto-fill,minmax(8.2rem,1fr));gap:0;margin:.6rem 0;padding:0;list-style:none}
.labels li{border:1px dashed var(--soft);padding:.5rem .4rem;text-align:center;font-weight:600;margin:-1px 0 0 -1px}
@media print{
@page{size:A4;margin:13mm}
body{font-size:10.5pt}
.report{padding:0;max-width:none}
.report section{margin-top:.6rem;padding-top:.6rem}
.sheet-page{break-before:page}
.pictures{grid-template-columns:minmax(0,1fr)}
.d-table{font-size:9pt}
.write{break-inside:auto}.keep{break-inside:avoid}
.write td{height:8.2mm}
.jobs td{padding-top:.12rem;padding-bottom:.12rem}
.write td,.write th{padding:.1rem .4rem}
.labels{grid-template-columns:repeat(5,1fr)}
h4{break-after:avoid}
.labels li{break-inside:avoid;padding:2.4mm 1mm}
#cautions{break-before:auto}
}
`
