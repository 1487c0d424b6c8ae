package api

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"bytes"

	"underlamp/access"
	"underlamp/app/aswire"
	"underlamp/app/light"
	"underlamp/app/photo"
	"underlamp/app/tasks"
	"underlamp/app/trial"
	"underlamp/app/trialbook"
	"underlamp/formats/benchfolder"
	"underlamp/formats/icalendar"
	"underlamp/report"
	"underlamp/wire"
	"underlamp/wire/schema"
)

// Who may what with what grows: as on the pages, where viewers read, helpers read rounds and
// enter, and owners do all.
var (
	readsRounds = []access.Scope{access.ScopeRead, access.ScopeRounds}
	enters      = []access.Scope{access.ScopeRounds, access.ScopeWrite}
	changes     = []access.Scope{access.ScopeWrite}
	asks        = []access.Scope{access.ScopePlan, access.ScopeWrite}
)

// validFile are names of files without their ending. A name with a slash or a leading dot never
// reaches the folder.
var validFile = regexp.MustCompile(`^[A-Za-z0-9_][A-Za-z0-9._-]{0,99}$`)

type trialPath struct {
	Trial string `path:"trial" maxlen:"100" example:"light-levels.trial" doc:"the name of its plan file, without the ending"`
}

type sheetParams struct {
	trialPath
	Start string `query:"start" format:"date" doc:"day of the first transplanting, where the plan says none" example:"2026-12-01"`
	Days  int    `query:"days" min:"1" max:"400" unit:"d" doc:"of a cycle, where the plan says none; 35 if it is not said"`
}

type labelParams struct {
	Size  string `query:"size" maxlen:"20" doc:"of a label; small if it is not said"`
	Sheet string `query:"sheet" maxlen:"40" doc:"its paper; a4 if it is not said"`
	Scale string `query:"scale" maxlen:"40" doc:"what a rule reads across and down of the check print, in mm" example:"148.5x198"`
	Check bool   `query:"check" doc:"the check print alone"`
	Skip  int    `query:"skip" min:"0" max:"500" doc:"labels of the first sheet that are used already"`
}

func (p labelParams) print() photo.LabelPrint {
	return photo.LabelPrint{Size: p.Size, Sheet: p.Sheet, Scale: p.Scale, Check: p.Check, Skip: p.Skip}
}

// today is the day in the zone of the days.
func (a *API) today() time.Time { return a.o.Now().In(a.o.Zone()) }

// readOnly is why nothing is written.
func readOnly() *Problem {
	return problem(http.StatusForbidden, "read-only", "This server only shows its files.", "Start underlamp serve with a folder or a store that can be written.")
}

// trial opens one. A plan or table with mistakes is a problem.
func (a *API) trial(id string) (*trialbook.Page, error) {
	file := ""
	if validFile.MatchString(id) {
		file = trialbook.FileNamed(a.o.Folder, id)
	}
	if file == "" {
		return nil, missing("There is no trial of this name.", Prefix+"/trials lists them.")
	}
	p, err := trialbook.Open(a.o.Folder, file)
	var broken *trialbook.BrokenError
	var table *trialbook.TableError
	switch {
	case errors.As(err, &broken):
		return nil, problem(http.StatusUnprocessableEntity, "trial-broken", "The plan of the trial has mistakes. "+broken.Error(), "Mend the file.")
	case errors.As(err, &table):
		return nil, problem(http.StatusUnprocessableEntity, "trial-broken", "The table of the trial cannot be read. "+table.Error(), "Mend the file.")
	case err != nil:
		return nil, err
	}
	a.stand(p)
	return p, nil
}

// benchOf is the id of the bench of a trial; empty if it names none.
func benchOf(p *trialbook.Page) string {
	id := strings.TrimSuffix(p.Trial.Bench, path.Ext(p.Trial.Bench))
	if !validFile.MatchString(id) {
		return ""
	}
	return id
}

