package api

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"time"

	"github.com/goccy/go-yaml"

	"underlamp"
	"underlamp/access"
	"underlamp/app/aswire"
	"underlamp/app/kept"
	"underlamp/demo"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/safefolder"
	"underlamp/science/quantity"
	"underlamp/store"
	"underlamp/wire"
)

// benchPath names a bench.
type benchPath struct {
	Bench string `path:"bench" maxlen:"100" example:"tier-1-top" doc:"the name of its file, without the ending"`
}

// benchThen names a bench as it was.
type benchThen struct {
	benchPath
	At *time.Time `query:"at" doc:"as the bench was at this time; now if it is not said" example:"2026-11-23T08:00:00Z"`
}

// Who may what, in the words of most operations.
var (
	reads  = []access.Scope{access.ScopeRead}
	writes = []access.Scope{access.ScopeWrite}
	plans  = []access.Scope{access.ScopePlan}
	both   = []access.Scope{access.ScopeRead, access.ScopeRounds}
)

// mostBench is the most bytes of a bench file that is sent.
const mostBench = 2 << 20

// found finds a bench, also one that cannot be computed.
func (a *API) found(id string) (Bench, error) {
	b, err := a.o.Benches.Get(id)
	if err == nil && b == nil {
		err = missing("There is no bench of this name.", Prefix+"/benches lists them.")
	}
	return b, err
}

// bench finds one that can be computed, at a time if that is not nil.
func (a *API) bench(c *Call, id string, at *time.Time) (Bench, error) {
	b, err := a.found(id)
	if err != nil {
		return nil, err
	}
	if at != nil {
		if a.o.Desk == nil || !a.o.Desk.HasHistory() {
			return nil, noStore()
		}
		past, known, err := b.Past(c.Context(), *at)
		if err != nil {
			return nil, err
		}
		if !known {
			return nil, missing("The bench was not known at that time.", "Its versions say since when it is.")
		}
		b = past
	}
	if wrong := b.Broken(); wrong != "" {
		return nil, problem(http.StatusUnprocessableEntity, "bench-broken", "The bench file has mistakes, so nothing can be computed of it. "+wrong, "Read it as YAML, mend it, and put it back.")
	}
	return b, nil
}

// desk is where benches are written.
func (a *API) desk() (*kept.Desk, error) {
	if a.o.Desk == nil {
		return nil, problem(http.StatusServiceUnavailable, "read-only", "On this server benches are only shown.", "Start underlamp serve with a folder that it may write, or with --store.")
	}
	return a.o.Desk, nil
}

// text is the file of a bench as it is now.
func (a *API) text(ctx context.Context, id string) ([]byte, error) {
	d, err := a.desk()
	if err != nil {
		return nil, err
	}
	text, err := d.Read(ctx, id)
	switch {
	case errors.Is(err, kept.ErrName) || err == nil && text == nil:
		return nil, missing("There is no bench of this name.", Prefix+"/benches lists them.")
	case errors.Is(err, safefolder.ErrLink):
		return nil, problem(http.StatusConflict, "link", sentence(err), "It can be shown all the same, and is changed where it lies.")
	}
	return text, err
}

func stampOf(text []byte) string { return tagOf("text", string(text)) }

// look reads the text of a bench file.
func (a *API) look(text []byte) (*underlamp.Bench, benchfile.Problems) {
	b, problems, err := benchfile.ReadWith(bytes.NewReader(text), benchfolder.Files(a.o.Folder))
	if err != nil {
		return nil, benchfile.Problems{{Line: 1, Column: 1, Message: err.Error()}}
	}
	if problems.HasErrors() {
		return nil, problems
	}
	return b, problems
}

func problemsJSON(all benchfile.Problems) []wire.BenchProblem {
	out := []wire.BenchProblem{}
	for _, p := range all {
		x := wire.BenchProblem{Line: p.Line, Column: p.Column, Path: p.Path, Severity: "warning", Text: p.Message}
		if p.Severity == benchfile.Error {
			x.Severity = "error"
		}
		if p.Want != "" {
			x.Text += "; wanted: " + p.Want
		}
		if p.Suggest != "" {
			x.Text += "; did you mean " + p.Suggest + "?"
		}
		out = append(out, x)
	}
	return out
}

