package api

import (
	"context"
	"net/http"
	"slices"
	"strings"
	"time"

	"underlamp/app/photo"
	"underlamp/app/tasks"
	"underlamp/app/trialbook"
	"underlamp/report"
	"underlamp/science/quantity"
	"underlamp/wire"
)

// Papers are the reports as the pages write them: the same work, and the same documents.
type Papers interface {
	OfBench(ctx context.Context, id string) (tasks.Work, error)
	OfTrial(id string, t *trialbook.Page) tasks.Work
	Written(r tasks.Result) (papers []Paper, not []string) // what the work wrote, and what it could not
	PDF(page []byte, units quantity.System, paper string) ([]byte, error)
	Units() quantity.System // of what belongs to no bench
}

// A Paper is a report that was written.
type Paper struct {
	Name  string // "bench.html", "bench-short.html"
	Says  string
	HTML  []byte
	Units quantity.System // of its lengths
}

// computed is a report of the past, without photos.
type computed struct{ *report.Document }

// Size is about what its light holds.
func (computed) Size() int { return 256 << 10 }

// pageKinds are those of what is read or printed.
var pageKinds = []string{"text/html", "application/pdf"}

type paperParam struct {
	Paper string `query:"paper" enum:"a4|letter" doc:"of a PDF; that of the units of the bench if it is not said"`
}

type paperParams struct {
	Form string `query:"form" enum:"whole|short" doc:"short: one page with one picture and three numbers; whole if it is not said"`
	paperParam
}

const reportDoc = " Accept chooses HTML or PDF. It asks for nothing from outside, and is computed once until something changes or the day is over. That takes some seconds; after half a minute the answer is 503, and the work goes on: ask again."

func (a *API) reportOps() []Operation {
	late := []int{http.StatusServiceUnavailable}
	return []Operation{
		op(Operation{ID: "listReports", Method: "GET", Path: "/benches/{bench}/reports", Tag: "Reports", Summary: "List the reports of a bench and of its cycles", Scopes: reads, Errors: late,
			Doc: "They are written for it; that takes as long as the reports."},
			func(c *Call, p benchPath, _ None) (wire.Reports, error) {
				out := wire.Reports{Items: []wire.Report{}, Not: []string{}}
				papers, not, err := a.benchPapers(c, p.Bench)
				if err != nil {
					return out, err
				}
				for _, f := range papers {
					if of, short := strings.CutSuffix(strings.TrimSuffix(f.Name, ".html"), "-short"); !short {
						out.Items = append(out.Items, wire.Report{Of: of, Says: f.Says})
					}
				}
				out.Not = append(out.Not, not...)
				return out, nil
			}),
		op(Operation{ID: "getReport", Method: "GET", Path: "/benches/{bench}/report", Tag: "Reports", Summary: "The report of a bench or of one of its cycles, to hand on", Scopes: reads, Gives: pageKinds, Errors: late,
			Doc: "It holds light, outlook, best setting, the environment with what lacks of it, and strips of photos." + reportDoc + " A report of the past (at) has no environment, and is of the bench alone."},
			func(c *Call, p struct {
				benchThen
				Of string `query:"of" maxlen:"200" doc:"bench, or a cycle by its name in the list of reports; bench if it is not said" example:"bench"`
				paperParams
			}, _ None) (Raw, error) {
				of := p.Of
				if of == "" {
					of = "bench"
				}
				if p.At != nil {
					return a.pastReport(c, p.benchThen, of, p.paperParams)
				}
				papers, _, err := a.benchPapers(c, p.Bench)
				if err != nil {
					return Raw{}, err
				}
				return a.paper(c, p.Bench, papers, of, p.paperParams)
			}),
		op(Operation{ID: "getTrialReport", Method: "GET", Path: "/trials/{trial}/report", Tag: "Trials", Summary: "The report of a trial, to hand on", Scopes: reads, Gives: pageKinds, Errors: late,
			Doc: "It holds the findings, the plan with its layout, the environment with what lacks of it, and strips of photos." + reportDoc + " The findings of thousands of plants in grades take longer: begin them first."},
			func(c *Call, p struct {
				trialPath
				paperParams
			}, _ None) (Raw, error) {
				t, err := a.trial(p.Trial)
				if err != nil {
					return Raw{}, err
				}
				r, err := c.waitOn(a.o.Papers.OfTrial(p.Trial, t))
				if err != nil {
					return Raw{}, err
				}
				papers, _ := a.o.Papers.Written(r)
				return a.paper(c, p.Trial, papers, "trial", p.paperParams)
			}),
	}
}

