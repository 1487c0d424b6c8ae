package notes

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"underlamp"
	"underlamp/app/round"
	"underlamp/formats/sheet"
	"underlamp/formats/trialtable"
)

// gone are words of people for a plant that has no value.
var gone = []string{"dead", "died", "eaten", "rotten", "rotted", "lost", "missing", "broken", "thrown away", "discarded", "gone", "wilted", "tot", "eingegangen", "verfault", "gefressen", "dood", "verrot", "mort", "morte", "perdu", "muerto", "muerta", "perdido", "no plant", "empty"}

var digits = regexp.MustCompile(`\d+`)

// plantOf finds the plant of the bench that a person means: by its name, or by its number
// where that says which.
func plantOf(b *underlamp.Bench, said string) (name string, numbered bool) {
	word := strings.Join(strings.Fields(said), " ")
	for _, p := range b.Plants {
		if strings.EqualFold(p.Name, word) {
			return p.Name, false
		}
	}
	n := digits.FindAllString(word, -1)
	letters := strings.ToLower(strings.TrimSpace(digits.ReplaceAllString(word, "")))
	letters = strings.Trim(letters, " .#-_:no°")
	if len(n) != 1 || !slices.Contains([]string{"", "p", "plant", "plants", "pflanze", "plante", "planta", "head", "kopf", "pot", "topf", "krop"}, letters) {
		return "", false
	}
	want, err := strconv.Atoi(n[0])
	if err != nil {
		return "", false
	}
	for _, p := range b.Plants {
		m := digits.FindAllString(p.Name, -1)
		if len(m) != 1 {
			continue
		}
		if have, err := strconv.Atoi(m[0]); err == nil && have == want {
			if name != "" {
				return "", false // two plants of this number
			}
			name = p.Name
		}
	}
	return name, name != ""
}

func plantNames(b *underlamp.Bench) string {
	var all []string
	for _, p := range b.Plants {
		all = append(all, p.Name)
	}
	if len(all) > 8 {
		return fmt.Sprintf("%s … %s", strings.Join(all[:6], ", "), all[len(all)-1])
	}
	return strings.Join(all, ", ")
}

// A seenKey is what of one plant can be said once a day.
type seenKey struct {
	plant string
	what  underlamp.Response
	day   string
}

// measureIn is the measure that a word of a long table names.
func measureIn(s string) (underlamp.Response, bool) {
	r := underlamp.Response(trialtable.Guess(s))
	if slices.Contains(underlamp.Responses(), r) {
		return r, true
	}
	r = underlamp.Response(normal(s))
	return r, slices.Contains(underlamp.Responses(), r) || r == round.Note || r == round.Cut
}

