package trial

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/science/quantity"
	"underlamp/science/stat"
	"underlamp/science/stat/anova"
	"underlamp/science/stat/growth"
	"underlamp/science/stat/linear"
	"underlamp/science/stat/pairwise"
	"underlamp/working"
)

// A Growth is how one measure of the plants rose over the days of the trial.
type Growth struct {
	Title  string // of its part
	What   underlamp.Response
	Days   []float64 // of the looks, from the first look of each block
	Again  bool      // the same plants were measured again and again; else each once
	Plants []GrownPlant
	Units  []GrownUnit

	Treatments []string // those seen, in the order of the plan
	Curves     *growth.Many
	Target     float64 // size whose day is asked for; 0: none
}

// A GrownPlant is one plant with its looks.
type GrownPlant struct {
	Name, Unit, Treatment string
	Days, Sizes           []float64
}

// A GrownUnit is what a unit tells of growth.
type GrownUnit struct {
	underlamp.TrialUnit
	Plants int
	Rate   float64        // relative growth rate, per day
	Curve  int            // among Curves
	Time   *stat.Estimate // days to Target; nil if its curve does not tell
	Top    *stat.Estimate // where it levels off; nil if that is open
}

// shortest is the least number of days between first and last look that tell of growth;
// common practice, no source.
const shortest = 3

// growth follows every measure that was taken of the plants at several times.
func (f *Findings) growth() {
	for _, what := range []underlamp.Response{underlamp.ResponseMass, underlamp.ResponseHeight, underlamp.ResponseLeaves, underlamp.ResponseArea} {
		g, notes := f.grown(what)
		if g == nil {
			continue
		}
		g.Title = "Growth: " + measureName(what)
		p := Part{Title: g.Title}
		f.tellGrowth(g, &p)
		p.Says = append(p.Says, notes...)
		f.Growth = append(f.Growth, g)
		f.Parts = append(f.Parts, p)
	}
}

func measureName(what underlamp.Response) string {
	switch what {
	case underlamp.ResponseMass:
		return "fresh mass"
	case underlamp.ResponseLeaves:
		return "number of leaves"
	case underlamp.ResponseArea:
		return "leaf area seen from above"
	}
	return string(what)
}

