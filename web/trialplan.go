package web

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"html/template"
	"maps"
	"math/big"
	"net/http"
	"net/url"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/tasks"
	"underlamp/app/trial"
	"underlamp/app/trialbook"
	"underlamp/draw"
	"underlamp/report"
	"underlamp/science/quantity"
)

// A formField is one field as the form shows it, with what is wrong with it.
type formField struct {
	Name, Label, Hint string
	Kind              string // text, lines, choice, number
	Value, Wrong      string
	Options           []formOption
	Must              bool
}

type formOption struct{ Value, Text string }

// Is tells the template which option is taken.
func (f formField) Is(v string) bool { return f.Value == v }

// planFields are the fields of a question, by their part of the form.
var planFields = []struct {
	legend string
	fields []formField
}{
	{"The question", []formField{
		{Name: "name", Label: "Name of the trial", Kind: "text", Must: true},
		{Name: "question", Label: "What do you want to know?", Hint: "In your own words, such as: does more light pay for this cultivar?", Kind: "text"},
	}},
	{"What is compared", []formField{
		{Name: "factor", Label: "What differs", Hint: "One thing; all else stays as it is.", Kind: "choice", Options: factors},
		{Name: "hours", Label: "Hours of light a day", Hint: "For levels in µmol/m²/s.", Kind: "text"},
		{Name: "levels", Label: "The levels, one a line", Hint: "Of light: 12 mol/m²/d, or 250 µmol/m²/s with its hours of light. Of anything else: a name, such as fan on. Of several things, each in a line: hours=14,18 h", Kind: "lines", Must: true},
		{Name: "checks", Label: "Checks, one a line", Hint: "Levels that stand in every cycle while the others stand once: for many levels and few lamps.", Kind: "lines"},
		{Name: "parts", Label: "Cultivars side by side under every lamp, one a line", Hint: "Leave it empty for one cultivar.", Kind: "lines"},
		{Name: "control", Label: "Which of them is the present setting?", Hint: "As you wrote it above. Others are compared with it; leave it empty if there is none.", Kind: "text"},
	}},
	{"What is looked at", []formField{
		{Name: "response", Label: "What decides", Hint: "Chosen before the run. All else can be recorded too.", Kind: "choice", Options: []formOption{{"mass", "fresh mass of a plant"}, {"height", "height of a plant"}, {"burn", "burn of inner leaves, yes or no"}, {"severity", "how much burn, in grades"}, {"onset", "day of the first burn"}}},
		{Name: "difference", Label: "The smallest difference worth knowing", Hint: "With its unit: 12 g, 0.5 oz, 2 cm; of burn 20 % of plants, of its day 5 d. A smaller one would change nothing for you.", Kind: "text", Must: true},
		{Name: "expect", Label: "What is expected, about", Hint: "Mass or height of a plant, of which scatter is a share; of burn the share of plants where there is least, of its day when half have burnt where it is latest.", Kind: "text"},
		{Name: "days", Label: "Days of a cycle", Kind: "number"},
		{Name: "rounds", Label: "Days between two looks", Kind: "number"},
		{Name: "from", Label: "An earlier trial of yours", Hint: "The scatter between its lamps and plants is taken.", Kind: "choice"},
	}},
	{"What there is", []formField{
		{Name: "bench", Label: "Bench", Hint: "Its lamps and plants are taken, and the light of every unit is checked.", Kind: "choice"},
		{Name: "lamps", Label: "Lamps, without a bench", Kind: "number"},
		{Name: "plants", Label: "Plants under a lamp, without a bench", Kind: "number"},
		{Name: "cycles", Label: "Cycles that will be run", Hint: "Lamps and cycles are the repeats; plants are not.", Kind: "number", Must: true},
	}},
	{"The draw", []formField{
		{Name: "seed", Label: "Seed", Hint: "The same number draws the same layout again. It stays in the plan.", Kind: "number", Must: true},
	}},
}

var factors = []formOption{{"light", "light a day"}, {"hours of light", "hours of light"}, {"colour of the lamps", "colour of the lamps"}, {"fan", "fan"}, {"cultivar", "cultivar, a lamp each"}, {"feed", "feed"}, {"something else", "something else"}, {"several", "several things, in all combinations"}}