// benchPapers are the reports of a bench as it is now.
func (a *API) benchPapers(c *Call, id string) ([]Paper, []string, error) {
	if _, err := a.bench(c, id, nil); err != nil {
		return nil, nil, err
	}
	w, err := a.o.Papers.OfBench(c.Context(), id)
	if err != nil {
		return nil, nil, err
	}
	r, err := c.waitOn(w)
	if err != nil {
		return nil, nil, err
	}
	papers, not := a.o.Papers.Written(r)
	return papers, not, nil
}

// paper is one of those that were written, in the form that is asked for.
func (a *API) paper(c *Call, id string, papers []Paper, of string, how paperParams) (Raw, error) {
	name := of
	if how.Form == "short" {
		name += "-short"
	}
	i := slices.IndexFunc(papers, func(f Paper) bool { return f.Name == name+".html" })
	if i < 0 {
		return Raw{}, missing("There is no report of this name.", Prefix+"/benches/"+id+"/reports lists them.")
	}
	return a.printed(c, id+"-"+name, papers[i].HTML, papers[i].Units, how.Paper)
}

// printed is a page in the kind that is asked for.
func (a *API) printed(c *Call, name string, page []byte, units quantity.System, paper string) (Raw, error) {
	kind, err := c.kind()
	if err != nil {
		return Raw{}, err
	}
	if kind != "application/pdf" {
		return Raw{Type: "text/html", Body: page, Name: name + ".html"}, nil
	}
	text, err := a.o.Papers.PDF(page, units, paper)
	if err != nil {
		return Raw{}, unfit(err, "Ask for the page itself, as text/html.")
	}
	return Raw{Type: kind, Body: text, Name: name + ".pdf"}, nil
}

// pastReport is the report of a bench as it was.
func (a *API) pastReport(c *Call, p benchThen, of string, how paperParams) (Raw, error) {
	if of != "bench" {
		return Raw{}, wrongField("#of", "is a cycle; reports of the past are of the bench alone")
	}
	b, err := a.bench(c, p.Bench, p.At)
	if err != nil {
		return Raw{}, err
	}
	d, err := waitFor[computed](c, tasks.Work{Kind: "report of the past", Key: b.Stamp(), Title: "Report of " + b.Bench().Name, Page: "/bench/" + p.Bench + "/report", Again: "",
		Do: func(ctx context.Context, t *tasks.Task) (tasks.Result, error) {
			d, err := report.Compute(ctx, b.Model(), 0, func(done, of int) { t.Progress("computing the settings map", float64(done)/float64(max(of, 1))) })
			if err != nil {
				return nil, err
			}
			d.Head = report.Head{Written: a.today().Format(time.DateOnly), Version: a.o.Version}
			return computed{d}, nil
		}})
	if err != nil {
		return Raw{}, err
	}
	page := *d.Document
	if page.Strips, err = a.strips(c, b); err != nil {
		return Raw{}, err
	}
	papers := []Paper{{Name: "bench.html", HTML: page.HTML(), Units: b.Bench().Units}, {Name: "bench-short.html", HTML: page.Short(), Units: b.Bench().Units}}
	return a.paper(c, p.Bench, papers, of, how)
}

// strips are the plants of a bench through time; none without photos.
func (a *API) strips(c *Call, b Bench) ([]report.Strip, error) {
	if a.o.Keep == nil {
		return nil, nil
	}
	book, _, err := a.photoBook(c, b)
	if err != nil {
		return nil, err
	}
	plants := book.Plants()
	if len(plants) == 0 {
		return nil, nil
	}
	strip, err := book.Strip(c.Context(), a.o.Keep, b.Bench().Name, plants[:min(len(plants), photo.ReportRows)], a.o.Zone())
	if err != nil {
		return nil, nil // nothing to show
	}
	var data []byte
	if err := c.large(func() (err error) { data, err = strip.JPEG(1100); return err }); err != nil {
		return nil, err
	}
	return []report.Strip{{Title: "Plants through time", Says: strip.Says(), JPEG: data}}, nil
}
