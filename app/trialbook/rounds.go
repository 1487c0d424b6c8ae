package trialbook

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/app/round"
	"underlamp/formats/trialtable"
)

// Walked is what was seen on rounds of the bench of a trial.
type Walked struct {
	Record *round.Record
	Bench  *underlamp.Bench
	Plots  []Plot
}

// A Move is one line that the taking over of rounds would write.
type Move struct {
	Entry underlamp.TrialEntry
	Name  string // of the plant on the bench
	Was   string // what it corrects or strikes, in words; empty: it is new
}

// A Clash is a plant of which rounds and table say different things on the same day.
type Clash struct {
	Name          string // of the plant on the bench
	Rounds, Table underlamp.TrialEntry
}

// Key names a clash in the decisions.
func (c Clash) Key() string { return c.Rounds.ID }

// A Decision ends a clash; whichever it is, both values stay in the table.
type Decision string

// The decisions.
const (
	ByRounds Decision = "rounds" // what the rounds say counts
	ByTable  Decision = "table"  // what the table says counts
)

// A Taking is what taking over the rounds would do.
type Taking struct {
	Moves   []Move
	Clashes []Clash  // undecided
	Known   int      // values that stand in the table already
	Left    []string // what is left out, and why
	Doubts  []string // what can hardly be meant of the new values
}

// Fingerprint tells whether a taking is the one that a person saw.
func (t *Taking) Fingerprint() string {
	h := sha256.New()
	for _, m := range t.Moves {
		fmt.Fprintf(h, "%+v\n", m)
	}
	for _, c := range t.Clashes {
		fmt.Fprintf(h, "%+v %+v\n", c.Rounds, c.Table)
	}
	return hex.EncodeToString(h.Sum(nil)[:8])
}

// ofRounds are ids of lines that came from rounds.
var ofRounds = regexp.MustCompile(`^r[0-9a-f]{12}-[a-z]+$`)

// lineOf is the id under which an entry of the rounds stands in the table: always the same,
// so that it is entered once.
func lineOf(e *round.Entry, what underlamp.Response) string {
	h := sha256.Sum256([]byte(e.Bench + "\x00" + e.ID))
	return "r" + hex.EncodeToString(h[:6]) + "-" + string(what)
}

// A window is the time in which a block grows.
type window struct{ block, from, to string }

// windows are the times of the blocks, in order. A plan of one block without days grows
// since the bench was planted.
func windows(t *underlamp.Trial, b *underlamp.Bench) ([]window, error) {
	var out []window
	blocks := map[string]bool{}
	for _, u := range t.Places {
		blocks[u.Block] = true
	}
	for _, c := range t.Cycles {
		if c.Transplanted != "" && blocks[c.Block] {
			out = append(out, window{c.Block, c.Transplanted, cmp.Or(c.Harvested, "9999-12-31")})
		}
	}
	if len(out) == 0 && len(blocks) == 1 && b.Crop.Transplanted != "" {
		for block := range blocks {
			out = append(out, window{block, b.Crop.Transplanted, "9999-12-31"})
		}
	}
	if len(out) == 0 {
		return nil, errors.New("the plan does not say when its blocks are grown, so it is not known to which one a round belongs; write cycles: with the days of transplanting into the plan")
	}
	slices.SortStableFunc(out, func(a, b window) int { return strings.Compare(a.from, b.from) })
	return out, nil
}

// Take says what taking over the rounds would do; nothing is written. decided holds the
// decisions about clashes, by whom.
func Take(p *Page, w Walked, decided map[string]Decision, by string, now time.Time) (*Taking, error) {
	return p.take(p.All, w, decided, by, now)
}