// mostQuestion bounds a question in the address.
const mostQuestion = 12 << 10

type fieldset struct {
	Legend string
	Fields []formField
}

type proposalView struct {
	Number                  int
	Name, Unit, Why         string
	Repeats, DF             int
	Figures, Layout         template.HTML
	Cannot                  []string
	Weak                    bool
	Light                   []template.HTML // a table a block
	LightSays               []string
	LightWrong, Fingerprint string
}

// trialNew asks for a question, shows layouts for it, and on POST writes the one taken.
func (s *Site) trialNew(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, mostQuestion)
	if len(r.URL.RawQuery) > mostQuestion || r.ParseForm() != nil {
		s.fail(w, http.StatusRequestEntityTooLarge, "The question is too long.", "Write it in fewer words; the file of the plan has room for notes.")
		return
	}
	f := r.URL.Query()
	asked := f.Has("show") || r.Method == http.MethodPost
	if !f.Has("seed") {
		f.Set("seed", drawSeed())
	}
	for name, value := range map[string]string{"cycles": "4", "response": "mass", "factor": "light"} {
		if !f.Has(name) {
			f.Set(name, value)
		}
	}
	view := struct {
		Title     string
		ReadOnly  bool
		Top       string
		Sets      []fieldset
		Query     template.URL
		Asked     bool
		Work      *workView // that draws the layouts, while it does
		Proposals []proposalView
		Not       []string
	}{Title: "Plan a trial", ReadOnly: s.place == nil, Asked: asked}
	wrong := map[string]string{}
	status := http.StatusOK
	if asked {
		q := s.question(f)
		a, err := q.Ask(s.benches.folder, s.modelOf)
		var drawn section
		if err == nil {
			x := s.layoutsWork(f, a)
			if r.Method == http.MethodPost && r.PostForm.Get("do") == "start" {
				s.begun(w, r, x)
				return
			}
			if drawn, view.Work, err = s.layouts(r, x); view.Work != nil && r.Method == http.MethodPost {
				http.Redirect(w, r, x.Page, http.StatusSeeOther) // the layouts were forgotten and are drawn anew
				return
			}
		}
		proposals := drawn.proposals
		view.Not = drawn.not
		if strings.TrimSpace(q.Name) == "" {
			wrong["name"] = "Give the trial a name; its file is called after it."
			if err == nil {
				err = trialbook.FieldErrors{}
			}
		}
		var faults trialbook.FieldErrors
		switch {
		case errors.As(err, &faults):
			status, view.Top = http.StatusUnprocessableEntity, "Some fields cannot be read; what is wrong stands beside them."
			for _, x := range faults {
				name := x.Field
				if name == "treatments" || name == "factors" {
					name = "levels"
				}
				if wrong[name] == "" {
					wrong[name] = asSentence(strings.ReplaceAll(x.Reason, " (--scatter-from)", ""))
				}
			}
		case err != nil:
			status, view.Top = http.StatusUnprocessableEntity, asSentence(err.Error())
		}
		if err == nil && view.Work == nil {
			if r.Method == http.MethodPost {
				if view.Top = s.takePlan(w, r, a, proposals); view.Top == "" {
					return
				}
				status = http.StatusConflict
				if view.Top == asSentence(trialbook.ErrTaken.Error()) {
					wrong["name"] = view.Top
				}
			}
			for i, p := range proposals {
				view.Proposals = append(view.Proposals, proposalOf(i+1, p, a))
			}
		}
	}
	f.Del("show")
	view.Query = template.URL(f.Encode() + "&show=1")
	for _, part := range planFields {
		set := fieldset{Legend: part.legend}
		for _, x := range part.fields {
			x.Value, x.Wrong = f.Get(x.Name), wrong[x.Name]
			switch x.Name {
			case "bench":
				x.Options = s.benchOptions()
			case "from":
				x.Options = s.earlierOptions()
			}
			if x.Kind == "choice" && !slices.ContainsFunc(x.Options, func(o formOption) bool { return o.Value == x.Value }) {
				x.Options = append(x.Options, formOption{x.Value, x.Value + " (not there)"})
			}
			set.Fields = append(set.Fields, x)
		}
		view.Sets = append(view.Sets, set)
	}
	s.page(w, status, "trialnew.tmpl", view)
}

