package feedfile

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/nutrients"
	"underlamp/science/quantity"
)

// Version is the version of the format that this package reads.
const Version = 1

const (
	maxProducts = 60
	maxLog      = 2000
	maxBenches  = 100
)

// What can be read here.
var (
	massSpan      = handwritten.Span{Min: 0, Max: 20000} // mg/L
	molarSpan     = handwritten.Span{Min: 0, Max: 200}   // mmol/L
	alkSpan       = handwritten.Span{Min: -5, Max: 30}
	waterPHSpan   = handwritten.Span{Min: 4, Max: 10}
	feedPHSpan    = handwritten.Span{Min: 3, Max: 9}
	waterSpan     = handwritten.Span{Min: 0, Max: 45} // °C
	ecSpan        = handwritten.Span{Min: 0, Max: 20}
	volumeSpan    = handwritten.Span{Min: 0.1, Max: 1e6}
	leftSpan      = handwritten.Span{Min: 0, Max: 1e6}
	scaleSpan     = handwritten.Span{Min: 0.0001, Max: 100}
	shareSpan     = handwritten.Span{Min: 0.0001, Max: 1}
	labelSpan     = handwritten.Span{Min: 0, Max: 1}
	strengthSpan  = handwritten.Span{Min: 0.01, Max: 4}
	densitySpan   = handwritten.Span{Min: 0.7, Max: 2.2}
	gramSpan      = handwritten.Span{Min: 0, Max: 1e6}
	addedSpan     = handwritten.Span{Min: 0, Max: 1e6}
	millilitre    = 0.001
	mostPrice     = 1e5
	usualFullTank = 100.0
)

// Read reads a feed. It is nil exactly when the problems hold an error. The error is for what is
// no matter of the text: a failing reader, or [handwritten.ErrTooLarge].
func Read(in io.Reader) (*underlamp.FeedPlan, handwritten.Problems, error) {
	r := &reader{&handwritten.Reader{Grammar: grammar}}
	return handwritten.Read(r.Reader, in, r.plan)
}

type reader struct{ *handwritten.Reader }

func (r *reader) plan(top handwritten.Value) *underlamp.FeedPlan {
	f, ok := r.Mapping(top, "")
	if !ok {
		return nil
	}
	r.Version(f.Get("underlamp feed"), Version)
	p := &underlamp.FeedPlan{Units: r.System(f.Get("units"), quantity.Metric)}
	p.Name, _ = r.Words(f.Get("name"), handwritten.MaxName)
	p.Note, _ = r.Words(f.Get("note"), handwritten.MaxNote)
	benches, _ := r.List(f.Get("benches"), "the names of bench files beside this one: [tier-1.yaml]", maxBenches, "benches")
	for _, b := range benches {
		if name, ok := r.Words(b, 200); ok {
			p.Benches = append(p.Benches, name)
		}
	}
	r.target(f.Get("target"), p)
	limits, _ := r.Mapping(f.Get("limits"), "limits")
	ions, knows := r.ions(limits)
	for i := range nutrients.Ions {
		if knows[i] && p.Target.Asks[i] {
			r.Errorf(limits.Value, "sodium and chloride, or what the target does not name", "%s is in the target, and has a limit too", i)
		}
		p.Target.Most[i] = ions[i]
	}
	r.water(f.Get("water"), p)
	r.cupboard(f.Get("cupboard"), p)
	if v := f.Get("mix"); v.Written() {
		i, _ := r.OneOf(v, []string{"closest", "cheapest"}, nil)
		p.Cheapest = i == 1
		if p.Cheapest {
			for _, x := range p.Cupboard {
				if !x.Priced {
					r.Errorf(v, "a price for every product, or mix: closest", "%q has no price", x.Name)
					break
				}
			}
		}
	}
	r.tank(f.Get("tank"), p)
	r.stock(f.Get("stock"), p)
	r.log(f.Get("log"), p)
	return p
}