// grown gathers the looks at one measure; nil if they tell of no growth.
func (f *Findings) grown(what underlamp.Response) (*Growth, []string) {
	units := map[string]underlamp.TrialUnit{}
	for _, u := range f.Trial.Places {
		units[u.Name] = u
	}
	type look struct{ unit, plant, day string }
	last := map[look]underlamp.TrialEntry{}
	var order []look
	begin := map[string]float64{} // of the block
	none := 0
	for _, e := range f.entries {
		if e.What != what || e.Missing != "" {
			continue
		}
		u, ok := units[e.TrialUnit]
		day, dated := dayOf(e.Time)
		if !ok || !dated {
			continue
		}
		if e.Value <= 0 {
			none++
			continue
		}
		k := look{e.TrialUnit, e.Plant, e.Time[:len(time.DateOnly)]}
		old, seen := last[k]
		if !seen {
			order = append(order, k)
		}
		if !seen || e.Time >= old.Time {
			last[k] = e
		}
		if b, ok := begin[u.Block]; !ok || day < b {
			begin[u.Block] = day
		}
	}
	g := &Growth{What: what}
	at := map[[2]string]int{}
	for _, k := range order {
		u := units[k.unit]
		id := [2]string{k.unit, k.plant}
		i, ok := at[id]
		if !ok {
			i = len(g.Plants)
			at[id] = i
			g.Plants = append(g.Plants, GrownPlant{Name: k.plant, Unit: k.unit, Treatment: u.Treatment})
		}
		day, _ := dayOf(k.day)
		p := &g.Plants[i]
		p.Days, p.Sizes = append(p.Days, day-begin[u.Block]), append(p.Sizes, last[k].Value)
	}
	again := 0
	for i := range g.Plants {
		p := &g.Plants[i]
		by := make([]int, len(p.Days))
		for j := range by {
			by[j] = j
		}
		slices.SortFunc(by, func(a, b int) int { return int(p.Days[a] - p.Days[b]) })
		days, sizes := make([]float64, len(by)), make([]float64, len(by))
		for j, k := range by {
			days[j], sizes[j] = p.Days[k], p.Sizes[k]
		}
		p.Days, p.Sizes = days, sizes
		if n := len(days); n > 1 && days[n-1]-days[0] >= shortest {
			again++
		}
		for _, d := range days {
			if !slices.Contains(g.Days, d) {
				g.Days = append(g.Days, d)
			}
		}
	}
	slices.Sort(g.Days)
	g.Again = len(g.Plants) > 0 && 2*again >= len(g.Plants)
	var notes []string
	if none > 0 {
		notes = append(notes, fmt.Sprintf("%s not above 0: a rate of growth takes the logarithm, so they are left out here.", count(none, "value is", "values are")))
	}
	var out []string
	for _, u := range f.Trial.Places {
		x := GrownUnit{TrialUnit: u, Curve: -1}
		if !x.rate(g) {
			if x.Plants > 0 {
				out = append(out, u.Name)
			}
			continue
		}
		g.Units = append(g.Units, x)
	}
	if len(g.Units) < 2 || len(out) > len(g.Units) {
		return nil, nil
	}
	if len(out) > 0 {
		notes = append(notes, "Left out, for its looks tell no rate: "+strings.Join(out, ", ")+".")
		g.Plants = slices.DeleteFunc(g.Plants, func(p GrownPlant) bool { return slices.Contains(out, p.Unit) })
	}
	for _, t := range f.Trial.Treatments {
		if slices.ContainsFunc(g.Units, func(u GrownUnit) bool { return u.Treatment == t.Name }) {
			g.Treatments = append(g.Treatments, t.Name)
		}
	}
	return g, notes
}

// finals leaves out what was seen of a size days before the last look at its
// unit, and plants that were gone by then: an early harvest, or a plant that broke, says
// nothing about how the unit ended. gone is how many plants are left out.
func finals(entries []underlamp.TrialEntry, r underlamp.Response) (out []underlamp.TrialEntry, gone int) {
	if r != underlamp.ResponseMass && r != underlamp.ResponseHeight && r != underlamp.ResponseLeaves {
		return entries, 0
	}
	last := map[string]float64{}
	plants := map[[2]string]bool{}
	for _, e := range entries {
		if day, ok := dayOf(e.Time); ok && e.What == r && e.Missing == "" {
			if l, seen := last[e.TrialUnit]; !seen || day > l {
				last[e.TrialUnit] = day
			}
			plants[[2]string{e.TrialUnit, e.Plant}] = true
		}
	}
	out = make([]underlamp.TrialEntry, 0, len(entries))
	for _, e := range entries {
		if e.What == r && e.Missing == "" {
			day, ok := dayOf(e.Time)
			if ok && day <= last[e.TrialUnit]-shortest {
				continue
			}
			delete(plants, [2]string{e.TrialUnit, e.Plant})
		}
		out = append(out, e)
	}
	return out, len(plants)
}

// dayOf is a day as a number. Looks within one day are the same look.
func dayOf(s string) (float64, bool) {
	if len(s) < len(time.DateOnly) {
		return 0, false
	}
	t, err := time.Parse(time.DateOnly, s[:len(time.DateOnly)])
	if err != nil {
		return 0, false
	}
	return math.Round(t.Sub(time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)).Hours() / 24), true
}