// layoutsWork draws layouts for a question. Those of burn and grades are judged by
// simulation, which takes some seconds.
func (s *Site) layoutsWork(f url.Values, a *trialbook.Asked) tasks.Work {
	q := maps.Clone(f)
	q.Del("show")
	h := sha256.New()
	fmt.Fprint(h, q.Encode())
	if a.Bench != "" {
		if e, err := s.benches.get(strings.TrimSuffix(a.Bench, path.Ext(a.Bench))); err == nil && e != nil {
			fmt.Fprint(h, e.version())
		}
	}
	if from := f.Get("from"); from != "" {
		if p, err := trialbook.Open(s.benches.folder, from); err == nil {
			fmt.Fprintf(h, "%q %+v", p.Source, p.All)
		}
	}
	page := "/trials/new?" + q.Encode() + "&show=1"
	return tasks.Work{Kind: "layouts", Key: hex.EncodeToString(h.Sum(nil)), Title: strings.TrimSpace("Layouts for the trial " + a.Name), Page: page + "#layouts", Again: page,
		Do: func(ctx context.Context, t *tasks.Task) (tasks.Result, error) {
			out, not, err := trial.ProposeContext(ctx, a.Ask, func(what string, done, of int) { t.Progress(what, float64(done)/float64(max(of, 1))) })
			return section{proposals: out, not: not}, err
		}}
}

// layouts are those of a question, or the work that draws them.
func (s *Site) layouts(r *http.Request, w tasks.Work) (section, *workView, error) {
	t, err := s.visit(w)
	if err != nil {
		return section{}, nil, err
	}
	switch x := quickly(r.Context(), t); x.State {
	case tasks.Done:
		out := x.Result.(section)
		if len(out.proposals) == 0 {
			err = errors.New("no layout fits")
		}
		return out, nil, err
	case tasks.Failed:
		return section{}, nil, x.Err
	default:
		return section{}, s.workView(r, x, false), nil
	}
}

// question is the form as a question.
func (s *Site) question(f url.Values) trialbook.Question {
	q := trialbook.Question{Name: f.Get("name"), Question: f.Get("question"), Hours: f.Get("hours"), Control: f.Get("control"), Response: f.Get("response"), Difference: f.Get("difference"), Expect: f.Get("expect"),
		From: f.Get("from"), Bench: f.Get("bench"), Lamps: f.Get("lamps"), Cycles: f.Get("cycles"), Plants: f.Get("plants"), Seed: f.Get("seed"), Days: f.Get("days"), Rounds: f.Get("rounds"), Checks: strings.Split(f.Get("checks"), "\n"), Parts: strings.Split(f.Get("parts"), "\n")}
	levels := strings.Split(f.Get("levels"), "\n")
	switch factor := f.Get("factor"); factor {
	case "light":
		q.Levels = levels
	case "several":
		q.Factors = levels
	default:
		q.Treatments, q.Factor = levels, factor
	}
	if !slices.ContainsFunc(s.earlierOptions(), func(o formOption) bool { return o.Value == q.From }) {
		q.From = "" // no name from outside reaches the folder
	}
	return q
}

// modelOf is the light of a bench by the name of its file.
func (s *Site) modelOf(file string) (*light.Model, error) {
	e, err := s.benches.get(strings.TrimSuffix(file, path.Ext(file)))
	switch {
	case err != nil:
		return nil, err
	case e == nil:
		return nil, errors.New("there is no such bench in the folder")
	case e.broken:
		return nil, errors.New("the bench file has mistakes; its page says which")
	}
	return e.model, nil
}

func (s *Site) benchOptions() []formOption {
	out := []formOption{{"", "none: I say how many lamps and plants"}}
	ids, err := s.benches.list()
	if err != nil {
		return out
	}
	for _, id := range ids {
		if e, err := s.benches.get(id); err == nil && e != nil && !e.broken {
			out = append(out, formOption{e.file, fmt.Sprintf("%s (%s, %s)", e.bench.Name, plural(len(e.bench.Lamps), "lamp"), plural(len(e.bench.Plants), "plant"))})
		}
	}
	return out
}

