package anova_test

import (
	"fmt"

	"underlamp/science/stat"
	"underlamp/science/stat/anova"
	"underlamp/science/stat/pairwise"
)

// Masses of plants under six lamps in three runs; the units are the lamps. (The limits by
// lm and confint of R 4.2.2.)
func Example() {
	mass := []float64{140, 151, 146, 168, 171, 163, 132, 139, 141, 160, 152, 157, 149, 144, 155, 170, 181, 176}
	var lamp, light, run []string
	for i := range mass {
		lamp = append(lamp, fmt.Sprint(i/3))
		light = append(light, []string{"low", "high"}[i/3%2])
		run = append(run, fmt.Sprint(i/6))
	}
	unit := stat.NewFactor("lamp", lamp)
	means, err := anova.UnitMeans(mass, unit, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	of := func(name string, labels []string) stat.Factor {
		var l []string
		for _, i := range means.First {
			l = append(l, labels[i])
		}
		return stat.NewFactor(name, l)
	}
	a, err := anova.Blocks(means.Mean, of("light", light), of("run", run))
	if err != nil {
		fmt.Println(err)
		return
	}
	c, err := pairwise.All(a.Means, 0.95)
	if err != nil {
		fmt.Println(err)
		return
	}
	d := c.Pairs[0]
	fmt.Printf("%s: %.1f, 95 %% limits %.1f to %.1f\n", d.Name, d.Value, d.Interval.Lower, d.Interval.Upper)
	fmt.Println(a.Weak)

	_, err = anova.OneWay([]float64{146, 167}, stat.NewFactor("light", []string{"low", "high"}))
	fmt.Println(err)
	// Output:
	// high − low: 22.3, 95 % limits 13.1 to 31.6
	// fewer than three degrees of freedom are left for the error
	// a test between the levels of light is not estimable, because each has one unit, so levels and units cannot be told apart
}