// rate is the relative growth rate of the unit: the mean over its plants of the slope of
// the logarithm, or the slope over plants that were each measured once.
func (u *GrownUnit) rate(g *Growth) bool {
	var days, sizes []float64
	sum, n := 0.0, 0
	seen := map[float64]int{}
	first, last := g.span(u.Name)
	for _, p := range g.Plants {
		if p.Unit != u.Name {
			continue
		}
		u.Plants++
		days, sizes = append(days, p.Days...), append(sizes, p.Sizes...)
		for _, d := range p.Days {
			seen[d]++
		}
		// A plant that was lost early grew in its fast days only; its slope is of another span.
		if k := len(p.Days); k > 1 && p.Days[k-1]-p.Days[0] >= shortest && p.Days[0] < first+shortest && p.Days[k-1] > last-shortest {
			if e, err := growth.Slope(p.Days, p.Sizes, level); err == nil {
				sum, n = sum+e.Value, n+1
			}
		}
	}
	if g.Again {
		u.Rate = sum / float64(max(n, 1))
		return n > 0
	}
	if len(days) == 0 || slices.Max(days)-slices.Min(days) < shortest {
		return false
	}
	for _, k := range seen {
		// A harvest of a single plant is mostly a straggler of another one.
		if k < 2 {
			return false
		}
	}
	e, err := growth.Slope(days, sizes, level)
	u.Rate = e.Value
	return err == nil
}

// A grownTest is how treatments differ in one figure of the units.
type grownTest struct {
	name, unit, formula string
	sources             []string
	inputs              []working.Input
	notes               []string
	decimals            int
	first               bool // of its part

	means        *linear.Means // nil without limits
	bare         []float64     // of the treatments, where there are no limits
	statistic, p float64
	df1, df2     int
	tested       bool
	why          string // why there is no test
}

// compareGrown compares treatments by one value of each unit, in the layout of the trial.
func (f *Findings) compareGrown(units []underlamp.TrialUnit, v []float64, t *grownTest) {
	raw := map[string][]float64{}
	for i, u := range units {
		raw[u.Name] = append(raw[u.Name], v[i])
	}
	sub := &Findings{Trial: f.Trial}
	sub.fill(raw)
	v = sub.values()
	for _, g := range sub.treat.Split(v) {
		m := 0.0
		for _, x := range g {
			m += x / float64(len(g))
		}
		t.bare = append(t.bare, m)
	}
	if len(sub.treat.Levels) < 2 {
		t.why = "Only one treatment was seen."
		return
	}
	if slices.Max(sub.treat.Counts()) == 1 {
		t.why = "Each treatment has one unit, so lamp and treatment cannot be told apart and there is no test."
		return
	}
	if f.Trial.Layout == underlamp.SplitLayout {
		s, err := sub.analyseSplit()
		if err != nil {
			t.why = sentence(err)
			return
		}
		t.take(s.Whole, s.WholeError, s.WholeMeans, s.Weak)
		return
	}
	a, _, err := sub.analyse()
	if err != nil {
		t.why = sentence(err)
		return
	}
	t.take(a.Treatment(), a.Error, a.Means, a.Weak)
}

func (t *grownTest) take(l, e anova.Line, m linear.Means, weak string) {
	t.means = &m
	t.df1, t.df2 = l.DF, e.DF
	switch {
	case l.Refused != nil:
		t.why = sentence(l.Refused)
	case weak != "":
		t.why = "Do not lean on a test here: " + weak + "."
	default:
		t.statistic, t.p, t.tested = l.Test.Statistic, l.Test.P, true
	}
}

