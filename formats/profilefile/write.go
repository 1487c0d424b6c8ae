package profilefile

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"underlamp"
)

// Version is the version of the format that this package reads and writes.
const Version = 1

// Write writes a profile so that [Read] gives it back with the same digits.
func Write(out io.Writer, p *underlamp.Profile) error {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	text := func(key, value string) {
		if value != "" {
			line("%s: %s", key, strconv.Quote(value))
		}
	}
	line("# What cycles taught of one cultivar in one room, written by underlamp learn.")
	line("# A bench file uses it with  crop: {profile: this-file.yaml}. See docs/formats/profile.md.")
	line("underlamp profile: %d", Version)
	text("name", p.Name)
	text("note", p.Note)
	line("made: %s", p.Made)
	text("species", p.Species)
	text("cultivar", p.Cultivar)
	line("tendency: %s", p.Tendency)
	if p.Type != "" {
		line("type: %s", p.Type)
	}
	text("bench", p.Bench)
	line("learned from:")
	for _, c := range p.Cycles {
		harvested := ""
		if c.Harvested != "" {
			harvested = ", harvested: " + c.Harvested
		}
		line("  - {cycle: %s, bench: %s, transplanted: %s%s, plants: %d, weighings: %d, heights: %d, burns: %d, counts: %d}",
			strconv.Quote(c.Name), strconv.Quote(c.Bench), c.Transplanted, harvested, c.Plants, c.Weighings, c.Heights, c.Burns, c.Counts)
	}
	q := p.Quality
	line("diagnostics: {rhat: %s, bulk ess: %s, tail ess: %s, chains: %d, draws: %d}", full(q.RHat), full(q.BulkESS), full(q.TailESS), q.Chains, q.Draws)
	line("factors:   # on the usual traits: low, median, high; nine tenths of what is thought possible lie within")
	for _, f := range p.Factors {
		learned := "no"
		if f.Learned {
			learned = "yes"
		}
		line("  - {key: %s, name: %s, before: %s, after: %s, narrowed: %s, learned: %s}", strconv.Quote(f.Key), strconv.Quote(f.Name), list(f.Prior[:]), list(f.After[:]), full(f.Narrowed), learned)
	}
	s := p.Summary
	line("summary:   # of the logarithms of the factors; forecasts are drawn from this")
	line("  method: %d", s.Method)
	line("  cycles: %d", s.Cycles)
	line("  plants: %d", s.Plants)
	line("  data: %d", s.Data)
	line("  seed: %d", s.Seed)
	var keys []string
	for _, k := range s.Keys {
		keys = append(keys, strconv.Quote(k))
	}
	line("  keys: [%s]", strings.Join(keys, ", "))
	line("  mean: %s", list(s.Mean))
	line("  prior sd: %s", list(s.PriorSD))
	line("  covariance:")
	for _, row := range s.Covariance {
		line("    - %s", list(row))
	}
	_, err := io.WriteString(out, b.String())
	return err
}

// full prints all digits of a number.
func full(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

func list(xs []float64) string {
	var parts []string
	for _, x := range xs {
		parts = append(parts, full(x))
	}
	return "[" + strings.Join(parts, ", ") + "]"
}

// FileName proposes the name of the file of a profile: "moonquill-cellar-rack.yaml".
func FileName(p *underlamp.Profile) string {
	var b strings.Builder
	for _, r := range strings.ToLower(p.Name) {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	name := strings.Trim(b.String(), "-")
	if name == "" {
		name = "profile"
	}
	return name + ".profile.yaml"
}
