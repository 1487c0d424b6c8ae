package api

import (
	"bytes"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"io"
	"math"
	"net/http"
	"slices"
	"time"

	"underlamp"
	"underlamp/app/photo"
	"underlamp/app/round"
	"underlamp/formats/benchfolder"
	"underlamp/formats/cyclefile"
	"underlamp/store"
	"underlamp/wire"
)

type entriesParams struct {
	benchPath
	Plant  string     `query:"plant" maxlen:"100" doc:"of this plant alone"`
	What   string     `query:"what" maxlen:"20" doc:"of this alone" example:"mass"`
	By     string     `query:"by" maxlen:"100" doc:"that this person saw"`
	From   *time.Time `query:"from" doc:"seen from this time on"`
	To     *time.Time `query:"to" doc:"seen before this time"`
	Counts bool       `query:"counts" doc:"those alone that count"`
	Newest bool       `query:"newest_first" doc:"the newest first; else in the order of time"`
	Paging
}

type entryPath struct {
	benchPath
	Entry string `path:"entry" maxlen:"64"`
}

func newID() string {
	var b [16]byte
	rand.Read(b[:]) // never fails
	return hex.EncodeToString(b[:])
}

// roundsOf is what was seen on a bench. A bench file with mistakes does not hinder that: the bench
// is nil then.
func (a *API) roundsOf(c *Call, id string) (Bench, *underlamp.Bench, *round.Record, error) {
	b, err := a.o.Benches.Get(id)
	if err != nil {
		return nil, nil, nil, err
	}
	if b == nil {
		return nil, nil, nil, missing("There is no bench of this name.", Prefix+"/benches lists them.")
	}
	rec, err := a.roundRecord(c, id)
	if err != nil {
		return nil, nil, nil, err
	}
	if b.Broken() != "" {
		return b, &underlamp.Bench{}, rec, nil
	}
	return b, b.Bench(), rec, nil
}

func entryJSON(rec *round.Record, b *underlamp.Bench, e *round.Entry, doubts map[string][]string) wire.RoundEntry {
	out := wire.RoundEntry{ID: e.ID, At: e.At.UTC(), Recorded: e.Recorded.UTC(), Plant: e.Plant, What: string(e.What), Value: wire.Number(math.NaN()), Measure: e.Unit, Text: e.Text(), Typed: e.Typed, Missing: e.Missing, Photo: e.Photo, By: e.By, With: e.With, Note: e.Note, Beside: e.Beside, Corrects: e.Corrects, Struck: e.Struck, Counts: rec.Counts(e), Doubts: doubts[e.ID]}
	if e.Missing == "" && !e.Struck && e.What != round.Note && e.What != round.Photo {
		out.Value = wire.Number(e.Value)
	}
	if e.What == round.Note {
		out.Text = e.Note
	}
	if e.Clock != nil {
		out.Clock = e.Clock.State
	}
	when := rec.When(e)
	if !when.Equal(e.At) {
		t := when.UTC()
		out.Dated = &t
	}
	if day, ok := round.DayOf(b, when.In(rec.Zone())); ok {
		out.Day = &day
	}
	for _, x := range rec.After(e.ID) {
		out.After = append(out.After, x.ID)
	}
	return out
}

func doubtsOf(rec *round.Record, b *underlamp.Bench, now time.Time) map[string][]string {
	out := map[string][]string{}
	for _, d := range rec.Doubts(b, now) {
		out[d.ID] = append(out[d.ID], d.Text)
	}
	return out
}

// written enters what was asked for at the server.
func (a *API) written(c *Call, entries []round.Entry) error {
	if len(entries) == 0 {
		return nil
	}
	err := round.Put(c.Context(), a.o.Keep, entries)
	if errors.Is(err, store.ErrDiffers) { // the request again: it is done, if it asks for the same
		rec, err := a.roundRecord(c, entries[0].Bench)
		if err != nil {
			return err
		}
		for _, e := range entries {
			was, ok := rec.Find(e.ID)
			if !ok || was.Plant != e.Plant || was.What != e.What || was.Value != e.Value || was.Corrects != e.Corrects || was.Struck != e.Struck || was.Note != e.Note {
				return problem(http.StatusConflict, "conflict", "Something else is kept under this id.", "Give what is new an id of its own.").at(fault("/id", "is of another entry"))
			}
		}
		return nil
	}
	return err
}