// tellGrowth says what is known: rate, form, days to a size, where it levels off.
func (f *Findings) tellGrowth(g *Growth, p *Part) {
	plants := 0
	for _, u := range g.Units {
		plants += u.Plants
	}
	base := []working.Input{
		working.Plain("units", fmt.Sprint(len(g.Units)), underlamp.Computed.String()),
		working.Plain("plants", fmt.Sprint(plants), underlamp.Measured.String()),
		working.Plain("looks", fmt.Sprintf("%d, from day 0 to day %.0f after the first look of the block", len(g.Days), g.Days[len(g.Days)-1]-g.Days[0]), underlamp.Measured.String()),
	}
	all := make([]underlamp.TrialUnit, len(g.Units))
	v := make([]float64, len(g.Units))
	for i, u := range g.Units {
		all[i], v[i] = u.TrialUnit, 100*u.Rate
	}
	rate := &grownTest{name: "relative growth rate", unit: "%/d", decimals: 2, inputs: base, sources: []string{"HoffmannPoorter2002", "MatthewsEtAl1990"},
		formula: "slope of ln(" + string(g.What) + ") over days by plant, mean of the unit, then of the units"}
	if !g.Again {
		rate.formula = "slope of ln(" + string(g.What) + ") over days through the plants of a unit, each measured once, then mean of the units"
		rate.sources = rate.sources[:1]
	}
	f.compareGrown(all, v, rate)
	tests := []*grownTest{rate}

	curveSays := "Not every treatment grew, so no curve of growth is fitted."
	verb := " changed by"
	if slices.Min(rate.bare) > 0 {
		curveSays, verb = f.fitGrowth(g), " grew by"
	}
	var when, top *grownTest
	var whenSays, topSays string
	if g.Curves != nil {
		when, whenSays = f.timeToTarget(g, base)
		top, topSays = f.levelling(g, base)
	}
	for _, t := range []*grownTest{when, top} {
		if t != nil {
			tests = append(tests, t)
		}
	}
	// All tests of this measure together: none was chosen before the run.
	var ps []float64
	for _, t := range tests {
		if t.tested {
			ps = append(ps, t.p)
		}
	}
	tested := len(ps)
	ps = pairwise.Holm(ps)
	for _, t := range tests {
		if t.tested {
			t.p, ps = ps[0], ps[1:]
		}
	}
	name := "the " + measureName(g.What)
	beyond := ""
	if top != nil && slices.Min(top.bare) > g.largest() {
		beyond = ", beyond what was seen"
	}
	rate.first = when == nil
	if when != nil {
		when.first = true
	}
	for _, x := range []struct {
		t                 *grownTest
		lead, after, says string
	}{
		{when, strings.TrimSpace("By the curves "+name+" reached "+quantity.Number(g.Target, 3)+" "+g.What.Unit()) + " on day", " after the first look", whenSays},
		{rate, "Over all looks " + name + verb, "", g.began()},
		{nil, "", "", curveSays},
		{top, "By the curves " + name + " levels off at", beyond, topSays},
	} {
		if x.t != nil {
			p.Says = append(p.Says, f.tellTest(g, x.t, p, x.lead, x.after))
		}
		if x.says != "" {
			p.Says = append(p.Says, x.says)
		}
	}
	switch {
	case tested == 1:
		p.Says = append(p.Says, "This comparison was not chosen before the run; what it shows is a hint for the next trial.")
	case tested > 1:
		p.Says = append(p.Says, fmt.Sprintf("None of these %d comparisons was chosen before the run: their p are adjusted together after Holm, and what they show is a hint for the next trial.", tested))
	}
	if !g.Again {
		p.Says = append(p.Says, "Each plant was measured once, on one of several days.")
	}
}

