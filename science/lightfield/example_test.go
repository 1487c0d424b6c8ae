package lightfield_test

import (
	"fmt"

	"underlamp/science/lightfield"
)

// A strip lamp of 60 µmol/s, 1.1 m long and 5 cm wide, hangs 30 cm above a shelf
// with white walls and an open front. How much light falls in the middle and at
// the end of the shelf, and whom do the walls help?
func Example() {
	space := lightfield.Space{Width: 1.2, Depth: 0.5, Height: 0.4}
	for side := range space.Walls {
		space.Walls[side].Reflectance = 0.8
	}
	space.Walls[lightfield.Front].Open = true
	space.Walls[lightfield.Below].Reflectance = 0.06 // leaves

	beam, err := lightfield.ExponentFromBeam(120)
	if err != nil {
		fmt.Println(err)
		return
	}
	strip := lightfield.Lamp{Centre: lightfield.Point{X: 0.6, Y: 0.25, Z: 0.3}, Width: 1.1, Depth: 0.05, Flux: 60, Exponent: beam}
	field, err := lightfield.Solve(space, []lightfield.Lamp{strip}, lightfield.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	places := []lightfield.Point{{X: 0.6, Y: 0.25}, {X: 0.1, Y: 0.25}}
	lamp, walls := field.Direct(nil, places), field.Reflected(nil, places)
	// By hand, as a line of half length a at height h:
	// Φ/(π h²) · [h²/(2(h²+a²)) + h·atan(a/h)/(2a)] = 212.2 · 0.407 = 86.
	fmt.Printf("the lamp gives the middle %.0f µmol/m²/s\n", lamp[0])
	fmt.Println("the walls help the end more than the middle:", walls[1] > walls[0])
	// Output:
	// the lamp gives the middle 86 µmol/m²/s
	// the walls help the end more than the middle: true
}
