package notes

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"underlamp"
	"underlamp/formats/benchfolder"
	"underlamp/formats/cyclefile"
	"underlamp/formats/sheet"
	"underlamp/formats/trialtable"
	"underlamp/science/quantity"
)

// A newCycle is a file that would be written.
type newCycle struct {
	name string // of the file
	text []byte
	was  []byte // what it stands in place of; nil: nothing
}

var ofCount = regexp.MustCompile(`^(\d{1,4})\s*(?:/|of|von|van|sur|de)\s*(\d{1,4})$`)

// cyclesOf reads finished crops, one a row, and makes a cycle file of each.
func (d *Draft) cyclesOf(t *sheet.Table, b *underlamp.Bench, benchFile string, folder fs.FS) error {
	col := map[string]*Column{}
	var notes []*Column
	for i := range d.Columns {
		if c := &d.Columns[i]; c.Is == Note {
			notes = append(notes, c)
		} else if c.Is != Nothing {
			col[c.Is] = c
		}
	}
	if col[Transplanted] == nil && (col[Sown] == nil || d.Said.Seedlings == 0) {
		if col[Sown] == nil {
			d.Asked = append(d.Asked, "No column is the day of transplanting, from which a crop counts its days: say which.")
		} else {
			d.Asked = append(d.Asked, "The crops have a day of sowing and none of transplanting, from which days are counted: say how many days seedlings stood before they were transplanted.")
		}
	}
	if col[TotalMass] == nil && col[MeanMass] == nil && col[Burnt] == nil {
		d.Asked = append(d.Asked, "No column holds what came of the crops: say which is the mass, or the heads with burn.")
	}
	if len(d.Asked) > 0 {
		return nil
	}
	found, err := benchfolder.Cycles(folder, benchFile, b)
	if err != nil {
		return err
	}
	known := map[string]benchfolder.Found{}
	for _, f := range found {
		if f.Cycle != nil {
			known[f.Cycle.Transplanted] = f
		}
	}
	fromFile := map[string]string{}
	for _, r := range t.Rows {
		if why := d.aside(t, r); why != "" {
			d.left(fmt.Sprintf("%s: %s", t.Place(r, -1), why))
			continue
		}
		faults := d.FaultCount()
		bad := func(c *Column, want string) {
			d.fault(Fault{t.Place(r, c.Index), c.Heading, r.At(c.Index).String(), want})
		}
		filled := func(is string) bool {
			c := col[is]
			return c != nil && !r.At(c.Index).Blank() && !sheet.Missing(r.At(c.Index).String())
		}
		word := func(is string) string {
			if !filled(is) {
				return ""
			}
			return strings.Join(strings.Fields(r.At(col[is].Index).String()), " ")
		}
		day := func(is string) time.Time {
			if !filled(is) {
				return time.Time{}
			}
			c := col[is]
			at, _, err := t.Date(r.At(c.Index), c.Index)
			if err != nil {
				bad(c, wantDay(err))
			}
			return at.Truncate(24 * time.Hour)
		}
		number := func(is, want string) (float64, string, bool) {
			if !filled(is) {
				if col[is] != nil {
					d.Empty++
				}
				return 0, "", false
			}
			c := col[is]
			v, unit, err := t.Number(r.At(c.Index), c.Index)
			if err != nil || v < 0 {
				bad(c, want)
				return 0, "", false
			}
			if unit == "" {
				unit = c.Unit
			}
			return v, unit, true
		}
		sown, start, end := day(Sown), day(Transplanted), day(Harvested)
		var said []string
		if start.IsZero() && !sown.IsZero() && d.Said.Seedlings > 0 {
			start = sown.AddDate(0, 0, d.Said.Seedlings)
			said = append(said, fmt.Sprintf("Transplanted %d days after sowing, as said when it was imported.", d.Said.Seedlings))
		}
		if !sown.IsZero() {
			said = append(said, "Sown on "+sown.Format(time.DateOnly)+".")
		}
		if start.IsZero() && d.FaultCount() == faults {
			bad(first(col[Transplanted], col[Sown]), wantDay(nil))
		}
		if d.FaultCount() > faults {
			continue
		}
		c := &underlamp.Cycle{Name: word(Name), Cultivar: word(Cultivar), Bench: benchFile, Units: b.Units, Transplanted: start.Format(time.DateOnly)}
		if c.Cultivar != "" && strings.EqualFold(c.Cultivar, b.Crop.Cultivar) {
			c.Cultivar = ""
		}
		if !end.IsZero() {
			if c.Harvested, c.Days = end.Format(time.DateOnly), int(end.Sub(start).Hours()/24); c.Days < 1 {
				bad(col[Harvested], "a day after "+c.Transplanted+", when it was transplanted")
				continue
			}
		}
		heads, _, hasHeads := number(Heads, "a number of heads")
		if hasHeads && (heads != math.Trunc(heads) || heads < 1 || heads > float64(len(b.Plants))) {
			bad(col[Heads], fmt.Sprintf("a whole number of heads, at most the %d plants of the bench", len(b.Plants)))
		}
		mass := 0.0
		for _, is := range []string{MeanMass, TotalMass} {
			v, unit, ok := number(is, trialtable.Want(underlamp.ResponseMass))
			if !ok || mass > 0 {
				continue
			}
			if unit == "" {
				unit = "g"
			}
			g, err := quantity.Mass.Parse(strconv.FormatFloat(v, 'f', -1, 64) + " " + massUnit(unit))
			if err != nil {
				bad(col[is], trialtable.Want(underlamp.ResponseMass))
				continue
			}
			if is == TotalMass {
				if !hasHeads {
					d.fault(Fault{t.Place(r, col[is].Index), col[is].Heading, r.At(col[is].Index).String(), "the number of heads beside it, without which no head's mass is known"})
					continue
				}
				said = append(said, fmt.Sprintf("%s heads weighed %s together.", quantity.Number(heads, 4), quantity.Mass.Format(g, b.Units, 4)))
				g /= heads
			}
			if g < 0.01 || g > 5000 {
				bad(col[is], "a mass of which a head is between 0.01 and 5000 g; is the unit right?")
				continue
			}
			mass = g
		}
		burnt, of, hasBurnt := 0, 0, false
		if filled(Burnt) {
			x := r.At(col[Burnt].Index)
			text := strings.ToLower(x.String())
			v, unit, err := t.Number(x, col[Burnt].Index)
			if unit == "" {
				unit = col[Burnt].Unit
			}
			want := "a number of heads, a share with %, 3 of 18, or none"
			switch m := ofCount.FindStringSubmatch(text); {
			case m != nil:
				burnt, _ = strconv.Atoi(m[1])
				of, _ = strconv.Atoi(m[2])
				hasBurnt = true
			case err == nil && unit == "%" && hasHeads:
				burnt, of, hasBurnt = int(math.Round(v*heads/100)), int(heads), true
				if exact := v * heads / 100; math.Abs(exact-math.Round(exact)) > 0.26 {
					d.Doubts = append(d.Doubts, fmt.Sprintf("%s: %s of %g heads is no whole number of heads; %d is taken.", t.Place(r, col[Burnt].Index), x, heads, burnt))
				}
			case err == nil && unit != "%" && v == math.Trunc(v) && hasHeads:
				burnt, of, hasBurnt = int(v), int(heads), true
			case slices.Contains([]string{"none", "no", "nein", "keine", "geen", "nee", "aucun", "aucune", "non", "ninguno"}, text) && hasHeads:
				of, hasBurnt = int(heads), true
			case err == nil && !hasHeads:
				bad(col[Burnt], "the number of heads that were looked at, in a column of its own or as 3 of 18")
			case err != nil && x.Kind == sheet.Text: // "few": it says that there was some, of how many nobody knows
				said = append(said, "Burn: “"+x.Text+"”.")
				d.Notes = append(d.Notes, fmt.Sprintf("%s: “%s” is no number of heads; it is kept in the note of the crop, and not learned from.", t.Place(r, col[Burnt].Index), shortened(x.Text)))
			default:
				bad(col[Burnt], want)
			}
			if hasBurnt && (of < 1 || burnt < 0 || burnt > of || of > len(b.Plants)) {
				bad(col[Burnt], fmt.Sprintf("no more heads with burn than were looked at, and at most the %d plants of the bench", len(b.Plants)))
			}
		}
		if v, unit, ok := number(Electricity, "an amount of electricity in kWh"); ok {
			if unit == "" {
				unit = "kWh"
			}
			said = append(said, "Electricity: "+strconv.FormatFloat(v, 'f', -1, 64)+" "+unit+".")
		}
		for _, n := range notes {
			if s := r.At(n.Index).String(); !sheet.Missing(s) && r.At(n.Index).Kind != sheet.Fault {
				said = append(said, s)
			}
		}
		if d.FaultCount() > faults {
			continue
		}
		if end.IsZero() {
			d.left(fmt.Sprintf("%s: the crop has no day of harvest; it is not finished", t.Place(r, -1)))
			continue
		}
		c.Note = strings.Join(said, " ")
		by := word(By)
		if by == "" {
			by = d.Said.By
		}
		if mass > 0 {
			n := max(1, int(heads))
			if !hasHeads {
				n = len(b.Plants)
				d.Doubts = append(d.Doubts, fmt.Sprintf("%s: no number of heads stands beside the mean mass; it is taken for that of all %d plants.", t.Place(r, -1), n))
			}
			g := quantity.Gram(math.Round(mass*1000) / 1000)
			c.Observations = append(c.Observations, underlamp.Observation{Name: "harvest", Date: c.Harvested, Day: c.Days, Heads: n, Mass: &g, By: by})
		}
		if hasBurnt {
			c.Observations = append(c.Observations, underlamp.Observation{Name: "burn", Date: c.Harvested, Day: c.Days, Count: &underlamp.BurnCount{Burnt: burnt, Of: of}, By: by})
		}
		if len(c.Observations) == 0 {
			d.left(fmt.Sprintf("%s: neither a mass nor a number of heads with burn is said", t.Place(r, -1)))
			continue
		}
		var text bytes.Buffer
		if err := cyclefile.Write(&text, c); err != nil {
			return err
		}
		if again, problems, err := cyclefile.Read(bytes.NewReader(text.Bytes()), b); err != nil || again == nil {
			d.fault(Fault{t.Place(r, -1), "", "", strings.TrimSpace(firstProblem(problems.Error(), err))})
			continue
		}
		place, says := t.Place(r, -1), cycleSays(c)
		item := Item{Place: place, About: about(c), What: "finished crop", Text: says, Day: c.Transplanted, Note: c.Note}
		n := newCycle{name: strings.TrimSuffix(strings.TrimSuffix(benchFile, ".yaml"), ".yml") + "." + c.Transplanted + ".cycle.yaml", text: text.Bytes()}
		if was := fromFile[c.Transplanted]; was != "" {
			d.fault(Fault{place, "", "transplanted on " + c.Transplanted, "one crop of a bench from one day; " + was + " has it too"})
			continue
		}
		fromFile[c.Transplanted] = place
		if f, there := known[c.Transplanted]; there {
			if cycleSays(f.Cycle) == says && f.Cycle.Harvested == c.Harvested {
				d.Same++
				continue
			}
			take := d.Said.takes(place)
			d.Conflicts = append(d.Conflicts, Conflict{place, about(c), "finished crop in " + f.Name, c.Transplanted, cycleSays(f.Cycle), says, take})
			if !take {
				continue
			}
			n.name, item.Over = f.Name, cycleSays(f.Cycle)
		}
		switch was, err := fs.ReadFile(folder, n.name); {
		case err == nil:
			n.was = was
			if item.Over == "" { // a file of this name that is no cycle of this bench
				d.fault(Fault{place, "", n.name, "a file of another name: one of this name is there and is of something else"})
				continue
			}
		case !errors.Is(err, fs.ErrNotExist):
			return err
		}
		d.cycles = append(d.cycles, n)
		d.New = append(d.New, item)
	}
	return nil
}