// amount reads one concentration of a form as mmol/L of its ion.
func (r *reader) amount(v handwritten.Value, f form) (float64, bool) {
	const want = "for example 90 mg/L, or 2.25 mmol/L"
	r.Takes(v, handwritten.Form{Is: handwritten.AmountForm, Kind: quantity.Concentration, Span: massSpan})
	r.Takes(v, handwritten.Form{Is: handwritten.AmountForm, Kind: quantity.Molarity, Span: molarSpan})
	text, ok := r.Raw(v, want)
	if !ok {
		return 0, false
	}
	if x, err := quantity.Molarity.Parse(text); err == nil {
		if !molarSpan.Holds(x) {
			r.Errorf(v, r.Wanted(quantity.Molarity, molarSpan), "%s is not read here", r.Show(quantity.Molarity, x))
			return 0, false
		}
		return molarSpan.Clamp(x), true
	}
	x, err := quantity.Concentration.Parse(text)
	if err != nil {
		r.Unparsed(v, quantity.Concentration, err)
		return 0, false
	}
	if !massSpan.Holds(x) {
		r.Errorf(v, r.Wanted(quantity.Concentration, massSpan), "%s is not read here", r.Show(quantity.Concentration, x))
		return 0, false
	}
	return massSpan.Clamp(x) * f.perMg(), true
}

// perMg is the mmol of the ion in a mg of the form.
func (f form) perMg() float64 {
	m, err := nutrients.MolarMass(f.molar)
	if err != nil {
		panic("feedfile: " + err.Error())
	}
	return f.per / m
}

// ions reads the ions of a part; one written in two forms is an error.
func (r *reader) ions(f handwritten.Fields) (a nutrients.Amounts, knows [nutrients.Ions]bool) {
	for _, x := range forms {
		v := f.Get(x.key)
		if !v.Written() {
			continue
		}
		if knows[x.ion] {
			r.Errorf(v, "one form of each ion", "%s is written in another form already", x.ion.Name())
			continue
		}
		if c, ok := r.amount(v, x); ok {
			a[x.ion], knows[x.ion] = c, true
		}
	}
	return a, knows
}

func (r *reader) target(v handwritten.Value, p *underlamp.FeedPlan) {
	f, ok := r.Part(v, "target", "target: with a recipe, or with amounts such as ca: 90 mg/L", "what the feed shall hold")
	if !ok {
		return
	}
	p.Strength = 1
	if s := f.Get("strength"); s.Written() {
		x, _ := r.Amount(s, quantity.Share, strengthSpan)
		p.Strength = quantity.Fraction(x)
		if !f.Get("recipe").Written() {
			r.Errorf(s, "recipe: with the strength, or amounts without one", "a strength is of a recipe")
		}
	}
	ph := 5.8
	if w := f.Get("ph"); w.Written() {
		ph, _ = r.Amount(w, quantity.Acidity, feedPHSpan)
	}
	if w := f.Get("recipe"); w.Written() {
		name, _ := r.Words(w, handwritten.MaxName)
		recipe, err := nutrients.FindRecipe(name)
		if err != nil {
			r.Errorf(w, "the name of a recipe that is known", "%s", err)
			r.ions(f) // what is wrong there is told at once
			return
		}
		p.Recipe = recipe.Name
		p.Target = nutrients.TargetOf(recipe, float64(p.Strength), ph)
	}
	p.Target.PH = ph
	ions, knows := r.ions(f)
	for i := range nutrients.Ions {
		if knows[i] {
			p.Target.Ions[i], p.Target.Asks[i] = ions[i], true
		}
	}
	if p.Target.Asks == ([nutrients.Ions]bool{}) && !r.Problems.HasErrors() {
		r.Errorf(v, "a recipe, or amounts such as ca: 90 mg/L", "the target names nothing that the feed shall hold")
	}
}

