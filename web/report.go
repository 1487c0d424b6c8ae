package web

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"html/template"
	"io/fs"
	"math"
	"net/http"
	"path"
	"strings"
	"time"

	"underlamp"
	"underlamp/app/environment"
	"underlamp/app/learn"
	"underlamp/app/photo"
	"underlamp/app/tasks"
	"underlamp/app/trial"
	"underlamp/app/trialbook"
	"underlamp/formats/benchfolder"
	"underlamp/report"
	"underlamp/science/quantity"
)

// A paperFile is a report that was written.
type paperFile struct {
	Name, Title, Says string
	html              []byte
	units             quantity.System // of its lengths
}

// PDF is the name of the same as PDF.
func (f paperFile) PDF() string { return strings.TrimSuffix(f.Name, ".html") + ".pdf" }

// reportView is the page of reports of a bench or a trial.
type reportView struct {
	trialHead
	Trial   bool
	Base    string // address of the page
	Work    *workView
	Wrong   string
	Papers  template.HTML
	Told    string
	Missing template.HTML
}

// pagesOfBench links what lacks to where it is filled in; pages that there are not here, or are
// not for the visitor, are left out.
func (s *Site) pagesOfBench(r *http.Request, bench string) report.Link {
	owner := mayOf(r).Owner
	return func(p environment.Page, field string) string {
		switch {
		case bench == "" || p == "":
			return ""
		case p == environment.EditPage && (s.desk == nil || !owner), p == environment.LivePage && s.live == nil:
			return ""
		}
		if field != "" {
			return editAt(bench, field)
		}
		return "/bench/" + bench + "/" + string(p)
	}
}

// around is the environment of a bench as b has it over a time; its sensors count if grew is true.
func (s *Site) around(ctx context.Context, e *entry, b *underlamp.Bench, from, to time.Time, grew bool) (*environment.Table, error) {
	set := b.Setting()
	lit, err := e.at(set)
	if err != nil {
		return nil, err
	}
	k := environment.Known{Bench: b, Light: lit.Answer(&set, 9), Feed: benchfolder.FeedOf(s.benches.folder, e.file, b)}
	if grew {
		k.From, k.To = from.Format(time.DateOnly), to.Format(time.DateOnly)
	}
	if s.sensors != nil && grew {
		if k.Log, err = environment.Gather(ctx, s.sensors, e.id, b, from, to, s.readWatch, s.zone); err != nil {
			return nil, err
		}
	}
	return environment.Of(k), nil
}

// reportHead says of a report when, by what and of which files it was made.
func (s *Site) reportHead(names ...string) report.Head {
	h := report.Head{Written: s.today().Format(time.DateOnly), Version: s.version}
	for _, name := range names {
		if raw, err := fs.ReadFile(s.benches.folder, name); err == nil {
			h.Inputs = append(h.Inputs, report.Hashed(name, raw))
		}
	}
	if len(h.Inputs) > 0 {
		h.Command = "underlamp report " + h.Inputs[0].Name
	}
	return h
}

// forms are the whole and the short form of a paper.
func forms(name, of string, p report.Paper, units quantity.System) []paperFile {
	return []paperFile{
		{name + ".html", of + ", whole", "in the order of a short paper, with environment, workings and sources", p.HTML(), units},
		{name + "-short.html", of + ", on one page", "one picture and three numbers, to show to others", p.Short(), units},
	}
}

// listed adds the list of reports, which takes the place of the work on a page that waits.
func (s *Site) listed(base string, x section) (section, error) {
	var b strings.Builder
	err := s.pages.ExecuteTemplate(&b, "papers.tmpl", struct {
		Base  string
		Files []paperFile
		Not   []string // what could not be reported, and why
	}{base, x.papers, x.not})
	x.html = template.HTML(b.String())
	return x, err
}