func (p *Page) take(all []underlamp.TrialEntry, w Walked, decided map[string]Decision, by string, now time.Time) (*Taking, error) {
	when, err := windows(p.Trial, w.Bench)
	if err != nil {
		return nil, err
	}
	x := taker{Walked: w, out: &Taking{}, all: map[string]underlamp.TrialEntry{}, after: map[string]string{}, left: map[string]int{}, open: map[string]bool{}, decided: decided, by: clean(by), today: now.Format(time.DateOnly)}
	for _, e := range all {
		x.all[e.ID] = e
		if e.Corrects != "" {
			x.after[e.Corrects] = e.ID
		}
	}
	x.standing = trialtable.Standing(all)
	for _, c := range w.Record.Conflicts() {
		for _, e := range c.Entries {
			x.open[e.ID] = true
		}
	}
	type look struct {
		plant string
		day   time.Time
	}
	looked := map[look]bool{} // for burn, yes or no
	for _, e := range w.Record.Standing() {
		looked[look{e.Plant, w.Record.Day(&e)}] = looked[look{e.Plant, w.Record.Day(&e)}] || e.What == underlamp.ResponseBurn
	}
	for _, e := range w.Record.Standing() {
		plot, window, ok := x.plot(&e, when)
		if !ok {
			continue
		}
		x.value(&e, plot, window)
		// A grade tells whether there is burn at all, which the trial may ask for.
		if p.Trial.Response == underlamp.ResponseBurn && e.What == underlamp.ResponseSeverity && e.Missing == "" && !looked[look{e.Plant, w.Record.Day(&e)}] {
			grade := e
			grade.What, grade.Value = underlamp.ResponseBurn, min(e.Value, 1)
			grade.Note = strings.TrimPrefix(e.Note+"; of the grade", "; ")
			x.value(&grade, plot, window)
		}
	}
	x.struck()
	for why, n := range x.left {
		x.out.Left = append(x.out.Left, fmt.Sprintf("%d %s %s", n, entries(n), why))
	}
	slices.Sort(x.out.Left)
	added := map[string]bool{}
	both := slices.Clone(all)
	for _, m := range x.out.Moves {
		both, added[m.Entry.ID] = append(both, m.Entry), true
	}
	for _, s := range trialtable.Doubts(trialtable.Standing(both)) {
		if id, _, _ := strings.Cut(s, " "); added[id] {
			x.out.Doubts = append(x.out.Doubts, s)
		}
	}
	return x.out, nil
}

func entries(n int) string {
	if n == 1 {
		return "entry"
	}
	return "entries"
}

// A taker goes through the rounds.
type taker struct {
	Walked
	out      *Taking
	all      map[string]underlamp.TrialEntry // of the table
	after    map[string]string               // what corrects a line
	standing []underlamp.TrialEntry
	open     map[string]bool // entries of the rounds in a conflict among themselves
	left     map[string]int
	decided  map[string]Decision
	by       string
	today    string
}

// plot is the plant of the trial that an entry is about.
func (x *taker) plot(e *round.Entry, when []window) (Plot, window, bool) {
	day := x.Record.Day(e).Format(time.DateOnly)
	at := -1
	for i, w := range when {
		if w.from <= day && day <= w.to {
			at = i
		}
	}
	if at < 0 {
		x.left["of days on which no block of the trial grows"]++
		return Plot{}, window{}, false
	}
	for _, p := range x.Plots {
		if p.Block != when[at].block || p.Name != e.Plant {
			continue
		}
		if p.Guard != "" {
			x.left["of guard plants, which do not count"]++
			return Plot{}, window{}, false
		}
		return p, when[at], true
	}
	x.left["of plants that are in no unit of the trial"]++
	return Plot{}, window{}, false
}

// value takes one entry that counts.
func (x *taker) value(e *round.Entry, p Plot, w window) {
	switch {
	case !slices.Contains(underlamp.Responses(), e.What):
		x.left["of notes, photos and cuts, for which a trial has no line"]++
		return
	case x.open[e.ID]:
		x.left["on which the rounds disagree among themselves; decide that first on the page of what was seen"]++
		return
	}
	value := e.Value
	if e.What == underlamp.ResponseFirst || e.What == underlamp.ResponseClear {
		if x.Bench.Crop.Transplanted != w.from {
			x.left["of days of burn, counted from another transplanting than that of the trial"]++
			return
		}
	}
	line := underlamp.TrialEntry{ID: lineOf(e, e.What), Time: x.Record.When(e).In(x.Record.Zone()).Format("2006-01-02 15:04"), TrialUnit: p.Unit, Plant: p.Plant, What: e.What, Value: value, Missing: clean(e.Missing), By: clean(e.By), With: clean(e.With), Note: noteOf(e)}
	if _, there := x.all[line.ID]; there {
		x.out.Known++
		return
	}
	// What it corrects in the rounds may stand in the table.
	for q := e; q.Corrects != ""; {
		before, ok := x.Record.Find(q.Corrects)
		if !ok {
			break
		}
		if old, there := x.all[lineOf(&before, e.What)]; there {
			if by := x.after[old.ID]; by == "" {
				if same(old, line) {
					x.out.Known++
				} else {
					line.Corrects = old.ID
					x.out.Moves = append(x.out.Moves, Move{line, p.Name, SaidOf(old)})
				}
			} else {
				x.clash(line, x.last(by), p)
			}
			return
		}
		q = &before
	}
	for _, o := range x.standing {
		if o.TrialUnit == p.Unit && o.Plant == p.Plant && o.What == e.What && day(o.Time) == day(line.Time) && !ofRounds.MatchString(o.ID) {
			if same(o, line) {
				x.out.Known++
			} else {
				x.clash(line, o, p)
			}
			return
		}
	}
	x.out.Moves = append(x.out.Moves, Move{line, p.Name, ""})
}

