package feed

import (
	"fmt"
	"math"

	"underlamp"
	"underlamp/science/nutrients"
	"underlamp/science/quantity"
	"underlamp/working"
)

// An Ask is a running tank as it was just read; NaN is not read.
type Ask struct {
	Litres float64
	EC     float64 // mS/cm at 25 °C
	PH     float64
	C      float64
	Known  nutrients.Amounts
	Knows  [nutrients.Ions]bool
	Date   string // of the entry it was taken from; empty: it was asked for
}

// Unread is an ask of which nothing was read.
func Unread() Ask { n := math.NaN(); return Ask{Litres: n, EC: n, PH: n, C: n} }

// Said says that something was read.
func (a Ask) Said() bool {
	return !math.IsNaN(a.Litres) || !math.IsNaN(a.EC) || !math.IsNaN(a.PH) || a.Knows != ([nutrients.Ions]bool{})
}

// A CorrectAnswer is what to do with a running tank.
type CorrectAnswer struct {
	Ask
	Plan  *underlamp.FeedPlan
	Do    []string // in order, a sentence each
	Lines []Line   // to weigh into the full tank
	Now   []Row    // what it holds, and after the correction in Got
	After nutrients.Reading
	*nutrients.Correction
	Replace bool
	Guessed bool // ions were not all measured
	Figures []working.Figure
	Notes   []string

	Cautions []string // of what is to be added
}

// Correct works out what brings a tank back. What is not read is taken from the last
// state that the log tells.
func Correct(p *underlamp.FeedPlan, ask Ask) *CorrectAnswer {
	q := p.Problem()
	mix := q.Solve()
	last := mix.Solution
	full := p.Litres.Value
	looks := p.Looks()
	if ask.Date != "" && len(looks) > 0 { // the newest entry is what is asked about
		looks = looks[:len(looks)-1]
	}
	stands := q.Follow(mix, full, looks)
	litres := full
	if n := len(stands); n > 0 {
		last, litres = stands[n-1].After, stands[n-1].Litres
	}
	v := ask.Litres
	if math.IsNaN(v) {
		v = litres
	}
	if v > 0 && v < litres {
		for _, i := range []nutrients.Ion{nutrients.Sodium, nutrients.Chlorine} {
			last.Ions[i] *= litres / v
		}
	}
	c := ask.C
	if math.IsNaN(c) {
		c = p.Water.C
	}
	a := &CorrectAnswer{Ask: ask, Plan: p}
	a.Litres = v
	a.Correction = q.Correct(nutrients.Tankful{Litres: v, Full: full, EC: ask.EC, PH: ask.PH, C: c, Known: ask.Known, Knows: ask.Knows, Last: last})
	a.Replace = a.Drain >= nutrients.ReplaceFrom
	for i := range nutrients.Ions {
		a.Guessed = a.Guessed || p.Target.Asks[i] && !i.Micro() && !ask.Knows[i]
	}
	u := p.Units
	volume := func(l float64) string { return quantity.Volume.Format(l, u, 3) }
	if a.Replace {
		a.Do = append(a.Do, fmt.Sprintf("Make the tank up anew: %s of it would have to go, because of %s. The amounts for a new tank are those of the mix.", working.Percent(a.Drain), names(a.By)))
	} else {
		if a.Drain > 0 {
			a.Do = append(a.Do, fmt.Sprintf("Let %s out (%s of it): %s can only be thinned.", volume(v*a.Drain), working.Percent(a.Drain), names(a.By)))
		}
		if a.Water > 0.005*full {
			a.Do = append(a.Do, fmt.Sprintf("Fill up with %s of %s, to %s.", volume(a.Water), p.WaterName, volume(full)))
		}
		total := math.Max(full, v)
		for k, x := range a.Mix.Amount {
			if x*total > 0.02*float64(p.Scale.Value) || p.Cupboard[k].Liquid() && x > 0 {
				l := measure(p, k, x*total)
				if l.Amount > 0 {
					a.Lines = append(a.Lines, l)
				}
			}
		}
		if len(a.Lines) > 0 {
			a.Do = append(a.Do, "Dissolve the salts below one after the other in some of the water, and stir them in; acid comes last, in small parts, with the meter in the tank.")
		} else {
			a.Do = append(a.Do, "Nothing has to be weighed.")
		}
	}
	a.After = a.Mix.Reading
	for i := range nutrients.Ions {
		if p.Target.Asks[i] || a.Correction.Now.Ions[i] > 0 {
			a.Now = append(a.Now, Row{Ion: i, Asked: p.Target.Asks[i], Want: p.Target.Ions[i], Water: a.Correction.Now.Ions[i], Got: a.Mix.Solution.Ions[i]})
		}
	}
	for _, d := range a.Mix.Off {
		if !a.Replace {
			a.Notes = append(a.Notes, why(d, "the tank filled up holds"))
		}
	}
	for _, i := range a.Mix.Over {
		a.Notes = append(a.Notes, fmt.Sprintf("%s stays above its limit of %s; the water alone brings %s.", capital(i.Name()), Conc(i, p.Target.Most[i]), Conc(i, p.Water.Ions[i])))
	}
	if a.Guessed {
		a.Notes = append(a.Notes, fmt.Sprintf("Not every ion was measured. The others are taken in the proportions that the tank had when it was last filled, %s times as strong, by the EC that was read or by what was measured. Plants do not take all alike: potassium and nitrate fall first, calcium, magnesium and sulfate gather. An analysis every two to four weeks, or a new tank, keeps that in bounds (common practice, no source).", quantity.Number(a.Factor, 3)))
	}
	if !math.IsNaN(ask.EC) {
		ph := ask.PH
		if math.IsNaN(ph) {
			ph = 6
		}
		if r, _ := a.Correction.Now.At(ph); math.Abs(ask.EC/r.EC-1) > 0.08 {
			a.Notes = append(a.Notes, fmt.Sprintf("The meter read %s mS/cm, but the ions that are known make %s: an ion is missing or wrong, or the meter needs its standard.", quantity.Number(ask.EC, 3), quantity.Number(r.EC, 3)))
		}
	}
	if math.IsNaN(ask.PH) {
		a.Notes = append(a.Notes, "The pH was not read: it is taken as 6.0.")
	}
	if !a.Replace {
		a.figures()
		a.Cautions = cautionsOf(p.Cupboard, a.Mix.Amount)
	}
	return a
}

