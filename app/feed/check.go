package feed

import (
	"fmt"
	"math"
	"strings"
	"time"

	"underlamp"
	"underlamp/science/nutrients"
	"underlamp/science/quantity"
	"underlamp/working"
)

// dayOf counts days of the calendar.
func dayOf(date string) int {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return 0
	}
	return int(t.Unix() / 86400)
}

// Weighed answers what amounts of products (g or mL, by their place in the cupboard) in a volume
// are: from salts to mg/L.
func Weighed(p *underlamp.FeedPlan, amounts []float64, litres float64) *Answer {
	a := &Answer{Plan: p, Problem: p.Problem(), Litres: litres}
	per := make([]float64, len(amounts))
	for k, v := range amounts {
		per[k] = v / litres
		if v > 0 {
			a.Lines = append(a.Lines, Line{Product: p.Cupboard[k], Amount: v, Exact: v, Note: p.Cupboard[k].Guess})
		}
	}
	a.Mix = a.Problem.Weighed(per)
	a.Exact = a.Mix
	a.rows()
	a.figures()
	a.notes()
	return a
}

// ParseWeighed reads "potassium nitrate 12 g, nitric acid 4 mL".
func ParseWeighed(p *underlamp.FeedPlan, text string) ([]float64, error) {
	out := make([]float64, len(p.Cupboard))
	for _, part := range strings.Split(text, ",") {
		part = strings.TrimSpace(part)
		k, name := -1, ""
		for j, x := range p.Cupboard { // the longest name that stands at the start
			for _, n := range append([]string{x.Name}, also(x)...) {
				if len(n) > len(name) && len(part) > len(n) && strings.EqualFold(part[:len(n)], n) {
					k, name = j, n
				}
			}
		}
		if k < 0 {
			return nil, fmt.Errorf("%q is not of the form: potassium nitrate 12 g; the cupboard must hold the product", part)
		}
		kind, unit := quantity.Mass, 1.0
		if p.Cupboard[k].Liquid() {
			kind, unit = quantity.Volume, 0.001
		}
		v, err := kind.Parse(strings.TrimLeft(part[len(name):], " :="))
		if err != nil {
			return nil, fmt.Errorf("%s: %w", p.Cupboard[k].Name, err)
		}
		if v < 0 {
			return nil, fmt.Errorf("%s: an amount below nothing", p.Cupboard[k].Name)
		}
		out[k] += v / unit
	}
	return out, nil
}

func also(x nutrients.Product) []string {
	if x.Substance == nil {
		return nil
	}
	return append([]string{x.Substance.Name}, x.Substance.Also...)
}

// A CheckRow is one thing that was looked at.
type CheckRow struct {
	What    string `json:"what" doc:"was looked at"`
	Verdict string `json:"verdict" doc:"what came out"`
	OK      bool   `json:"ok" doc:"it is in order"`
}

// Check looks at a plan: do water and target balance, is all in the cupboard, do stocks stay
// clear, does the EC that is worked out fit what was read.
func Check(p *underlamp.FeedPlan) (*Answer, []CheckRow) {
	a := Mix(p)
	var out []CheckRow
	row := func(ok bool, what, format string, args ...any) {
		out = append(out, CheckRow{What: what, Verdict: fmt.Sprintf(format, args...), OK: ok})
	}
	if p.WaterGiven {
		off := p.Water.Ions.Charge() - p.Water.Alkalinity
		row(math.Abs(off) <= 0.5, "charges of the water", "cations %s, anions with bicarbonate %s meq/L", quantity.Fixed(p.Water.Ions.Cations(), 2), quantity.Fixed(p.Water.Ions.Anions()+p.Water.Alkalinity, 2))
	} else {
		row(false, "analysis of the water", "none is written; pure water is assumed")
	}
	if t := p.Target; t.Asks[nutrients.Nitrate] && t.Asks[nutrients.Calcium] && t.Asks[nutrients.Sulfur] && t.Asks[nutrients.Potassium] {
		off := t.Ions.Charge()
		row(math.Abs(off) <= 0.03*t.Ions.Cations(), "charges of the target", "cations %s, anions %s meq/L", quantity.Fixed(t.Ions.Cations(), 2), quantity.Fixed(t.Ions.Anions(), 2))
	}
	row(len(a.Mix.Off)+len(a.Mix.Over) == 0, "target", "%s", verdictOf(a))
	row(!a.Mix.PHOff, "pH", "%s, aerated", quantity.Fixed(a.Mix.Reading.PH, 1))
	row(a.Mix.Reading.Brushite < 1, "calcium phosphate in the feed", "saturation %s; 1 at pH %s", quantity.Number(a.Mix.Reading.Brushite, 2), brushitePH(a.Mix.Solution))
	if a.Stock != nil {
		for _, part := range a.Stock.Parts {
			if a.Stock.Kind != underlamp.DryMix {
				row(part.Clear, strings.TrimSpace("stock "+part.Name), "at 1:%g %s; clear up to about %s", a.Stock.Factor, map[bool]string{true: "clear", false: "falls out"}[part.Clear], factorText(part.Most))
			}
		}
	}
	for _, e := range p.Log {
		if e.New && !math.IsNaN(e.EC) {
			off := e.EC/a.Mix.Reading.EC - 1
			row(math.Abs(off) < 0.1, "EC when made up on "+e.Date, "read %s, worked out %s mS/cm (%s)", quantity.Number(e.EC, 3), quantity.Number(a.Mix.Reading.EC, 3), working.SignedPercent(off))
		}
	}
	return a, out
}

func factorText(f float64) string {
	switch {
	case math.IsInf(f, 1):
		return "1:1000 and beyond"
	case f < 1:
		return "nothing"
	}
	return fmt.Sprintf("1:%g", math.Floor(f))
}

func verdictOf(a *Answer) string {
	if len(a.Mix.Off)+len(a.Mix.Over) == 0 {
		return "every ion within its tolerance"
	}
	var off []string
	for _, d := range a.Mix.Off {
		off = append(off, d.Ion.Name())
	}
	for _, i := range a.Mix.Over {
		off = append(off, i.Name())
	}
	return "off: " + listed(off)
}
