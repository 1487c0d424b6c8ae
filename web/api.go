package web

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"time"

	"underlamp"
	"underlamp/access"
	"underlamp/api"
	"underlamp/app/light"
	"underlamp/app/live"
	"underlamp/app/outlook"
	"underlamp/app/tasks"
	"underlamp/app/trialbook"
	"underlamp/formats/benchfile"
	"underlamp/science/quantity"
)

// newAPI is what programs ask instead of pages, over the same benches and the same work.
func (s *Site) newAPI(o Options) *api.API {
	set := api.Options{Benches: apiBenches{s}, Folder: o.Folder, Work: s.work, Desk: s.desk, Trials: s.place, Keep: o.Keep, Settings: s.settings, Version: o.Version, Zone: s.zoneNow, Log: s.log,
		Plain: s.here.Plain, Secure: s.here.Secure, Authority: s.here.Authority,
		Papers: apiPapers{s}, Office: s.office, Ask: s.askOf,
		Elsewhere: len(s.here.Plain)+len(s.here.Secure) > 0, Backup: s.here.Backup, Hints: func() {
			select {
			case s.photoCame <- struct{}{}:
			default:
			}
		}}
	if s.desk != nil {
		set.Change = func(text, base []byte, changes []benchfile.Change, moved bool) ([]byte, error) {
			return s.changedText(tryRequest{Text: string(text), Base: string(base), Changes: changes, Settle: moved})
		}
	}
	if l, ok := s.live.(*live.Engine); ok && l != nil {
		set.Live = l
	}
	if d, ok := s.people.(*access.Door); ok {
		set.People = d
	}
	return api.New(set)
}

// all are pages and API.
func (s *Site) all() http.Handler {
	pages := s.mux()
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasPrefix(r.URL.Path, api.Prefix+"/") {
			s.api.ServeHTTP(w, r)
			return
		}
		pages.ServeHTTP(w, r)
	})
}

// API is what programs ask.
func (s *Site) API() *api.API { return s.api }

// apiBenches are the benches of the site.
type apiBenches struct{ s *Site }

func (b apiBenches) List() ([]string, error) { return b.s.benches.list() }

func (b apiBenches) Get(id string) (api.Bench, error) {
	e, err := b.s.benches.get(id)
	if e == nil || err != nil {
		return nil, err
	}
	return apiBench{b.s, e}, nil
}

// apiPapers are the reports of the site.
type apiPapers struct{ s *Site }

func (p apiPapers) OfBench(ctx context.Context, id string) (tasks.Work, error) {
	e, err := p.s.benches.get(id)
	switch {
	case err != nil:
		return tasks.Work{}, err
	case e == nil || e.broken:
		return tasks.Work{}, fmt.Errorf("the bench %s cannot be read any more", id)
	}
	return p.s.reportWork(ctx, e)
}

func (p apiPapers) OfTrial(id string, t *trialbook.Page) tasks.Work {
	return p.s.trialReportWork(id, t)
}

func (apiPapers) Written(r tasks.Result) (papers []api.Paper, not []string) {
	done, ok := r.(section)
	if !ok {
		return nil, nil
	}
	for _, f := range done.papers {
		papers = append(papers, api.Paper{Name: f.Name, Says: f.Title + ": " + f.Says, HTML: f.html, Units: f.units})
	}
	return papers, done.not
}

func (p apiPapers) PDF(page []byte, units quantity.System, paper string) ([]byte, error) {
	return p.s.asPDF("asked for by a program", page, units, paper)
}

func (p apiPapers) Units() quantity.System { return p.s.benches.set().System(quantity.Metric) }

// An apiBench is an entry as programs see it.
type apiBench struct {
	s *Site
	e *entry
}

func (b apiBench) ID() string              { return b.e.id }
func (b apiBench) Stamp() string           { return b.e.version() }
func (b apiBench) Bench() *underlamp.Bench { return b.e.bench }
func (b apiBench) Model() *light.Model     { return b.e.model }

func (b apiBench) Broken() string {
	if b.e.broken {
		return b.e.problems
	}
	return ""
}

func (b apiBench) Remarks() string {
	if b.e.broken {
		return ""
	}
	return b.e.problems
}

func (b apiBench) Lit(s underlamp.Setting) (*light.Lit, error) { return b.e.at(s) }
func (b apiBench) NextReading() *light.NextReading             { return b.e.nextReading() }

func (b apiBench) Outlook(whole bool) (*outlook.Outlook, error) {
	switch {
	case b.e.refused != nil:
		return nil, b.e.refused
	case whole:
		return b.e.whole, nil
	}
	return b.e.fast, nil
}

func (b apiBench) Forecast(change *underlamp.Setting) (*outlook.Forecast, error) {
	f, _, err := b.e.forecast(change)
	return f, err
}

func (b apiBench) Doubts(ctx context.Context) (*outlook.Doubts, error) {
	if b.e.refused != nil {
		return nil, b.e.refused
	}
	return b.e.doubtsOf(ctx)
}

func (b apiBench) Past(ctx context.Context, at time.Time) (api.Bench, bool, error) {
	step, err := b.s.stepAt(ctx, b.e.id, at)
	if err != nil || step == nil || len(step.Text) == 0 {
		return nil, false, err
	}
	return apiBench{b.s, b.s.pastEntry(b.e, at.UTC().Format(time.RFC3339Nano), at, step)}, true, nil
}
