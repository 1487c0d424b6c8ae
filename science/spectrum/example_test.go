package spectrum_test

import (
	"fmt"

	"underlamp/science/spectrum"
)

// A lamp of red and blue diodes: what a plant sees, and why a lux meter is no
// help.
func Example() {
	parts, _ := spectrum.ParseParts("450:20:15, 660:18:85")
	lamp, _ := spectrum.Mix(spectrum.Photons, parts...)
	fmt.Printf("blue %.0f %%, PPE %.2f\n", 100*lamp.OfPAR(spectrum.Blue), lamp.PPE())
	fmt.Printf("%.0f lx for each µmol; daylight has %.0f\n", lamp.LuxPerMicromole(), spectrum.Daylight(spectrum.DaylightD65).LuxPerMicromole())
	_, why := lamp.JudgeEfficacy(5.2)
	fmt.Println(why)
	// Output:
	// blue 15 %, PPE 0.86
	// 8 lx for each µmol; daylight has 55
	// 5.2 µmol/J is more light than the electricity holds: with this colour a perfect lamp gives 5.16 µmol/J
}