func (r *reader) water(v handwritten.Value, p *underlamp.FeedPlan) {
	f, _ := r.Mapping(v, "water")
	p.WaterPH, p.WaterName, p.WaterGiven = math.NaN(), "pure water", v.Written()
	if name, ok := r.Words(f.Get("name"), handwritten.MaxName); ok {
		p.WaterName = name
	} else if p.WaterGiven {
		p.WaterName = "the water"
	}
	p.Water.Ions, p.WaterKnows = r.ions(f)
	p.Water.C = 20
	if w := f.Get("temperature"); w.Written() {
		p.Water.C, _ = r.Amount(w, quantity.Temperature, waterSpan)
	}
	if w := f.Get("ph"); w.Written() {
		p.WaterPH, _ = r.Amount(w, quantity.Acidity, waterPHSpan)
	}
	w := f.Get("alkalinity")
	if w.Written() {
		p.Water.Alkalinity, _ = r.Amount(w, quantity.Alkalinity, alkSpan)
		return
	}
	if charge := p.Water.Ions.Charge(); p.WaterGiven && math.Abs(charge) > 0.2 {
		r.Errorf(v, "alkalinity: 3 meq/L, 150 mg/L CaCO3 or 183 mg/L HCO3", "the analysis does not say the alkalinity (bicarbonate), by which the acid is found; its other ions leave %s meq/L for it", quantity.Fixed(charge, 1))
	}
}

func (r *reader) cupboard(v handwritten.Value, p *underlamp.FeedPlan) {
	items, _ := r.List(v, "a list of products, each with its name", maxProducts, "products")
	if len(items) == 0 && !r.Problems.HasErrors() {
		r.Missing(v, "cupboard: with a list of products, such as - product: potassium nitrate", "the list of salts and acids")
	}
	lines := map[string]int{}
	for _, item := range items {
		f, ok := r.Mapping(item, "cupboard[]")
		if !ok {
			continue
		}
		x, ok := r.product(f, p)
		if !ok {
			continue
		}
		if line, twice := lines[strings.ToLower(x.Name)]; twice {
			r.Errorf(item, "a name of its own for each product", "the product in line %d is called %q too", line, x.Name)
		}
		lines[strings.ToLower(x.Name)] = item.At.Line
		p.Cupboard = append(p.Cupboard, x)
	}
}

// product reads what stands in the cupboard.
func (r *reader) product(f handwritten.Fields, p *underlamp.FeedPlan) (x nutrients.Product, ok bool) {
	before := len(r.Problems)
	x.Purity = 1
	v := f.Get("product")
	what, _ := r.Words(v, handwritten.MaxName)
	x.Name, _ = r.Words(f.Get("name"), handwritten.MaxName)
	if x.Name == "" {
		x.Name = what
	}
	label := f.Get("label")
	switch w := f.Get("formula"); {
	case w.Written():
		text, _ := r.Words(w, handwritten.MaxName)
		s, err := nutrients.NewSubstance(x.Name, text)
		if err != nil {
			r.Errorf(w, "a formula such as Ca(NO3)2.4H2O", "%s", strings.TrimPrefix(err.Error(), "nutrients: "))
			return x, false
		}
		x.Substance = s
	case what == "" && !label.Written():
		r.Missing(v, "product: potassium nitrate", "which salt or acid it is")
		return x, false
	case what != "":
		s, err := nutrients.Find(what)
		switch {
		case err == nil:
			x.Substance = s
			if x.Name == what {
				x.Name = s.Name
			}
		case !label.Written():
			r.Add(v.At, handwritten.Problem{Path: v.Path, Message: err.Error(), Want: "a salt or acid by name or formula, or its label", Suggest: handwritten.Nearest(handwritten.Normal(what), known())})
			return x, false
		}
	}
	if x.Name == "" {
		r.Missing(f.Get("name"), "name: with what stands on the bag", "the name of the product")
		return x, false
	}
	if w := f.Get("purity"); w.Written() {
		x.Purity, _ = r.Amount(w, quantity.Share, shareSpan)
	}
	r.liquid(f, &x)
	if w := f.Get("metal"); w.Written() {
		share, _ := r.Amount(w, quantity.Share, shareSpan)
		r.metal(w, &x, share)
	} else if x.Substance != nil && x.Substance.Kind == nutrients.Chelate && !label.Written() {
		r.Missing(f.Get("metal"), "metal: 11 % from its label", "the share of metal in the chelate")
	}
	if label.Written() {
		r.label(label, &x)
	}
	if w := f.Get("most"); w.Written() {
		x.Most = r.perLitre(w, &x)
	}
	r.price(f.Get("price"), &x, p)
	return x, !r.Problems[before:].HasErrors()
}