// noBench refuses a text that describes no bench, with the place of each mistake.
func noBench(all benchfile.Problems, do string) *Problem {
	p := problem(http.StatusUnprocessableEntity, "bench-broken", "This describes no bench.", do)
	for _, x := range problemsJSON(all) {
		if x.Severity == "error" || len(all) == 1 {
			p.at(fault("", fmt.Sprintf("line %d, column %d: %s", x.Line, x.Column, x.Text)))
		}
	}
	return p
}

// oneLine refuses who and why that are no lines.
func oneLine(by, why string) error {
	if strings.ContainsAny(by+why, "\r\n\x00") {
		return wrongField("/by", "who and why are one line each")
	}
	return nil
}

// save writes the text of a bench that has been read as was.
func (a *API) save(c *Call, id string, was, text []byte, from *time.Time, by, why string) error {
	d, err := a.desk()
	if err != nil {
		return err
	}
	if err := oneLine(by, why); err != nil {
		return err
	}
	if b, problems := a.look(text); b == nil {
		return noBench(problems, "Mend it and send it again; nothing was written.")
	}
	s := kept.Save{Bench: id, Text: text, Base: was, By: c.By(by), Why: strings.TrimSpace(why)}
	if from != nil {
		if !d.HasHistory() {
			return problem(http.StatusUnprocessableEntity, "no-history", "No history is kept here, so a bench can only be changed from now on.", "Leave from out, or start underlamp serve with --store.")
		}
		s.From = *from
	}
	err = d.Save(c.Context(), s)
	var changed *safefolder.ChangedError
	var carry *kept.CarryError
	switch {
	case errors.As(err, &changed):
		return problem(http.StatusPreconditionFailed, "changed", "It has been changed since it was read. Nothing was written.", "Read it again, make the change in what is there now, and send it with the ETag that comes with it.")
	case errors.Is(err, safefolder.ErrLink):
		return problem(http.StatusConflict, "link", sentence(err), "Change it where it lies.")
	case errors.As(err, &carry) || errors.Is(err, kept.ErrPast):
		return unfit(err, "Look at its versions.")
	}
	return err
}

// benchJSON is a bench as it is now, with the version of its text.
func (a *API) benchJSON(c *Call, id string) (wire.Bench, error) {
	b, err := a.bench(c, id, nil)
	if err != nil {
		return wire.Bench{}, err
	}
	out := aswire.Bench(id, b.Bench(), b.Remarks())
	out.Document = json.RawMessage("null")
	if a.o.Desk == nil {
		return out, nil
	}
	text, err := a.text(c.Context(), id)
	if err != nil {
		return out, err
	}
	if doc, err := yaml.YAMLToJSON(text); err == nil && json.Valid(doc) {
		out.Document = doc
	}
	return out, c.Version(stampOf(text))
}

type benchSave struct {
	benchPath
	From *time.Time `query:"from" doc:"since when it is so; now if it is not said. A time before corrects the past"`
	By   string     `query:"by" maxlen:"500" doc:"who says so; the name of the token if nobody does"`
	Why  string     `query:"why" maxlen:"500"`
}

type versionPaging struct {
	benchPath
	Paging
}

