package draw

import (
	"math"
	"strings"
	"testing"
)

// sampleSpectrum is the invented lamp: three diodes and a broad phosphor.
func sampleSpectrum(f Frame) Spectrum {
	s := Spectrum{Frame: f, Name: "Hollin bar 42", Unit: "µmol/s for each nm", Bands: []SpectrumBand{
		{"UV", 380, 400, 0.001}, {"blue", 400, 500, 0.16}, {"green", 500, 600, 0.34}, {"red", 600, 700, 0.5}, {"far-red", 700, 800, 0.09}}}
	for nm := 380.0; nm <= 800; nm++ {
		v := 0.0
		for _, p := range [][3]float64{{450, 20, 0.75}, {535, 95, 0.36}, {610, 95, 0.28}, {660, 18, 1.3}, {735, 30, 0.1}} {
			v += p[2] * math.Exp(-4*math.Ln2*math.Pow((nm-p[0])/p[1], 2))
		}
		s.NM, s.Photons = append(s.NM, nm), append(s.Photons, v)
	}
	return s
}

// The twin holds what the picture shows: bands first, then every 10 nm, means of
// straight lines by hand.
func TestSpectrumTable(t *testing.T) {
	p := Spectrum{Frame: Frame{ID: "s"}, Name: "wedge", NM: []float64{400, 420}, Photons: []float64{0, 2},
		Bands: []SpectrumBand{{"blue", 400, 420, 1}, {"none", 500, 600, math.NaN()}}}.Draw()
	want := [][]string{{"blue, 400–420 nm", "1", "100 %"}, {"none, 500–600 nm", "not known", ""}, {"400–410 nm", "0.5", ""}, {"410–420 nm", "1.5", ""}}
	if len(p.Table.Rows) != len(want) {
		t.Fatalf("rows %v", p.Table.Rows)
	}
	for i, row := range want {
		for k, cell := range row {
			if p.Table.Rows[i][k] != cell {
				t.Errorf("row %d: %q, want %q", i, p.Table.Rows[i], row)
			}
		}
	}
	if !strings.Contains(p.Desc, "420 nm") {
		t.Errorf("description %q does not name the peak", p.Desc)
	}
	// No two bands of the picture share a pattern.
	svg := sampleSpectrum(Frame{ID: "s"}).Draw().SVG
	if n := strings.Count(svg, "<pattern "); n != 5 {
		t.Errorf("%d patterns for 5 bands", n)
	}
}
