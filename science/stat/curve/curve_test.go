package curve_test

import (
	"fmt"
	"math"
	"testing"

	"underlamp/internal/rset"
	"underlamp/science/stat"
	"underlamp/science/stat/curve"
)

var exp = math.Exp

// The curves of the NIST sets, as printed in their files.
var nist = map[string]curve.Function{
	"misra1a":  func(x float64, b []float64) float64 { return b[0] * (1 - exp(-b[1]*x)) },
	"misra1b":  func(x float64, b []float64) float64 { return b[0] * (1 - math.Pow(1+b[1]*x/2, -2)) },
	"misra1c":  func(x float64, b []float64) float64 { return b[0] * (1 - math.Pow(1+2*b[1]*x, -0.5)) },
	"boxbod":   func(x float64, b []float64) float64 { return b[0] * (1 - exp(-b[1]*x)) },
	"chwirut2": func(x float64, b []float64) float64 { return exp(-b[0]*x) / (b[1] + b[2]*x) },
	"danwood":  func(x float64, b []float64) float64 { return b[0] * math.Pow(x, b[1]) },
	"eckerle4": func(x float64, b []float64) float64 { return b[0] / b[1] * exp(-0.5*(x-b[2])*(x-b[2])/b[1]/b[1]) },
	"gauss1": func(x float64, b []float64) float64 {
		return b[0]*exp(-b[1]*x) + b[2]*exp(-(x-b[3])*(x-b[3])/b[4]/b[4]) + b[5]*exp(-(x-b[6])*(x-b[6])/b[7]/b[7])
	},
	"hahn1":   cubic,
	"thurber": cubic,
	"kirby2": func(x float64, b []float64) float64 {
		return (b[0] + b[1]*x + b[2]*x*x) / (1 + b[3]*x + b[4]*x*x)
	},
	"lanczos3": func(x float64, b []float64) float64 {
		return b[0]*exp(-b[1]*x) + b[2]*exp(-b[3]*x) + b[4]*exp(-b[5]*x)
	},
	"mgh09":    func(x float64, b []float64) float64 { return b[0] * (x*x + x*b[1]) / (x*x + x*b[2] + b[3]) },
	"mgh17":    func(x float64, b []float64) float64 { return b[0] + b[1]*exp(-x*b[3]) + b[2]*exp(-x*b[4]) },
	"rat42":    func(x float64, b []float64) float64 { return b[0] / (1 + exp(b[1]-b[2]*x)) },
	"rat43":    func(x float64, b []float64) float64 { return b[0] / math.Pow(1+exp(b[1]-b[2]*x), 1/b[3]) },
	"roszman1": func(x float64, b []float64) float64 { return b[0] - b[1]*x - math.Atan(b[2]/(x-b[3]))/math.Pi },
}

func cubic(x float64, b []float64) float64 {
	return (b[0] + x*(b[1]+x*(b[2]+x*b[3]))) / (1 + x*(b[4]+x*(b[5]+x*b[6])))
}

// NIST Statistical Reference Datasets, nonlinear regression, certified values: reached
// from the near start; from the far one they are reached or the fit is refused, and a
// wrong answer is neither.
func TestNIST(t *testing.T) {
	far := 0
	for id, f := range nist {
		c := rset.Load(t, "nist-nls-"+id)
		d := c.Table()
		x, y := d.Numbers("x"), d.Numbers("y")
		var want, sd, start1, start2 []float64
		var names []string
		for i := range c.Result["parameters"].([]any) {
			p := fmt.Sprintf("parameters/%d/", i)
			want, sd = append(want, c.Number(p+"value")), append(sd, c.Number(p+"sd"))
			start1, start2 = append(start1, c.Number(p+"start1")), append(start2, c.Number(p+"start2"))
			names = append(names, fmt.Sprintf("b%d", i+1))
		}
		check := func(start string, fit *curve.Fit) {
			for i := range want {
				what := fmt.Sprintf("%s %s from start %s", id, names[i], start)
				rset.Near(t, what, fit.Coef[i], want[i], 1e-6, 0)
				rset.Near(t, what+", SD", math.Sqrt(fit.Cov[i][i]), sd[i], 1e-4, 0)
			}
			rset.Near(t, id+" RSS", fit.RSS, c.Number("rss"), 1e-6, 0)
		}
		fit, err := curve.Least(f, names, x, y, start2, nil, nil)
		if err != nil {
			t.Errorf("%s from the near start: %v", id, err)
			continue
		}
		check("2", fit)
		fit, err = curve.Least(f, names, x, y, start1, nil, nil)
		switch {
		case err == nil:
			check("1", fit)
			far++
		case stat.Refused(err) == nil:
			t.Errorf("%s: %v", id, err)
		default:
			t.Logf("%s from the far start: %v", id, err)
		}
	}
	t.Logf("%d of %d reached from the far start", far, len(nist))
}