func (a *API) benchOps() []Operation {
	return []Operation{
		op(Operation{ID: "listBenches", Method: "GET", Path: "/benches", Tag: "Benches", Summary: "List the benches", Scopes: both},
			func(c *Call, p Paging, _ None) (wire.Page[wire.BenchCard], error) {
				ids, err := a.o.Benches.List()
				if err != nil {
					return wire.Page[wire.BenchCard]{}, err
				}
				cut, err := page(c, p, ids, func(id string) string { return id })
				out := wire.Page[wire.BenchCard]{Items: []wire.BenchCard{}, Next: cut.Next}
				for _, id := range cut.Items {
					b, err := a.o.Benches.Get(id)
					if err != nil {
						return out, err
					}
					switch {
					case b == nil: // it went meanwhile
					case b.Broken() != "":
						out.Items = append(out.Items, wire.BenchCard{ID: id, Name: id, Wrong: b.Broken()})
					default:
						out.Items = append(out.Items, aswire.Card(id, b.Bench()))
					}
				}
				return out, err
			}),
		op(Operation{ID: "createBench", Method: "POST", Path: "/benches", Tag: "Benches", Summary: "Describe a new bench", Scopes: writes, Body: mostBench, Once: true, Status: http.StatusCreated,
			Doc: "By the text of its file, or by the answers to five questions: space, lamps, plants, fan and price. What is not answered is assumed, and marked so in the file."},
			func(c *Call, _ None, n wire.NewBench) (wire.Bench, error) { return a.createBench(c, n) }),
		op(Operation{ID: "getBench", Method: "GET", Path: "/benches/{bench}", Tag: "Benches", Summary: "A bench as it is described, in SI units", Scopes: reads, Errors: []int{409, 422},
			Doc: "Its ETag is that of the file, which If-Match takes."},
			func(c *Call, p benchPath, _ None) (wire.Bench, error) { return a.benchJSON(c, p.Bench) }),
		op(Operation{ID: "patchBench", Method: "PATCH", Path: "/benches/{bench}", Tag: "Benches", Summary: "Change a bench where it says so", Scopes: writes, Body: 256 << 10, Match: true, Errors: []int{409},
			Doc: "Height, dimming and hours of all lamps, and any other change of the file by its path. Lamps keep their differences; when they are moved, what readings of a meter taught goes into what the file says of them, and the readings go. Every byte of the file that is not changed stays."},
			func(c *Call, p benchPath, q wire.BenchPatch) (wire.Bench, error) { return a.patchBench(c, p.Bench, q) }),
		op(Operation{ID: "getBenchFile", Method: "GET", Path: "/benches/{bench}/file", Tag: "Benches", Summary: "The file of a bench, byte by byte", Scopes: reads, Gives: []string{"application/yaml"}, Errors: []int{409}},
			func(c *Call, p benchPath, _ None) (Raw, error) {
				text, err := a.text(c.Context(), p.Bench)
				if err != nil {
					return Raw{}, err
				}
				return Raw{Type: "application/yaml", Body: text}, c.Version(stampOf(text))
			}),
		op(Operation{ID: "putBenchFile", Method: "PUT", Path: "/benches/{bench}/file", Tag: "Benches", Summary: "Replace the file of a bench", Scopes: writes, Body: mostBench, Takes: []string{"application/yaml", "text/yaml", "text/plain"}, Match: true, Errors: []int{409}},
			func(c *Call, p benchSave, text []byte) (wire.Bench, error) {
				was, err := a.text(c.Context(), p.Bench)
				if err != nil {
					return wire.Bench{}, err
				}
				if err := c.Expects(stampOf(was)); err != nil {
					return wire.Bench{}, err
				}
				if err := a.save(c, p.Bench, was, text, p.From, p.By, p.Why); err != nil {
					return wire.Bench{}, err
				}
				return a.benchJSON(c, p.Bench)
			}),
		op(Operation{ID: "checkBenchFile", Method: "POST", Path: "/benches/check", Tag: "Benches", Summary: "Read the text of a bench file and say what is wrong, with its place", Scopes: reads, Body: mostBench},
			func(_ *Call, _ None, q wire.BenchText) (wire.BenchLook, error) {
				b, problems := a.look([]byte(q.Text))
				return wire.BenchLook{Usable: b != nil, Problems: problemsJSON(problems)}, nil
			}),
		op(Operation{ID: "listBenchVersions", Method: "GET", Path: "/benches/{bench}/versions", Tag: "Benches", Summary: "How a bench was, in the order of time", Scopes: reads},
			func(c *Call, p versionPaging, _ None) (wire.Page[wire.BenchVersion], error) {
				none := wire.Page[wire.BenchVersion]{Items: []wire.BenchVersion{}}
				if _, err := a.found(p.Bench); err != nil {
					return none, err
				}
				d, err := a.desk()
				if err != nil {
					return none, err
				}
				steps, _, err := d.History(c.Context(), p.Bench)
				if err != nil {
					return none, err
				}
				var all []wire.BenchVersion
				for _, s := range steps {
					v := wire.BenchVersion{From: store.Time(s.From), Recorded: store.Time(s.Recorded), By: s.By, Why: s.Why, Changes: append([]string{}, s.Changes...), Text: string(s.Text)}
					if s.To != 0 {
						to := store.Time(s.To)
						v.To = &to
					}
					all = append(all, v)
				}
				return page(c, p.Paging, all, func(v wire.BenchVersion) string { return v.From.Format("2006-01-02T15:04:05.000000") })
			}),
		op(Operation{ID: "correctBenchVersion", Method: "POST", Path: "/benches/{bench}/versions/corrections", Tag: "Benches", Summary: "Put right since when a bench was so", Scopes: writes, Body: 16 << 10, Once: true},
			func(c *Call, p benchPath, q wire.BenchCorrection) (None, error) {
				if _, err := a.found(p.Bench); err != nil {
					return None{}, err
				}
				d, err := a.desk()
				if err != nil {
					return None{}, err
				}
				if err := oneLine(q.By, q.Why); err != nil {
					return None{}, err
				}
				err = d.Correct(c.Context(), p.Bench, q.Begin, q.From, c.By(q.By), strings.TrimSpace(q.Why))
				switch {
				case errors.Is(err, store.ErrNotFound):
					return None{}, missing("No version begins at that time.", "See "+Prefix+"/benches/"+p.Bench+"/versions.")
				case err != nil:
					return None{}, unfit(err, "See its versions.")
				}
				return None{}, nil
			}),
		op(Operation{ID: "addDemo", Method: "POST", Path: "/demo", Tag: "Benches", Summary: "Put the benches of the demo beside those that are there", Scopes: writes},
			func(c *Call, _ None, _ None) (wire.Demo, error) {
				d, err := a.desk()
				if err != nil {
					return wire.Demo{}, err
				}
				names, err := d.AddFiles(c.Context(), demo.Folder(), "demo")
				return wire.Demo{Files: append([]string{}, names...)}, err
			}),
		op(Operation{ID: "removeDemo", Method: "DELETE", Path: "/demo", Tag: "Benches", Summary: "Take the benches of the demo away again", Scopes: writes,
			Doc: "Files that somebody has changed stay, and are named. Other benches are taken away where their files lie."},
			func(c *Call, _ None, _ None) (wire.Demo, error) {
				d, err := a.desk()
				if err != nil {
					return wire.Demo{}, err
				}
				stay, err := d.RemoveFiles(c.Context(), demo.Folder(), "demo")
				return wire.Demo{Files: append([]string{}, stay...)}, err
			}),
	}
}

