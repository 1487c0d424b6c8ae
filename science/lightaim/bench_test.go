package lightaim_test

import (
	"fmt"
	"testing"

	"underlamp/science/lightaim"
)

func ExampleProblem_LeastPower() {
	// Three bars over six plants: how far can they be dimmed if every plant shall
	// have 150 µmol/m²/s?
	p := lightaim.Problem{Points: 6, Responses: shelf(3, 6), Lamps: alike(3, lightaim.Lamp{Lower: 0.1, Upper: 1, Step: 0.05, Power: lightaim.Proportional(42)}), Min: fill(6, 150)}
	a, err := p.LeastPower()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f, %.1f W, darkest plant %.0f\n", a.Dim, a.Watt, a.Lowest)
	// Output: [0.90 0.20 0.90], 84.0 W, darkest plant 154
}

func BenchmarkLeastPower(b *testing.B) {
	for _, n := range [][2]int{{3, 18}, {8, 60}, {24, 200}} {
		for _, step := range []float64{0, 0.05} {
			b.Run(fmt.Sprintf("%d lamps, %d plants, step %g", n[0], n[1], step), func(b *testing.B) {
				l := plain
				l.Step = step
				p := lightaim.Problem{Points: n[1], Responses: shelf(n[0], n[1]), Lamps: alike(n[0], l), Min: fill(n[1], 150)}
				b.ReportAllocs()
				for b.Loop() {
					if _, err := p.LeastPower(); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

func BenchmarkMostEven(b *testing.B) {
	p := lightaim.Problem{Points: 60, Responses: shelf(8, 60), Lamps: alike(8, plain), Target: fill(60, 200)}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := p.MostEven(); err != nil {
			b.Fatal(err)
		}
	}
}