// tellTest puts the means of the treatments with their differences among the figures, and
// returns the sentence.
func (f *Findings) tellTest(g *Growth, t *grownTest, p *Part, lead, after string) string {
	inputs := slices.Clone(t.inputs)
	if t.tested {
		inputs = append(inputs, working.Plain("F between treatments", fmt.Sprintf("%.3g with %d and %d degrees of freedom", t.statistic, t.df1, t.df2), underlamp.Computed.String()),
			working.Plain("p, adjusted after Holm", pText(t.p), underlamp.Computed.String()))
	}
	var means []stat.Estimate
	if t.means != nil {
		means, _ = t.means.Each(level)
	}
	figure := func(name string, e stat.Estimate, formula string, sources ...string) {
		w := working.Figure{Name: name, Value: e.Value, Unit: t.unit, Digits: 4, Working: working.Working{Formula: formula, Inputs: slices.Clone(inputs), Sources: append(slices.Clone(t.sources), sources...), Notes: t.notes}}
		if e.SE > 0 {
			w.Working.Inputs = append(w.Working.Inputs, working.Plain("standard error", fmt.Sprintf("%.3g", e.SE), underlamp.Computed.String()))
			if e.Interval.Bounded() {
				w.Band = &working.Band{Low: e.Interval.Lower, High: e.Interval.Upper, Level: e.Interval.Level}
			}
		}
		p.Figures = append(p.Figures, w)
	}
	low, high := math.Inf(1), math.Inf(-1)
	for i, name := range g.Treatments {
		e := stat.Estimate{Value: t.bare[i]}
		formula := t.formula
		if len(means) == len(g.Treatments) {
			e = means[i]
			formula += ", ± t·√(MS(error)/units)"
		}
		low, high = min(low, e.Value), max(high, e.Value)
		figure(t.name+", "+name, e, formula)
	}
	values := fmt.Sprintf("%s to %s", quantity.Fixed(low, t.decimals), quantity.Fixed(high, t.decimals))
	if quantity.Fixed(low, t.decimals) == quantity.Fixed(high, t.decimals) {
		values = quantity.Fixed(low, t.decimals)
	}
	unit := strings.TrimRight(" "+t.unit, " ")
	switch t.unit {
	case "%/d":
		unit = " % a day"
	case "d":
		unit = ""
	}
	s := fmt.Sprintf("%s %s%s%s, by treatment", lead, values, unit, after)
	if t.tested {
		s = fmt.Sprintf("%s: F = %.3g with %d and %d degrees of freedom, p %s.", s, t.statistic, t.df1, t.df2, pText(t.p))
	} else {
		s += ". " + t.why
	}
	if t.means == nil {
		return s
	}
	// Of many treatments without a control the pairs are shown of the first figure alone.
	if len(g.Treatments) > 3 && !t.first && !slices.ContainsFunc(f.Trial.Treatments, func(x underlamp.Treatment) bool { return x.Control }) {
		return s
	}
	if c, source, ok := f.differences(t.means); ok {
		for i, e := range c.Pairs {
			name := t.means.Levels[c.Second[i]] + " − " + t.means.Levels[c.First[i]]
			figure(t.name+", "+name, e, "difference of the means, limits for all together", source)
			if len(c.Pairs) == 1 {
				s += fmt.Sprintf(" %s: %s %s, %s to %s.", name, working.Signed(e.Value, t.decimals), t.unit, working.Signed(e.Interval.Lower, t.decimals), working.Signed(e.Interval.Upper, t.decimals))
			}
		}
	}
	return s
}

// differences are those from the control, or of all pairs where there is none.
func (f *Findings) differences(m *linear.Means) (pairwise.Comparisons, string, bool) {
	for _, t := range f.Trial.Treatments {
		if k := slices.Index(m.Levels, t.Name); t.Control && k >= 0 {
			c, err := pairwise.Against(*m, k, level)
			return c, "Dunnett1955", err == nil
		}
	}
	c, err := pairwise.All(*m, level)
	return c, "Kramer1956", err == nil
}

// unlike is how much sizes at the first look may differ between treatments before it is
// said; common practice, no source.
const unlike = 1.1

// began says whether the treatments began unlike each other, for small plants grow faster for
// their size whatever they are given, and whether units were looked at over other days.
func (g *Growth) began() string {
	low, high := math.Inf(1), math.Inf(-1)
	for _, t := range g.Treatments {
		s, n := 0.0, 0.0
		for _, p := range g.Plants {
			if p.Treatment == t && p.Days[0] == g.Days[0] {
				s, n = s+math.Log(p.Sizes[0]), n+1
			}
		}
		if n > 0 {
			low, high = min(low, math.Exp(s/n)), max(high, math.Exp(s/n))
		}
	}
	out := ""
	begin, end := g.span(g.Units[0].Name)
	if slices.ContainsFunc(g.Units, func(u GrownUnit) bool { a, b := g.span(u.Name); return a != begin || b != end }) {
		out = "The looks of the units do not span the same days; rates fall with age, so those over other days are not quite alike. "
	}
	if !(high > unlike*low) {
		return strings.TrimSpace(out)
	}
	return out + strings.TrimSpace(fmt.Sprintf("The treatments did not begin alike: %s to %s %s", quantity.Number(low, 3), quantity.Number(high, 3), g.What.Unit())) + " at the first look. Small plants grow faster for their size, so their rates say little about the treatments, and days to a size carry the head start."
}