// roundFault is what is wrong with what was asked for.
func roundFault(err error) error {
	f, ok := round.IsFault(err)
	switch {
	case !ok:
		return err
	case f.Overrun:
		return problem(http.StatusConflict, "changed", sentence(f), "Read it again.")
	}
	return unfit(f, "")
}

func (a *API) roundOps() []Operation {
	return []Operation{
		op(Operation{ID: "listEntries", Method: "GET", Path: "/benches/{bench}/rounds/entries", Tag: "Rounds", Summary: "What was seen of the plants of a bench", Scopes: readsRounds},
			func(c *Call, p entriesParams, _ None) (wire.Page[wire.RoundEntry], error) { return a.listEntries(c, p) }),
		op(Operation{ID: "getEntry", Method: "GET", Path: "/benches/{bench}/rounds/entries/{entry}", Tag: "Rounds", Summary: "An entry, with all that was entered in its place", Scopes: readsRounds},
			func(c *Call, p entryPath, _ None) (wire.RoundHistory, error) {
				_, b, rec, err := a.roundsOf(c, p.Bench)
				if err != nil {
					return wire.RoundHistory{}, err
				}
				e, ok := rec.Find(p.Entry)
				if !ok {
					return wire.RoundHistory{}, missing("There is no such entry of this bench.", "It may not have been sent yet.")
				}
				doubts := doubtsOf(rec, b, a.o.Now())
				out := wire.RoundHistory{Entry: entryJSON(rec, b, &e, doubts), History: []wire.RoundEntry{}}
				known := map[string]bool{}
				var follow func(e round.Entry)
				follow = func(e round.Entry) {
					if known[e.ID] {
						return
					}
					known[e.ID] = true
					out.History = append(out.History, entryJSON(rec, b, &e, doubts))
					for _, next := range rec.After(e.ID) {
						follow(next)
					}
				}
				follow(*rec.Root(&e))
				return out, nil
			}),
		op(Operation{ID: "listRoundPlants", Method: "GET", Path: "/benches/{bench}/rounds/plants", Tag: "Rounds", Summary: "What is known last of each plant", Scopes: readsRounds},
			func(c *Call, p benchPath, _ None) (wire.Page[wire.RoundPlant], error) {
				return a.roundPlants(c, p.Bench)
			}),
		op(Operation{ID: "sendPacket", Method: "POST", Path: "/benches/{bench}/rounds/packets", Tag: "Rounds", Summary: "Send what was seen, as a phone does", Scopes: enters, Body: round.MaxPacket,
			Doc: "What is answered as kept is on the disk. An entry that cannot be kept does not hold up the others: it is refused, with the reason. An entry that comes again is kept once; another one under its id is refused. So a packet can be sent until it is answered."},
			func(c *Call, p benchPath, b wire.RoundPacket) (wire.RoundReceived, error) {
				return a.sendPacket(c, p.Bench)
			}),
		op(Operation{ID: "enterEntry", Method: "POST", Path: "/benches/{bench}/rounds/entries", Tag: "Rounds", Summary: "Enter one thing that was seen", Scopes: enters, Body: 16 << 10, Once: true, Status: http.StatusCreated, Errors: []int{http.StatusConflict}},
			func(c *Call, p benchPath, b wire.RoundNew) (wire.RoundEntry, error) {
				return a.changeEntry(c, p.Bench, round.Change{ID: b.ID, By: b.By, Note: b.Note, Value: b.Value, Plant: b.Plant, What: underlamp.Response(b.What), Day: b.Day})
			}),
		op(Operation{ID: "correctEntry", Method: "POST", Path: "/benches/{bench}/rounds/entries/{entry}/corrections", Tag: "Rounds", Summary: "Correct an entry, take it out, or go back to what stood before", Scopes: enters, Body: 16 << 10, Once: true, Status: http.StatusCreated, Errors: []int{http.StatusConflict},
			Doc: "The entry stays as it is; the correction names it. If somebody has corrected it meanwhile, that is a conflict."},
			func(c *Call, p entryPath, b wire.RoundCorrection) (wire.RoundEntry, error) {
				return a.changeEntry(c, p.Bench, round.Change{ID: b.ID, By: b.By, Note: b.Note, Value: b.Value, Of: p.Entry, Do: b.Do})
			}),
		op(Operation{ID: "listConflicts", Method: "GET", Path: "/benches/{bench}/rounds/conflicts", Tag: "Rounds", Summary: "Of what two people saw different things on one day", Scopes: readsRounds},
			func(c *Call, p benchPath, _ None) (wire.Page[wire.RoundConflict], error) {
				out := wire.Page[wire.RoundConflict]{Items: []wire.RoundConflict{}}
				_, b, rec, err := a.roundsOf(c, p.Bench)
				if err != nil {
					return out, err
				}
				for _, x := range rec.Conflicts() {
					y := wire.RoundConflict{Plant: x.Plant, What: string(x.What), Day: x.Day.Format(time.DateOnly)}
					for _, e := range x.Entries {
						y.Entries = append(y.Entries, entryJSON(rec, b, &e, nil))
					}
					out.Items = append(out.Items, y)
				}
				return out, nil
			}),
		op(Operation{ID: "decideConflict", Method: "POST", Path: "/benches/{bench}/rounds/decisions", Tag: "Rounds", Summary: "End a conflict: one counts, or all are right side by side", Scopes: enters, Body: 16 << 10, Once: true, Errors: []int{http.StatusConflict}},
			func(c *Call, p benchPath, d wire.RoundDecision) (wire.RoundDecided, error) {
				out := wire.RoundDecided{Entries: []wire.RoundEntry{}}
				_, b, rec, err := a.roundsOf(c, p.Bench)
				if err != nil {
					return out, err
				}
				if d.ID == "" {
					d.ID = newID()
				}
				entries, err := rec.Decide(round.Decide{ID: d.ID, By: c.By(d.By), Of: d.Of, Keep: d.Keep}, p.Bench, b, a.o.Now())
				if err != nil {
					return out, roundFault(err)
				}
				if err := a.written(c, entries); err != nil {
					return out, err
				}
				_, _, rec, err = a.roundsOf(c, p.Bench)
				for _, e := range entries {
					out.Entries = append(out.Entries, entryJSON(rec, b, &e, nil))
				}
				return out, err
			}),
		op(Operation{ID: "exportRounds", Method: "GET", Path: "/benches/{bench}/rounds/export", Tag: "Rounds", Summary: "Everything that was seen, whole, to take into another store", Scopes: readsRounds, Gives: []string{"application/json"}},
			func(c *Call, p benchPath, _ None) (Raw, error) {
				return a.roundFile(c, p.Bench, "application/json", ".seen.json", func(_ Bench, rec *round.Record, to io.Writer) error { return rec.WriteJSON(to, p.Bench) })
			}),
		op(Operation{ID: "getRoundTable", Method: "GET", Path: "/benches/{bench}/rounds/table", Tag: "Rounds", Summary: "The same as a table", Scopes: readsRounds, Gives: []string{"text/csv"}},
			func(c *Call, p benchPath, _ None) (Raw, error) {
				return a.roundFile(c, p.Bench, "text/csv", ".seen.csv", func(_ Bench, rec *round.Record, to io.Writer) error { return rec.WriteCSV(to) })
			}),
		op(Operation{ID: "getRoundCycle", Method: "GET", Path: "/benches/{bench}/rounds/cycle", Tag: "Rounds", Summary: "What counts, as a cycle file that learning reads", Scopes: readsRounds, Gives: []string{"application/yaml"},
			Doc: "Without what the cycle files beside the bench tell already; with the masses that photos tell."},
			func(c *Call, p benchPath, _ None) (Raw, error) {
				return a.roundFile(c, p.Bench, "application/yaml", ".rounds.cycle.yaml", func(b Bench, rec *round.Record, to io.Writer) error { return a.roundCycle(c, b, rec, to) })
			}),
	}
}

