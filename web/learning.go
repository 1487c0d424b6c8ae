package web

import (
	"bytes"
	"context"
	"fmt"
	"html/template"
	"net/http"
	"path"
	"time"

	"underlamp"
	"underlamp/access"
	"underlamp/app/learn"
	"underlamp/app/tasks"
	"underlamp/formats/benchfolder"
	"underlamp/formats/profilefile"
	"underlamp/report"
)

// cyclesOf are the cycle files beside a bench, with a key that tells their versions
// apart.
func (s *Site) cyclesOf(e *entry) ([]benchfolder.Found, string, error) {
	found, err := benchfolder.Cycles(s.benches.folder, e.file, e.bench)
	if err != nil {
		return nil, "", err
	}
	key := fmt.Sprint(e.modified.UnixNano(), " ", e.size)
	for _, f := range found {
		key += "; " + f.Name + " " + benchfolder.Stamp(s.benches.folder, f.Name)
	}
	return found, key, nil
}

// learnWork learns from the cycles of a bench. It takes all processors for a minute or so.
func (s *Site) learnWork(e *entry, key string, cycles []*underlamp.Cycle) tasks.Work {
	page := "/bench/" + e.id
	return tasks.Work{Kind: "learning", Key: e.version() + " " + key, Title: "Learning from the cycles of " + e.called(), Page: page + "#learn", Again: page + "/learn", Long: true,
		Do: func(ctx context.Context, t *tasks.Task) (tasks.Result, error) {
			l, err := learn.Teach(ctx, e.model, cycles, learn.Options{Progress: t.Progress})
			if err != nil {
				return nil, err
			}
			out := section{html: report.LearnSection(l)}
			p, err := l.Profile("", s.today().Format(time.DateOnly))
			if err != nil {
				out.missing = err.Error()
				return out, nil
			}
			var b bytes.Buffer
			if err := profilefile.Write(&b, p); err != nil {
				return nil, err
			}
			out.name, out.file = path.Base(profilefile.FileName(p)), b.Bytes()
			name := template.HTMLEscapeString(out.name)
			out.html += template.HTML(`<p><a class="back" href="` + page + `/profile" download="` + name + `">Save the profile</a>: put it beside the bench file and write <code>profile: ` + name + `</code> under <code>crop:</code>. The outlook of this bench then rests on it.</p>`)
			return out, nil
		}}
}

// learnView is the section of a bench page.
type learnView struct {
	ID       string
	Cycles   []string
	Problems []cycleProblem
	State    string // none: there are no cycles; idle; else that of the work
	Work     *workView
	Owner    bool // the visitor may start and stop
}

type cycleProblem struct{ File, Text string }

// learnView says how the learning of a bench stands.
func (s *Site) learnView(r *http.Request, e *entry) (learnView, error) {
	v := learnView{ID: e.id, State: "none", Owner: access.Owners.Has(access.From(r.Context()))}
	if e.refused != nil {
		return v, nil // nothing is learned of a species without an outlook
	}
	found, key, err := s.cyclesOf(e)
	if err != nil {
		return v, err
	}
	for _, f := range found {
		if f.Problems != "" {
			v.Problems = append(v.Problems, cycleProblem{f.Name, f.Problems})
		}
		if f.Cycle != nil {
			v.Cycles = append(v.Cycles, learn.Name(f.Cycle))
		}
	}
	if len(v.Cycles) > 0 {
		v.State = "idle"
	}
	w := s.learnWork(e, key, nil)
	if t := s.work.Of(w.Kind, w.Key); t != nil {
		x, _ := t.Look()
		v.Work = s.workView(r, x, false)
		v.State = v.Work.State
	}
	return v, nil
}

// learnDo begins the learning of a bench.
func (s *Site) learnDo(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	found, key, err := s.cyclesOf(e)
	if err != nil {
		s.log.Error("learn", "err", err)
		s.fail(w, http.StatusInternalServerError, "The cycles beside the bench cannot be read.", "Look at the folder of the bench.")
		return
	}
	if r.PostFormValue("do") != "start" {
		http.Error(w, "The form does not say start.", http.StatusBadRequest)
		return
	}
	var cycles []*underlamp.Cycle
	for _, f := range found {
		if f.Cycle != nil {
			cycles = append(cycles, f.Cycle)
		}
	}
	if len(cycles) == 0 || e.refused != nil {
		s.fail(w, http.StatusUnprocessableEntity, "There is nothing to learn from.", "Put the record of a cycle beside the bench file.")
		return
	}
	s.begun(w, r, s.learnWork(e, key, cycles))
}

// profile hands out the profile that was learned.
func (s *Site) profile(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	var out section
	if _, key, err := s.cyclesOf(e); err == nil {
		x := s.learnWork(e, key, nil)
		if t := s.work.Of(x.Kind, x.Key); t != nil {
			now, _ := t.Look()
			out, _ = now.Result.(section)
		}
	}
	switch {
	case out.missing != "":
		s.fail(w, http.StatusUnprocessableEntity, out.missing, "Add observations, or learn from the command line with more draws.")
		return
	case out.file == nil:
		s.fail(w, http.StatusNotFound, "Nothing has been learned of this bench yet, or it has been forgotten.", "Start the learning on its page.")
		return
	}
	w.Header().Set("Content-Type", "application/yaml; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="`+out.name+`"`)
	w.Header().Set("Cache-Control", "no-store")
	w.Write(out.file)
}