// fitGrowth fits a curve to each unit, the form being the same for all, and says which.
func (f *Findings) fitGrowth(g *Growth) string {
	if len(g.Days) < 3 {
		return "Two days of looks tell a rate and no curve; look three times or more."
	}
	at := map[string]int{}
	for i := range g.Units {
		at[g.Units[i].Name] = i
		g.Units[i].Curve = i
	}
	var subjects []growth.Subject
	most := 0
	for _, p := range g.Plants {
		i := at[p.Unit]
		subjects = append(subjects, growth.Subject{Curve: i, Unit: i, T: p.Days, Sizes: p.Sizes})
		most = max(most, len(p.Days))
	}
	between := growth.Random{}
	if g.Again && most >= 3 && len(g.Plants) > len(g.Units) {
		between = growth.Random{Of: []bool{true, true}}
	}
	var refused []string
	var flat *growth.Many
	for _, form := range growth.Forms {
		m, err := growth.FitMany(growth.Model{Form: form}, subjects, between, growth.Random{})
		if err != nil && between.Of != nil {
			// A scatter in time as well may be more than these looks can tell.
			m, err = growth.FitMany(growth.Model{Form: form}, subjects, growth.Random{Of: []bool{true}}, growth.Random{})
		}
		if err != nil {
			if r := stat.Refused(err); r != nil {
				refused = append(refused, form.String()+" ("+r.Because+")")
			}
			continue
		}
		if form == growth.Exponential {
			flat = m
		}
		if math.IsInf(m.AICc, 0) {
			continue
		}
		if g.Curves == nil || m.AICc < g.Curves.AICc {
			g.Curves = m
		}
	}
	if g.Curves == nil {
		g.Curves = flat
	}
	says := ""
	switch {
	case g.Curves == nil:
		says = "No curve could be fitted to the units: " + strings.Join(refused, "; ") + "."
		refused = nil
	case g.Curves.Form == growth.Exponential:
		says = "The rate did not fall within these looks as far as they tell: growth is taken as exponential, and where it levels off is not known."
	default:
		says = fmt.Sprintf("The rate fell as the plants grew: the %s curve lies nearest", g.Curves.Form)
		if flat != nil && !math.IsInf(flat.AICc, 0) {
			says += fmt.Sprintf(" (AICc %s below the exponential)", quantity.Fixed(flat.AICc-g.Curves.AICc, 0))
		}
		says += "."
	}
	if len(refused) > 0 {
		says += " Not fitted: " + strings.Join(refused, "; ") + "."
	}
	if g.Curves != nil {
		says += g.misses()
	}
	return says
}

// aside is by how much a curve may run beside the plants on a day before it is said; common
// practice, no source.
const aside = 0.05

// misses says where the curves run beside the looks: on the mean of the units, by more than
// their scatter.
func (g *Growth) misses() string {
	worst, at := 0.0, 0.0
	for _, d := range g.Days {
		var r []float64
		for _, u := range g.Units {
			s, n := 0.0, 0.0
			for _, p := range g.Plants {
				if k := slices.Index(p.Days, d); k >= 0 && p.Unit == u.Name {
					s, n = s+math.Log(p.Sizes[k])-math.Log(g.Curves.Size(u.Curve, d, level).Value), n+1
				}
			}
			if n > 0 {
				r = append(r, s/n)
			}
		}
		if len(r) < 2 {
			continue
		}
		mean, ss := 0.0, 0.0
		for _, x := range r {
			mean += x / float64(len(r))
		}
		for _, x := range r {
			ss += (x - mean) * (x - mean)
		}
		se := math.Sqrt(ss / float64(len(r)-1) / float64(len(r)))
		if math.Abs(mean) > max(aside, 3*se) && math.Abs(mean) > math.Abs(worst) {
			worst, at = mean, d
		}
	}
	if worst == 0 {
		return ""
	}
	side := "above"
	if worst < 0 {
		side = "below"
	}
	return fmt.Sprintf(" The curves do not follow the plants well: on day %.0f these lie %s %s them. Lean on what was seen, and less on the curves.", at, working.Percent(math.Abs(math.Expm1(worst))), side)
}