func (a *API) listEntries(c *Call, p entriesParams) (wire.Page[wire.RoundEntry], error) {
	none := wire.Page[wire.RoundEntry]{}
	_, b, rec, err := a.roundsOf(c, p.Bench)
	if err != nil {
		return none, err
	}
	var all []round.Entry
	for _, e := range rec.All {
		if p.Plant != "" && e.Plant != p.Plant || p.What != "" && string(e.What) != p.What || p.By != "" && e.By != p.By || p.Counts && !rec.Counts(&e) || p.From != nil && e.At.Before(*p.From) || p.To != nil && !e.At.Before(*p.To) {
			continue
		}
		all = append(all, e)
	}
	if p.Newest {
		slices.Reverse(all)
	}
	cut, err := pageInOrder(c, p.Paging, all, func(e round.Entry) string { return e.ID })
	out := wire.Page[wire.RoundEntry]{Items: []wire.RoundEntry{}, Next: cut.Next}
	doubts := doubtsOf(rec, b, a.o.Now())
	for _, e := range cut.Items {
		out.Items = append(out.Items, entryJSON(rec, b, &e, doubts))
	}
	return out, err
}

func (a *API) roundPlants(c *Call, id string) (wire.Page[wire.RoundPlant], error) {
	out := wire.Page[wire.RoundPlant]{Items: []wire.RoundPlant{}}
	_, b, rec, err := a.roundsOf(c, id)
	if err != nil {
		return out, err
	}
	var names []string
	n := map[string]int{}
	for _, p := range b.Plants {
		names = append(names, p.Name)
	}
	on := len(names)
	for _, e := range rec.All {
		if n[e.Plant]++; !slices.Contains(names, e.Plant) {
			names = append(names, e.Plant)
		}
	}
	open := map[string][]string{}
	for _, x := range rec.Conflicts() {
		open[x.Plant] = append(open[x.Plant], string(x.What))
	}
	for i, name := range names {
		x := wire.RoundPlant{Plant: name, Entries: n[name], Last: []wire.RoundEntry{}, Undecided: append([]string{}, open[name]...), OnTheBench: i < on}
		if n[name] > 0 {
			last := rec.Last(name)
			for _, what := range round.Kinds() {
				if e, ok := last[what]; ok {
					x.Last = append(x.Last, entryJSON(rec, b, &e, nil))
				}
			}
			burn := rec.BurnOf(name, b)
			if !burn.Clear.IsZero() {
				x.BurnClear = burn.Clear.Format(time.DateOnly)
			}
			if !burn.First.IsZero() {
				x.BurnFirst = burn.First.Format(time.DateOnly)
			}
		}
		out.Items = append(out.Items, x)
	}
	return out, nil
}