func first(all ...*Column) *Column {
	for _, c := range all {
		if c != nil {
			return c
		}
	}
	return &Column{Index: -1}
}

func firstProblem(s string, err error) string {
	if err != nil {
		return err.Error()
	}
	line, _, _ := strings.Cut(s, "\n")
	return line
}

func massUnit(u string) string {
	switch u = strings.ToLower(strings.TrimSuffix(u, ".")); u {
	case "gr", "gm", "gram", "grams", "gramm":
		return "g"
	case "lbs", "pounds":
		return "lb"
	}
	return u
}

func about(c *underlamp.Cycle) string {
	s := c.Cultivar
	if c.Name != "" {
		s = strings.TrimSpace(c.Name + " " + s)
	}
	if s == "" {
		return "crop of " + c.Transplanted
	}
	return s
}

// cycleSays is what a cycle says in one line, to be compared.
func cycleSays(c *underlamp.Cycle) string {
	out := []string{"harvested " + c.Harvested}
	if c.Harvested == "" {
		out[0] = "not harvested"
	}
	n := 0
	for _, o := range c.Observations {
		switch {
		case o.Heads > 0:
			out = append(out, fmt.Sprintf("%d heads of %s g", o.Heads, quantity.Number(float64(*o.Mass), 4)))
		case o.Count != nil:
			out = append(out, fmt.Sprintf("burn in %d of %d", o.Count.Burnt, o.Count.Of))
		default:
			n++
		}
	}
	if n > 0 {
		out = append(out, fmt.Sprintf("%d observations of single plants", n))
	}
	return strings.Join(out, ", ")
}
