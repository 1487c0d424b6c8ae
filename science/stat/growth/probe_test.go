package growth

import (
	"fmt"
	"testing"
	"time"
	"math/rand/v2"
	"math"

	"underlamp/internal/rset"
)
var _ = rset.Load

func TestProbe(t *testing.T) {
	tab := rset.ReadTable(t, "Loblolly.csv")
	by := map[string]*Subject{}
	var order []string
	h, a := tab.Numbers("height"), tab.Numbers("age")
	for i, s := range tab.Text("Seed") {
		if by[s] == nil { by[s] = &Subject{Unit: len(order)}; order = append(order, s) }
		by[s].T = append(by[s].T, a[i]); by[s].Sizes = append(by[s].Sizes, h[i])
	}
	var sub []Subject
	for _, s := range order { sub = append(sub, *by[s]) }
	m, err := FitMany(Model{Gompertz, Constant}, sub, Random{Of: []bool{true}}, Random{})
	fmt.Println(m, err)
	m, err = FitMany(Model{Gompertz, Proportional}, sub, Random{Of: []bool{true}}, Random{})
	fmt.Println(m, err)
	// big
	rng := rand.New(rand.NewPCG(1, 2))
	sub = nil
	for p := range 2000 {
		u := p / 50
		la, mm := math.Log(200)+0.1*rng.NormFloat64(), 20+rng.NormFloat64()
		s := Subject{Curve: u, Unit: u}
		for k := range 8 {
			x := float64(4 * k)
			s.T = append(s.T, x); s.Sizes = append(s.Sizes, math.Exp(la-math.Exp((mm-x)/10)+0.05*rng.NormFloat64()))
		}
		sub = append(sub, s)
	}
	t0 := time.Now()
	m, err = FitMany(Model{Gompertz, Proportional}, sub, Random{Of: []bool{true, true}}, Random{})
	fmt.Println(time.Since(t0), err)
	fmt.Println(m.Coef[0], m.Individuals, m.Sigma, m.Rounds)
	for i := range sub { sub[i].Curve = 0 }
	t0 = time.Now()
	m, err = FitMany(Model{Gompertz, Proportional}, sub, Random{Of: []bool{true, true}}, Random{Of: []bool{true,true}})
	fmt.Println(time.Since(t0), err)
	fmt.Println(m.Coef[0], m.Individuals, m.Units, m.Sigma, m.Rounds)
}