func (a *API) sendPacket(c *Call, id string) (wire.RoundReceived, error) {
	received := a.o.Now()
	out := wire.RoundReceived{Now: received.UnixMilli(), Kept: []string{}, Refused: []wire.RoundRefused{}, Doubts: []wire.RoundDoubt{}}
	b, bench, _, err := a.roundsOf(c, id)
	if err != nil {
		return out, err
	}
	text, err := c.bytes() // as the phone's own: one reader for both
	if err != nil {
		return out, err
	}
	packet, err := round.ReadPacket(text)
	if err != nil {
		return out, unfit(err, "")
	}
	if b.Broken() != "" {
		bench = nil
	}
	kept, refused, err := packet.Receive(c.Context(), a.o.Keep, id, bench, received)
	if err != nil {
		return out, err
	}
	out.Kept = append(out.Kept, kept...)
	for _, r := range refused {
		out.Refused = append(out.Refused, wire.RoundRefused(r))
	}
	_, bench, rec, err := a.roundsOf(c, id)
	if err != nil { // it is kept all the same
		return out, nil
	}
	for _, d := range rec.Doubts(bench, received) {
		if e, ok := rec.Find(d.ID); ok && slices.Contains(out.Kept, d.ID) {
			out.Doubts = append(out.Doubts, wire.RoundDoubt{ID: d.ID, Plant: e.Plant, Text: d.Text})
		}
	}
	return out, nil
}