// stand tells a trial where its plants stand, so that guards are not waited for.
func (a *API) stand(p *trialbook.Page) {
	if b := a.benchUnder(p); b != nil {
		p.Stand(a.plots(p, b))
	}
}

// benchUnder is the bench of a trial; nil if it names none that can be computed.
func (a *API) benchUnder(p *trialbook.Page) Bench {
	id := benchOf(p)
	if id == "" {
		return nil
	}
	b, err := a.o.Benches.Get(id)
	if err != nil || b == nil || b.Broken() != "" {
		return nil
	}
	return b
}

// mostPlots is how many trials are remembered with the places of their plants.
const mostPlots = 40

// plots are the places of the plants of a trial on its bench; nil where it has none.
func (a *API) plots(p *trialbook.Page, b Bench) []trialbook.Plot {
	key := fmt.Sprintf("%x %s", sha256.Sum256(p.Source), b.Stamp())
	a.grown.Lock()
	defer a.grown.Unlock()
	if out, ok := a.placed[key]; ok {
		return out
	}
	out, err := trialbook.Plots(b.Model(), p.Trial)
	if err != nil {
		out = nil // the sheet says why
	}
	if a.placed == nil || len(a.placed) >= mostPlots {
		a.placed = map[string][]trialbook.Plot{}
	}
	a.placed[key] = out
	return out
}

// lightOf is the light of a bench by the name of its file.
func (a *API) lightOf(file string) (*light.Model, error) {
	b, err := a.o.Benches.Get(strings.TrimSuffix(file, path.Ext(file)))
	switch {
	case err != nil:
		return nil, err
	case b == nil:
		return nil, errors.New("there is no such bench")
	case b.Broken() != "":
		return nil, errors.New("the bench file has mistakes")
	}
	return b.Model(), nil
}

func (a *API) trialCard(id string, p *trialbook.Page) wire.TrialCard {
	_, state := p.Progress()
	return wire.TrialCard{ID: id, Name: p.Trial.Name, Question: p.Trial.Question, State: string(state), Next: p.Next(a.today().Format(time.DateOnly))}
}

// question is what was asked, with files in place of ids.
func (a *API) question(q wire.TrialQuestion) (*trialbook.Asked, error) {
	whole := func(n int) string {
		if n == 0 {
			return ""
		}
		return strconv.Itoa(n)
	}
	seed := q.Seed
	if seed == 0 {
		seed = 1
	}
	out := trialbook.Question{Name: q.Name, Question: q.Question, Factor: q.Factor, Levels: q.Levels, Hours: q.Hours, Treatments: q.Treatments, Factors: q.Factors, Checks: q.Checks, Parts: q.Parts, Control: q.Control, Response: q.Response,
		Difference: q.Difference, Expect: q.Expect, Days: whole(q.Days), Rounds: whole(q.Rounds), Lamps: whole(q.Lamps), Plants: whole(q.Plants), Cycles: whole(q.Cycles), Seed: strconv.FormatUint(seed, 10)}
	if strings.TrimSpace(q.Name) == "" {
		return nil, wrongField("/name", "give the trial a name; its file is called after it")
	}
	if q.Bench != "" {
		for _, ext := range []string{".yaml", ".yml"} {
			if out.Bench == "" && validFile.MatchString(q.Bench) && benchfolder.KindOf(a.o.Folder, q.Bench+ext) == benchfolder.BenchFile {
				out.Bench = q.Bench + ext
			}
		}
		if out.Bench == "" {
			return nil, wrongField("/bench", "there is no such bench")
		}
	}
	if q.From != "" {
		if validFile.MatchString(q.From) {
			out.From = trialbook.FileNamed(a.o.Folder, q.From)
		}
		if out.From == "" {
			return nil, wrongField("/from", "there is no such trial")
		}
	}
	asked, err := out.Ask(a.o.Folder, a.lightOf)
	return asked, fieldFaults(err, func(x *trialbook.FieldError) string { return "/" + x.Field })
}