// Treloar (1974), Puromycin: R 4.2.2 nls; its profile limits are interpolated, good to 1e-3.
func TestPuromycin(t *testing.T) {
	c := rset.Load(t, "nls-puromycin")
	d := c.Table()
	var x, y []float64
	for i, s := range d.Text("state") {
		if s == "treated" {
			x, y = append(x, d.Numbers("conc")[i]), append(y, d.Numbers("rate")[i])
		}
	}
	r, err := curve.FitForm(curve.Hyperbola, x, y, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	for k, e := range r.Estimates(0.95) {
		row := c.Matrix("coef/values")[k]
		rset.Near(t, "estimate", e.Value, row[0], 1e-6, 0)
		rset.Near(t, "SE", e.SE, row[1], 1e-6, 0)
		rset.Near(t, "p", e.P, row[3], 1e-4, 1e-12)
		w := c.Matrix("wald95/values")[k]
		rset.Near(t, "Wald", e.Interval.Lower, w[0], 1e-6, 0)
		p := r.Profile(k, 0.95)
		q := c.Matrix("profile95/values")[k]
		rset.Near(t, "profile lower", p.Lower, q[0], 1e-3, 0)
		rset.Near(t, "profile upper", p.Upper, q[1], 1e-3, 0)
	}
	rset.Near(t, "RSS", r.RSS, c.Number("sigma_rss/rss"), 1e-9, 0)
	rset.Near(t, "AICc", r.AICc, c.Number("aicc"), 1e-9, 0)
	at := r.At(0.3, 0.95)
	rset.Near(t, "curve", at.Value, c.Number("predict_ci_at_0.3/fit"), 1e-7, 0)
	rset.Near(t, "its limit", at.Interval.Lower, c.Number("predict_ci_at_0.3/lower"), 1e-6, 0)
}

// Means of the CO2 data (Potvin, Lechowicz and Tardif 1990): four forms, of which the
// hyperbola with an offset is not identified and must say so.
func TestForms(t *testing.T) {
	c := rset.Load(t, "nls-lightcurve-forms")
	x, y := c.Numbers("means/conc"), c.Numbers("means/uptake")
	m, err := curve.FitForm(curve.Mitscherlich, x, y, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	for k, row := range c.Matrix("mitscherlich/coef/values") {
		rset.Near(t, "Mitscherlich", m.Coef[k], row[0], 1e-5, 0)
		rset.Near(t, "SE", math.Sqrt(m.Cov[k][k]), row[1], 1e-5, 0)
		p := m.Profile(k, 0.95)
		q := c.Matrix("mitscherlich/profile95/values")[k]
		rset.Near(t, "profile lower", p.Lower, q[0], 1e-3, 0)
		rset.Near(t, "profile upper", p.Upper, q[1], 1e-3, 0)
	}
	rset.Near(t, "Mitscherlich AICc", m.AICc, c.Number("mitscherlich/aicc"), 1e-8, 0)
	n, err := curve.FitForm(curve.NonRectangular, x, y, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	for k, name := range []string{"Pm", "a", "th", "R"} {
		rset.Near(t, "non-rectangular "+name, n.Coef[k], c.Number("nonrect_hyperbola/coef/"+name), 1e-4, 0)
	}
	rset.Near(t, "non-rectangular RSS", n.RSS, c.Number("nonrect_hyperbola/rss"), 1e-7, 0)
	q, err := curve.FitForm(curve.Parabola, x, y, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "parabola RSS", q.RSS, c.Number("quadratic/rss"), 1e-9, 0)
	rset.Near(t, "parabola AICc", q.AICc, c.Number("quadratic/aicc"), 1e-9, 0)
	h, err := curve.FitForm(curve.ShiftedHyperbola, x, y, 0.95)
	if err == nil {
		if len(h.Unidentified) == 0 {
			t.Errorf("hyperbola with offset: %v is said to be identified", h.Coef)
		}
		rset.Near(t, "hyperbola RSS", h.RSS, c.Number("rect_hyperbola_not_identified/rss"), 1e-4, 0)
	} else if stat.Refused(err) == nil {
		t.Error(err)
	}
	all, err := curve.Compare(x, y, 0.95, curve.Forms...)
	if err != nil {
		t.Fatal(err)
	}
	if all[0].Form != curve.Mitscherlich || !all[0].Near || all[0].Delta != 0 {
		t.Errorf("best %+v", all[0])
	}
	for _, k := range all {
		if k.Form == curve.ShiftedHyperbola && (k.Counts || k.Refused == nil) {
			t.Errorf("hyperbola with offset has a weight: %+v", k)
		}
	}
}

// The widely reprinted teaching example of segmented regression: join 12.7477, plateau
// 0.7775; profile limits by R 4.2.2. And the lamp means of the synthetic trial.
func TestPlateau(t *testing.T) {
	c := rset.Load(t, "plateau-segmented")
	d := c.Table()
	x, y := d.Numbers("x"), d.Numbers("y")
	for path, v := range map[string]struct {
		form  curve.Form
		level float64
	}{"quadratic_plateau_95": {curve.QuadraticPlateau, 0.95}, "quadratic_plateau_90": {curve.QuadraticPlateau, 0.90}, "linear_plateau_95": {curve.LinearPlateau, 0.95}} {
		r, err := curve.FitForm(v.form, x, y, v.level)
		if err != nil {
			t.Fatal(err)
		}
		// The place of a minimum is known to the root of the precision.
		rset.Near(t, path+" join", r.Coef[2], c.Number(path+"/join"), 1e-6, 0)
		rset.Near(t, path+" plateau", r.Coef[0], c.Number(path+"/plateau"), 1e-7, 0)
		rset.Near(t, path+" RSS", r.RSS, c.Number(path+"/sse"), 1e-9, 0)
		rset.Near(t, path+" AICc", r.AICc, c.Number(path+"/aicc"), 1e-9, 0)
		rset.Near(t, path+" lower", r.Join.Lower, c.Number(path+"/join_profile_ci/0"), 1e-7, 0)
		rset.Near(t, path+" upper", r.Join.Upper, c.Number(path+"/join_profile_ci/1"), 1e-7, 0)
	}
	r, err := curve.FitForm(curve.QuadraticPlateau, x, y, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "printed join", r.Coef[2], 12.7477, 0, 5e-5)
	rset.Near(t, "printed plateau", r.Coef[0], 0.7775, 0, 5e-5)

	c = rset.Load(t, "lamp-a-mass")
	r, err = curve.FitForm(curve.QuadraticPlateau, c.Numbers("unit_means/dli"), c.Numbers("unit_means/m"), 0.90)
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "join", r.Coef[2], c.Number("quadratic_plateau_means_90/join"), 1e-6, 0)
	rset.Near(t, "join lower", r.Join.Lower, c.Number("quadratic_plateau_means_90/join_profile_ci/0"), 1e-7, 0)
	rset.Near(t, "join upper", r.Join.Upper, c.Number("quadratic_plateau_means_90/join_profile_ci/1"), 1e-7, 0)
	m, err := curve.FitForm(curve.Mitscherlich, c.Numbers("unit_means/dli"), c.Numbers("unit_means/m"), 0.90)
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "Mitscherlich RSS", m.RSS, c.Number("mitscherlich_means/rss"), 1e-8, 0)
}

// With a shift for each run: base R 4.2.2 on the same unit means, nls with sum contrasts of the
// runs as linear terms, and the join profiled by lm with runs; the parabola in the reference case.
func TestInBlocks(t *testing.T) {
	c := rset.Load(t, "lamp-a-mass")
	x, y := c.Numbers("unit_means/dli"), c.Numbers("unit_means/m")
	run := stat.NewFactor("run", c.Words("unit_means/run"))
	q, err := curve.InBlocks(curve.Parabola, x, y, run, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	for k, row := range map[int]int{1: 4, 2: 5} {
		rset.Near(t, "parabola", q.Coef[k], c.Matrix("quadratic_on_means/values")[row][0], 1e-8, 0)
		rset.Near(t, "its SE", math.Sqrt(q.Cov[k][k]), c.Matrix("quadratic_on_means/values")[row][1], 1e-7, 0)
	}
	m, err := curve.InBlocks(curve.Mitscherlich, x, y, run, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "A", m.Coef[0], 175.377204703665, 1e-6, 0)
	rset.Near(t, "SE of A", math.Sqrt(m.Cov[0][0]), 5.9378695496071, 1e-6, 0)
	rset.Near(t, "SE of k", math.Sqrt(m.Cov[1][1]), 0.0806909318258, 1e-6, 0)
	rset.Near(t, "RSS", m.RSS, 1413.91412138, 1e-9, 0)
	rset.Near(t, "AICc", m.AICc, 186.934568308, 1e-9, 0)
	if m.DF != 18 {
		t.Errorf("%d degrees of freedom", m.DF)
	}
	p, err := curve.InBlocks(curve.QuadraticPlateau, x, y, run, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	rset.Near(t, "join", p.Coef[2], 19.2032079837, 1e-6, 0)
	rset.Near(t, "RSS", p.RSS, 1324.71752595, 1e-9, 0)
	rset.Near(t, "join lower", p.Join.Lower, 16.1765372064, 1e-8, 0)
	rset.Near(t, "join upper", p.Join.Upper, 25.4019585763, 1e-8, 0)
	all, err := curve.CompareInBlocks(x, y, run, 0.9, curve.Forms...)
	if err != nil || !all[0].Counts {
		t.Errorf("%v %+v", err, all)
	}
}

// Runs that hold different doses, one unit lost: base R 4.2.2 on the unit means of the made trial
// with the doses moved as below. Parabola by lm with sum contrasts of the runs; Mitscherlich with k
// by optimize and the rest by lm, its errors from the slopes; joins and the doses for 95 % of the most
// by profile with .lm.fit and uniroot (optimize stops near 1e-8).
func TestInUnevenBlocks(t *testing.T) {
	c := rset.Load(t, "lamp-a-mass")
	x, y, runs := c.Numbers("unit_means/dli"), c.Numbers("unit_means/m"), c.Words("unit_means/run")
	for i := range x {
		x[i] += 0.3 * float64((i+1)*7%5-2) / 2
	}
	x, y, run := x[1:], y[1:], stat.NewFactor("run", runs[1:])
	fit := func(f curve.Form) *curve.Response {
		r, err := curve.InBlocks(f, x, y, run, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	reach := func(r *curve.Response, at, lower, upper float64) {
		got, in, err := r.Reach(0.95, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		rset.Near(t, r.Form.String()+", 95 % of the most", got, at, 1e-6, 0)
		rset.Near(t, r.Form.String()+", its lower limit", in.Lower, lower, 1e-4, 0)
		rset.Near(t, r.Form.String()+", its upper limit", in.Upper, upper, 1e-4, 0)
	}
	q := fit(curve.Parabola)
	for k, want := range []float64{63.768340726405228, 11.043180895930982, -0.279427399902154} {
		rset.Near(t, "parabola", q.Coef[k], want, 1e-6, 0)
		rset.Near(t, "its SE", math.Sqrt(q.Cov[k][k]), []float64{17.6544502752085855, 2.4344278068727596, 0.0774508580385122}[k], 1e-6, 0)
	}
	rset.Near(t, "RSS", q.RSS, 1219.98941269888, 1e-9, 0)
	reach(q, 14.1985271608776, 13.1400913604729, 16.3638064712616)
	m := fit(curve.Mitscherlich)
	for k, want := range []float64{173.604834644642409, 0.232753954883239, 1.706249190741152} {
		rset.Near(t, "Mitscherlich", m.Coef[k], want, 1e-6, 0)
		rset.Near(t, "its SE", math.Sqrt(m.Cov[k][k]), []float64{4.6211687848062031, 0.0919535707819089, 2.4012443082259964}[k], 1e-5, 0)
	}
	rset.Near(t, "RSS", m.RSS, 1268.67790530321, 1e-9, 0)
	reach(m, 14.5770606665625, 11.3011209596862, 23.4074407610723)
	for _, w := range []struct {
		form                               curve.Form
		join, rss, lower, upper, top, rise float64
	}{
		{curve.LinearPlateau, 15.946839924964, 1151.63037306217, 14.1872111375339, 17.7706991674323, 171.639880953679, 4.5776511982188},
		{curve.QuadraticPlateau, 18.5519630011828, 1192.17634562264, 15.5454291856118, 23.3709709392166, 171.211422365939, -0.336985676807997},
	} {
		p := fit(w.form)
		rset.Near(t, "join", p.Coef[2], w.join, 1e-6, 0)
		rset.Near(t, "plateau", p.Coef[0], w.top, 1e-6, 0)
		rset.Near(t, "rise", p.Coef[1], w.rise, 1e-6, 0)
		rset.Near(t, "RSS", p.RSS, w.rss, 1e-9, 0)
		rset.Near(t, "join lower", p.Join.Lower, w.lower, 1e-6, 0)
		rset.Near(t, "join upper", p.Join.Upper, w.upper, 1e-6, 0)
		if p.DF != 17 {
			t.Errorf("%d degrees of freedom", p.DF)
		}
	}
	reach(fit(curve.LinearPlateau), 14.0720806486296, 12.6582467074367, 15.4794700649646)
}

// The dose that is told reaches the share of what the form levels off to.
func TestReachIsOnTheCurve(t *testing.T) {
	var x, y []float64
	for i, v := range []float64{2, 4, 7, 10, 14, 18, 23, 30} {
		for k := range 3 {
			x = append(x, v)
			y = append(y, 200*v/(6+v)*(1+0.01*float64((i*5+k*3)%7-3)))
		}
	}
	for form, most := range map[curve.Form]func(b []float64) float64{
		curve.Hyperbola:        func(b []float64) float64 { return b[0] },
		curve.Mitscherlich:     func(b []float64) float64 { return b[0] },
		curve.ShiftedHyperbola: func(b []float64) float64 { return b[0] - b[2] },
		curve.NonRectangular:   func(b []float64) float64 { return b[0] - b[3] },
		curve.QuadraticPlateau: func(b []float64) float64 { return b[0] },
		curve.LinearPlateau:    func(b []float64) float64 { return b[0] },
		curve.Parabola:         func(b []float64) float64 { return b[0] - b[1]*b[1]/(4*b[2]) },
	} {
		r, err := curve.FitForm(form, x, y, 0.9)
		if form == curve.NonRectangular && stat.Refused(err) != nil {
			continue // these values are a rectangular one, so its bend has no end
		}
		if err != nil {
			t.Fatalf("%s: %v", form, err)
		}
		at, in, err := r.Reach(0.9, 0.9)
		if err != nil {
			t.Fatalf("%s: %v", form, err)
		}
		rset.Near(t, form.String(), form.Value(at, r.Coef), 0.9*most(r.Coef), 1e-9, 0)
		if !in.Holds(at) {
			t.Errorf("%s: %v outside %+v", form, at, in)
		}
	}
	r, err := curve.FitForm(curve.Parabola, []float64{1, 2, 3, 4, 5}, []float64{1, 2.1, 4.2, 8, 16}, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := r.Reach(0.9, 0.9); stat.Refused(err) == nil {
		t.Errorf("a parabola without a top: %v", err)
	}
}

// A straight line has no plateau, and few levels carry no curve.
func TestRefusals(t *testing.T) {
	x := []float64{8, 11, 14, 17, 20, 23}
	if _, err := curve.FitForm(curve.NonRectangular, x[:4], []float64{1, 2, 3, 3.5}, 0.9); stat.Refused(err) == nil {
		t.Errorf("four levels for four parameters: %v", err)
	}
	if _, err := curve.FitForm(curve.Mitscherlich, x, []float64{2, 2, 2, 2, 2, 2}, 0.9); stat.Refused(err) == nil {
		t.Errorf("flat: %v", err)
	}
	r, err := curve.FitForm(curve.LinearPlateau, x, []float64{8.1, 10.9, 14.2, 16.9, 20.1, 22.8}, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Unidentified) == 0 || r.Join.Bounded() {
		t.Errorf("a straight line: join %v, limits %+v", r.Coef[2], r.Join)
	}
	for _, f := range curve.Forms {
		r, err := curve.FitForm(f, x, []float64{8, 11, 14, 17, 20, 23}, 0.9)
		if err != nil {
			if stat.Refused(err) == nil {
				t.Errorf("%s: %v", f, err)
			}
			continue
		}
		for _, b := range append(append([]float64(nil), r.Coef...), r.RSS) {
			if math.IsNaN(b) {
				t.Errorf("%s of an exact line: %v", f, r.Coef)
			}
		}
	}
}
