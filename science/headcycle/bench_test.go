package headcycle_test

import (
	"testing"

	"underlamp/science/calcium"
	"underlamp/science/headcycle"
)

// One head of 35 days, 16 h of light a day: the unit of every forecast.
func BenchmarkRun35Days(b *testing.B) {
	tr := headcycle.Lettuce()
	pre := headcycle.Prepare(&tr, headcycle.Environment{
		Hours: 16, CO2: 450, DayC: 22, NightC: 20, DayRH: 0.65, NightRH: 0.75, Speed: 0.1, HeartShare: calcium.HeartShare("none"),
		Feed: calcium.Feed{CalciumMgL: 100, EC: 1.4, RootC: 20},
	})
	b.ReportAllocs()
	for b.Loop() {
		headcycle.Run(&tr, &pre, headcycle.Flat(250), headcycle.Start{FreshGrams: 1.5, GroundM2: 0.04}, 35, nil, nil)
	}
}