// fieldFaults are the faults of what a person said, each at its place.
func fieldFaults(err error, at func(*trialbook.FieldError) string) error {
	var all trialbook.FieldErrors
	if !errors.As(err, &all) {
		return err
	}
	status, kind := http.StatusUnprocessableEntity, "unfit"
	var out []schema.Fault
	for _, x := range all {
		if x.Field == "key" || x.Field == "corrects" {
			status, kind = http.StatusConflict, "conflict"
		}
		out = append(out, fault(at(x), x.Reason))
	}
	return problem(status, kind, "What was sent cannot be taken, and nothing was kept.", "See errors for each place.").at(out...)
}

// drawn are layouts as work of their own, from which one is taken.
type drawn struct {
	all []trial.Proposal
	not []string
}

// Size is about what they hold.
func (d drawn) Size() int {
	n := 0
	for _, p := range d.all {
		n += 4<<10 + 250*len(p.Trial.Places)
	}
	return n
}

func questionKey(a *trialbook.Asked) string {
	h := sha256.New()
	fmt.Fprintf(h, "%+v %q %q", a.Ask, a.Bench, a.Note)
	return hex.EncodeToString(h.Sum(nil))
}

func drawWork(asked *trialbook.Asked, key string, give func(drawn) (tasks.Result, error)) tasks.Work {
	return tasks.Work{Kind: "layouts", Key: key, Title: "Layouts for the trial " + asked.Name, Page: "/trials", Again: "",
		Do: func(ctx context.Context, t *tasks.Task) (tasks.Result, error) {
			all, not, err := trial.ProposeContext(ctx, asked.Ask, func(what string, done, of int) { t.Progress(what, float64(done)/float64(max(of, 1))) })
			if err == nil && len(all) == 0 {
				err = errors.New(strings.Join(append([]string{"no layout fits."}, not...), " "))
			}
			if err != nil {
				return nil, err
			}
			return give(drawn{all, not})
		}}
}