func known() (out []string) {
	for _, s := range nutrients.Substances() {
		out = append(out, s.Name)
	}
	return out
}

// liquid reads strength and density, of which an acid needs the first.
func (r *reader) liquid(f handwritten.Fields, x *nutrients.Product) {
	w, d := f.Get("strength"), f.Get("density")
	acid := x.Substance != nil && x.Substance.Kind == nutrients.Acid && x.Substance.Name != "citric acid"
	if w.Written() {
		x.Purity, _ = r.Amount(w, quantity.Share, shareSpan)
		if f.Get("purity").Written() {
			r.Errorf(w, "purity of a solid, strength of a liquid", "purity is written too")
		}
	} else if acid {
		r.Missing(w, "strength: 38 % from its label", "the strength of the acid")
		return
	}
	switch {
	case d.Written():
		x.Density, _ = r.Amount(d, quantity.MassDensity, densitySpan)
		if acid {
			if usual, ok := nutrients.AcidDensity(x.Substance.Name, x.Purity); ok && math.Abs(x.Density/usual-1) > 0.03 {
				r.Warnf(d, "", "%s of %s has %s at 20 °C; one of the two figures is wrong", x.Substance.Name, quantity.Share.Format(x.Purity, r.Units, 3), quantity.MassDensity.Format(usual, r.Units, 4))
			}
		}
	case acid:
		usual, ok := nutrients.AcidDensity(x.Substance.Name, x.Purity)
		if !ok {
			r.Missing(d, "density: 1.23 kg/L from its label", "the density of the acid at this strength")
			return
		}
		x.Density = usual
		x.Guess = "its density, " + quantity.MassDensity.Format(usual, r.Units, 4) + " by its strength"
	case w.Written():
		r.Missing(d, "density: 1.23 kg/L from its label", "the density of the liquid")
	}
}

// metal is the share of metal of a chelate.
func (r *reader) metal(v handwritten.Value, x *nutrients.Product, share float64) {
	if x.Substance == nil || x.Substance.Kind != nutrients.Chelate {
		r.Errorf(v, "label: with its elements", "a share of metal is of a chelate")
		return
	}
	for i := range nutrients.Ions {
		if x.Substance.PerMol[i] > 0 {
			x.Label[i], x.Labelled[i] = share, true
		}
	}
}

// label reads the mass shares of elements and oxides.
func (r *reader) label(v handwritten.Value, x *nutrients.Product) {
	f, ok := r.Mapping(v, "cupboard[].label")
	if !ok {
		return
	}
	sum := 0.0
	for _, y := range forms {
		w := f.Get(y.key)
		if !w.Written() {
			continue
		}
		share, ok := r.Amount(w, quantity.Share, labelSpan)
		if !ok {
			continue
		}
		if x.Labelled[y.ion] {
			r.Errorf(w, "one form of each element", "%s is written in another form already", y.ion.Name())
			continue
		}
		x.Label[y.ion], x.Labelled[y.ion] = share*y.perMg()*y.ion.Mass(), true
		sum += x.Label[y.ion]
	}
	switch {
	case sum > 1:
		r.Errorf(v, "shares of the mass", "the elements are more than the whole")
	case sum == 0:
		r.Errorf(v, "label: {k2o: 46 %, no3-n: 13 %}", "the label names nothing")
	}
}

// perLitre reads the most of a product in a litre of feed: g/L of a solid, mL/L of a liquid.
func (r *reader) perLitre(v handwritten.Value, x *nutrients.Product) float64 {
	text, ok := r.Scalar(v, "0.5 g/L, or 0.4 mL/L of a liquid")
	if !ok {
		return 0
	}
	amount, _ := strings.CutSuffix(strings.ReplaceAll(strings.TrimSpace(text), " ", ""), "/L")
	k, unit := quantity.Mass, 1.0
	if x.Liquid() {
		k, unit = quantity.Volume, millilitre
	}
	most, err := k.Parse(amount)
	if err != nil || !(most > 0) || most/unit > 1000 {
		r.Errorf(v, "0.5 g/L, or 0.4 mL/L of a liquid", "%q is no amount in a litre of feed", handwritten.Shortened(text))
		return 0
	}
	return most / unit
}

