package feed_test

import (
	"math"
	"strings"
	"testing"

	"underlamp"
	"underlamp/app/feed"
	"underlamp/demo"
	"underlamp/formats/feedfile"
	"underlamp/science/nutrients"
)

func rack(t testing.TB) *underlamp.FeedPlan {
	t.Helper()
	p, problems, err := feedfile.Read(strings.NewReader(string(demo.File("rack.feed.yaml"))))
	if err != nil || p == nil {
		t.Fatal(problems, err)
	}
	return p
}

// What is shown is of what is weighed: the lines make the ions, and rounding moves none of them
// by more than a fortieth.
func TestWhatIsWeighedIsWhatIsShown(t *testing.T) {
	p := rack(t)
	p.Stock = nil
	a := feed.Mix(p)
	var sum nutrients.Amounts
	for _, l := range a.Lines {
		ions, _ := l.Product.Contents()
		sum = sum.Plus(l.Amount/a.Litres, ions)
		if l.Exact > 0 && math.Abs(l.Amount/l.Exact-1) > 0.026 {
			t.Errorf("%s: %v for %v", l.Product.Name, l.Amount, l.Exact)
		}
		if l.MicroGrams > 0 && math.Abs(l.MicroGrams*l.MicroML/1000-l.Amount) > 1e-9 {
			t.Errorf("%s: %v mL of %v g/L are not %v g", l.Product.Name, l.MicroML, l.MicroGrams, l.Amount)
		}
	}
	for _, r := range a.Rows {
		if want := sum[r.Ion] + p.Water.Ions[r.Ion]; math.Abs(r.Got-want) > 1e-9 {
			t.Errorf("%s: shown %v, weighed %v", r.Ion, r.Got, want)
		}
	}
	if c := feed.Correct(p, feed.Ask{Litres: 80, EC: 1.4, PH: 6.8, C: 20}); len(c.Lines) == 0 || len(c.Cautions) == 0 {
		t.Errorf("a correction with %d lines has %d cautions", len(c.Lines), len(c.Cautions))
	}
	if len(a.Cautions) != 3 {
		t.Errorf("cautions for nitric acid and nitrates: %q", a.Cautions)
	}
	if !strings.Contains(strings.Join(a.Notes, " "), "from memory") {
		t.Errorf("the recipe is from memory and the notes do not say so: %q", a.Notes)
	}
}

// The grams of a mix, given back, are the mix.
func TestWeighedGoesBack(t *testing.T) {
	p := rack(t)
	p.Stock = nil
	a := feed.Mix(p)
	var parts []string
	for _, l := range a.Lines {
		parts = append(parts, l.Product.Name+" "+strings.ReplaceAll(strings.ReplaceAll(feed.AmountText(l.Amount, l.Product.Unit()), "\u2009", ""), ",", ""))
	}
	amounts, err := feed.ParseWeighed(p, strings.Join(parts, ", "))
	if err != nil {
		t.Fatal(err)
	}
	b := feed.Weighed(p, amounts, a.Litres)
	if d := b.Mix.Reading.EC/a.Mix.Reading.EC - 1; math.Abs(d) > 0.002 {
		t.Errorf("EC %v, of the mix %v", b.Mix.Reading.EC, a.Mix.Reading.EC)
	}
	for _, bad := range []string{"", "gunpowder 3 g", "potassium nitrate 3 mL", "potassium nitrate"} {
		if _, err := feed.ParseWeighed(p, bad); err == nil {
			t.Errorf("%q was read", bad)
		}
	}
}

func TestCorrectAndDrift(t *testing.T) {
	p := rack(t)
	last := p.Log[len(p.Log)-1]
	a := feed.Correct(p, feed.AskOf(last))
	if a.Replace || math.Abs(a.Water-25) > 1e-9 || len(a.Lines) == 0 {
		t.Errorf("%+v", a.Do)
	}
	bad := feed.Unread()
	bad.Litres, bad.EC, bad.PH = 100, 2.4, 6.5
	bad.Known[nutrients.Sodium], bad.Knows[nutrients.Sodium] = 12, true
	if a = feed.Correct(p, bad); !a.Replace || len(a.Lines) > 0 {
		t.Errorf("sodium of 276 mg/L, and the tank stays: %q", a.Do)
	}
	d := feed.Drift(p)
	// 120 → 104, 120 → 101, 120 → 98, 120 → 95 L in 16 days.
	if math.Abs(d.PerDay-82.0/16) > 1e-9 {
		t.Errorf("%v L a day", d.PerDay)
	}
	_, rows := feed.Check(p)
	if len(rows) < 6 {
		t.Errorf("%d checks", len(rows))
	}
}