// plants reads what was seen of plants. rec is what the bench has, without what imports
// brought that were taken back; id begins the ids of the entries.
func (d *Draft) plants(t *sheet.Table, b *underlamp.Bench, all []round.Entry, rec *round.Record, now time.Time, id string) error {
	plantCol, dayCol := d.column(Plant), d.column(Day)
	whatCol, valueCol := d.column(What), d.column(Value)
	byCol, withCol, cutCol := d.column(By), d.column(With), d.column(Cut)
	var notes []*Column
	var measures []*Column
	for i := range d.Columns {
		c := &d.Columns[i]
		switch {
		case c.Is == Note:
			notes = append(notes, c)
		case slices.Contains(underlamp.Responses(), underlamp.Response(c.Is)):
			measures = append(measures, c)
		}
	}
	if plantCol == nil {
		d.Asked = append(d.Asked, "No column is the plant: say which.")
	}
	if len(measures) == 0 && (whatCol == nil || valueCol == nil) && cutCol == nil && len(notes) == 0 {
		d.Asked = append(d.Asked, "No column holds something that was seen: say which is the mass, the height, the burn.")
	}
	var usual time.Time
	if d.Said.Day != "" {
		var err error
		if usual, err = time.Parse(time.DateOnly, d.Said.Day); err != nil {
			return fmt.Errorf("%q is no day such as 2026-10-01", d.Said.Day)
		}
	}
	if len(d.Asked) > 0 {
		return nil
	}
	zone := rec.Zone()
	standing := map[seenKey][]round.Entry{}
	everSaid := map[seenKey]map[string]bool{}
	say := func(k seenKey, text string) {
		if everSaid[k] == nil {
			everSaid[k] = map[string]bool{}
		}
		everSaid[k][text] = true
	}
	for i := range all {
		e := &all[i]
		k := seenKey{e.Plant, e.What, rec.Day(e).Format(time.DateOnly)}
		if !e.Struck {
			say(k, sayOf(e))
		}
		if rec.Counts(e) {
			standing[k] = append(standing[k], *e)
		}
	}
	fromFile := map[seenKey]string{} // place of what this sheet said already
	lastDay, lastClock := time.Time{}, false
	var carried, numbered []int
	unread := map[int]bool{}
	n := 0
	for _, r := range t.Rows {
		x := r.At(plantCol.Index)
		// A line that holds a day alone is of the rows below it.
		if only, ok := lone(r); ok {
			if day, clock, err := t.Date(only.c, only.at); err == nil && x.Blank() || err == nil && only.c.Kind != sheet.Number {
				lastDay, lastClock = day, clock
				d.left(fmt.Sprintf("%s: it holds a day alone, which is taken for the rows below", t.Place(r, -1)))
				continue
			}
		}
		if why := d.aside(t, r); why != "" {
			d.left(fmt.Sprintf("%s: %s", t.Place(r, -1), why))
			continue
		}
		bad := func(c *Column, says, want string) {
			d.fault(Fault{t.Place(r, c.Index), c.Heading, says, want})
		}
		hasValue := slices.ContainsFunc(measures, func(c *Column) bool { return !r.At(c.Index).Blank() }) || valueCol != nil && !r.At(valueCol.Index).Blank()
		if x.Blank() {
			if hasValue {
				bad(plantCol, "", "a plant of the bench: "+plantNames(b))
			} else {
				d.left(fmt.Sprintf("%s: it names no plant", t.Place(r, -1)))
			}
			continue
		}
		plant, byNumber := plantOf(b, x.String())
		if plant == "" {
			bad(plantCol, x.String(), "a plant of the bench: "+plantNames(b))
			continue
		}
		if byNumber {
			numbered = append(numbered, r.N)
		}
		day, clock := usual, false
		if dayCol != nil {
			switch c := r.At(dayCol.Index); {
			case c.Kind == sheet.Fault || !c.Blank() && sheet.Missing(c.String()):
				bad(dayCol, c.String(), wantDay(nil))
				continue
			case !c.Blank():
				var err error
				if day, clock, err = t.Date(c, dayCol.Index); err != nil {
					bad(dayCol, c.String(), wantDay(err))
					if errors.Is(err, sheet.ErrOrder) || errors.Is(err, sheet.ErrYear) {
						unread[dayCol.Index] = true
					}
					continue
				}
				if today := now.In(zone).Format(time.DateOnly); day.Format(time.DateOnly) > today { // notes are of what was seen
					bad(dayCol, c.String(), "a day that has come; today is "+today)
					continue
				}
				lastDay, lastClock = day, clock
			case !lastDay.IsZero():
				day, clock = lastDay, lastClock
				carried = append(carried, r.N)
			}
		} else if !lastDay.IsZero() {
			day, clock = lastDay, lastClock
		}
		cell := func(c *Column) string {
			if c == nil || r.At(c.Index).Kind == sheet.Fault {
				return ""
			}
			return strings.TrimSpace(r.At(c.Index).String())
		}
		by, with := cell(byCol), cell(withCol)
		if by == "" {
			by = d.Said.By
		}
		var words []string
		for _, c := range notes {
			if s := cell(c); !sheet.Missing(s) {
				words = append(words, s)
			}
		}
		note := strings.Join(words, "; ")
		first := true
		enter := func(c *Column, what underlamp.Response, said trialtable.Said, missing string, at time.Time, clock bool) {
			place := t.Place(r, c.Index)
			if at.IsZero() {
				if dayCol != nil {
					bad(dayCol, "", wantDay(nil))
				} else {
					d.fault(Fault{t.Place(r, -1), "", "", "a day: no column has it; say of which day these notes are"})
				}
				return
			}
			y, m, dd := at.Date()
			when := time.Date(y, m, dd, 12, 0, 0, 0, zone)
			if clock {
				when = time.Date(y, m, dd, at.Hour(), at.Minute(), at.Second(), 0, zone)
			}
			s := round.Seen{Plant: plant, What: what, Typed: said.Typed, Missing: missing, By: by, With: with}
			if what == round.Note {
				s.Typed, s.Note = "", note
			} else {
				var parts []string
				if said.Was != "" {
					parts = append(parts, "written as “"+said.Was+"”")
				}
				if first && note != "" {
					parts = append(parts, note)
				}
				s.Note = strings.Join(parts, "; ")
			}
			n++
			e, err := round.New(fmt.Sprintf("%s-%d", id, n), d.Into, when, now, s, "", b)
			if err != nil {
				n--
				bad(c, cell(c), err.Error())
				return
			}
			k := seenKey{plant, what, at.Format(time.DateOnly)}
			if what == round.Note {
				k.what = round.Note
			}
			text := sayOf(&e)
			item := Item{Place: place, About: plant, What: string(what), Text: e.Text(), Day: k.day, Note: e.Note}
			if what == round.Note {
				item.Note = ""
			}
			switch was := fromFile[k]; {
			case everSaid[k][text]:
				if was == "" && what != round.Note {
					fromFile[k] = place
				}
				d.Same++
				first = false // its note came with it
				return
			case was != "" && what != round.Note:
				bad(c, cell(c), fmt.Sprintf("one value of a plant and day; %s has another one. Leave one out, or give both their time of day", was))
				return
			}
			has := standing[k]
			if len(has) > 0 && what != round.Note && what != round.Cut {
				take := d.Said.takes(place)
				d.Conflicts = append(d.Conflicts, Conflict{place, plant, string(what), k.day, has[len(has)-1].Text(), e.Text(), take})
				if !take {
					return
				}
				e.Corrects = has[len(has)-1].ID
				item.Over = has[len(has)-1].Text()
			}
			if what != round.Note {
				fromFile[k] = place
			}
			say(k, text)
			first = false
			d.entries = append(d.entries, e)
			d.New = append(d.New, item)
		}
		read := func(c *Column, what underlamp.Response, at time.Time, clock bool) {
			x := r.At(c.Index)
			column := c.column
			said, err := trialtable.FromCell(what, t, x, column)
			switch {
			case errors.Is(err, trialtable.ErrMissing):
				d.Empty++
			case err != nil && x.Kind == sheet.Text && slices.Contains(gone, normal(x.Text)):
				enter(c, what, trialtable.Said{}, x.Text, at, clock)
			case err != nil:
				want := trialtable.Want(what)
				if strings.Contains(err.Error(), "it may be") {
					want = err.Error()
				}
				bad(c, x.String(), want)
			default:
				enter(c, what, said, "", at, clock)
			}
		}
		for _, c := range measures {
			at, clk := day, clock
			if !c.Day.IsZero() {
				at, clk = c.Day, false
			}
			read(c, underlamp.Response(c.Is), at, clk)
		}
		if whatCol != nil && valueCol != nil && !r.At(whatCol.Index).Blank() {
			switch what, ok := measureIn(r.At(whatCol.Index).String()); {
			case !ok:
				bad(whatCol, r.At(whatCol.Index).String(), "mass, height, width, leaves, burn or severity")
			case what == round.Note:
				if note = cell(valueCol); note != "" {
					enter(valueCol, round.Note, trialtable.Said{}, "", day, clock)
				}
			case what == round.Cut:
				enter(valueCol, round.Cut, trialtable.Said{}, "", day, clock)
			default:
				read(valueCol, what, day, clock)
			}
		}
		if cutCol != nil {
			if said, err := trialtable.FromCell(underlamp.ResponseBurn, t, r.At(cutCol.Index), cutCol.column); err == nil && said.Value == 1 {
				enter(cutCol, round.Cut, trialtable.Said{}, "", day, clock)
			}
		}
		if first && note != "" && whatCol == nil { // of a row with nothing but a note
			for _, c := range measures {
				if usual.IsZero() && dayCol == nil && c.Day.After(day) {
					day = c.Day
				}
			}
			enter(notes[0], round.Note, trialtable.Said{}, "", day, clock)
		}
	}
	if len(carried) > 0 {
		d.Notes = append(d.Notes, fmt.Sprintf("Rows without a day, taken to be of the day above them: %s.", numbers(carried)))
	}
	if len(numbered) > 0 {
		d.Notes = append(d.Notes, fmt.Sprintf("Plants are called by their numbers in the sheet; 1 is taken for %s.", firstNumbered(b)))
	}
	for i := range unread {
		if c := t.Column(i); c != nil {
			d.Notes = append(d.Notes, fmt.Sprintf("The days of “%s” can be meant in two ways, see below.", c.Heading))
		}
	}
	d.plantDoubts(b, all, now, zone)
	return nil
}