func names(all []nutrients.Ion) string {
	var out []string
	for _, i := range all {
		out = append(out, i.Name())
	}
	return listed(out)
}

func (a *CorrectAnswer) figures() {
	in := []working.Input{working.Plain("volume now", quantity.Volume.Format(a.Litres, a.Plan.Units, 3), "measured")}
	if !math.IsNaN(a.EC) {
		in = append(in, working.Plain("EC", quantity.Number(a.EC, 3)+" mS/cm", "measured"))
	}
	if !math.IsNaN(a.PH) {
		in = append(in, working.Plain("pH", quantity.Number(a.PH, 3), "measured"))
	}
	add := func(name string, v float64, unit string, digits int, w working.Working) {
		w.Inputs = in
		a.Figures = append(a.Figures, working.Figure{Name: name, Value: v, Unit: unit, Digits: digits, Working: w})
	}
	add("EC after the correction", a.After.EC, "mS/cm", 3, working.Working{Formula: "EC = Σ |z| c λ(t, I)", Sources: []string{"McCleskey2011"}})
	add("feed pH after the correction, aerated", a.After.PH, "", 2, working.Working{Formula: "alkalinity of the tank by its pH, less the acid, in balance with air", Sources: []string{"PHREEQC2013"}})
	add("share to let out", 100*a.Drain, "%", 2, working.Working{Formula: "x = 1 − (L − w) F / (V (c − w)), the greatest over the ions",
		Notes: []string{"L is the wanted amount with twice its tolerance, or the limit; w the water, c the tank, V its volume, F that of the full tank."}})
}