// reportWork writes the reports of a bench: of the bench, and of each cycle that is known of it. It
// is written anew when the bench, its cycles or what was seen change, and every day.
func (s *Site) reportWork(ctx context.Context, e *entry) (tasks.Work, error) {
	found, key, err := s.cyclesOf(e)
	if err != nil {
		return tasks.Work{}, err
	}
	h := sha256.New()
	fmt.Fprintf(h, "%s %s %s", e.version(), key, s.today().Format(time.DateOnly))
	if s.rounds != nil {
		seen, err := s.rounds.Observations(ctx, e.id, 0, math.MaxInt64)
		if err != nil {
			return tasks.Work{}, err
		}
		for _, o := range seen {
			fmt.Fprint(h, o.ID)
		}
	}
	page := "/bench/" + e.id + "/report"
	return tasks.Work{Kind: "report", Key: hex.EncodeToString(h.Sum(nil)), Title: "Report of " + e.called(), Page: page, Again: page,
		Do: func(ctx context.Context, t *tasks.Task) (tasks.Result, error) {
			const search = 0.7 // of the time goes into the best setting
			t.Progress("searching the best setting", 0)
			d, err := report.Compute(ctx, e.model, 0, func(done, of int) { t.Progress("searching the best setting", search*float64(done)/float64(of)) })
			if err != nil {
				return nil, err
			}
			d.Head = s.reportHead(e.file)
			from, to, grows := environment.Crop(e.bench, time.Now(), s.zone)
			if d.Around, err = s.around(ctx, e, e.bench, from, to, grows); err != nil {
				return nil, err
			}
			t.Progress("putting photos side by side", search+0.1)
			d.Strips = s.reportStrips(ctx, e, time.Time{}, time.Time{})
			out := section{papers: forms("bench", "The bench", d, e.bench.Units)}
			if e.refused != nil {
				return s.listed(page, out)
			}
			t.Progress("holding cycles against the outlook", search+0.2)
			for _, f := range found {
				if f.Cycle == nil {
					continue
				}
				name := strings.TrimSuffix(f.Name, path.Ext(f.Name))
				papers, err := s.cyclePapers(ctx, e, f.Cycle, name, e.file, f.Name)
				if err != nil {
					out.not = append(out.not, fmt.Sprintf("The cycle %s: %s", f.Name, asSentence(err.Error())))
					continue
				}
				out.papers = append(out.papers, papers...)
			}
			if s.rounds == nil {
				return s.listed(page, out)
			}
			rec, err := s.record(ctx, e.id)
			if err != nil {
				return nil, err
			}
			c, _, err := rec.Cycle(e.bench, e.file, time.Time{})
			if err != nil {
				out.not = append(out.not, "What rounds have seen: "+asSentence(err.Error()))
				return s.listed(page, out)
			}
			papers, err := s.cyclePapers(ctx, e, c, "rounds", e.file)
			if err != nil {
				out.not = append(out.not, "What rounds have seen: "+asSentence(err.Error()))
				return s.listed(page, out)
			}
			out.papers = append(out.papers, papers...)
			return s.listed(page, out)
		}}, nil
}

// cyclePapers are the reports of a cycle.
func (s *Site) cyclePapers(ctx context.Context, e *entry, c *underlamp.Cycle, name string, files ...string) ([]paperFile, error) {
	x, err := learn.Compare(ctx, e.model, c, 0)
	if err != nil {
		return nil, err
	}
	d := &report.CycleDocument{Head: s.reportHead(files...), Comparison: x}
	if len(files) > 1 {
		d.Command = "underlamp report " + files[1]
	} else {
		d.Command += " --seen --store …"
	}
	from, err := time.ParseInLocation(time.DateOnly, c.Transplanted, s.zone)
	if err != nil {
		return nil, err
	}
	to := from.AddDate(0, 0, x.Last+1)
	if d.Around, err = s.around(ctx, e, x.Begun, from, to, true); err != nil {
		return nil, err
	}
	if s.sensors != nil {
		kWh, by, ok, err := environment.Metered(ctx, s.sensors, e.id, from, to)
		if err != nil {
			return nil, err
		}
		if ok {
			d.Metered, d.MeteredBy = &kWh, by
		}
	}
	d.Strips = s.reportStrips(ctx, e, from, to)
	return forms(name, "The cycle “"+x.Name+"”", d, e.bench.Units), nil
}

