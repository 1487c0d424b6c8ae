package draw

import (
	"fmt"
	"math"
)

// Invented plants of the pictures of a trial.

func sampleShares(f Frame) Shares {
	s := Shares{Frame: f, Name: "Plants by grade of burn", Class: "grade", Classes: []string{"0", "1", "2", "3"}}
	for g, counts := range [][]int{{16, 0, 0, 0}, {13, 2, 1, 0}, {6, 5, 3, 2}} {
		x := ShareGroup{ShareRow: ShareRow{fmt.Sprintf("%d mol", 10+5*g), counts}}
		for u := range 2 {
			r := ShareRow{Name: fmt.Sprintf("C%d-L%d", u+1, g+1)}
			for _, n := range counts {
				r.Counts = append(r.Counts, (n+u)/2)
			}
			x.Rows = append(x.Rows, r)
		}
		s.Groups = append(s.Groups, x)
	}
	return s
}

func sampleOnsets(f Frame) Onsets {
	o := Onsets{Frame: f, Name: "Share of plants with burn", XName: "day", Until: 30}
	never := math.Inf(1)
	for g, m := range []OnsetGroup{
		{Name: "10 mol", Left: []float64{24, 30}, Right: []float64{27, never}, Mass: []float64{0.25, 0.75}},
		{Name: "20 mol", Left: []float64{12, 21, 27, 30}, Right: []float64{15, 24, 30, never}, Mass: []float64{0.25, 0.25, 0.25, 0.25}},
	} {
		for i := range 4 {
			p := OnsetMark{Name: fmt.Sprintf("P%d", i+1), Last: 30, First: never}
			if k := i; g == 1 && k < 3 || k == 0 {
				p.Last, p.First = m.Left[min(k, len(m.Left)-2)], m.Right[min(k, len(m.Left)-2)]
			}
			m.Plants = append(m.Plants, p)
		}
		for d := range 31 {
			m.Model = append(m.Model, Dot{X: float64(d), Y: 1 - math.Exp(-math.Pow(float64(d)/(36-8*float64(g)), 3))})
		}
		o.Groups = append(o.Groups, m)
	}
	return o
}