func (a *API) trialOps() []Operation {
	return []Operation{
		op(Operation{ID: "listTrials", Method: "GET", Path: "/trials", Tag: "Trials", Summary: "List the trials", Scopes: readsRounds},
			func(c *Call, p Paging, _ None) (wire.Page[wire.TrialCard], error) { return a.listTrials(c, p) }),
		op(Operation{ID: "beginProposals", Method: "POST", Path: "/trials/proposals", Tag: "Trials", Summary: "Layouts that would answer a question, with what they could show", Scopes: asks, Body: 64 << 10, Once: true, Task: result[wire.TrialProposals](),
			Doc: "The layouts are drawn by the seed and judged by their power: the chance to find the smallest difference that is worth knowing, if it is there. Where burn decides that is simulated, which takes seconds."},
			func(c *Call, _ None, q wire.TrialQuestion) (wire.Task, error) {
				asked, err := a.question(q)
				if err != nil {
					return wire.Task{}, err
				}
				return c.begin(drawWork(asked, a.keyOf(asked), func(d drawn) (tasks.Result, error) { return give(aswire.TrialProposals(asked, d.all, d.not), nil) }))
			}),
		op(Operation{ID: "createTrial", Method: "POST", Path: "/trials", Tag: "Trials", Summary: "Write the plan of a layout that is taken", Scopes: changes, Body: 64 << 10, Once: true, Status: http.StatusCreated, Errors: []int{http.StatusConflict},
			Doc: "The layouts are drawn again, which gives the same by the same seed. The fingerprint holds the plan to the one that was looked at: if the bench or the earlier trial has changed since, it is refused."},
			func(c *Call, _ None, b wire.TrialTake) (wire.Trial, error) { return a.createTrial(c, b) }),
		op(Operation{ID: "getTrial", Method: "GET", Path: "/trials/{trial}", Tag: "Trials", Summary: "A trial: its plan, and how far its recording is", Scopes: readsRounds},
			func(c *Call, p trialPath, _ None) (wire.Trial, error) {
				t, err := a.trial(p.Trial)
				if err != nil {
					return wire.Trial{}, err
				}
				return aswire.Trial(a.trialCard(p.Trial, t), benchOf(t), t), nil
			}),
		op(Operation{ID: "getTrialFile", Method: "GET", Path: "/trials/{trial}/file", Tag: "Trials", Summary: "The plan of a trial as its file", Scopes: readsRounds, Gives: []string{"application/yaml"}},
			func(c *Call, p trialPath, _ None) (Raw, error) {
				t, err := a.trial(p.Trial)
				if err != nil {
					return Raw{}, err
				}
				return Raw{Type: "application/yaml", Body: t.Source, Name: t.File}, c.Version(tagOf(string(t.Source)))
			}),
		op(Operation{ID: "getTrialTable", Method: "GET", Path: "/trials/{trial}/table", Tag: "Trials", Summary: "The table of what was seen, as its file", Scopes: readsRounds, Gives: []string{"text/csv"}},
			func(c *Call, p trialPath, _ None) (Raw, error) {
				t, err := a.trial(p.Trial)
				if err != nil {
					return Raw{}, err
				}
				text, err := fs.ReadFile(a.o.Folder, t.Trial.Table)
				if t.Trial.Table == "" || errors.Is(err, fs.ErrNotExist) {
					return Raw{}, missing("The trial has no table yet.", "Record what is seen, and there is one.")
				}
				if err != nil {
					return Raw{}, err
				}
				return Raw{Type: "text/csv", Body: text, Name: t.Trial.Table}, c.Version(tagOf(string(text)))
			}),
		op(Operation{ID: "getTrialLayout", Method: "GET", Path: "/trials/{trial}/layout", Tag: "Trials", Summary: "What stands where and in what light, and in which order it is looked at", Scopes: readsRounds},
			func(c *Call, p sheetParams, _ None) (wire.TrialSheet, error) {
				s, err := a.trialSheet(p)
				if err != nil {
					return wire.TrialSheet{}, err
				}
				return aswire.TrialSheet(s), nil
			}),
		op(Operation{ID: "listTrialJobs", Method: "GET", Path: "/trials/{trial}/jobs", Tag: "Trials", Summary: "What is to be done on which day", Scopes: readsRounds},
			func(c *Call, p sheetParams, _ None) (wire.Page[wire.TrialJob], error) {
				s, err := a.trialSheet(p)
				if err != nil {
					return wire.Page[wire.TrialJob]{}, err
				}
				return wire.Page[wire.TrialJob]{Items: aswire.TrialJobs(s)}, nil
			}),
		op(Operation{ID: "getTrialCalendar", Method: "GET", Path: "/trials/{trial}/jobs.ics", Tag: "Trials", Summary: "The same as a calendar (iCalendar, RFC 5545)", Scopes: readsRounds, Gives: []string{"text/calendar"}},
			func(c *Call, p sheetParams, _ None) (Raw, error) {
				s, err := a.trialSheet(p)
				if err != nil {
					return Raw{}, err
				}
				day := a.today().Truncate(24 * time.Hour) // so that the same plan gives the same bytes all day
				cal, err := trialbook.Calendar(s, day)
				if err != nil {
					return Raw{}, unfit(err, "Say start.")
				}
				var b bytes.Buffer
				if err := icalendar.Write(&b, cal); err != nil {
					return Raw{}, err
				}
				return Raw{Type: "text/calendar", Body: b.Bytes(), Name: p.Trial + ".ics"}, nil
			}),
		op(Operation{ID: "getTrialSheet", Method: "GET", Path: "/trials/{trial}/sheet", Tag: "Trials", Summary: "The sheet to print, as a page or as PDF", Scopes: readsRounds, Gives: pageKinds},
			func(c *Call, p struct {
				sheetParams
				paperParam
			}, _ None) (Raw, error) {
				s, err := a.trialSheet(p.sheetParams)
				if err != nil {
					return Raw{}, err
				}
				return a.printed(c, p.Trial+".sheet", report.TrialSheet(s), a.o.Papers.Units(), p.Paper)
			}),
		op(Operation{ID: "getTrialLabels", Method: "GET", Path: "/trials/{trial}/labels.pdf", Tag: "Trials", Summary: "Labels of the plants of a trial, to print in exact millimetres", Scopes: reads, Gives: []string{"application/pdf"}},
			func(c *Call, p struct {
				trialPath
				labelParams
			}, _ None) (Raw, error) {
				t, err := a.trial(p.Trial)
				if err != nil {
					return Raw{}, err
				}
				s, err := trialbook.SheetOf(t.Trial, "", 0, a.lightOf)
				if err != nil {
					return Raw{}, unfit(err, "Mend the bench of the trial.")
				}
				return labelsRaw(p.Trial, p.print(), photo.TrialLabels(trialbook.Key(t.File), benchOf(t), s))
			}),
		op(Operation{ID: "beginFindings", Method: "POST", Path: "/trials/{trial}/findings", Tag: "Trials", Summary: "What a trial tells, and what it cannot tell", Scopes: asks, Once: true, Task: result[wire.TrialFindings]()},
			func(c *Call, p trialPath, _ None) (wire.Task, error) {
				t, err := a.trial(p.Trial)
				if err != nil {
					return wire.Task{}, err
				}
				return c.begin(a.findings(p.Trial, t, func(f *trial.Findings) (tasks.Result, error) { return give(aswire.TrialFindings(f), nil) }))
			}),
	}
}