// createBench writes a new one.
func (a *API) createBench(c *Call, n wire.NewBench) (wire.Bench, error) {
	d, err := a.desk()
	if err != nil {
		return wire.Bench{}, err
	}
	if err := oneLine(n.By, n.Why); err != nil {
		return wire.Bench{}, err
	}
	text := []byte(n.Text)
	if n.Text == "" {
		if text, err = answered(n); err != nil {
			return wire.Bench{}, err
		}
	}
	if b, problems := a.look(text); b == nil {
		return wire.Bench{}, noBench(problems, "Mend it and send it again; nothing was written.")
	}
	id := n.ID
	if id == "" {
		if id, err = d.Free(c.Context(), n.Name); err != nil {
			return wire.Bench{}, err
		}
	}
	err = d.Create(c.Context(), id, text, c.By(n.By), strings.TrimSpace(n.Why))
	switch {
	case errors.Is(err, safefolder.ErrThere):
		return wire.Bench{}, problem(http.StatusConflict, "there", "There is a bench of this name.", "Give it another id, or none.")
	case errors.Is(err, kept.ErrName):
		return wire.Bench{}, wrongField("/id", err.Error())
	case err != nil:
		return wire.Bench{}, err
	}
	c.Created("/benches/" + id)
	return a.benchJSON(c, id)
}

