package trial

import (
	"fmt"

	"underlamp"
)

// tied says that lamps and treatments cannot be told apart although cycles repeat them:
// every lamp that is named had one treatment throughout. It is empty otherwise.
func tied(t *underlamp.Trial) string {
	of, times := map[string]string{}, map[string]int{}
	for _, u := range t.Places {
		if u.Lamp == "" {
			return ""
		}
		if old, ok := of[u.Lamp]; ok && old != u.Treatment {
			return ""
		}
		of[u.Lamp] = u.Treatment
		times[u.Lamp]++
	}
	lamps := map[string]int{}
	for _, x := range of {
		lamps[x]++
	}
	for _, x := range t.Treatments {
		if lamps[x.Name] > 1 { // several lamps bear it
			return ""
		}
	}
	if len(of) == 0 || len(of) == len(t.Places) {
		return ""
	}
	return fmt.Sprintf("Each of the %d lamps has the same treatment in every cycle: whatever is odd about a lamp looks like its treatment, and no number of cycles tells them apart.", len(of))
}