func (s *Site) earlierOptions() []formOption {
	out := []formOption{{"", "none"}}
	all, _ := trialbook.Earlier(s.benches.folder) // the list of benches says what is wrong with the folder
	for _, p := range all {
		out = append(out, formOption{p.File, p.Trial.Name})
	}
	return out
}

// takePlan writes the proposal that a person has taken and goes to its page; it returns
// what hinders it.
func (s *Site) takePlan(w http.ResponseWriter, r *http.Request, a *trialbook.Asked, proposals []trial.Proposal) string {
	if !s.writes(w) {
		return ""
	}
	n, err := strconv.Atoi(r.PostForm.Get("take"))
	if err != nil || n < 1 || n > len(proposals) {
		return "Choose one of the layouts."
	}
	t := a.Plan(proposals[n-1])
	if trialbook.Fingerprint(t) != r.PostForm.Get("drawn") {
		return "The bench or the earlier trial has changed since these layouts were drawn. Look at them again, then take one."
	}
	file := trialbook.FileOf(t.Name)
	if err := trialbook.Write(s.place, file, t); errors.Is(err, trialbook.ErrTaken) {
		return asSentence(trialbook.ErrTaken.Error())
	} else if err != nil {
		s.log.Error("plan", "file", file, "err", err)
		return "The plan could not be written: " + err.Error() + "."
	}
	http.Redirect(w, r, "/trial/"+strings.TrimSuffix(file, path.Ext(file))+"/plan", http.StatusSeeOther)
	return ""
}

func proposalOf(number int, p trial.Proposal, a *trialbook.Asked) proposalView {
	t := a.Plan(p)
	v := proposalView{Number: number, Name: p.Name, Unit: p.Unit, Why: p.Why, Repeats: p.Repeats, DF: p.DF, Figures: report.FiguresSection(p.Figures), Layout: layoutTable(t), Cannot: p.Cannot, Weak: p.Power < trial.Goal, Fingerprint: trialbook.Fingerprint(t)}
	if a.Model == nil {
		return v
	}
	tables, says, err := lightTables(a, &p, t)
	if err != nil {
		v.LightWrong = asSentence(err.Error())
		return v
	}
	v.Light, v.LightSays = tables, says
	return v
}

func layoutTable(t *underlamp.Trial) template.HTML {
	head, rows := report.TrialLayout(t)
	return template.HTML(draw.Table{Caption: fmt.Sprintf("What each lamp gets; %s, seed %d", t.Layout, t.Seed), Head: head, Rows: rows}.HTML()) // escaped there
}

// lightTables is the light of the units by the field of the bench, a table a block.
func lightTables(a *trialbook.Asked, p *trial.Proposal, t *underlamp.Trial) (tables []template.HTML, says []string, err error) {
	l, err := trial.CheckLight(a.Model, t, trial.LightOptions{})
	if err != nil {
		return nil, nil, err
	}
	says = l.Says
	if r := a.Response; r == underlamp.ResponseMass || r == underlamp.ResponseHeight { // others are simulated, which takes seconds
		if s := a.Counted(context.Background(), p, l); s != "" {
			says = append(says, s)
		}
	}
	for i := range l.Blocks {
		tab := report.TrialLightTable(&l.Blocks[i])
		if b := l.Blocks[i].Block; b != "" {
			tab.Caption = b + ": " + tab.Caption
		}
		tables = append(tables, template.HTML(tab.HTML())) // escaped there
		for _, x := range l.Blocks[i].Says {
			if !slices.Contains(says, x) {
				says = append(says, x)
			}
		}
	}
	if tab, ok := report.ConfoundTable(l); ok {
		tables = append(tables, template.HTML(tab.HTML()))
	}
	return tables, says, nil
}

