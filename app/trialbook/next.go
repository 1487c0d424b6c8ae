package trialbook

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/trial"
	"underlamp/formats/benchfolder"
	"underlamp/formats/icalendar"
	"underlamp/formats/trialfile"
)

// FileNamed is the plan of a trial by the name of its file without the ending; empty if the
// folder has none. The name must be one that can reach the folder.
func FileNamed(folder fs.FS, id string) string {
	for _, ext := range []string{".yaml", ".yml"} {
		if benchfolder.KindOf(folder, id+ext) == benchfolder.TrialFile {
			return id + ext
		}
	}
	return ""
}

// Next says what is to be done next: by the calendar if the plan has one, and by what is
// missing. today is YYYY-MM-DD.
func (p *Page) Next(today string) string {
	units, state := p.Progress()
	text := missing(p, units, state)
	j, ok := trial.NextJob(p.Trial, today)
	if !ok || state == Done {
		return text
	}
	when := "on " + j.Date
	if j.Date == today {
		when = "today"
	}
	if j.Block != "" {
		when += ", " + j.Block
	}
	return fmt.Sprintf("Next by the calendar: %s, %s. %s", strings.ToLower(j.Title[:1])+j.Title[1:], when, text)
}

// missing says how far the recording is.
func missing(p *Page, units []UnitProgress, state State) string {
	what := string(p.Trial.Response)
	switch state {
	case Planned:
		return "Nothing is recorded yet. Set the lamps as the plan says, then record what you see."
	case Done:
		return "Every plant has its " + what + ". Read the findings."
	}
	var open []string
	lack, block := 0, ""
	for _, u := range units {
		if u.Done() {
			continue
		}
		if block == "" && u.Unit.Block != "" {
			block = u.Unit.Block
		}
		if u.Unit.Block != block {
			continue
		}
		lack += u.Due() - u.Seen - u.Absent
		open = append(open, u.Unit.Name)
	}
	where := ""
	if block != "" {
		where = block + ": "
	}
	list := strings.Join(open[:min(4, len(open))], ", ")
	if len(open) > 4 {
		list += " and others"
	}
	plants := "1 plant"
	if lack != 1 {
		plants = fmt.Sprintf("%d plants", lack)
	}
	return fmt.Sprintf("%s%s is missing of %s (%s).", where, what, plants, list)
}

// Plan is a proposal as a plan of what was asked.
func (a *Asked) Plan(p trial.Proposal) *underlamp.Trial {
	t := *p.Trial
	t.Bench, t.Note = a.Bench, strings.TrimSpace(strings.Join([]string{t.Note, a.Note}, " "))
	return &t
}

// Fingerprint tells whether a plan is the one that a person saw.
func Fingerprint(t *underlamp.Trial) string {
	h := sha256.New()
	c := *t
	c.Table = ""
	if err := trialfile.Write(h, &c); err != nil {
		return ""
	}
	return hex.EncodeToString(h.Sum(nil)[:8])
}

// SheetOf is the sheet of a plan, with the light of its bench if it names one. start is the day
// of the first transplanting where the plan says none, empty if it is not known; days are those
// of a cycle.
func SheetOf(t *underlamp.Trial, start string, days int, model func(file string) (*light.Model, error)) (*trial.Sheet, error) {
	var lit *trial.TrialLight
	if t.Bench != "" {
		m, err := model(t.Bench)
		if err == nil {
			lit, err = trial.CheckLight(m, t, trial.LightOptions{})
		}
		if err != nil {
			return nil, fmt.Errorf("the light of the units on %s cannot be told: %w", t.Bench, err)
		}
	}
	return trial.NewSheet(t, lit, trial.SheetOptions{Start: start, Days: days, Gap: 1})
}

// Key is what stands for a trial in labels and folders of a bench: the name of its file
// without endings.
func Key(file string) string {
	return strings.TrimSuffix(strings.TrimSuffix(file, path.Ext(file)), ".trial")
}

// ErrUndated says that the jobs of a sheet have no days.
var ErrUndated = errors.New("a calendar needs days: say on which day the first transplanting is, or write the cycles with their days into the plan")

// Calendar are the jobs of a sheet for programs that keep calendars; stamp is when it is made.
func Calendar(s *trial.Sheet, stamp time.Time) (icalendar.Calendar, error) {
	if !s.Dated {
		return icalendar.Calendar{}, ErrUndated
	}
	c := icalendar.Calendar{Name: s.Trial.Name, Stamp: stamp}
	for _, j := range s.Jobs {
		c.Jobs = append(c.Jobs, icalendar.Job{ID: j.ID(s.Trial), Date: j.Date, Title: strings.TrimPrefix(j.Block+": "+j.Title, ": "), Details: j.Text()})
	}
	return c, nil
}

// Earlier are the plans of a folder with something recorded, from which scatter can be taken.
func Earlier(folder fs.FS) ([]*Page, error) {
	files, err := Files(folder)
	if err != nil {
		return nil, err
	}
	var out []*Page
	for _, file := range files {
		if p, err := Open(folder, file); err == nil && len(p.All) > 0 {
			out = append(out, p)
		}
	}
	return slices.Clip(out), nil
}