func (r *reader) price(v handwritten.Value, x *nutrients.Product, p *underlamp.FeedPlan) {
	if !v.Written() {
		return
	}
	want := "1.20 EUR/kg"
	per := 1.0
	if x.Liquid() {
		want = "4.50 EUR/L"
	}
	text, ok := r.Scalar(v, want)
	if !ok {
		return
	}
	rate, err := quantity.ParseRate(text)
	if err != nil {
		text, _, _ := strings.Cut(err.Error(), "; write for example")
		r.Errorf(v, want, "%s", text)
		return
	}
	switch unit := strings.ToLower(strings.TrimSpace(rate.Per)); {
	case unit == "kg" && !x.Liquid(), unit == "l" && x.Liquid():
	case unit == "kg":
		per = x.Density
	case unit == "g" && !x.Liquid():
		per = 1000
	case unit == "lb" && !x.Liquid():
		per = 1 / 0.45359237 // ThompsonTaylor2008, exact
	default:
		r.Errorf(v, want, "a price for each %q does not fit this product", handwritten.Shortened(rate.Per))
		return
	}
	if p.Currency == "" {
		p.Currency = rate.Currency
	}
	switch {
	case rate.Currency != p.Currency:
		r.Errorf(v, "all prices in "+p.Currency, "the price is in %s", rate.Currency)
	case rate.Amount < 0 || rate.Amount*per > mostPrice:
		r.Errorf(v, want, "%q is no price of a salt", handwritten.Shortened(text))
	default:
		x.Price, x.Priced = rate.Amount*per, true
	}
}

func (r *reader) tank(v handwritten.Value, p *underlamp.FeedPlan) {
	f, _ := r.Mapping(v, "tank")
	p.Litres = handwritten.Given(r.Reader, f.Get("volume"), quantity.Volume, volumeSpan, underlamp.Assumed(usualFullTank, "amounts for 100 L; write the volume of the tank"))
	p.Scale = handwritten.Given(r.Reader, f.Get("scale"), quantity.Mass, scaleSpan, underlamp.Assumed[quantity.Gram](0.1, "a kitchen scale that shows 0.1 g; common practice, no source"))
	if w := f.Get("temperature"); w.Written() {
		p.Water.C, _ = r.Amount(w, quantity.Temperature, waterSpan)
	}
}

func (r *reader) stock(v handwritten.Value, p *underlamp.FeedPlan) {
	if !v.Written() {
		return
	}
	f, ok := r.Mapping(v, "stock")
	if !ok {
		return
	}
	s := &underlamp.FeedStock{Kind: underlamp.TwoTanks, Factor: 100, Litres: 10, C: 15}
	s.Kind = handwritten.Choice(r.Reader, f.Get("kind"), []underlamp.StockKind{underlamp.TwoTanks, underlamp.OneTank, underlamp.DryMix}, nil, s.Kind)
	if w := f.Get("factor"); w.Written() {
		n, _ := r.Whole(w, 2, 1000)
		s.Factor = float64(n)
	}
	if w := f.Get("volume"); w.Written() {
		s.Litres, _ = r.Amount(w, quantity.Volume, volumeSpan)
	}
	if w := f.Get("temperature"); w.Written() {
		x, _ := r.Amount(w, quantity.Temperature, waterSpan)
		s.C = quantity.Celsius(x)
	}
	p.Stock = s
}

func (r *reader) log(v handwritten.Value, p *underlamp.FeedPlan) {
	items, _ := r.List(v, "a list of entries, each with a date and what was read", maxLog, "entries")
	for _, item := range items {
		f, ok := r.Mapping(item, "log[]")
		if !ok {
			continue
		}
		p.Log = append(p.Log, r.entry(item, f, p))
	}
	if r.Problems.HasErrors() {
		return
	}
	slices.SortStableFunc(p.Log, func(a, b underlamp.FeedEntry) int { return strings.Compare(a.Date, b.Date) })
}

