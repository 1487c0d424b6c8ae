package photometricfile_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"underlamp/formats/photometricfile"
	"underlamp/science/photometry"
	"underlamp/science/quantity"
)

// Any text gives a lamp that can be used, or an error with a sentence; never a
// panic, never a number that is none.
func FuzzRead(f *testing.F) {
	a, b := cosineLamp(), cosineLamp()
	b.tag, b.kind, b.vertical, b.planes, b.cd = "IESNA91", 2, []float64{-90, 0, 90}, []float64{0, 90}, []float64{0, 100, 0, 0, 0, 0}
	c := cosineLamp()
	c.tilt, c.w, c.l, c.h = "INCLUDE\n1\n2\n0 90\n1 0.9", -0.3, 1.2, -0.3
	d, e := cosineTube(), cosineTube()
	e.symmetry, e.planes, e.values = 4, []float64{0, 90, 180, 270}, []float64{1, 2, 3, 4, 5, 6}
	for _, s := range []string{a.text(), b.text(), c.text(), d.text(), e.text(), "\xff\xfeI\x00", "TILT="} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 1<<16 {
			return
		}
		file, err := photometricfile.Read(strings.NewReader(string(data)))
		if err != nil {
			var e *photometricfile.Error
			if !errors.As(err, &e) || e.Reason == "" || e.Line < 0 || e.Line > 2+strings.Count(string(data), "\n")+strings.Count(string(data), "\r") {
				t.Fatalf("error without a place or a reason: %#v", err)
			}
			return
		}
		w := file.Web
		flux := w.Flux()
		if !(flux > 0) || math.IsInf(flux, 0) || math.Abs(w.Down()+w.Up()-flux) > 1e-9*flux {
			t.Fatalf("flux %v, down %v, up %v", flux, w.Down(), w.Up())
		}
		for _, x := range []float64{0, 0.3, 1.5, 2, 3.1, 5, -9} {
			if v := w.Relative(x, x/2); !(v >= 0) {
				t.Fatalf("Relative(%v) is %v", x, v)
			}
			if v := w.At(quantity.Degree(100*x), quantity.Degree(30*x)); !(v >= 0) {
				t.Fatalf("At(%v) is %v", x, v)
			}
		}
		b := w.BeamAngle()
		if !(b.Mean >= 0 && b.Mean <= 360) {
			t.Fatalf("beam %v", b)
		}
		o := file.Opening
		if !(o.AlongC0 >= 0 && o.AlongC90 >= 0 && o.Height >= 0) {
			t.Fatalf("opening %v", o)
		}
		for _, n := range file.Notes {
			if n.Text == "" {
				t.Fatal("an empty note")
			}
		}
	})
}

// A lamp written as LM-63 reads back the same, however its numbers are broken
// into lines.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var tab photometry.Table
		tab.Symmetry = rapid.SampledFrom([]photometry.Symmetry{photometry.NoSymmetry, photometry.Axial, photometry.Quadrant, photometry.Bilateral0, photometry.Bilateral90}).Draw(rt, "symmetry")
		span := map[photometry.Symmetry][2]float64{photometry.NoSymmetry: {0, 360}, photometry.Quadrant: {0, 90}, photometry.Bilateral0: {0, 180}, photometry.Bilateral90: {90, 270}}[tab.Symmetry]
		n := rapid.IntRange(1, 9).Draw(rt, "planes")
		for i := 0; i <= n; i++ {
			tab.PlanesDeg = append(tab.PlanesDeg, span[0]+(span[1]-span[0])*float64(i)/float64(n))
		}
		if tab.Symmetry == photometry.Axial {
			tab.PlanesDeg = []float64{0}
		}
		last := rapid.SampledFrom([]float64{90, 180}).Draw(rt, "last")
		for g := 0.0; g < last; g += rapid.Float64Range(0.5, 40).Draw(rt, "step") {
			tab.GammasDeg = append(tab.GammasDeg, math.Round(100*g)/100)
		}
		tab.GammasDeg = append(tab.GammasDeg[:max(1, len(tab.GammasDeg)-1)], last)
		for range len(tab.PlanesDeg) * len(tab.GammasDeg) {
			tab.Candela = append(tab.Candela, rapid.Float64Range(0, 1e5).Draw(rt, "cd")+1)
		}
		l := cosineLamp()
		l.vertical, l.planes, l.cd = tab.GammasDeg, tab.PlanesDeg, tab.Candela
		l.mult = rapid.Float64Range(0.01, 100).Draw(rt, "multiplier")
		text := l.text()
		head, body, _ := strings.Cut(text, "TILT=NONE\n")
		words := strings.Fields(body)
		var b strings.Builder
		for _, w := range words {
			b.WriteString(w + rapid.SampledFrom([]string{" ", "\n", ", ", "\r\n", "  \t"}).Draw(rt, "separator"))
		}
		f, err := photometricfile.Read(strings.NewReader(head + "TILT=NONE\n" + b.String()))
		if err != nil {
			rt.Fatal(err)
		}
		want, err := photometry.NewWeb(tab)
		if err != nil {
			rt.Fatal(err)
		}
		if f.Symmetry != tab.Symmetry || fmt.Sprint(f.Web.PlanesDeg(), f.Web.GammasDeg()) != fmt.Sprint(want.PlanesDeg(), want.GammasDeg()) {
			rt.Fatalf("%v, %v %v", f.Symmetry, f.Web.PlanesDeg(), f.Web.GammasDeg())
		}
		for _, c := range []quantity.Degree{0, 17, 133, 271} {
			for _, g := range []quantity.Degree{0, 31, 77, 90, 140} {
				if got, w := f.Web.At(c, g), l.mult*want.At(c, g); math.Abs(got-w) > 1e-9*w {
					rt.Fatalf("toward %v, %v: %v, want %v", c, g, got, w)
				}
			}
		}
	})
}

func BenchmarkRead(b *testing.B) {
	l := cosineLamp()
	l.vertical, l.planes, l.cd = nil, nil, nil
	for g := 0.0; g <= 180; g++ {
		l.vertical = append(l.vertical, g)
	}
	for c := 0.0; c <= 360; c += 5 {
		l.planes = append(l.planes, c)
	}
	for i := range len(l.vertical) * len(l.planes) {
		l.cd = append(l.cd, 100+float64(i%7))
	}
	text := l.text()
	b.Run("73 planes of 181 angles", func(b *testing.B) {
		b.ReportAllocs()
		b.SetBytes(int64(len(text)))
		for range b.N {
			if _, err := photometricfile.Read(strings.NewReader(text)); err != nil {
				b.Fatal(err)
			}
		}
	})
}