// answered is the text of a bench from answers.
func answered(n wire.NewBench) ([]byte, error) {
	a := benchfile.Answers{Name: n.Name}
	if n.Units == "us" {
		a.Units = quantity.US
	}
	p := problem(http.StatusUnprocessableEntity, "unfit", "Not every answer can be read.", "See errors for each.")
	for _, q := range []struct {
		key, text string
		read      func(string) error
	}{
		{"space", n.Space, func(s string) (err error) { a.Space, err = benchfile.ParseSpace(s); return }},
		{"lamps", n.Lamps, func(s string) (err error) { a.Lamps, err = benchfile.ParseLamps(s); return }},
		{"plants", n.Plants, func(s string) (err error) { a.Plants, err = benchfile.ParsePlants(s); return }},
		{"fan", n.Fan, func(s string) (err error) { a.Fan, err = benchfile.ParseFan(s); return }},
		{"price", n.Price, func(s string) error {
			v, err := quantity.ParsePrice(s)
			a.Price = &v
			return err
		}},
	} {
		if strings.TrimSpace(q.text) == "" {
			continue
		}
		if err := q.read(q.text); err != nil {
			p.at(fault("/"+q.key, err.Error()))
		}
	}
	if len(p.Errors) > 0 {
		return nil, p
	}
	var text bytes.Buffer
	if err := benchfile.Write(&text, a); err != nil {
		var problems benchfile.Problems
		if errors.As(err, &problems) {
			return nil, noBench(problems, "Change the answers.")
		}
		return nil, unfit(err, "Change the answers.")
	}
	return text.Bytes(), nil
}

// patchBench changes one where it is asked for.
func (a *API) patchBench(c *Call, id string, q wire.BenchPatch) (wire.Bench, error) {
	was, err := a.text(c.Context(), id)
	if err != nil {
		return wire.Bench{}, err
	}
	if err := c.Expects(stampOf(was)); err != nil {
		return wire.Bench{}, err
	}
	b, problems := a.look(was)
	if b == nil {
		return wire.Bench{}, noBench(problems, "Mend its file first.")
	}
	changes, moved, err := setting(b, q)
	if err != nil {
		return wire.Bench{}, err
	}
	doing := map[string]benchfile.Change{"set": {Do: benchfile.Set}, "put": {Do: benchfile.Put}, "add": {Do: benchfile.Add}, "remove": {Do: benchfile.Remove}}
	for _, x := range q.Changes {
		one := doing[x.Do]
		one.Path, one.Text = x.Path, x.Text
		changes = append(changes, one)
	}
	if len(changes) == 0 {
		return wire.Bench{}, problem(http.StatusUnprocessableEntity, "unfit", "Nothing is to be changed.", "Say height_m, dimming, hours or changes.")
	}
	text, err := a.o.Change(was, was, changes, moved || q.Moved)
	if err != nil {
		return wire.Bench{}, unfit(err, "Look at the paths in the file; nothing was written.")
	}
	if err := a.save(c, id, was, text, q.From, q.By, q.Why); err != nil {
		return wire.Bench{}, err
	}
	return a.benchJSON(c, id)
}

// setting are the changes that hang and dim the lamps as a patch says; moved: they hang elsewhere.
func setting(b *underlamp.Bench, q wire.BenchPatch) (changes []benchfile.Change, moved bool, err error) {
	s := b.Setting()
	if q.Height != nil {
		moved = quantity.Metre(*q.Height) != s.Height
		s.Height = quantity.Metre(*q.Height)
	}
	if q.Dimming != nil {
		s.Dimming = quantity.Fraction(*q.Dimming)
	}
	if q.Hours != nil {
		s.Hours = quantity.Hours(*q.Hours)
	}
	then := b.With(s)
	for i, l := range then.Lamps {
		at := fmt.Sprintf("lamps[%d].", i)
		for _, x := range []struct {
			asked bool
			key   string
			kind  quantity.Kind
			value float64
		}{{q.Height != nil, "height", quantity.Length, float64(l.Height)}, {q.Dimming != nil, "dimming", quantity.Share, float64(l.Dimming.Value)}, {q.Hours != nil, "hours", quantity.Duration, float64(l.Hours.Value)}} {
			if x.asked {
				changes = append(changes, benchfile.Change{Do: benchfile.Set, Path: at + x.key, Text: x.kind.Format(x.value, b.Units, 4)})
			}
		}
	}
	return changes, moved, nil
}
