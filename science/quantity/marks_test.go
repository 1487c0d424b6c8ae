package quantity_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/quantity"
)

func TestMarks(t *testing.T) {
	for _, c := range []struct{ in, comma, commaPoint, pointComma string }{
		{"12 345.6 g", "12 345,6 g", "12 345,6 g", "12 345.6 g"}, // a plain space makes two numbers, of which the second has a point
		{"12\u202f345.6 g", "12\u202f345,6 g", "12.345,6 g", "12,345.6 g"},
		{"1\u202f234\u202f567", "1\u202f234\u202f567", "1.234.567", "1,234,567"},
		{"−0.31 EUR/kWh, 2.5–3.1 mS/cm (90.5 %).", "−0,31 EUR/kWh, 2,5–3,1 mS/cm (90,5 %).", "−0,31 EUR/kWh, 2,5–3,1 mS/cm (90,5 %).", "−0.31 EUR/kWh, 2.5–3.1 mS/cm (90.5 %)."},
		{"1.5e-06 and 2.25°", "1,5e-06 and 2,25°", "1,5e-06 and 2,25°", "1.5e-06 and 2.25°"},
		{"192.168.1.9 v1.2 LM-63.2 a/1.5 10.3390/su15010829 15.04.2026 file.1.csv x=1.5 1.5x", "192.168.1.9 v1.2 LM-63.2 a/1.5 10.3390/su15010829 15.04.2026 file.1.csv x=1.5 1.5x", "192.168.1.9 v1.2 LM-63.2 a/1.5 10.3390/su15010829 15.04.2026 file.1.csv x=1.5 1.5x", "192.168.1.9 v1.2 LM-63.2 a/1.5 10.3390/su15010829 15.04.2026 file.1.csv x=1.5 1.5x"},
		{"By day 35. Then 2 g. 2026-10-01", "By day 35. Then 2 g. 2026-10-01", "By day 35. Then 2 g. 2026-10-01", "By day 35. Then 2 g. 2026-10-01"},
		{"ends at 1.5", "ends at 1,5", "ends at 1,5", "ends at 1.5"},
	} {
		for marks, want := range map[quantity.Marks]string{quantity.PointMarks: c.in, quantity.CommaMarks: c.comma, quantity.CommaPointMarks: c.commaPoint, quantity.PointCommaMarks: c.pointComma} {
			if got := marks.Text(c.in); got != want {
				t.Errorf("%+v: %q gives %q, want %q", marks, c.in, got, want)
			}
		}
	}
}

// Whatever is printed comes out with the marks asked for, and its digits stay.
func TestMarksOfAnyNumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(-1e9, 1e9).Draw(t, "v")
		printed := quantity.Number(v, rapid.IntRange(1, 9).Draw(t, "digits"))
		if rapid.Bool().Draw(t, "fixed") {
			printed = quantity.Fixed(v, rapid.IntRange(0, 4).Draw(t, "decimals"))
		}
		want := strings.NewReplacer(".", ",", "\u202f", ".").Replace(printed)
		if got := quantity.CommaPointMarks.Text("about " + printed + " g."); got != "about "+want+" g." {
			t.Fatalf("%q gives %q", printed, got)
		}
	})
}
