package report

import (
	"fmt"
	"html/template"
	"math"

	"underlamp"
	"underlamp/app/feed"
	"underlamp/draw"
	"underlamp/science/nutrients"
	"underlamp/science/quantity"
	"underlamp/working"
)

type feedIon struct {
	Name, Symbol, Want, Got, Molar, Water, Difference string
	Off                                               bool
}

type feedLine struct{ Name, Amount, Micro, Note string }

type feedPart struct {
	Title string
	Lines []feedLine
}

// FeedSection is a mix as a section of a page, which prints as a weighing sheet: what to weigh, what
// to do in which order, what the feed then is, what is off and what would mend it.
func FeedSection(a *feed.Answer) template.HTML {
	p := a.Plan
	v := struct {
		Sentence                       string
		Parts                          []feedPart
		Verdicts, Why, Remedies, Notes []string
		Ions                           []feedIon
		Figures                        []working.Figure
		Cautions                       []string
		Steps                          []string
		Default                        bool
	}{Why: a.Why, Remedies: a.Remedies, Notes: a.Notes, Figures: a.Figures, Cautions: a.Cautions, Default: p.Litres.IsDefault()}
	volume := quantity.Volume.Format(a.Litres, p.Units, 3)
	switch {
	case a.Stock == nil:
		v.Sentence = fmt.Sprintf("For %s of feed with %s:", volume, p.WaterName)
		v.Parts = append(v.Parts, partOf("Into the tank", a.Lines))
		v.Steps = []string{"Fill the tank to nine tenths.", "Dissolve one product after the other in a bucket of its water, calcium nitrate first, each clear before the next; pour it in and stir.",
			"Acid comes last, thinned in a bucket: acid into water.", "Fill up, let it run an hour with air, then measure EC and pH."}
	case a.Stock.Kind == underlamp.DryMix:
		v.Sentence = fmt.Sprintf("Blends of %s kg each:", quantity.Number(p.Stock.Litres, 3))
		for _, x := range a.Stock.Parts {
			v.Parts = append(v.Parts, partOf("Blend "+x.Name+", "+x.Use, x.Lines))
		}
		v.Steps = []string{"Weigh what is least first and grind it with a handful of the main salt.", "Mix dry, keep closed and labelled.", "Dissolve blend 1 in the tank before blend 2 goes in."}
	default:
		v.Sentence = fmt.Sprintf("Stocks of %s at 1:%g, for %s of feed in all:", quantity.Volume.Format(p.Stock.Litres, p.Units, 3), a.Stock.Factor, quantity.Volume.Format(a.Stock.MakesL, p.Units, 3))
		for _, x := range a.Stock.Parts {
			title := "Stock, " + x.Use
			if x.Name != "" {
				title = "Tank " + x.Name + ", " + x.Use
			}
			v.Parts = append(v.Parts, partOf(title, x.Lines))
		}
		v.Steps = []string{"Fill each stock tank to two thirds with warm water, dissolve one product after the other, fill up. Label both with day and factor.",
			"The feed: fill its tank with water first, then A, stir, then B. A and B never meet undiluted.", "Acid comes last, thinned in a bucket: acid into water. Then measure EC and pH."}
	}
	if a.Stock != nil {
		v.Verdicts = a.Stock.Verdicts
		if len(a.Stock.Apart) > 0 {
			apart := partOf("Into the feed itself, for "+volume, a.Stock.Apart)
			for i := range apart.Lines {
				apart.Lines[i].Note = ""
			}
			v.Parts = append(v.Parts, apart)
		}
	}
	for _, r := range a.Rows {
		x := feedIon{Name: r.Ion.Name(), Symbol: r.Ion.String(), Got: mgL(r.Ion, r.Got), Molar: quantity.Number(r.Got, 3), Water: mgL(r.Ion, r.Water), Off: r.Off}
		if r.Asked {
			x.Want = mgL(r.Ion, r.Want)
			if r.Want > 0 {
				x.Difference = working.SignedPercent(r.Got/r.Want - 1)
			}
		}
		v.Ions = append(v.Ions, x)
	}
	return render("feed.tmpl", v)
}

func mgL(i nutrients.Ion, mmol float64) string {
	if mmol == 0 {
		return "0"
	}
	return quantity.Number(mmol*i.Mass(), 3)
}

