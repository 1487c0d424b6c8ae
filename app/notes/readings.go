package notes

import (
	"bytes"
	"fmt"
	"io/fs"
	"math"
	"strconv"
	"strings"
	"time"

	"underlamp"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/formats/handwritten"
	"underlamp/formats/sheet"
	"underlamp/science/quantity"
)

// readings reads readings of light, one a row, and puts them into the bench file.
func (d *Draft) readings(t *sheet.Table, b *underlamp.Bench, base []byte, folder fs.FS) error {
	col := map[string]*Column{}
	for i := range d.Columns {
		if c := &d.Columns[i]; c.Is != Nothing {
			col[c.Is] = c
		}
	}
	if col[PPFD] == nil {
		d.Asked = append(d.Asked, "No column is the PPFD: say which.")
	}
	if col[Plant] == nil && (col[X] == nil || col[Y] == nil) {
		d.Asked = append(d.Asked, "No columns say where the readings were taken: say which are the distances from the left and from the front, or which is the plant.")
	}
	usual := math.NaN()
	if d.Said.Height != "" {
		v, err := quantity.Length.Parse(d.Said.Height)
		if err != nil {
			return fmt.Errorf("the height of the sensor %q: %w", d.Said.Height, err)
		}
		usual = v
	} else if col[Height] == nil {
		d.Asked = append(d.Asked, "No column is the height of the sensor above the planting surface: say how high it stood.")
	}
	day := ""
	if d.Said.Day != "" {
		at, err := time.Parse(time.DateOnly, d.Said.Day)
		if err != nil {
			return fmt.Errorf("%q is no day such as 2026-10-01", d.Said.Day)
		}
		day = at.Format(time.DateOnly)
	}
	if len(d.Asked) > 0 {
		return nil
	}
	used := map[string]bool{}
	for _, r := range b.Readings {
		used[r.Name] = true
	}
	var changes []benchfile.Change
	for _, r := range t.Rows {
		if why := d.aside(t, r); why != "" {
			d.left(fmt.Sprintf("%s: %s", t.Place(r, -1), why))
			continue
		}
		faults := d.FaultCount()
		cell := func(is string) (sheet.Cell, *Column, bool) {
			c := col[is]
			if c == nil {
				return sheet.Cell{}, nil, false
			}
			x := r.At(c.Index)
			return x, c, !x.Blank() && !sheet.Missing(x.String())
		}
		bad := func(c *Column, want string) {
			d.fault(Fault{t.Place(r, c.Index), c.Heading, r.At(c.Index).String(), want})
		}
		length := func(is string) (float64, bool) {
			x, c, ok := cell(is)
			if !ok {
				return 0, false
			}
			v, unit, err := t.Number(x, c.Index)
			if unit == "" {
				unit = c.Unit
			}
			if unit == "" {
				unit = "cm"
				if b.Units == quantity.US {
					unit = "in"
				}
			}
			m, err2 := quantity.Length.Parse(strconv.FormatFloat(v, 'f', -1, 64) + " " + unit)
			if err != nil || err2 != nil {
				bad(c, "a length such as 30 cm or 12 in")
				return 0, false
			}
			return m, true
		}
		x, c, ok := cell(PPFD)
		if !ok {
			d.Empty++
			continue
		}
		v, unit, err := t.Number(x, c.Index)
		if unit == "" {
			unit = c.Unit
		}
		if err != nil || v < 0 || v > 5000 || unit != "" && !isFlux(unit) {
			bad(c, "a PPFD in µmol/m²/s, such as 180")
			continue
		}
		px, okX := length(X)
		py, okY := length(Y)
		if p, pc, ok := cell(Plant); ok && (!okX || !okY) {
			name, _ := plantOf(b, p.String())
			if name == "" {
				bad(pc, "a plant of the bench: "+plantNames(b))
				continue
			}
			for _, q := range b.Plants {
				if q.Name == name {
					px, py, okX, okY = float64(q.X), float64(q.Y), true, true
				}
			}
		}
		h, okH := length(Height)
		if !okH {
			if h = usual; math.IsNaN(h) && d.FaultCount() == faults {
				bad(col[Height], "a height such as 5 cm, or say how high the sensor stood")
			}
		}
		if (!okX || !okY) && d.FaultCount() == faults {
			d.fault(Fault{t.Place(r, -1), "", "", "the place of the reading: distances from the left and from the front, or a plant"})
		}
		on := day
		if x, c, ok := cell(Day); ok {
			at, _, err := t.Date(x, c.Index)
			if err != nil {
				bad(c, wantDay(err))
			} else {
				on = at.Format(time.DateOnly)
			}
		}
		if d.FaultCount() > faults {
			continue
		}
		text := fmt.Sprintf("%s at %s, %s, height %s", quantity.Number(v, 4)+" µmol/m²/s", length4(px, b), length4(py, b), length4(h, b))
		place := t.Place(r, col[PPFD].Index)
		about := "reading"
		n, _, named := cell(Name)
		if named {
			about = shortened(n.String())
		}
		has, same := -1, false
		for i, o := range b.Readings {
			if math.Hypot(math.Hypot(float64(o.X)-px, float64(o.Y)-py), float64(o.Height)-h) < 0.0005 && (o.When == on || o.When == "" || on == "") {
				has, same = i, math.Abs(float64(o.PPFD)-v) < 0.005
				if same {
					break
				}
			}
		}
		if same {
			d.Same++
			continue
		}
		item := Item{Place: place, About: about, What: "PPFD", Text: text, Day: on}
		if has >= 0 {
			o := b.Readings[has]
			take := d.Said.takes(place)
			d.Conflicts = append(d.Conflicts, Conflict{place, o.Name, "PPFD", on, quantity.Number(float64(o.PPFD), 4) + " µmol/m²/s", quantity.Number(v, 4) + " µmol/m²/s", take})
			if !take {
				continue
			}
			item.Over = quantity.Number(float64(o.PPFD), 4) + " µmol/m²/s; both stay, for light may have changed"
		}
		name := ""
		if named {
			name = n.String()
		}
		if len(name) > handwritten.MaxName || used[name] {
			name = ""
		}
		for i := len(b.Readings) + len(d.names) + 1; name == ""; i++ {
			if s := fmt.Sprintf("R%d", i); !used[s] {
				name = s
			}
		}
		used[name] = true
		line := fmt.Sprintf("{name: %s, at: [%s, %s], height: %s, ppfd: %s µmol/m²/s", strconv.Quote(name), written(px), written(py), written(h), strconv.FormatFloat(v, 'f', -1, 64))
		if on != "" {
			line += ", date: " + on
		}
		changes = append(changes, benchfile.Change{Do: benchfile.Add, Path: "readings", Text: line + "}"})
		item.About = name
		d.names, d.added, d.New = append(d.names, name), append(d.added, line), append(d.New, item)
	}
	d.base = base
	if len(changes) == 0 {
		return nil
	}
	text, err := benchfile.Apply(base, changes...)
	if err != nil {
		return fmt.Errorf("the readings cannot be set into the bench file: %w", err)
	}
	again, problems, err := benchfile.ReadWith(bytes.NewReader(text), benchfolder.Files(folder))
	if err != nil {
		return err
	}
	if again == nil {
		return fmt.Errorf("the bench would not be one with these readings: %s", firstProblem(problems.Error(), nil))
	}
	for _, p := range problems {
		for i, name := range d.names {
			if strings.Contains(p.Path, fmt.Sprintf("readings[%d]", len(b.Readings)+i)) || strings.Contains(p.Path, strconv.Quote(name)) {
				d.Doubts = append(d.Doubts, fmt.Sprintf("%s: %s.", d.New[i].Place, p.Message))
			}
		}
	}
	d.text = text
	return nil
}

func length4(m float64, b *underlamp.Bench) string { return quantity.Length.Format(m, b.Units, 4) }

// written is a length in cm, without the crumbs of binary fractions.
func written(m float64) string {
	return strconv.FormatFloat(math.Round(m*1e6)/1e4, 'f', -1, 64) + " cm"
}
