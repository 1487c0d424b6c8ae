package draw

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/quantity"
)

// sampleTrialPlan is a block of three units: levels of light, guards at one end.
func sampleTrialPlan(f Frame) TrialPlan {
	p := TrialPlan{Frame: f, Width: 1.8, Depth: 0.6, Walls: [4]Wall{{Label: "white paint, 80 %"}, {Open: true}, {Open: true}, {Label: "white paint, 80 %"}},
		Block: "cycle 01", Treatments: []string{"10 mol", "13 mol", "16 mol"}, Levels: true, Light: "PPFD", Unit: "µmol/m²/s"}
	for k, treatment := range []int{2, 0, 1} {
		x := 0.3 + 0.6*float64(k)
		name := fmt.Sprintf("lamp %d", k+1)
		p.Lamps = append(p.Lamps, Lamp{Name: name, X: quantity.Metre(x), Y: 0.3, Width: 0.26, Depth: 0.26, Round: k == 1})
		u := TrialPlanUnit{Name: fmt.Sprintf("C1-L%d", k+1), Treatment: treatment, Lamp: name, Mean: 173 + 52*float64(treatment), Aim: 174 + 52*float64(treatment), Dimming: "70 %"}
		n := 0
		for j := range 3 {
			for i := range 3 {
				n++
				pl := TrialPlanPlant{Label: fmt.Sprintf("P%d", n), Code: fmt.Sprintf("%s-P%d", u.Name, n), X: quantity.Metre(x + 0.19*float64(i-1)), Y: quantity.Metre(0.1 + 0.2*float64(j)), Crown: 0.07, Value: u.Mean + 4*float64(i-j)}
				if k == 0 && i == 0 {
					pl.Guard = "at the edge of the planting"
				}
				u.Plants = append(u.Plants, pl)
			}
		}
		p.Units = append(p.Units, u)
	}
	return p
}

// Circles lie to scale: the scale bar is 20 cm, neighbours stand 19 cm apart.
func TestTrialPlanToScale(t *testing.T) {
	p := sampleTrialPlan(Frame{ID: "s"})
	pic := p.Draw()
	checkSVG(t, p.Frame, pic)
	circles := regexp.MustCompile(`<circle cx="([0-9.]+)" cy="([0-9.]+)" r="([0-9.]+)"`).FindAllStringSubmatch(pic.SVG, -1)
	bar := regexp.MustCompile(`<path d="M([0-9.]+) [0-9.]+ [0-9.]+ [0-9.]+ ([0-9.]+) [0-9.]+ [0-9.]+ [0-9.]+" class="d-ink-line"`).FindStringSubmatch(pic.SVG)
	if len(circles) < 27 || bar == nil {
		t.Fatalf("%d circles, bar %v", len(circles), bar)
	}
	num := func(s string) (v float64) {
		if _, err := fmt.Sscan(s, &v); err != nil {
			t.Fatal(err)
		}
		return v
	}
	label := regexp.MustCompile(`>([0-9]+) cm<`).FindAllStringSubmatch(pic.SVG, -1)
	metre := (num(bar[2]) - num(bar[1])) / num(label[len(label)-1][1]) * 100
	if got := num(circles[1][1]) - num(circles[0][1]); math.Abs(got-0.19*metre) > 0.3 {
		t.Errorf("19 cm are %g px, the bar says %g", got, 0.19*metre)
	}
	if got := num(circles[0][2]) - num(circles[3][2]); math.Abs(got-0.2*metre) > 0.3 {
		t.Errorf("20 cm deep are %g px, the bar says %g", got, 0.2*metre)
	}
	if len(pic.Table.Rows) != 27 || strings.Count(pic.SVG, ">(P") != 3 || !strings.Contains(pic.Desc, "6 plants that count and 3 guards") {
		t.Errorf("%d rows, desc %q", len(pic.Table.Rows), pic.Desc)
	}
	for _, u := range p.Units { // every unit is named in the picture
		if !strings.Contains(pic.SVG, ">"+u.Name) {
			t.Errorf("%s has no caption", u.Name)
		}
	}
}

func TestTrialPlanHostile(t *testing.T) {
	number := rapid.OneOf(rapid.Float64Range(-1, 500), rapid.SampledFrom([]float64{0, math.NaN(), math.Inf(1), math.MaxFloat64, -math.MaxFloat64}))
	word := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"", "<script>", `"x" & 'y'`, "a\xffb", strings.Repeat("long ", 60)}))
	rapid.Check(t, func(t *rapid.T) {
		f := Frame{ID: "h", Width: rapid.Float64Range(-10, 2000).Draw(t, "width"), Units: quantity.System(rapid.IntRange(0, 1).Draw(t, "system"))}
		metre := func(what string) quantity.Metre { return quantity.Metre(number.Draw(t, what)) }
		lamp := word.Draw(t, "lamp")
		p := TrialPlan{Frame: f, Width: quantity.Metre(rapid.Float64Range(0.01, 20).Draw(t, "W")), Depth: quantity.Metre(rapid.Float64Range(0.01, 20).Draw(t, "D")),
			Lamps: []Lamp{{Name: lamp, X: metre("lx"), Y: metre("ly"), Width: metre("lw"), Depth: metre("ld"), Round: rapid.Bool().Draw(t, "round")}},
			Block: word.Draw(t, "block"), Treatments: rapid.SliceOfN(word, 0, 8).Draw(t, "treatments"), Levels: rapid.Bool().Draw(t, "levels"), Light: word.Draw(t, "light"), Unit: word.Draw(t, "unit"),
			Units: []TrialPlanUnit{{Name: word.Draw(t, "name"), Treatment: rapid.IntRange(-1, 9).Draw(t, "treatment"), Lamp: lamp, Mean: number.Draw(t, "mean"), Dimming: word.Draw(t, "dim"),
				Plants: []TrialPlanPlant{{Label: word.Draw(t, "label"), Code: word.Draw(t, "code"), X: metre("x"), Y: metre("y"), Crown: metre("crown"), Value: number.Draw(t, "value"), Guard: word.Draw(t, "guard")}}}},
		}
		checkSVG(t, f, p.Draw())
	})
	checkSVG(t, Frame{ID: "e"}, TrialPlan{Frame: Frame{ID: "e"}, Width: 1, Depth: 1}.Draw())
}