func (a *API) changeEntry(c *Call, id string, x round.Change) (wire.RoundEntry, error) {
	_, b, rec, err := a.roundsOf(c, id)
	if err != nil {
		return wire.RoundEntry{}, err
	}
	if x.ID == "" {
		x.ID = newID()
	}
	if _, ok := rec.Find(x.Of); x.Of != "" && !ok {
		return wire.RoundEntry{}, missing("There is no such entry of this bench.", "It may not have been sent yet.")
	}
	x.By = c.By(x.By)
	e, err := rec.Change(x, id, b, a.o.Now())
	if err != nil {
		return wire.RoundEntry{}, roundFault(err)
	}
	if err := a.written(c, []round.Entry{e}); err != nil {
		return wire.RoundEntry{}, err
	}
	if rec, err = a.roundRecord(c, id); err != nil {
		return wire.RoundEntry{}, err
	}
	if is, ok := rec.Find(e.ID); ok {
		e = is
	}
	c.Created("/benches/" + id + "/rounds/entries/" + e.ID)
	return entryJSON(rec, b, &e, doubtsOf(rec, b, a.o.Now())), nil
}

func (a *API) roundFile(c *Call, id, kind, name string, write func(Bench, *round.Record, io.Writer) error) (Raw, error) {
	b, _, rec, err := a.roundsOf(c, id)
	if err != nil {
		return Raw{}, err
	}
	var text bytes.Buffer
	if err := write(b, rec, &text); err != nil {
		return Raw{}, err
	}
	return Raw{Type: kind, Body: text.Bytes(), Name: id + name}, nil
}

// roundCycle writes what counts as a cycle.
func (a *API) roundCycle(c *Call, b Bench, rec *round.Record, to io.Writer) error {
	if b.Broken() != "" {
		_, err := a.bench(c, b.ID(), nil)
		return err
	}
	file := a.benchFile(b.ID())
	cycle, _, err := rec.Cycle(b.Bench(), file, time.Time{})
	if err != nil {
		return unfit(err, "")
	}
	found, err := benchfolder.Cycles(a.o.Folder, file, b.Bench())
	if err != nil {
		return err
	}
	for _, f := range found {
		if f.Cycle != nil {
			round.Without(cycle, f.Cycle)
		}
	}
	book, _, err := a.photoBook(c, b)
	if err != nil {
		return err
	}
	book.AddMasses(cycle, a.o.Zone())
	if len(cycle.Observations) == 0 {
		return missing("The cycle files beside the bench tell all of it already.", "")
	}
	return cyclefile.Write(to, cycle)
}

// benchFile is the file of a bench.
func (a *API) benchFile(id string) string {
	for _, ext := range []string{".yaml", ".yml"} {
		if benchfolder.KindOf(a.o.Folder, id+ext) == benchfolder.BenchFile {
			return id + ext
		}
	}
	return id + ".yaml"
}

// photoBook is the photos of a bench.
func (a *API) photoBook(c *Call, b Bench) (*photo.Book, *round.Record, error) {
	rec, err := a.roundRecord(c, b.ID())
	if err != nil {
		return nil, nil, err
	}
	k, err := photo.Gather(c.Context(), a.o.Keep, b.ID(), b.Bench(), rec)
	if err != nil {
		return nil, nil, err
	}
	register, err := a.register()
	if err != nil {
		return nil, nil, err
	}
	out, faults := photo.NewBook(b.ID(), b.Bench(), k, register, a.o.Zone())
	for _, f := range faults {
		a.o.Log.Warn("figures of a photo cannot be read", "bench", b.ID(), "err", f)
	}
	return out, rec, nil
}
