package trial

import "fmt"

// summarise says the findings in plain words: the first sentences of the parts, as many as
// each of them marks.
func (f *Findings) summarise() {
	plants := 0
	for _, u := range f.Units {
		plants += u.N
	}
	f.Summary = append(f.Summary, fmt.Sprintf("%s and %s of %s. The units are the repeats, the plants are not.", count(len(f.Units), "unit", "units"), count(plants, "plant", "plants"), count(len(f.treat.Levels), "treatment", "treatments")))
	for _, p := range f.Parts {
		f.Summary = append(f.Summary, p.Says[:min(p.Heads, len(p.Says))]...)
	}
	if s := tied(f.Trial); s != "" {
		f.Summary = append(f.Summary, s)
	}
}

// Rest are the sentences of a part that the summary does not hold.
func (p Part) Rest() []string { return p.Says[min(p.Heads, len(p.Says)):] }