// lone is the one cell of a row that holds something.
func lone(r sheet.Row) (out struct {
	c  sheet.Cell
	at int
}, ok bool) {
	n := 0
	for i, c := range r.Cells {
		if !c.Blank() {
			n++
			out.c, out.at = c, i
		}
	}
	return out, n == 1
}

// sayOf is what an entry says, to be compared: two of equal texts say the same.
func sayOf(e *round.Entry) string {
	switch {
	case e.What == round.Note:
		return "note " + e.Note
	case e.What == round.Cut:
		return "cut"
	case e.Missing != "":
		return "missing"
	}
	return strconv.FormatFloat(e.Value, 'g', 9, 64)
}

// numbers lists rows.
func numbers(rows []int) string {
	var out []string
	for i := 0; i < len(rows); {
		j := i
		for j+1 < len(rows) && rows[j+1] == rows[j]+1 {
			j++
		}
		if s := strconv.Itoa(rows[i]); j > i {
			out = append(out, s+" to "+strconv.Itoa(rows[j]))
		} else {
			out = append(out, s)
		}
		if i = j + 1; len(out) == 8 && i < len(rows) {
			return strings.Join(out, ", ") + fmt.Sprintf(" and %d more", len(rows)-i)
		}
	}
	return strings.Join(out, ", ")
}

