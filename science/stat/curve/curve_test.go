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
	if _, err := curve.InBlocks(curve.Parabola, x[1:], y[1:], stat.NewFactor("run", c.Words("unit_means/run")[1:]), 0.9); stat.Refused(err) == nil {
		t.Errorf("a dose missing in one run: %v", err)
	}
	all, err := curve.CompareInBlocks(x, y, run, 0.9, curve.Forms...)
	if err != nil || !all[0].Counts {
		t.Errorf("%v %+v", err, all)
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
