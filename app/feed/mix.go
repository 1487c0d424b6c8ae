package feed

import (
	"fmt"
	"math"
	"strings"

	"underlamp"
	"underlamp/science/calcium"
	"underlamp/science/nutrients"
	"underlamp/science/quantity"
	"underlamp/working"
)

// A Line is one product to weigh or measure.
type Line struct {
	Product nutrients.Product
	Amount  float64 // g or mL for the whole; rounded where a scale can show it
	Exact   float64
	// Micro is how to measure what is too little for the scale: that many grams into a litre of
	// water, and so many mL of it. 0 where it is not needed.
	MicroGrams, MicroML float64
	Note                string
}

// Text is the amount with its unit, as it is weighed.
func (l Line) Text() string { return AmountText(l.Amount, l.Product.Unit()) }

// AmountText is an amount with its unit as it is weighed: kg, g, mg, mL or L.
func AmountText(v float64, unit string) string {
	switch {
	case v >= 1000 && unit == "g":
		return quantity.Number(v/1000, 4) + " kg"
	case v >= 1000:
		return quantity.Number(v/1000, 4) + " L"
	case v > 0 && v < 0.1 && unit == "g":
		return quantity.Number(v*1000, 3) + " mg"
	}
	return quantity.Number(v, 4) + " " + unit
}

// A Row is one ion of the feed.
type Row struct {
	Ion       nutrients.Ion
	Asked     bool
	Want, Got float64 // mmol/L
	Water     float64
	Off       bool
	Why       string // one sentence where it is off
}

// An Answer is a mix with all that is shown of it.
type Answer struct {
	Plan    *underlamp.FeedPlan
	Problem *nutrients.Problem
	Litres  float64
	Exact   *nutrients.Mix // before rounding
	Mix     *nutrients.Mix // of the amounts that are weighed

	Lines    []Line // what goes into the tank when no stock is kept
	Rows     []Row
	Why      []string // what is off target, a sentence each
	Remedies []string // what would mend it
	Stock    *StockAnswer
	Figures  []working.Figure
	Notes    []string
	Cautions []string
}

// A StockAnswer are the tanks or blends of a plan.
type StockAnswer struct {
	Kind     underlamp.StockKind
	Factor   float64
	Parts    []StockPart
	Apart    []Line // acids and bases, for all the feed that a tank of stock makes
	MakesL   float64
	Verdicts []string
}

// A StockPart is one tank or one blend.
type StockPart struct {
	Name   string
	Lines  []Line
	Litres float64 // 0 for a blend, which is for a kilogram
	Use    string  // how much of it for the feed
	Checks []nutrients.Check
	Clear  bool
	Most   float64 // factor up to which it stays clear
	PH     float64
}

// Mix answers a plan.
func Mix(p *underlamp.FeedPlan) *Answer {
	a := &Answer{Plan: p, Problem: p.Problem(), Litres: p.Litres.Value}
	a.Exact = a.Problem.Solve()
	weighed := make([]float64, len(p.Cupboard))
	for k := range p.Cupboard {
		if a.Exact.Amount[k] == 0 {
			continue
		}
		l := measure(p, k, a.Exact.Amount[k]*a.Litres)
		weighed[k] = l.Amount / a.Litres
		a.Lines = append(a.Lines, l)
	}
	a.Mix = a.Problem.Weighed(weighed)
	if p.Stock != nil { // what is weighed is the stock; the feed of it is exact but for its own rounding
		a.Mix = a.Exact
	}
	a.rows()
	for _, r := range a.Problem.Remedies(a.Exact, 3) {
		a.Remedies = append(a.Remedies, a.remedy(r))
	}
	if p.Stock != nil {
		a.stock()
	}
	a.figures()
	a.notes()
	return a
}

// liquidStep is the step of a measuring cylinder in mL (common practice, no source); small amounts are taken with
// a syringe of 0.1 mL.
const (
	liquidStep  = 1.0
	syringeStep = 0.1
	syringeMost = 20.0
	fineSteps   = 20 // a micro stock is weighed with at least that many steps of the scale, 2.5 % of rounding; half of them go without one
)

