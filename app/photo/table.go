package photo

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"underlamp"
	"underlamp/formats/trialtable"
)

// TableHeader is the first line of the table of photos: each quantity with its standard
// deviation, and what was refused with its reason.
var TableHeader = func() []string {
	h := []string{"photo", "taken", "taken_from", "bench", "plant", "trial", "trial_plant", "code", "view", "method"}
	for _, q := range Quantities() {
		name := strings.ReplaceAll(string(q), " ", "_")
		if u := q.Unit(); u != "" {
			name += "_" + strings.ReplaceAll(u, "²", "2")
		}
		h = append(h, name, name+"_sd")
	}
	return append(h, "spots", "tilt_deg", "corrected_height_cm", "refused", "why", "doubts", "sha256")
}()

// A TableWriter writes the table line by line.
type TableWriter struct {
	c    *csv.Writer
	zone *time.Location
}

// NewTable begins a table.
func NewTable(w io.Writer, zone *time.Location) *TableWriter {
	t := &TableWriter{csv.NewWriter(w), zone}
	t.c.Write(TableHeader)
	return t
}

// Add writes a line for each label of a photo, or one for a photo that told nothing. name
// is what the photo is called.
func (t *TableWriter) Add(name string, f *Finding, problem string, register Register) {
	if f == nil {
		f = &Finding{Refused: &Refusal{Reason: "no photo", Because: problem}}
	}
	taken := ""
	if !f.Taken.IsZero() {
		taken = f.Taken.In(t.zone).Format(time.RFC3339)
	}
	row := func(r *Read) {
		out := []string{name, taken, f.From}
		refused := f.Refused
		if r == nil {
			r = &Read{}
		} else if r.Refused != nil {
			refused = r.Refused
		}
		s := register[r.Code]
		view := ""
		if r.Code != "" {
			view = map[bool]string{false: "above", true: "side"}[r.Side]
		}
		out = append(out, s.Bench, s.Plant, s.Trial, s.Unit, string(r.Code), view, f.Method)
		for _, q := range Quantities() {
			if x, ok := r.Figure(q); ok {
				out = append(out, short(x.Value), short(x.SD))
			} else {
				out = append(out, "", "")
			}
		}
		spots := ""
		if len(r.Figures) > 0 {
			spots = strconv.Itoa(len(r.Spots))
		}
		reason, why := "", ""
		if refused != nil {
			reason, why = refused.Reason, refused.Text()
		}
		out = append(out, spots, blank0(r.Tilt), blank0(r.HeightCM), reason, why, strings.Join(append(append([]string{}, f.Notes...), r.Doubts...), " "), f.SHA256)
		t.c.Write(out)
	}
	if len(f.Reads) == 0 {
		row(nil)
	}
	for i := range f.Reads {
		row(&f.Reads[i])
	}
}

// Flush writes what is held back.
func (t *TableWriter) Flush() error {
	t.c.Flush()
	return t.c.Error()
}

// short is a number with five figures.
func short(v float64) string { return strconv.FormatFloat(v, 'g', 5, 64) }

func blank0(v float64) string {
	if v == 0 || math.IsNaN(v) {
		return ""
	}
	return short(v)
}

// TrialRows are the lines of a table of a trial that looks at its plants come to: leaf area,
// which trial findings follow as growth, and height from the side. The id is made of photo and
// plant, so that a line comes once.
func TrialRows(looks []Look, trial string, zone *time.Location) []underlamp.TrialEntry {
	var out []underlamp.TrialEntry
	for _, l := range looks {
		if l.Subject.Trial != trial || l.Refused != nil {
			continue
		}
		unit, plant, ok := cutLast(l.Subject.Unit)
		if !ok {
			continue
		}
		for _, x := range []struct {
			q    Quantity
			what underlamp.Response
		}{{Area, underlamp.ResponseArea}, {Height, underlamp.ResponseHeight}} {
			if f, ok := l.Figure(x.q); ok {
				out = append(out, underlamp.TrialEntry{
					ID: fmt.Sprintf("photo-%.12s-%s-%s", l.Shot.Finding.SHA256, l.Code, x.what), Time: l.Shot.Taken.In(zone).Format("2006-01-02 15:04"), TrialUnit: unit, Plant: plant,
					What: x.what, Value: math.Round(f.Value*100) / 100, With: "photo", Note: fmt.Sprintf("± %s %s by %s", short(f.SD), x.q.Unit(), l.Shot.Finding.Method),
				})
			}
		}
	}
	return out
}

// cutLast parts the code of a plant of a trial: C1-L3-P5 is plant P5 of unit C1-L3.
func cutLast(code string) (unit, plant string, ok bool) {
	i := strings.LastIndexByte(code, '-')
	if i < 0 {
		return "", "", false
	}
	return code[:i], code[i+1:], true
}

// WriteTrialRows writes lines with the columns of the tables of trials.
func WriteTrialRows(w io.Writer, rows []underlamp.TrialEntry) error {
	c := csv.NewWriter(w)
	c.Write(trialtable.Header)
	for _, e := range rows {
		c.Write([]string{e.ID, e.Time, e.TrialUnit, e.Plant, string(e.What), strconv.FormatFloat(e.Value, 'g', -1, 64), "", e.By, e.With, e.Note, "", ""})
	}
	c.Flush()
	return c.Error()
}