func firstNumbered(b *underlamp.Bench) string {
	if p, _ := plantOf(b, "1"); p != "" {
		return p
	}
	if len(b.Plants) > 0 {
		return b.Plants[0].Name
	}
	return "the first plant"
}

// plantDoubts asks about new entries that can hardly be meant.
func (d *Draft) plantDoubts(b *underlamp.Bench, all []round.Entry, now time.Time, zone *time.Location) {
	ids := map[string]Item{}
	for i, e := range d.entries {
		ids[e.ID] = d.New[i]
	}
	before := 0
	for _, x := range round.NewRecord(slices.Concat(all, d.entries), zone).Doubts(b, now) {
		item, ok := ids[x.ID]
		if !ok {
			continue
		}
		if strings.Contains(x.Text, "before the crop was transplanted") {
			before++
			continue
		}
		if len(d.Doubts) < mostTold {
			d.Doubts = append(d.Doubts, fmt.Sprintf("%s, %s, %s: %s", item.Place, item.About, item.What, x.Text))
		}
	}
	if before > 0 { // notes of earlier crops: one sentence, not one a value
		d.Doubts = append(d.Doubts, fmt.Sprintf("%d of %d values are of days before the present crop was transplanted (%s): they are kept with the bench, and are of an earlier crop.", before, len(d.New), b.Crop.Transplanted))
	}
}