// method says how curves were fitted.
func (g *Growth) method() (string, []string) {
	name := map[growth.Form]string{growth.Exponential: "ln w = ln w₀ + r·t", growth.Gompertz: "ln w = ln A − exp((m − t)/s)", growth.Logistic: "ln w = ln A − ln(1 + exp((m − t)/s))"}[g.Curves.Form]
	sources := []string{}
	if g.Curves.Form == growth.Gompertz {
		sources = append(sources, "Gompertz1825")
	}
	for i := range g.Curves.Individuals {
		if g.Curves.Individuals[i][i] > 0 {
			return name + ", a curve for each unit, plants at random about it", append(sources, "LindstromBates1990", "PinheiroBates2000")
		}
	}
	return name + ", a curve for each unit by least squares", append(sources, "BatesWatts1988")
}

// timeToTarget compares the day on which the units' curves reach a size.
func (f *Findings) timeToTarget(g *Growth, base []working.Input) (*grownTest, string) {
	origin := underlamp.Stated
	if g.What == underlamp.ResponseMass && f.Trial.TargetMass.Value > 0 {
		g.Target = float64(f.Trial.TargetMass.Value)
	} else {
		// What all units reached by their own curves, rounded down.
		origin = underlamp.Default
		low, begun := math.Inf(1), 0.0
		for _, u := range g.Units {
			first, last := g.span(u.Name)
			low, begun = min(low, g.Curves.Size(u.Curve, last, level).Value), max(begun, g.Curves.Size(u.Curve, first, level).Value)
		}
		if g.Target = roundDown(low); !(g.Target > begun) {
			g.Target = 0
			return nil, "No size was reached by all units and begun below by all, so there is no day to compare; write target mass in the plan."
		}
	}
	var units []underlamp.TrialUnit
	var v []float64
	var short []string
	for i := range g.Units {
		u := &g.Units[i]
		e, err := g.Curves.TimeTo(u.Curve, g.Target, level)
		first, last := g.span(u.Name)
		if err != nil || e.Value > last || e.Value < first {
			short = append(short, u.Name)
			continue
		}
		if !e.Interval.Bounded() {
			e.Interval = stat.Interval{}
		}
		u.Time = &e
		units, v = append(units, u.TrialUnit), append(v, e.Value)
	}
	if len(short) > 0 {
		return nil, fmt.Sprintf("%s %s does not lie between the first and the last look of %s%s, so the days to it are not compared.", quantity.Number(g.Target, 3), g.What.Unit(), count(len(short), "unit", "units"), named(short))
	}
	formula, sources := g.method()
	solved := map[growth.Form]string{growth.Exponential: "t = (ln w − ln w₀)/r", growth.Gompertz: "t = m − s·ln ln(A/w)", growth.Logistic: "t = m − s·ln(A/w − 1)"}[g.Curves.Form]
	t := &grownTest{name: fmt.Sprintf("days to %s", strings.TrimSpace(quantity.Number(g.Target, 3)+" "+g.What.Unit())), unit: "d", decimals: 1, sources: sources,
		formula: solved + " of each unit; " + formula,
		inputs:  append([]working.Input{{Name: "w, the size asked for", Value: quantity.Number(g.Target, 3) + " " + g.What.Unit(), Origin: origin.String()}}, base...),
		notes:   []string{"days count from the first look of the block; the limits are those of the units, by their scatter"}}
	f.compareGrown(units, v, t)
	if origin == underlamp.Default {
		return t, "The plan names no target mass, so a size that all units reached was taken."
	}
	return t, ""
}