// trialReportWork writes the report of a trial.
func (s *Site) trialReportWork(id string, p *trialbook.Page) tasks.Work {
	findings := s.findingsWork(id, p)
	page := "/trial/" + id + "/report"
	return tasks.Work{Kind: "report of a trial", Key: findings.Key + s.today().Format(time.DateOnly), Title: "Report of " + p.Trial.Name, Page: page, Again: page,
		Do: func(ctx context.Context, t *tasks.Task) (tasks.Result, error) {
			f, err := p.Findings(ctx, s.benches.folder, func(done, of int) { t.Progress("reading the trial", 0.7*float64(done)/float64(of)) })
			if err != nil {
				return nil, err
			}
			d := &report.TrialDocument{Findings: f, Head: s.reportHead(p.File, p.Trial.Table)}
			if e := s.benchOfTrial(p); e != nil {
				t.Progress("drawing the layout", 0.8)
				d.Bench = e.bench
				d.Inputs = append(d.Inputs, s.reportHead(e.file).Inputs...)
				if l, err := trial.CheckLight(e.model, p.Trial, trial.LightOptions{}); err == nil {
					d.Light = l // else the plan names lamps that the bench does not have, and the layout stays a table
				}
				from, to, grew := trialTime(p.Trial, s.zone)
				if d.Around, err = s.around(ctx, e, e.bench, from, to, grew); err != nil {
					return nil, err
				}
				if grew {
					d.Strips = s.reportStrips(ctx, e, from, to)
				}
			}
			return s.listed(page, section{papers: forms("trial", "The trial", d, s.benches.set().System(quantity.Metric))})
		}}
}

// benchOfTrial is the bench that a plan names; nil if there is none that can be read.
func (s *Site) benchOfTrial(p *trialbook.Page) *entry {
	if p.Trial.Bench == "" {
		return nil
	}
	e, err := s.benches.get(strings.TrimSuffix(p.Trial.Bench, path.Ext(p.Trial.Bench)))
	if err != nil || e == nil || e.broken {
		return nil
	}
	return e
}

// trialTime is from the first transplanting to the last harvest that the plan says.
func trialTime(t *underlamp.Trial, zone *time.Location) (from, to time.Time, ok bool) {
	for _, c := range t.Cycles {
		a, errA := time.ParseInLocation(time.DateOnly, c.Transplanted, zone)
		b, errB := time.ParseInLocation(time.DateOnly, c.Harvested, zone)
		if errA != nil || errB != nil {
			continue
		}
		if !ok || a.Before(from) {
			from = a
		}
		if !ok || b.After(to) {
			to = b
		}
		ok = true
	}
	return from, to, ok
}

// reports shows the page of reports: what was written, and what lacks.
func (s *Site) reports(w http.ResponseWriter, r *http.Request, v reportView, x tasks.Work) {
	status := http.StatusOK
	t, err := s.visit(x)
	if err != nil {
		s.fail(w, http.StatusServiceUnavailable, asSentence(err.Error()), "What runs is listed on the page of work.")
		return
	}
	switch now := quickly(r.Context(), t); now.State {
	case tasks.Failed:
		status, v.Wrong = http.StatusUnprocessableEntity, asSentence(now.Err.Error())
	case tasks.Done:
		v.Papers = now.Result.(section).html
	default:
		v.Work = s.workView(r, now, false)
	}
	w.Header().Set("Cache-Control", "no-store")
	s.page(w, status, "report.tmpl", v)
}

// benchReport is the page of reports of a bench.
func (s *Site) benchReport(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	x, err := s.reportWork(r.Context(), e)
	if err != nil {
		s.log.Error("report", "err", err)
		s.fail(w, http.StatusInternalServerError, asSentence(err.Error()), "Try again; underlamp doctor says what is wrong with the store.")
		return
	}
	v := reportView{Base: "/bench/" + e.id + "/report"}
	v.Title, v.ID, v.Name, v.may = "Report of "+e.bench.Name, e.id, e.bench.Name, mayOf(r)
	from, to, grows := environment.Crop(e.bench, time.Now(), s.zone)
	table, err := s.around(r.Context(), e, e.bench, from, to, grows)
	if err != nil {
		s.log.Error("report", "err", err)
		s.fail(w, http.StatusUnprocessableEntity, asSentence(err.Error()), "Look at the bench file.")
		return
	}
	v.Told, v.Missing = table.Sentence(), report.MissingSection(table, s.pagesOfBench(r, e.id))
	s.reports(w, r, v, x)
}

// benchReportDo writes the reports of a bench anew after that was stopped.
func (s *Site) benchReportDo(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	x, err := s.reportWork(r.Context(), e)
	if err != nil {
		s.fail(w, http.StatusInternalServerError, asSentence(err.Error()), "Try again.")
		return
	}
	s.begun(w, r, x)
}