// measure rounds an amount to what can be measured.
func measure(p *underlamp.FeedPlan, k int, exact float64) Line {
	x := p.Cupboard[k]
	l := Line{Product: x, Exact: exact, Amount: exact, Note: x.Guess}
	if x.Liquid() {
		step := liquidStep
		if exact < syringeMost {
			step = syringeStep
		}
		l.Amount = math.Round(exact/step) * step
		if l.Amount == 0 {
			l.Amount = exact
		}
		return l
	}
	step := float64(p.Scale.Value)
	if exact >= fineSteps*step/2 {
		l.Amount = math.Round(exact/step) * step
		return l
	}
	// A micro stock: the fewest grams of 1, 2, 5, 10, … that the scale shows well, with at least 1 mL
	// to take.
	for _, g := range []float64{1, 2, 5, 10, 20, 50, 100} {
		if g >= fineSteps*step && g >= 4*exact {
			l.MicroGrams, l.MicroML = g, math.Round(10000*exact/g)/10
			break
		}
	}
	if l.MicroML >= 1 {
		l.Amount = l.MicroML * l.MicroGrams / 1000
	} else {
		l.MicroGrams, l.MicroML = 0, 0
	}
	return l
}

func (a *Answer) rows() {
	off := map[nutrients.Ion]nutrients.Deviation{}
	for _, d := range a.Mix.Off {
		off[d.Ion] = d
	}
	t := &a.Problem.Target
	for i := range nutrients.Ions {
		r := Row{Ion: i, Asked: t.Asks[i], Want: t.Ions[i], Got: a.Mix.Solution.Ions[i], Water: a.Problem.Water.Ions[i]}
		if !r.Asked && r.Got == 0 {
			continue
		}
		if d, ok := off[i]; ok {
			r.Off, r.Why = true, why(d, "the water alone brings")
			a.Why = append(a.Why, r.Why)
		}
		for _, o := range a.Mix.Over {
			if o == i {
				r.Off = true
				r.Why = fmt.Sprintf("%s stands above its limit of %s.", capital(i.Name()), Conc(i, t.Most[i]))
				if r.Water >= t.Most[i] {
					r.Why = fmt.Sprintf("%s stands above its limit of %s: the water alone brings %s. Another water, or part of it rain or from reverse osmosis, would help.", capital(i.Name()), Conc(i, t.Most[i]), Conc(i, r.Water))
				}
				a.Why = append(a.Why, r.Why)
			}
		}
		a.Rows = append(a.Rows, r)
	}
	if a.Mix.PHOff {
		r := a.Mix.Reading
		say := fmt.Sprintf("The pH comes to %s in place of %s.", quantity.Fixed(r.PH, 1), quantity.Fixed(t.PH, 1))
		if r.PH < t.PH {
			say += " There is almost no alkalinity to hold it; a little base would."
		} else {
			say += " The cupboard has no acid for the alkalinity of the water, or too little may be used."
		}
		a.Why = append(a.Why, say)
	}
}

// Conc prints a concentration as people read it: mg/L of the element.
func Conc(i nutrients.Ion, mmol float64) string {
	mg := mmol * i.Mass()
	if i.Micro() {
		return quantity.Number(mg, 2) + " mg/L"
	}
	return quantity.Number(mg, 3) + " mg/L"
}

func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// why says in a sentence why an ion cannot be met; source is what stands in for water.
func why(d nutrients.Deviation, source string) string {
	name := capital(d.Ion.Name())
	get := fmt.Sprintf("%s comes to %s in place of %s: ", name, Conc(d.Ion, d.Got), Conc(d.Ion, d.Want))
	switch d.Cause {
	case nutrients.TooMuchInWater:
		return get + fmt.Sprintf("%s %s.", source, Conc(d.Ion, d.Water))
	case nutrients.NoSource:
		return get + "nothing in the cupboard holds it."
	case nutrients.Limited:
		return get + "a product may not be used further (its own limit)."
	}
	var with []string
	for _, i := range d.With {
		with = append(with, i.Name())
	}
	if d.Got > d.Want {
		return get + "the products that bring it are needed for " + listed(with) + "."
	}
	return get + "the products that hold it also bring " + listed(with) + ", which would be too much."
}

func listed(all []string) string {
	switch len(all) {
	case 0:
		return "nothing else"
	case 1:
		return all[0]
	}
	return strings.Join(all[:len(all)-1], ", ") + " and " + all[len(all)-1]
}

func (a *Answer) remedy(r nutrients.Remedy) string {
	var gains, left []string
	for _, i := range r.Gains {
		gains = append(gains, i.Name())
	}
	for _, i := range r.Left {
		left = append(left, i.Name())
	}
	what := fmt.Sprintf("%s (%s for %s)", r.Product.Name, AmountText(rounded(r.Amount*a.Litres), r.Product.Unit()), quantity.Volume.Format(a.Litres, a.Plan.Units, 3))
	say := "With " + what + " "
	switch {
	case len(gains) > 0:
		say += listed(gains) + " would be met"
	default:
		say += "the pH would be met"
	}
	if len(left) > 0 {
		return say + "; " + listed(left) + " would still be off."
	}
	return say + ", and nothing would be off."
}