// labelsRaw prints labels.
func labelsRaw(name string, how photo.LabelPrint, labels []photo.Label) (Raw, error) {
	pdf, err := photo.PrintLabels(how, labels)
	if err != nil {
		return Raw{}, unfit(err, "Choose another size or sheet.")
	}
	return Raw{Type: "application/pdf", Body: pdf, Name: name + ".labels.pdf"}, nil
}

func (a *API) listTrials(c *Call, p Paging) (wire.Page[wire.TrialCard], error) {
	files, err := trialbook.Files(a.o.Folder)
	if err != nil {
		return wire.Page[wire.TrialCard]{}, err
	}
	var ids []string
	for _, f := range files {
		if id := strings.TrimSuffix(f, path.Ext(f)); validFile.MatchString(id) {
			ids = append(ids, id)
		}
	}
	slices.Sort(ids)
	cut, err := page(c, p, ids, func(id string) string { return id })
	out := wire.Page[wire.TrialCard]{Items: []wire.TrialCard{}, Next: cut.Next}
	for _, id := range cut.Items {
		t, err := a.trial(id)
		if err == nil {
			out.Items = append(out.Items, a.trialCard(id, t))
			continue
		}
		var wrong *Problem
		if !errors.As(err, &wrong) {
			return out, err
		}
		if wrong.Status != http.StatusNotFound { // else it went meanwhile
			out.Items = append(out.Items, wire.TrialCard{ID: id, Name: id, Wrong: wrong.Detail})
		}
	}
	return out, err
}

// keyOf tells what layouts are drawn from apart from all else.
func (a *API) keyOf(asked *trialbook.Asked) string {
	key := questionKey(asked)
	if asked.Bench != "" {
		if b, err := a.o.Benches.Get(strings.TrimSuffix(asked.Bench, path.Ext(asked.Bench))); err == nil && b != nil {
			key += b.Stamp()
		}
	}
	return key
}

