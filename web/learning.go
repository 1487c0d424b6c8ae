package web

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"path"
	"strings"
	"sync"
	"time"

	"underlamp"
	"underlamp/access"
	"underlamp/app/learn"
	"underlamp/formats/benchfolder"
	"underlamp/formats/profilefile"
	"underlamp/report"
)

// longestJob bounds a learning that nobody stops.
const longestJob = 15 * time.Minute

// A job learns from the cycles of a bench in the background. It goes on when its
// page is closed, and can be stopped.
type job struct {
	key  string // versions of the bench file and its cycles
	stop context.CancelFunc

	mu     sync.Mutex
	doing  string
	share  float64
	ended  bool
	lesson *learn.Lesson
	err    error
}

func (j *job) progress(doing string, share float64) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.doing, j.share = doing, share
}

// jobs are the latest learning of each bench. One runs at a time: learning takes all
// processors.
type jobs struct {
	mu   sync.Mutex
	byID map[string]*job
	turn chan struct{}
}

func newJobs() *jobs { return &jobs{byID: map[string]*job{}, turn: make(chan struct{}, 1)} }

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

// current is the job of a bench, if it is of the files as they are now.
func (j *jobs) current(id, key string) *job {
	j.mu.Lock()
	defer j.mu.Unlock()
	if now := j.byID[id]; now != nil && now.key == key {
		return now
	}
	return nil
}

// begin starts a job unless one of the same files runs or is done.
func (j *jobs) begin(e *entry, key string, cycles []*underlamp.Cycle) *job {
	j.mu.Lock()
	defer j.mu.Unlock()
	if now := j.byID[e.id]; now != nil {
		now.mu.Lock()
		failed := now.ended && now.err != nil
		now.mu.Unlock()
		if now.key == key && !failed {
			return now
		}
		now.stop()
	}
	ctx, cancel := context.WithTimeout(context.Background(), longestJob)
	n := &job{key: key, stop: cancel, doing: "beginning"}
	j.byID[e.id] = n
	go func() {
		defer cancel()
		l, err := j.run(ctx, e, n, cycles)
		n.mu.Lock()
		defer n.mu.Unlock()
		n.ended, n.lesson, n.err = true, l, err
	}()
	return n
}

// run waits for its turn and learns.
func (j *jobs) run(ctx context.Context, e *entry, n *job, cycles []*underlamp.Cycle) (*learn.Lesson, error) {
	select {
	case j.turn <- struct{}{}:
	default:
		n.progress("waiting until another bench has learned", 0)
		select {
		case j.turn <- struct{}{}:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
	defer func() { <-j.turn }()
	return learn.Teach(ctx, e.model, cycles, learn.Options{Progress: n.progress})
}

// learnView is the section of a bench page.
type learnView struct {
	ID       string
	Cycles   []string
	Problems []cycleProblem
	State    string // none, idle, running, done, failed
	Doing    string
	Percent  int
	Wrong    string
	Profile  string // name of the file that can be taken; empty if there is none
	Section  template.HTML
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
	j := s.jobs.current(e.id, key)
	if j == nil {
		return v, nil
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	switch {
	case !j.ended:
		v.State, v.Doing, v.Percent = "running", j.doing, int(math.Round(100*j.share))
	case errors.Is(j.err, context.Canceled):
		v.State, v.Wrong = "failed", "The learning was stopped."
	case errors.Is(j.err, context.DeadlineExceeded):
		v.State, v.Wrong = "failed", fmt.Sprintf("The learning took longer than %.0f minutes and was stopped; underlamp learn has no such limit.", longestJob.Minutes())
	case j.err != nil:
		v.State, v.Wrong = "failed", strings.ToUpper(j.err.Error()[:1])+j.err.Error()[1:]+"."
	default:
		v.State, v.Section = "done", report.LearnSection(j.lesson)
		if p, err := j.lesson.Profile("", ""); err == nil {
			v.Profile = profilefile.FileName(p)
		}
	}
	return v, nil
}

// learnPart shows how the learning stands, for the script.
func (s *Site) learnPart(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	s.learnAnswer(w, r, e)
}

func (s *Site) learnAnswer(w http.ResponseWriter, r *http.Request, e *entry) {
	v, err := s.learnView(r, e)
	if err != nil {
		s.log.Error("learn", "err", err)
		http.Error(w, "The cycles beside the bench cannot be read.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Cache-Control", "no-store")
	s.page(w, http.StatusOK, "learnstate.tmpl", v)
}

// learnDo starts or stops the learning of a bench. A form without the script is sent
// back to the page.
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
	switch r.PostFormValue("do") {
	case "start":
		var cycles []*underlamp.Cycle
		for _, f := range found {
			if f.Cycle != nil {
				cycles = append(cycles, f.Cycle)
			}
		}
		if len(cycles) > 0 {
			s.jobs.begin(e, key, cycles)
		}
	case "stop":
		if j := s.jobs.current(e.id, key); j != nil {
			j.stop()
		}
	default:
		http.Error(w, "The form says neither start nor stop.", http.StatusBadRequest)
		return
	}
	if r.Header.Get("Sec-Fetch-Dest") == "empty" || r.PostFormValue("script") != "" {
		s.learnAnswer(w, r, e)
		return
	}
	http.Redirect(w, r, "/bench/"+e.id+"#learn", http.StatusSeeOther)
}

// profile hands out the profile that was learned.
func (s *Site) profile(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	_, key, err := s.cyclesOf(e)
	var l *learn.Lesson
	if err == nil {
		if j := s.jobs.current(e.id, key); j != nil {
			j.mu.Lock()
			l = j.lesson
			j.mu.Unlock()
		}
	}
	if l == nil {
		s.fail(w, http.StatusNotFound, "Nothing has been learned of this bench yet.", "Start the learning on its page.")
		return
	}
	p, err := l.Profile("", time.Now().Format(time.DateOnly))
	if err != nil {
		s.fail(w, http.StatusUnprocessableEntity, err.Error(), "Add observations, or learn from the command line with more draws.")
		return
	}
	var b bytes.Buffer
	if err := profilefile.Write(&b, p); err != nil {
		s.log.Error("profile", "err", err)
		s.fail(w, http.StatusInternalServerError, "The profile cannot be written.", "Try again.")
		return
	}
	w.Header().Set("Content-Type", "application/yaml; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="`+path.Base(profilefile.FileName(p))+`"`)
	w.Header().Set("Cache-Control", "no-store")
	w.Write(b.Bytes())
}
