package benchfile_test

import (
	"fmt"
	"strings"
	"testing"

	"underlamp/formats/benchfile"
)

// A reading of a lux meter is no PPFD; the message says what to do with it.
func TestLuxReading(t *testing.T) {
	for _, as := range []string{"lux: 14000", "ppfd: 14000 lux", "ppfd: 14 klx"} {
		text := "underlamp: 1\nspace: {width: 90 cm, depth: 60 cm, height: 45 cm}\nlamps:\n  - {at: [45 cm, 30 cm], height: 34 cm, flux: 80 µmol/s, watts: 35 W}\nplants: {grid: {columns: 2, rows: 2}}\nreadings:\n  - {at: [45 cm, 30 cm], height: 5 cm, " + as + "}\n"
		_, problems, err := benchfile.Read(strings.NewReader(text))
		if err != nil || !strings.Contains(problems.Error(), "about 68 under white LEDs") {
			t.Errorf("%s: %v %v", as, err, problems)
		}
	}
}

// A lamp that was copied and not moved doubles its light; the file is read, with a warning.
func TestLampsAtOnePlace(t *testing.T) {
	lamp := "  - {at: [45 cm, 30 cm], height: 34 cm, flux: 80 µmol/s, watts: 35 W, opening: {diameter: 12 cm}}\n"
	for lamps, want := range map[string]bool{lamp + lamp: true, lamp + strings.Replace(lamp, "45 cm", "60 cm", 1): false, lamp + strings.Replace(lamp, "80", "20", 1): false} {
		text := "underlamp: 1\nspace: {width: 90 cm, depth: 60 cm, height: 45 cm}\nlamps:\n" + lamps + "plants: {grid: {columns: 2, rows: 2}}\n"
		b, problems, err := benchfile.Read(strings.NewReader(text))
		if err != nil || b == nil || strings.Contains(fmt.Sprint([]benchfile.Problem(problems)), "at this very place") != want {
			t.Errorf("%s: %v %v", lamps, err, problems)
		}
	}
}