// rounded leaves three digits.
func rounded(v float64) float64 {
	if !(v > 0) {
		return v
	}
	step := math.Pow(10, math.Floor(math.Log10(v))-2)
	return math.Round(v/step) * step
}

// stock fills in the tanks or blends.
func (a *Answer) stock() {
	p, s := a.Plan, a.Plan.Stock
	out := &StockAnswer{Kind: s.Kind, Factor: s.Factor, MakesL: s.Factor * s.Litres}
	a.Stock = out
	if s.Kind == underlamp.DryMix {
		parts, wet := a.Problem.Dry(a.Exact)
		for _, d := range parts {
			part := StockPart{Name: d.Name, Use: quantity.Number(d.PerLitre, 3) + " g for each litre of feed", Clear: true}
			least := ""
			for k, g := range d.PerKg {
				if g > 0 {
					l := measure(p, k, g*s.Litres)
					part.Lines = append(part.Lines, l)
					if g < 2 {
						least = p.Cupboard[k].Name
					}
				}
			}
			if least != "" {
				out.Verdicts = append(out.Verdicts, fmt.Sprintf("Blend %s: what is below 2 g in a kilogram (%s) does not spread evenly in a dry blend; grind it with some of the main salt first, or keep micronutrients as a liquid.", d.Name, least))
			}
			out.Parts = append(out.Parts, part)
		}
		out.MakesL = math.NaN()
		for _, k := range wet {
			l := measure(p, k, a.Exact.Amount[k]*a.Litres)
			l.Note = "for each " + quantity.Volume.Format(a.Litres, p.Units, 3) + " of feed"
			out.Apart = append(out.Apart, l)
		}
		out.Verdicts = append(out.Verdicts, "Calcium salts draw water from the air: keep blend 1 closed, and never put the two blends together dry or in little water.")
		return
	}
	parts, apart := a.Problem.Stocks(a.Exact, nutrients.Concentrate{Factor: s.Factor, Litres: s.Litres, C: float64(s.C), One: s.Kind == underlamp.OneTank})
	for _, x := range parts {
		part := StockPart{Name: x.Name, Litres: s.Litres, Checks: x.Checks, Clear: true, Most: x.Largest, PH: x.PH,
			Use: quantity.Number(1000/s.Factor, 3) + " mL for each litre of feed"}
		for k, g := range x.Amount {
			if g > 0 {
				part.Lines = append(part.Lines, measure(p, k, g))
			}
		}
		name := "The tank"
		if x.Name != "" {
			name = "Tank " + x.Name
		}
		for _, c := range x.Checks {
			if c.Ratio > 1 {
				part.Clear = false
				out.Verdicts = append(out.Verdicts, fmt.Sprintf("%s: %s would fall out at %s °C, %s times over its saturation.", name, c.What, quantity.Number(float64(s.C), 2), quantity.Number(c.Ratio, 2)))
			}
		}
		switch {
		case part.Clear && math.IsInf(x.Largest, 1):
			out.Verdicts = append(out.Verdicts, fmt.Sprintf("%s stays clear at 1:%g.", name, s.Factor))
		case part.Clear:
			out.Verdicts = append(out.Verdicts, fmt.Sprintf("%s stays clear at 1:%g; up to about 1:%g.", name, s.Factor, math.Floor(x.Largest)))
		case x.Largest >= 1:
			out.Verdicts = append(out.Verdicts, fmt.Sprintf("%s stays clear up to about 1:%g.", name, math.Floor(x.Largest)))
		}
		if g := nutrients.Fallen(x.Stock); g > 0 {
			out.Verdicts = append(out.Verdicts, fmt.Sprintf("%s would lose %s of its calcium and %s of its sulfur as gypsum.", name, working.Percent(g/x.Stock.Ions[nutrients.Calcium]), working.Percent(g/x.Stock.Ions[nutrients.Sulfur])))
		}
		out.Parts = append(out.Parts, part)
	}
	for k, v := range apart {
		if v > 0 {
			l := measure(p, k, v/out.MakesL*a.Litres)
			l.Note = "into the feed itself, for each " + quantity.Volume.Format(a.Litres, p.Units, 3) + " of feed; acids and bases stay out of A and B"
			out.Apart = append(out.Apart, l)
		}
	}
}

// OutlookFeed is a feed as the outlook takes it.
func OutlookFeed(s nutrients.Solution, ec float64) calcium.Feed {
	return calcium.Feed{CalciumMgL: s.Ions.MgL(nutrients.Calcium), AmmoniumMgL: s.Ions.MgL(nutrients.Ammonium), PotassiumMgL: s.Ions.MgL(nutrients.Potassium),
		MagnesiumMgL: s.Ions.MgL(nutrients.Magnesium), EC: ec, RootC: s.C}
}