// named lists a few units in brackets; of many the number is enough.
func named(units []string) string {
	if len(units) > 4 {
		return ""
	}
	return " (" + strings.Join(units, ", ") + ")"
}

func (g *Growth) span(unit string) (first, last float64) {
	first, last = math.Inf(1), math.Inf(-1)
	for _, p := range g.Plants {
		if p.Unit == unit {
			first, last = min(first, p.Days[0]), max(last, p.Days[len(p.Days)-1])
		}
	}
	return first, last
}

func (g *Growth) largest() (v float64) {
	for _, p := range g.Plants {
		v = max(v, slices.Max(p.Sizes))
	}
	return v
}

// roundDown leaves two digits.
func roundDown(x float64) float64 {
	if !(x > 0) || math.IsInf(x, 0) {
		return 0
	}
	step := math.Pow(10, math.Floor(math.Log10(x))-1)
	return math.Floor(x/step) * step
}

// levelling compares where the units' curves level off, if all of them tell.
func (f *Findings) levelling(g *Growth, base []working.Input) (*grownTest, string) {
	if g.Curves.Form == growth.Exponential {
		return nil, ""
	}
	var units []underlamp.TrialUnit
	var v []float64
	open := 0
	for i := range g.Units {
		u := &g.Units[i]
		e, err := g.Curves.Asymptote(u.Curve, level)
		if err != nil {
			open++
			continue
		}
		u.Top = &e
		units, v = append(units, u.TrialUnit), append(v, e.Value)
	}
	if open > 0 {
		return nil, fmt.Sprintf("Where growth levels off is open in %d of %s (limits beyond twice or half of it, or too few plants for limits), so it is not shown; the curves hold within the looks.", open, count(len(g.Units), "unit", "units"))
	}
	formula, sources := g.method()
	t := &grownTest{name: "where growth levels off", unit: g.What.Unit(), decimals: 0, inputs: base, sources: sources, formula: "A of each unit; " + formula,
		notes: []string{"it lies beyond the looks, and stands on the form of the curve"}}
	f.compareGrown(units, v, t)
	return t, ""
}

// At is the size of a treatment on a day: the geometric mean of its units' curves.
func (g *Growth) At(treatment string, day float64) float64 {
	s, n := 0.0, 0.0
	for _, u := range g.Units {
		if u.Treatment == treatment && u.Curve >= 0 && g.Curves != nil {
			s, n = s+math.Log(g.Curves.Size(u.Curve, day, level).Value), n+1
		}
	}
	if n == 0 {
		return math.NaN()
	}
	return math.Exp(s / n)
}

// RateAt is the relative growth rate of a treatment on a day, %/d: the mean of its units'.
func (g *Growth) RateAt(treatment string, day float64) float64 {
	s, n := 0.0, 0.0
	for _, u := range g.Units {
		if u.Treatment == treatment && u.Curve >= 0 && g.Curves != nil {
			s, n = s+100*g.Curves.Rate(u.Curve, day, level).Value, n+1
		}
	}
	if n == 0 {
		return math.NaN()
	}
	return s / n
}

// UnitMeans are day and geometric mean of a unit's plants on every day of its looks.
func (g *Growth) UnitMeans(unit string) (out [][2]float64) {
	for _, d := range g.Days {
		s, n := 0.0, 0.0
		for _, p := range g.Plants {
			if p.Unit != unit {
				continue
			}
			if k := slices.Index(p.Days, d); k >= 0 {
				s, n = s+math.Log(p.Sizes[k]), n+1
			}
		}
		if n > 0 {
			out = append(out, [2]float64{d, math.Exp(s / n)})
		}
	}
	return out
}