// trialPlan shows a plan, to look at and to print.
func (s *Site) trialPlan(w http.ResponseWriter, r *http.Request) {
	id, p := s.trialOf(w, r)
	if p == nil {
		return
	}
	t := p.Trial
	_, state := p.Progress()
	view := struct {
		trialHead
		Question, Note, State, Due string
		Facts                      [][2]string
		Start, Days, Wrong         string
		Sheet                      template.HTML
		Query                      template.URL
		Cautions                   template.HTML
	}{trialHead: s.headOf(r, id, p, "plan"), Question: t.Question, Note: t.Note, State: string(state), Due: p.Next(s.today().Format(time.DateOnly)), Start: r.FormValue("start"), Days: r.FormValue("days"), Cautions: report.Cautions()}
	if view.Days == "" {
		view.Days = "35"
	}
	fact := func(name, text string) { view.Facts = append(view.Facts, [2]string{name, text}) }
	fact("layout", string(t.Layout)+", seed "+strconv.FormatUint(t.Seed, 10))
	fact("what decides", string(t.Response))
	if t.Difference > 0 {
		fact("smallest difference worth knowing", strings.TrimSpace(quantity.Number(t.Difference, 3)+" "+t.Response.Unit()))
	}
	var names []string
	for _, x := range t.Treatments {
		n := x.Name
		if x.DLI > 0 {
			n = quantity.Number(float64(x.DLI), 4) + " mol/m²/d"
		}
		if x.Control {
			n += " (the present setting)"
		}
		names = append(names, n)
	}
	fact("compared", strings.Join(names, ", "))
	plants := 0
	for _, u := range t.Places {
		plants += max(u.Plants, 1)
	}
	fact("units", fmt.Sprintf("%d, with %s", len(t.Places), plural(plants, "plant")))
	status := http.StatusOK
	if sheet, err := s.sheetOf(t, view.Start, view.Days); err != nil {
		status, view.Wrong = http.StatusUnprocessableEntity, asSentence(err.Error())
	} else {
		view.Sheet = report.TrialSheetSection(sheet)
	}
	view.Query = template.URL(url.Values{"start": {view.Start}, "days": {view.Days}}.Encode())
	s.page(w, status, "trialplan.tmpl", view)
}

// sheetOf is the sheet of a plan, with its light if the bench beside it can be read.
func (s *Site) sheetOf(t *underlamp.Trial, start, days string) (*trial.Sheet, error) {
	n := 35
	if days != "" {
		var err error
		if n, err = strconv.Atoi(days); err != nil {
			return nil, errors.New("the days of a cycle are a whole number, such as 35")
		}
	}
	return trialbook.SheetOf(t, start, n, s.modelOf)
}

// trialSheet is the sheet to print, as the command writes it.
func (s *Site) trialSheet(w http.ResponseWriter, r *http.Request) {
	_, p := s.trialOf(w, r)
	if p == nil {
		return
	}
	sheet, err := s.sheetOf(p.Trial, r.FormValue("start"), r.FormValue("days"))
	if err != nil {
		s.fail(w, http.StatusUnprocessableEntity, asSentence(err.Error()), "Go back and mend it.")
		return
	}
	page := report.TrialSheet(sheet)
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Content-Security-Policy", "default-src 'none'; img-src data:; style-src "+styleHash(string(page))+"; base-uri 'none'; frame-ancestors 'none'")
	w.Write(page)
}

// styleHash names the stylesheet within a page for a content-security policy.
func styleHash(page string) string {
	_, rest, _ := strings.Cut(page, "<style>")
	css, _, _ := strings.Cut(rest, "</style>")
	sum := sha256.Sum256([]byte(css))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}

// drawSeed is a seed that nobody has chosen.
func drawSeed() string {
	n, err := rand.Int(rand.Reader, big.NewInt(900_000))
	if err != nil {
		return "1"
	}
	return strconv.FormatInt(n.Int64()+100_000, 10)
}

// asSentence begins with a capital and ends with a stop.
func asSentence(s string) string {
	if s = strings.TrimSpace(s); s == "" {
		return s
	}
	if c := s[0]; c >= 'a' && c <= 'z' {
		s = string(c-'a'+'A') + s[1:]
	}
	if !strings.ContainsAny(s[len(s)-1:], ".?") {
		s += "."
	}
	return s
}