func (a *API) createTrial(c *Call, b wire.TrialTake) (wire.Trial, error) {
	if a.o.Trials == nil {
		return wire.Trial{}, readOnly()
	}
	asked, err := a.question(b.Question)
	if err != nil {
		var p *Problem
		if errors.As(err, &p) {
			for i := range p.Errors {
				p.Errors[i].Pointer = "/question" + p.Errors[i].Pointer
			}
		}
		return wire.Trial{}, err
	}
	w := drawWork(asked, a.keyOf(asked), func(d drawn) (tasks.Result, error) { return d, nil })
	w.Kind += " to take"
	d, err := waitFor[drawn](c, w)
	if err != nil {
		return wire.Trial{}, err
	}
	for _, p := range d.all {
		t := asked.Plan(p)
		if trialbook.Fingerprint(t) != b.Fingerprint {
			continue
		}
		file := trialbook.FileOf(t.Name)
		if err := trialbook.Write(a.o.Trials, file, t); errors.Is(err, trialbook.ErrTaken) {
			return wire.Trial{}, problem(http.StatusConflict, "taken", sentence(trialbook.ErrTaken), "").at(fault("/question/name", "is taken"))
		} else if err != nil {
			return wire.Trial{}, err
		}
		id := strings.TrimSuffix(file, path.Ext(file))
		page, err := a.trial(id)
		if err != nil {
			return wire.Trial{}, err
		}
		c.Created("/trials/" + id)
		return aswire.Trial(a.trialCard(id, page), benchOf(page), page), nil
	}
	return wire.Trial{}, problem(http.StatusConflict, "changed", "No layout of this question has that fingerprint: the bench or the earlier trial has changed since it was drawn, or it is of another question.", "Ask for the proposals again, and take one of them.").at(fault("/fingerprint", "names none of the layouts"))
}

// waitFor does short work and gives what it gave: half a minute at most.
func waitFor[R tasks.Result](c *Call, w tasks.Work) (R, error) {
	w.Kind += " (API)"
	x, err := c.waitOn(w)
	r, ok := x.(R)
	if err == nil && !ok {
		err = fmt.Errorf("work gave %T", x)
	}
	return r, err
}

// waitOn does work, or waits for what is doing it, half a minute at most.
func (c *Call) waitOn(w tasks.Work) (tasks.Result, error) {
	t, err := c.api.o.Work.Begin(w)
	if err != nil {
		return nil, problem(http.StatusServiceUnavailable, "busy", sentence(err), "Look at "+Prefix+"/tasks, and ask again later.").after(5)
	}
	ctx, cancel := context.WithTimeout(c.Context(), longest)
	defer cancel()
	switch x := t.Wait(ctx); x.State {
	case tasks.Done:
		return x.Result, nil
	case tasks.Failed:
		return nil, unfit(x.Err, "")
	case tasks.Stopped:
		return nil, problem(http.StatusServiceUnavailable, "stopped", "The work was stopped by somebody.", "Ask again.")
	default:
		return nil, problem(http.StatusServiceUnavailable, "not-yet", "This takes longer than a request may.", "It goes on: ask again in a while. "+Prefix+"/tasks/"+t.ID()+" says how far it is.").after(10)
	}
}

func (a *API) trialSheet(p sheetParams) (*trial.Sheet, error) {
	t, err := a.trial(p.Trial)
	if err != nil {
		return nil, err
	}
	s, err := trialbook.SheetOf(t.Trial, p.Start, p.Days, a.lightOf)
	if err != nil {
		return nil, unfit(err, "Mend it, and ask again.")
	}
	return s, nil
}

// findings reads a trial as it stands.
func (a *API) findings(id string, p *trialbook.Page, give func(*trial.Findings) (tasks.Result, error)) tasks.Work {
	h := sha256.New()
	fmt.Fprintf(h, "%q %q %+v", p.File, p.Source, p.All)
	if b := a.benchUnder(p); b != nil {
		fmt.Fprint(h, b.Stamp())
	}
	if a.o.Settings != nil { // an outage is told where settings are asked for
		if set, err := a.o.Settings.Now(context.Background()); err == nil {
			p.Bench = set.Bench
		}
	}
	return tasks.Work{Kind: "findings", Key: hex.EncodeToString(h.Sum(nil)), Title: "Findings of " + p.Trial.Name, Page: "/trial/" + id, Again: "/trial/" + id,
		Do: func(ctx context.Context, t *tasks.Task) (tasks.Result, error) {
			f, err := p.Findings(ctx, a.o.Folder, func(done, of int) { t.Progress("reading the trial", float64(done)/float64(of)) })
			if err != nil {
				return nil, err
			}
			return give(f)
		}}
}
