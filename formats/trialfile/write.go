package trialfile

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"

	"underlamp"
)

// Write writes a trial so that [Read] gives it back, with comments that say what each
// part is for.
func Write(out io.Writer, t *underlamp.Trial) error {
	var b strings.Builder
	line := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	line("# The plan of a trial. docs/formats/trial.md explains every key.")
	line("underlamp trial: %d", Version)
	text := func(key, s string) {
		if s != "" {
			line("%s: %s", key, strconv.Quote(s))
		}
	}
	text("name", t.Name)
	text("note", t.Note)
	text("question", t.Question)
	text("bench", t.Bench)
	text("table", t.Table)
	line("\n# Chosen before the run: what is looked at, and the smallest difference worth knowing.")
	line("response: %s", t.Response)
	if t.Difference > 0 {
		switch t.Response {
		case underlamp.ResponseMass:
			line("difference: %s g", num(t.Difference))
		case underlamp.ResponseHeight:
			line("difference: %s cm", num(t.Difference))
		default:
			line("difference: %s", num(t.Difference))
		}
	}
	if t.BurnLimit > 0 {
		line("burn limit: %s   # share of plants with burn that is borne", num(float64(t.BurnLimit)))
	}
	line("layout: %s", t.Layout)
	line("seed: %d        # the same seed gives the same layout", t.Seed)
	if len(t.Factors) > 0 {
		line("\n# What treatments combine. Levels stand in the order of the factors.\nfactors:")
		for _, f := range t.Factors {
			s := "  - {name: " + strconv.Quote(f.Name)
			if f.Unit != "" {
				s += ", unit: " + strconv.Quote(f.Unit)
			}
			line("%s, levels: %s}", s, quoted(f.Levels))
		}
	}
	line("\ntreatments:")
	for _, x := range t.Treatments {
		s := "  - {name: " + strconv.Quote(x.Name)
		if x.DLI > 0 {
			s += ", dli: " + num(float64(x.DLI)) + " mol/m²/d"
		}
		if len(x.Levels) > 0 {
			s += ", levels: " + quoted(x.Levels)
		}
		if x.Control {
			s += ", control: yes"
		}
		if x.Note != "" {
			s += ", note: " + strconv.Quote(x.Note)
		}
		line("%s}", s)
	}
	if len(t.Cycles) > 0 {
		line("\n# When the plants of each block were grown.\ncycles:")
	}
	for _, c := range t.Cycles {
		var parts []string
		if c.Block != "" {
			parts = append(parts, "block: "+strconv.Quote(c.Block))
		}
		parts = append(parts, "transplanted: "+c.Transplanted)
		if c.Harvested != "" {
			parts = append(parts, "harvested: "+c.Harvested)
		}
		if g := c.StartMass; g != nil {
			mass := num(float64(g.Value)) + " g"
			if g.Origin == underlamp.Label || g.Origin == underlamp.Measured || g.Note != "" {
				mass = "{value: " + mass
				if g.Origin == underlamp.Label || g.Origin == underlamp.Measured {
					mass += ", from: " + g.Origin.String()
				}
				if g.Note != "" {
					mass += ", note: " + strconv.Quote(g.Note)
				}
				mass += "}"
			}
			parts = append(parts, "start mass: "+mass)
		}
		line("  - {%s}", strings.Join(parts, ", "))
	}
	line("\n# What the treatments were given to. Plants under one lamp are not repeats: the lamp is.\n# dli is what the plants of the unit really get; write what you measure.\nunits:")
	for _, u := range t.Places {
		s := "  - {name: " + strconv.Quote(u.Name) + ", treatment: " + strconv.Quote(u.Treatment)
		for _, p := range [][2]string{{"block", u.Block}, {"place", u.Place}, {"whole", u.Whole}, {"part", u.Part}, {"lamp", u.Lamp}} {
			if p[1] != "" {
				s += ", " + p[0] + ": " + strconv.Quote(p[1])
			}
		}
		if u.DLI > 0 {
			s += ", dli: " + num(float64(u.DLI)) + " mol/m²/d"
		}
		if u.Plants > 0 {
			s += fmt.Sprintf(", plants: %d", u.Plants)
		}
		line("%s}", s)
	}
	if len(t.Columns) > 0 {
		line("\n# What the columns of imported tables are.\ncolumns:")
		for _, h := range slices.Sorted(maps.Keys(t.Columns)) {
			line("  - {heading: %s, is: %s}", strconv.Quote(h), strconv.Quote(t.Columns[h]))
		}
	}
	_, err := io.WriteString(out, b.String())
	return err
}

func num(x float64) string { return strconv.FormatFloat(x, 'g', 6, 64) }

func quoted(l []string) string {
	var q []string
	for _, s := range l {
		q = append(q, strconv.Quote(s))
	}
	return "[" + strings.Join(q, ", ") + "]"
}