func same(a, b underlamp.TrialEntry) bool {
	return a.Value == b.Value && a.Missing == b.Missing && !a.Struck && !b.Struck
}

func noteOf(e *round.Entry) string {
	note := clean(e.Note)
	if r := []rune(note); len(r) > mostNote-40 {
		note = string(r[:mostNote-40]) + "…"
	}
	return strings.TrimPrefix(note+"; from the rounds", "; ")
}

// last is the line that stands for another in the end.
func (x *taker) last(id string) underlamp.TrialEntry {
	for steps := 0; x.after[id] != "" && steps <= len(x.all); steps++ {
		id = x.after[id]
	}
	return x.all[id]
}

// clash is decided, or left to a person.
func (x *taker) clash(line, table underlamp.TrialEntry, p Plot) {
	if same(line, table) {
		x.out.Known++
		return
	}
	c := Clash{Name: p.Name, Rounds: line, Table: table}
	switch x.decided[c.Key()] {
	case ByRounds:
		line.Corrects = table.ID
		x.out.Moves = append(x.out.Moves, Move{line, p.Name, SaidOf(table)})
	case ByTable:
		x.out.Moves = append(x.out.Moves, Move{line, p.Name, ""}, Move{underlamp.TrialEntry{ID: "k" + line.ID[1:], Time: line.Time, TrialUnit: line.TrialUnit, Plant: line.Plant, What: line.What, By: x.by, Corrects: line.ID, Struck: true,
			Note: fmt.Sprintf("decided on %s: %s counts", x.today, cmp.Or(table.ID, "the table"))}, p.Name, SaidOf(line)})
	default:
		x.out.Clashes = append(x.out.Clashes, c)
	}
}

// struck strikes what was taken over and has been taken out of the rounds since.
func (x *taker) struck() {
	for i := range x.Record.All {
		e := &x.Record.All[i]
		if x.Record.Counts(e) {
			continue
		}
		whats := []underlamp.Response{e.What}
		if e.What == underlamp.ResponseSeverity {
			whats = append(whats, underlamp.ResponseBurn)
		}
		for _, what := range whats {
			old, there := x.all[lineOf(e, what)]
			if !there || x.after[old.ID] != "" {
				continue
			}
			if by := x.strikes(e); by != nil {
				x.out.Moves = append(x.out.Moves, Move{underlamp.TrialEntry{ID: lineOf(by, what), Time: old.Time, TrialUnit: old.TrialUnit, Plant: old.Plant, What: old.What, By: clean(by.By), Corrects: old.ID, Struck: true, Note: noteOf(by)}, e.Plant, SaidOf(old)})
			}
		}
	}
}

// strikes is the entry that takes another one, or its correction, out; nil: none does.
func (x *taker) strikes(e *round.Entry) *round.Entry {
	for steps := 0; steps <= len(x.Record.All); steps++ {
		next := x.Record.After(e.ID)
		if len(next) == 0 {
			return nil
		}
		if e = &next[len(next)-1]; e.Struck {
			return e
		}
	}
	return nil
}

// ErrMoved says that rounds or table have changed since a person looked.
var ErrMoved = errors.New("the rounds or the table have changed since this was shown; look again")

// TakeOver writes what [Take] showed, all or nothing: seen is the fingerprint of that. It
// returns what it did.
func TakeOver(place Place, p *Page, w Walked, seen string, decided map[string]Decision, by string, now time.Time) (*Taking, error) {
	var done *Taking
	err := p.extend(place, func(all []underlamp.TrialEntry) ([]underlamp.TrialEntry, error) {
		shown, err := p.take(all, w, nil, by, now)
		if err != nil {
			return nil, err
		}
		if shown.Fingerprint() != seen {
			return nil, ErrMoved
		}
		if done, err = p.take(all, w, decided, by, now); err != nil {
			return nil, err
		}
		var lines []underlamp.TrialEntry
		for _, m := range done.Moves {
			lines = append(lines, m.Entry)
		}
		return lines, nil
	})
	return done, err
}

// Sources says where the standing values of a table are from; empty where all were entered
// by hand.
func Sources(standing []underlamp.TrialEntry) string {
	n := map[string]int{}
	for _, e := range standing {
		kind, _ := importOf(e.ID)
		switch {
		case ofRounds.MatchString(e.ID):
			n["from the rounds of the bench"]++
		case kind == "i":
			n["from imported tables"]++
		default:
			n["entered into the trial itself"]++
		}
	}
	if len(n) < 2 && n["entered into the trial itself"] > 0 || len(n) == 0 {
		return ""
	}
	var parts []string
	for _, from := range slices.Sorted(maps.Keys(n)) {
		parts = append(parts, fmt.Sprintf("%d %s", n[from], from))
	}
	return fmt.Sprintf("Where the %d values are from: %s.", len(standing), strings.Join(parts, ", "))
}
