package lightfield_test

import (
	"slices"
	"testing"

	"underlamp/science/lightfield"
)

// At places the light is that at the points to the last bit: at first, when it is kept, of
// other lamps, with another floor, and in a room of another shape, where nothing is kept;
// for single points, for many that share a lattice, and with a mirror.
func TestPlacesAreTheirPoints(t *testing.T) {
	mirror := boxed(1.2, 0.8, 0.9, 0.7)
	mirror.Walls[lightfield.Left] = lightfield.Wall{Mirror: 0.8, Reflectance: 0.1}
	for name, space := range map[string]lightfield.Space{"white": boxed(1.2, 0.8, 0.9, 0.8), "mirror": mirror, "open": open(1.2, 0.8, 0.9)} {
		room, err := lightfield.NewRoom(space, lightfield.Options{})
		if err != nil {
			t.Fatal(err)
		}
		pts := append(grid(space, 30, 20, 0.1), lightfield.Point{X: 0.3, Y: 0.3, Z: 0.2}, lightfield.Point{X: 0.31, Y: 0.4, Z: 0.25})
		places := room.Places(pts)
		same := func(what string, f *lightfield.Field) {
			t.Helper()
			dim := []float64{0.4, 1}
			if !slices.Equal(f.ResponsesAt(nil, places), f.Responses(nil, pts)) ||
				!slices.Equal(f.ReflectedAt(nil, places), f.Reflected(nil, pts)) ||
				!slices.Equal(f.PPFDAt(nil, dim, places), f.PPFD(nil, dim, pts)) {
				t.Errorf("%s, %s: the light at places is not that at their points", name, what)
			}
		}
		for _, height := range []float64{0.7, 0.5} {
			f, err := room.Solve([]lightfield.Lamp{
				{Centre: lightfield.Point{X: 0.4, Y: 0.4, Z: height}, Width: 0.3, Depth: 0.05, Flux: 100, Exponent: 1},
				{Centre: lightfield.Point{X: 0.8, Y: 0.4, Z: height}, Width: 0.2, Depth: 0.2, Flux: 100, Distribution: batwing{}},
			})
			if err != nil {
				t.Fatal(err)
			}
			same("first", f)
			same("again", f)
			floor, err := room.WithReflectance(lightfield.Below, 0.06)
			if err != nil {
				t.Fatal(err)
			}
			if f, err = f.In(floor); err != nil {
				t.Fatal(err)
			}
			same("another floor", f)
		}
		wider := space
		wider.Width = 1.4
		f, err := lightfield.Solve(wider, []lightfield.Lamp{{Centre: lightfield.Point{X: 0.4, Y: 0.4, Z: 0.7}, Width: 0.3, Flux: 100, Exponent: 1}, {Centre: lightfield.Point{X: 0.9, Y: 0.4, Z: 0.7}, Flux: 50, Exponent: 1}}, lightfield.Options{})
		if err != nil {
			t.Fatal(err)
		}
		same("another room", f)
	}
}