func (r *reader) entry(item handwritten.Value, f handwritten.Fields, p *underlamp.FeedPlan) underlamp.FeedEntry {
	e := underlamp.FeedEntry{Line: item.At.Line}
	before := len(r.Problems)
	none := math.NaN()
	e.Litres, e.EC, e.PH, e.C = none, none, none, none
	if e.Date = r.Date(f.Get("date")); !f.Get("date").Written() {
		r.Missing(f.Get("date"), "date: 2026-11-26", "the day")
	}
	read := func(key string, k quantity.Kind, s handwritten.Span, to *float64) {
		if v := f.Get(key); v.Written() {
			if x, ok := r.Amount(v, k, s); ok {
				*to = x
			}
		}
	}
	read("volume", quantity.Volume, leftSpan, &e.Litres)
	read("ec", quantity.Conductivity, ecSpan, &e.EC)
	read("ph", quantity.Acidity, feedPHSpan, &e.PH)
	read("temperature", quantity.Temperature, waterSpan, &e.C)
	if v := f.Get("raw ec"); v.Written() {
		raw := none
		read("raw ec", quantity.Conductivity, ecSpan, &raw)
		switch {
		case f.Get("ec").Written():
			r.Errorf(v, "ec of a meter that brings to 25 °C, raw ec of one that does not", "both are written")
		case math.IsNaN(e.C):
			r.Missing(f.Get("temperature"), "temperature: 21 °C", "the temperature at which the raw EC was read")
		default:
			e.EC = nutrients.ToEC25(raw, e.C)
		}
	}
	read("water", quantity.Volume, leftSpan, &e.Water)
	e.New = r.Yes(f.Get("new"))
	ions, _ := r.Mapping(f.Get("ions"), "log[].ions")
	e.Known, e.Knows = r.ions(ions)
	e.By, _ = r.Words(f.Get("by"), handwritten.MaxName)
	e.Note, _ = r.Words(f.Get("note"), handwritten.MaxNote)
	if v := f.Get("added"); v.Written() {
		r.added(v, &e, p)
	}
	if !math.IsNaN(e.Litres) && e.Litres > p.Litres.Value*1.2 && !p.Litres.IsDefault() {
		r.Warnf(f.Get("volume"), "", "the tank holds %s when it is full", r.Show(quantity.Volume, p.Litres.Value))
	}
	if e.Knows == ([nutrients.Ions]bool{}) && math.IsNaN(e.Litres) && math.IsNaN(e.EC) && math.IsNaN(e.PH) && e.Water == 0 && e.Added == nil && !e.New && !r.Problems[before:].HasErrors() {
		r.Errorf(item, "volume, ec, ph, ions, or what was added", "the entry says nothing that was read or done")
	}
	return e
}

func (r *reader) added(v handwritten.Value, e *underlamp.FeedEntry, p *underlamp.FeedPlan) {
	items, _ := r.List(v, "a list of products with amounts", maxProducts, "products")
	e.Added = make([]float64, len(p.Cupboard))
	for _, item := range items {
		f, ok := r.Mapping(item, "log[].added[]")
		if !ok {
			continue
		}
		name, _ := r.Words(f.Get("product"), handwritten.MaxName)
		k := slices.IndexFunc(p.Cupboard, func(x nutrients.Product) bool {
			return strings.EqualFold(x.Name, name) || x.Substance != nil && strings.EqualFold(x.Substance.Name, name)
		})
		if k < 0 {
			if !r.Problems.HasErrors() {
				var names []string
				for _, x := range p.Cupboard {
					names = append(names, x.Name)
				}
				r.Add(f.Get("product").At, handwritten.Problem{Path: f.Get("product").Path, Message: fmt.Sprintf("the cupboard has no %q", handwritten.Shortened(name)), Want: "a product of the cupboard", Suggest: handwritten.Nearest(name, names)})
			}
			continue
		}
		kind, span, unit := quantity.Mass, gramSpan, 1.0
		if p.Cupboard[k].Liquid() {
			kind, span, unit = quantity.Volume, addedSpan, millilitre
		}
		if x, ok := r.Need(f.Get("amount"), kind, span, "the amount"); ok {
			e.Added[k] += x / unit
		}
	}
}