// A DriftRow is one look at the tank in the log.
type DriftRow struct {
	Entry underlamp.FeedEntry
	nutrients.Stand
	Day float64 // from the first entry
	EC  float64 // predicted after what was added
}

// A DriftAnswer is a log and what it tells.
type DriftAnswer struct {
	Rows    []DriftRow
	PerDay  float64 // water used, L a day; NaN: not known
	Figures []working.Figure
	Notes   []string
}

// Drift reads the log.
func Drift(p *underlamp.FeedPlan) *DriftAnswer {
	d := &DriftAnswer{PerDay: math.NaN()}
	if len(p.Log) == 0 {
		return d
	}
	q := p.Problem()
	mix := q.Solve()
	stands := q.Follow(mix, p.Litres.Value, p.Looks())
	used, days, took := 0.0, 0.0, nutrients.Balance{}
	ecLitres, ecTaken := 0.0, 0.0
	for k, st := range stands {
		r := DriftRow{Entry: p.Log[k], Stand: st, Day: float64(dayOf(p.Log[k].Date) - dayOf(p.Log[0].Date)), EC: st.After.Open(nutrients.AirCO2).EC}
		d.Rows = append(d.Rows, r)
		if k > 0 && !p.Log[k].New && st.Used >= 0 {
			used += st.Used
			days += r.Day - d.Rows[k-1].Day
			if st.Took && !math.IsNaN(st.Uptake.EC) && st.Uptake.Litres > 0 {
				ecLitres += st.Uptake.Litres
				ecTaken += st.Uptake.EC * st.Uptake.Litres
			}
			if st.Took {
				took = st.Uptake
			}
		}
	}
	if days > 0 {
		d.PerDay = used / days
		d.add("water used", d.PerDay, "L/d", 3, "Σ (volume after the last look − volume now) / days", nil)
	}
	if ecLitres > 0 {
		d.add("EC that goes with each litre used", ecTaken/ecLitres, "mS/cm", 2, "(V₁ EC₁ + what was added − V₂ EC₂) / water used",
			[]string{"A top-up of this EC holds that of the tank. It lies below the EC of the tank where plants take less salt than water, so the tank grows stronger."})
	}
	for i := range nutrients.Ions {
		if took.Knows[i] {
			d.add("uptake of "+i.Name()+" with each litre", took.Ions[i]*i.Mass(), "mg/L", 3, "(V₁ c₁ + what was added − V₂ c₂) / water used, between the last two analyses", nil)
		}
	}
	end := stands[len(stands)-1].After
	for i := range nutrients.Ions {
		limit := p.Target.Most[i]
		if limit == 0 || p.Target.Asks[i] {
			continue
		}
		left := nutrients.Gathering(end.Ions[i], limit, p.Water.Ions[i], d.PerDay, p.Litres.Value)
		switch {
		case left == 0:
			d.Notes = append(d.Notes, fmt.Sprintf("%s has reached its limit of %s.", capital(i.Name()), Conc(i, limit)))
		case math.IsInf(left, 1):
			d.Notes = append(d.Notes, capital(i.Name())+" does not gather: the water brings none, or its use is not known.")
		default:
			d.add("days until "+i.Name()+" reaches its limit", left, "d", 2, "(limit − c) V / (w · water a day)", []string{"If plants take none of it: at the earliest."})
		}
	}
	return d
}

func (d *DriftAnswer) add(name string, v float64, unit string, digits int, formula string, notes []string) {
	d.Figures = append(d.Figures, working.Figure{Name: name, Value: v, Unit: unit, Digits: digits, Working: working.Working{Formula: formula, Notes: notes, Inputs: []working.Input{working.Plain("log", fmt.Sprint(len(d.Rows))+" entries", "measured")}}})
}

// AskOf is an entry of the log as a reading.
func AskOf(e underlamp.FeedEntry) Ask {
	return Ask{Litres: e.Litres, EC: e.EC, PH: e.PH, C: e.C, Known: e.Known, Knows: e.Knows, Date: e.Date}
}