// trialReport is the page of reports of a trial.
func (s *Site) trialReport(w http.ResponseWriter, r *http.Request) {
	id, p := s.trialOf(w, r)
	if p == nil {
		return
	}
	v := reportView{trialHead: s.headOf(r, id, p, "report"), Trial: true, Base: "/trial/" + id + "/report"}
	if e := s.benchOfTrial(p); e != nil {
		from, to, grew := trialTime(p.Trial, s.zone)
		table, err := s.around(r.Context(), e, e.bench, from, to, grew)
		if err != nil {
			s.log.Error("report", "err", err)
			s.fail(w, http.StatusUnprocessableEntity, asSentence(err.Error()), "Look at the bench file.")
			return
		}
		v.Told, v.Missing = table.Sentence(), report.MissingSection(table, s.pagesOfBench(r, e.id))
	} else {
		v.Told = "The environment of a trial is that of the bench that its plan names. This plan names none that can be read, so all of it lacks: write bench: mine.yaml into the plan."
	}
	s.reports(w, r, v, s.trialReportWork(id, p))
}

// trialReportDo writes the report of a trial anew after that was stopped.
func (s *Site) trialReportDo(w http.ResponseWriter, r *http.Request) {
	if id, p := s.trialOf(w, r); p != nil {
		s.begun(w, r, s.trialReportWork(id, p))
	}
}

// benchPaper and [Site.trialPaper] send a report as a file that stands by itself.
func (s *Site) benchPaper(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	x, err := s.reportWork(r.Context(), e)
	if err != nil {
		s.fail(w, http.StatusInternalServerError, asSentence(err.Error()), "Try again.")
		return
	}
	s.paper(w, r, x, e.id, e.bench.Units)
}

func (s *Site) trialPaper(w http.ResponseWriter, r *http.Request) {
	if id, p := s.trialOf(w, r); p != nil {
		s.paper(w, r, s.trialReportWork(id, p), id, s.benches.set().System(quantity.Metric))
	}
}

// paper sends a report that was written. Until it is, the page of reports is where one waits. Its
// stylesheet is inside it, so its policy names the hash of that. By a name that ends in .pdf it
// is sent as PDF.
func (s *Site) paper(w http.ResponseWriter, r *http.Request, x tasks.Work, id string, units quantity.System) {
	t := s.work.Of(x.Kind, x.Key)
	if t == nil {
		http.Redirect(w, r, x.Page, http.StatusSeeOther)
		return
	}
	now, _ := t.Look()
	if now.State != tasks.Done {
		http.Redirect(w, r, x.Page, http.StatusSeeOther)
		return
	}
	file, asPDF := r.PathValue("file"), false
	if name, ok := strings.CutSuffix(file, ".pdf"); ok {
		file, asPDF = name+".html", true
	}
	for _, f := range now.Result.(section).papers {
		if f.Name != file {
			continue
		}
		if asPDF {
			s.sendPDF(w, r, id+"-"+f.PDF(), f.html, f.units)
			return
		}
		h := w.Header()
		h.Set("Content-Type", "text/html; charset=utf-8")
		h.Set("Cache-Control", "no-store")
		h.Set("Content-Security-Policy", "default-src 'none'; img-src data:; style-src "+s.reportCS+"; base-uri 'none'; frame-ancestors 'none'")
		if r.FormValue("save") != "" {
			h.Set("Content-Disposition", `attachment; filename="`+id+"-"+f.Name+`"`)
		}
		w.Write(f.html)
		return
	}
	s.fail(w, http.StatusNotFound, "There is no report of this name.", "The page Report lists them.")
}

// reportStrips are the strips of a report, of photos from a time to another (zero: of any); none
// without photos.
func (s *Site) reportStrips(ctx context.Context, e *entry, from, to time.Time) []report.Strip {
	if s.rounds == nil {
		return nil
	}
	b, _, err := s.book(ctx, e)
	if err != nil {
		s.log.Error("photos", "err", err)
		return nil
	}
	plants := b.Plants()
	if len(plants) == 0 {
		return nil
	}
	strip, err := photo.LoadStrip(ctx, s.rounds, e.bench.Name, photo.Within(b.Looks(""), from, to), plants[:min(len(plants), photo.ReportRows)], s.zone)
	if err != nil {
		return nil // nothing to show
	}
	data, err := strip.JPEG(1100)
	if err != nil {
		return nil
	}
	return []report.Strip{{Title: "Plants through time", Says: strip.Says(), JPEG: data}}
}
