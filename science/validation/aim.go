package validation

import (
	"math"

	"underlamp/science/energycost"
	"underlamp/science/lightaim"
	"underlamp/science/quantity"
)

// Aim checks what chooses dimmings and hours against worked examples in print and
// against results that can be reached by hand.
func Aim() []Check {
	return append(append(programs(), dimmings()...), tariffs()...)
}

// programs are textbook problems of linear and quadratic programming.
func programs() []Check {
	const area = "aim"
	inf := math.Inf(1)
	under := func(high float64, coef ...float64) lightaim.Row {
		return lightaim.Row{Coef: coef, Low: -inf, High: high}
	}
	over := func(low float64, coef ...float64) lightaim.Row {
		return lightaim.Row{Coef: coef, Low: low, High: inf}
	}
	linear := func(cost []float64, rows ...lightaim.Row) lightaim.LinearResult {
		l := lightaim.Linear{Cost: cost, Low: make([]float64, len(cost)), High: make([]float64, len(cost)), Rows: rows}
		for i := range l.High {
			l.High[i] = inf
		}
		return l.Solve()
	}
	squares := func(j [][]float64, to, low []float64, rows ...lightaim.Row) lightaim.QuadraticResult {
		q := lightaim.Quadratic{J: j, To: to, Low: low, High: make([]float64, len(low)), Near: make([]float64, len(low)), Ridge: 1e-12, Rows: rows}
		for i := range q.High {
			q.High[i] = inf
		}
		return q.Solve()
	}
	glass := linear([]float64{-3, -5}, under(4, 1, 0), under(12, 0, 2), under(18, 3, 2))
	cycle := linear([]float64{-0.75, 20, -0.5, 6}, under(0, 0.25, -8, -1, 9), under(0, 0.5, -12, -0.5, 3), under(1, 0, 0, 1, 0))
	cube := linear([]float64{-100, -10, -1}, under(1, 1, 0, 0), under(100, 20, 1, 0), under(10000, 200, 20, 1))
	example := squares([][]float64{{1, 0}, {0, 1}}, []float64{1, 2.5}, []float64{0, 0}, over(-2, 1, -2), over(-6, -1, -2), over(-2, -1, 2))
	hs21 := squares([][]float64{{0.1, 0}, {0, 1}}, []float64{0, 0}, []float64{2, -50}, over(10, 10, -1))
	hs35 := squares([][]float64{{1, 1, 0}, {1, 0, 1}, {0, 1, 0}}, []float64{2, 2, 1}, []float64{0, 0, 0}, under(3, 1, 1, 2))
	const tol = 1e-8 // the answers are exact numbers; this is rounding
	return []Check{
		near(area, "linear program of the glass works: profit", "HillierLieberman", Published, "", -glass.Value, 36, tol),
		near(area, "linear program of the glass works: price of the second plant", "HillierLieberman", Published, "", -glass.Price[1], 1.5, tol),
		near(area, "linear program of the glass works: price of the third plant", "HillierLieberman", Published, "", -glass.Price[2], 1, tol),
		near(area, "linear program that cycles without care", "Beale1955", Published, "", cycle.Value, -1.25, tol),
		near(area, "linear program on a bent cube", "KleeMinty1972", Published, "", -cube.Value, 10000, 1e-4),
		near(area, "quadratic program, example 16.4: first unknown", "NocedalWright2006", Published, "", example.X[0], 1.4, tol),
		near(area, "quadratic program, example 16.4: second unknown", "NocedalWright2006", Published, "", example.X[1], 1.7, tol),
		near(area, "quadratic program, problem 21: squares", "HockSchittkowski1981", Published, "", hs21.Squares, 0.04, tol),
		near(area, "quadratic program, problem 35: squares", "HockSchittkowski1981", Published, "", hs35.Squares, 1.0/9, tol),
		near(area, "quadratic program, problem 35: first unknown", "HockSchittkowski1981", Published, "", hs35.X[0], 4.0/3, tol),
	}
}

// dimmings are small benches that can be reckoned by hand.
func dimmings() []Check {
	const area = "aim"
	lamp := lightaim.Lamp{Lower: 0.1, Upper: 1, Power: lightaim.Proportional(50)}
	p := lightaim.Problem{Points: 2, Responses: []float64{300, 100, 100, 300}, Lamps: []lightaim.Lamp{lamp, lamp}, Min: []float64{200, 200}, Target: []float64{250, 150}}
	solved := func(a *lightaim.Answer, err error) *lightaim.Answer {
		if err != nil {
			panic("validation: dimmings: " + err.Error())
		}
		return a
	}
	least := solved(p.LeastPower())
	p.Min = nil
	even := solved(p.MostEven())
	p.Group = []int{0, 0}
	one := solved(p.MostEven())
	hand := func(name, unit string, got, want, tolerance float64, note string) Check {
		c := near(area, name, "", Independent, unit, got, want, tolerance)
		c.Note = "by hand: " + note
		return c
	}
	return []Check{
		hand("two lamps over two plants: least power", "W", least.Watt, 50, 1e-6, "300 x + 100 y = 200 for both, so x = y = ½"),
		hand("two lamps over two unlike plants: first dimming", "", even.Dim[0], 0.75, 1e-5, "300 x + 100 y = 250, 100 x + 300 y = 150"),
		hand("two lamps over two unlike plants: second dimming", "", even.Dim[1], 0.25, 1e-5, "the same equations"),
		hand("the same on one dimmer", "", one.Dim[0], (1.6+8.0/3)/(1.6*1.6+64.0/9), 1e-6, "least (1.6 x − 1)² + (8/3 x − 1)²"),
	}
}

// tariffs are hours placed by hand.
func tariffs() []Check {
	const area = "aim"
	price := func(hours quantity.Hours, text string, broken bool) float64 {
		t, err := energycost.ParseTariff(text)
		if err != nil {
			panic("validation: tariffs: " + err.Error())
		}
		p, err := energycost.LightDay{Tariff: t, Hours: hours, Dark: 7, Broken: broken}.Place()
		if err != nil {
			panic("validation: tariffs: " + err.Error())
		}
		return p.PerHour
	}
	const night = "07:00-23:00 0.34, 23:00-07:00 0.19"
	const two = "00:00-05:00 0.1, 05:00-12:00 0.4, 12:00-17:00 0.1, 17:00-24:00 0.4"
	hand := func(name string, got, want float64, note string) Check {
		c := near(area, name, "", Independent, "per kWh", got, want, 1e-12)
		c.Note = note
		return c
	}
	return []Check{
		hand("16 h of light with a night tariff of 8 h", price(16, night, false), (8*0.19+8*0.34)/16, "by hand: all of the night, the rest by day"),
		hand("10 h in one stretch with two cheap spans", price(10, two, false), 0.25, "by hand: one cheap span and 5 h beside it"),
		hand("10 h in two stretches with two cheap spans", price(10, two, true), 0.1, "by hand: both cheap spans, 7 h of dark between them"),
	}
}