func partOf(title string, lines []feed.Line) feedPart {
	p := feedPart{Title: title}
	for _, l := range lines {
		x := feedLine{Name: l.Product.Name, Amount: l.Text(), Note: l.Note}
		if l.MicroGrams > 0 {
			x.Micro = fmt.Sprintf("too little for the scale: %s mL of a micro stock of %s g in 1 L", quantity.Number(l.MicroML, 4), quantity.Number(l.MicroGrams, 3))
		}
		p.Lines = append(p.Lines, x)
	}
	return p
}

// CorrectSection is what to do with a running tank.
func CorrectSection(a *feed.CorrectAnswer) template.HTML {
	v := struct {
		Do, Notes []string
		Part      feedPart
		Ions      []feedIon
		Figures   []working.Figure
		Replace   bool
	}{Do: a.Do, Notes: a.Notes, Figures: a.Figures, Replace: a.Replace}
	if !a.Replace {
		v.Part = partOf("To add", a.Lines)
		for _, r := range a.Now {
			x := feedIon{Name: r.Ion.Name(), Symbol: r.Ion.String(), Water: mgL(r.Ion, r.Water), Got: mgL(r.Ion, r.Got)}
			if r.Asked {
				x.Want = mgL(r.Ion, r.Want)
			}
			v.Ions = append(v.Ions, x)
		}
	}
	return render("feedcorrect.tmpl", v)
}

// DriftSection is the log of a tank with its chart; targetEC and targetPH are drawn as levels.
func DriftSection(p *underlamp.FeedPlan, d *feed.DriftAnswer, targetEC, targetPH float64) template.HTML {
	type row struct{ Date, Litres, EC, PH, Used, Water, Added, After, Note string }
	v := struct {
		Rows    []row
		Figures []working.Figure
		Notes   []string
		Picture template.HTML
	}{Figures: d.Figures, Notes: d.Notes}
	cell := func(x float64, digits int) string {
		if math.IsNaN(x) {
			return ""
		}
		return quantity.Number(x, digits)
	}
	l := draw.Lines{XName: "day of the log"}
	ec, ph, ecAfter := draw.Points{Name: "read"}, draw.Points{Name: "read"}, draw.Series{Name: "worked out after what was added"}
	for _, r := range d.Rows {
		x := row{Date: r.Entry.Date, Litres: cell(r.Entry.Litres, 3), EC: cell(r.Entry.EC, 3), PH: cell(r.Entry.PH, 2), Used: cell(r.Used, 3), After: cell(r.EC, 3), Note: r.Entry.Note}
		if r.Entry.Water > 0 {
			x.Water = cell(r.Entry.Water, 3)
		}
		if r.Entry.New {
			x.Added = "made up anew"
		}
		for k, g := range r.Entry.Added {
			if g > 0 {
				if x.Added != "" {
					x.Added += ", "
				}
				x.Added += feed.AmountText(g, p.Cupboard[k].Unit()) + " " + p.Cupboard[k].Name
			}
		}
		v.Rows = append([]row{x}, v.Rows...)
		if n := len(l.X); n == 0 || r.Day > l.X[n-1] {
			l.X = append(l.X, r.Day)
			ecAfter.Y = append(ecAfter.Y, r.EC)
		} else {
			ecAfter.Y[n-1] = r.EC
		}
		if !math.IsNaN(r.Entry.EC) {
			ec.At = append(ec.At, draw.Dot{X: r.Day, Y: r.Entry.EC})
		}
		if !math.IsNaN(r.Entry.PH) {
			ph.At = append(ph.At, draw.Dot{X: r.Day, Y: r.Entry.PH})
		}
	}
	if len(l.X) > 1 {
		l.Panels = []draw.Panel{{Name: "EC", Unit: "mS/cm", Series: []draw.Series{ecAfter}, Points: []draw.Points{ec}, Limits: []draw.Limit{{Value: targetEC, Label: "as mixed"}}}}
		if len(ph.At) > 0 {
			flat := draw.Series{Name: "wanted"}
			for range l.X {
				flat.Y = append(flat.Y, targetPH)
			}
			l.Panels = append(l.Panels, draw.Panel{Name: "pH", Series: []draw.Series{flat}, Points: []draw.Points{ph}})
		}
		v.Picture = template.HTML(draw.Fit(draw.Frame{ID: "drift", Units: p.Units}, func(f draw.Frame) draw.Picture {
			q := l
			q.Frame = f
			q.Frame.Title = "EC and pH of the tank"
			return q.Draw()
		}))
	}
	return render("feedlog.tmpl", v)
}
