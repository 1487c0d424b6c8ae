package web

import (
	"bytes"
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"regexp"
	"strings"

	"underlamp/app/dataset"
	"underlamp/formats/aboutfile"
	"underlamp/formats/handwritten"
)

// mostAboutForm bounds a form with the text twice.
const mostAboutForm = 2*dataset.MostAbout + 64<<10

// aboutFor are the pages that offer data to take away, to which the form leads back.
var aboutFor = regexp.MustCompile(`^/(bench/[A-Za-z0-9_.-]+/seen|trial/[A-Za-z0-9_.-]+)$`)

type aboutView struct {
	Title    string
	For      string // page that somebody came from
	Text     string
	BaseText string // the one that counts; empty: there is none yet
	Form     template.HTML
	Fault    string
	Theirs   *string // what somebody else has saved meanwhile
	Problems []editProblem
	ReadOnly bool
	Keep     bool // something differs from what is saved
}

// The fields of about.yaml.
var (
	aboutWhat = []column{{key: "title", label: "Title", long: true, hint: "Empty: each package is called after its trial or bench. This stands for all that lie beside each other here."}, {key: "description", label: "Description", long: true, hint: "What the data are, in a few sentences."},
		{key: "keywords", wide: true, label: "Keywords", hint: "Parted by commas."}, {key: "version", label: "Version of the data", example: "1.0"}, {key: "released", label: "Made public on, as 2026-12-01"}, {key: "publication", wide: true, label: "Publication", example: "doi:10.0000/example", hint: "The paper that they belong to. A DOI goes into the citation."}}
	aboutLicence = []column{{key: "licence", label: "Licence", example: "CC-BY-4.0", options: []string{"CC-BY-4.0", "CC0-1.0", "CC-BY-SA-4.0", "ODC-By-1.0", "ODbL-1.0", "none"}, wide: true}}
	aboutPerson  = []column{{key: "name", label: "Name, as on papers"}, {key: "role", label: "Role"}, {key: "id", wide: true, label: "ORCID", example: "https://orcid.org/0000-0000-0000-0000"}, {key: "affiliation", wide: true, label: "School, firm or institute"}, {key: "email", label: "Mail"}}
	aboutSource  = []column{{key: "title", wide: true, label: "Paper or data set"}, {key: "path", wide: true, label: "Its address", example: "https://example.org/trial"}}
	aboutSite    = []column{{key: "institution", wide: true, label: "Whose place it is"}, {key: "name", label: "What it is called"}, {key: "country", label: "Country, two capitals", example: "NL"}, {key: "latitude", label: "Latitude, degrees north"}, {key: "longitude", label: "Longitude, degrees east"}, {key: "altitude", label: "Altitude, m above the sea"}, {key: "facility", label: "What the plants stood in", long: true}}
	aboutGrown   = []column{{key: "cultivation", label: "How plants were raised and kept", long: true}, {key: "seed", label: "Where seed came from", long: true}}
)

// aboutWritten are the values of about.yaml at paths; keywords are parted by commas.
func aboutWritten(text []byte, paths ...string) ([]string, error) {
	g := aboutfile.Grammar()
	out, err := g.Written(text, paths...)
	if err != nil {
		return nil, err
	}
	for i, path := range paths {
		if path != "keywords" {
			continue
		}
		n, err := g.Items(text, path)
		if err != nil {
			continue // no list: the reader says so
		}
		var at []string
		for k := range n {
			at = append(at, fmt.Sprintf("keywords[%d]", k))
		}
		all, err := g.Written(text, at...)
		if err != nil {
			return nil, err
		}
		out[i] = strings.Join(all, ", ")
	}
	return out, nil
}

// aboutApply makes changes in about.yaml.
func aboutApply(text []byte, changes ...handwritten.Change) ([]byte, error) {
	for i, c := range changes {
		if c.Path != "keywords" || c.Do != handwritten.Set {
			continue
		}
		var words []string
		for w := range strings.SplitSeq(c.Text, ",") {
			if w = strings.TrimSpace(w); w != "" {
				words = append(words, handwritten.QuotedItem(w))
			}
		}
		changes[i] = handwritten.Change{Do: handwritten.Put, Path: c.Path, Text: "[" + strings.Join(words, ", ") + "]"}
	}
	return aboutfile.Grammar().Apply(text, changes...)
}

// aboutGroups are the fields of about.yaml.
func aboutGroups(text []byte, problems handwritten.Problems, field string) []*editGroup {
	f := &former{text: text, written: aboutWritten, count: aboutfile.Grammar().Items, problems: problems, field: field}
	f.item(f.group("what", "What they are", true), "", "", "", aboutWhat)
	g := f.group("licence", "Licence", true)
	g.AsIs, g.Note = true, "CC-BY-4.0: all may use the data who name you. CC-BY-SA-4.0: the same, and what they make of it has that licence too. CC0-1.0: all, without a word. ODC-By-1.0 is like the first and ODbL-1.0 like the second, made for databases. Any other by its name in the SPDX list. none: you give none."
	f.item(g, "", "", "", aboutLicence)
	g = f.group("people", "People", true)
	g.Note = "Who made the data, or helped, and wants to be named. Authors go into the citation. Names can be left out of a package where it is taken away."
	for i := range f.items("people") {
		person := append([]column{}, aboutPerson...)
		person[1].options = aboutfile.Roles()
		person[1].example = "contributor"
		f.item(g, fmt.Sprintf("people[%d]", i), fmt.Sprintf("Person %d", i+1), fmt.Sprintf("Take away person %d", i+1), person)
	}
	g.Add, g.AddLabel, g.AddText = "people", "Add a person", "{role: author}"
	f.item(f.group("site", "Place", false), "site", "", "", aboutSite)
	f.item(f.group("grown", "Plants", false), "", "", "", aboutGrown)
	g = f.group("sources", "Sources", false)
	g.Note = "Where something of the data came from."
	for i := range f.items("sources") {
		f.item(g, fmt.Sprintf("sources[%d]", i), fmt.Sprintf("Source %d", i+1), fmt.Sprintf("Take away source %d", i+1), aboutSource)
	}
	g.Add, g.AddLabel, g.AddText = "sources", "Add a source", `{path: "https://"}`
	f.fill(nil)
	return f.groups
}

// aboutPage shows what is said of the data, to be changed.
func (s *Site) aboutPage(w http.ResponseWriter, r *http.Request) {
	text, err := dataset.AboutText(s.benches.folder)
	if err != nil {
		s.log.Error("about", "err", err)
		s.fail(w, http.StatusInternalServerError, aboutfile.Name+" cannot be read.", "Look whether it is still in its folder.")
		return
	}
	s.showAbout(w, http.StatusOK, aboutView{For: r.FormValue("for"), Text: string(text), BaseText: string(text)}, r.FormValue("field"), true)
}

// showAbout shows the form. checked says that mistakes are told.
func (s *Site) showAbout(w http.ResponseWriter, status int, v aboutView, field string, checked bool) {
	v.Title, v.ReadOnly = "What is said of the data", s.place == nil
	if !aboutFor.MatchString(v.For) {
		v.For = ""
	}
	if v.Text == "" {
		v.Text = aboutfile.Begin
	}
	v.Keep = v.Text != v.BaseText && v.Text != aboutfile.Begin
	var problems handwritten.Problems
	if checked {
		_, found, err := aboutfile.Read(strings.NewReader(v.Text))
		if problems = found; err != nil {
			problems = handwritten.Problems{{Line: 1, Column: 1, Message: err.Error()}}
		}
	}
	v.Problems = problemsOf(problems)
	if _, err := aboutWritten([]byte(v.Text), "title"); err != nil {
		v.Form = template.HTML(`<p class="note">` + template.HTMLEscapeString("The fields come back when the text can be read: "+upper(firstLine(err.Error()))) + `</p>`)
	} else {
		v.Form = s.fieldForm(aboutGroups([]byte(v.Text), problems, field))
	}
	w.Header().Set("Cache-Control", "no-store")
	s.page(w, status, "about.tmpl", v)
}

// aboutSave writes what is said of the data, or adds to a list of it.
func (s *Site) aboutSave(w http.ResponseWriter, r *http.Request) {
	if s.place == nil {
		s.fail(w, http.StatusConflict, "This server has nowhere to write.", "Start it on a folder, or write "+aboutfile.Name+" by hand.")
		return
	}
	if err := r.ParseForm(); err != nil {
		s.fail(w, http.StatusBadRequest, "The form cannot be read.", "Go back and try again.")
		return
	}
	now, err := dataset.AboutText(s.place)
	if err != nil {
		s.log.Error("about", "err", err)
		s.fail(w, http.StatusInternalServerError, aboutfile.Name+" cannot be read.", "Look whether it is still in its folder.")
		return
	}
	v := aboutView{For: r.PostFormValue("for"), Text: lineEnds(r.PostFormValue("text"), string(now)), BaseText: lineEnds(r.PostFormValue("base"), string(now))}
	if strings.TrimSpace(v.Text) == "" {
		v.Text = aboutfile.Begin
	}
	text, err := aboutApply([]byte(v.Text), typedChanges(r.PostForm, []byte(v.Text), aboutWritten)...)
	if err != nil {
		v.Fault = upper(err.Error()) + "."
		s.showAbout(w, http.StatusUnprocessableEntity, v, "", true)
		return
	}
	v.Text = string(text)
	if do := r.PostFormValue("do"); do != "" {
		c, ok := pressed(do, aboutGroups(text, nil, ""))
		if !ok {
			v.Fault = "There is nothing of this name to add or to take away."
			s.showAbout(w, http.StatusUnprocessableEntity, v, "", true)
			return
		}
		if text, err = aboutApply(text, c); err != nil {
			v.Fault = upper(err.Error()) + "."
			s.showAbout(w, http.StatusUnprocessableEntity, v, "", true)
			return
		}
		v.Text = string(text)
		s.showAbout(w, http.StatusOK, v, c.Path, false) // an empty item is no mistake before somebody saves it
		return
	}
	var base []byte
	if v.BaseText != "" {
		base = []byte(v.BaseText)
	}
	err = dataset.SaveAbout(s.place, bytes.Clone(text), base)
	var changed *dataset.AboutChangedError
	var wrong *dataset.AboutError
	switch {
	case err == nil:
		to := "/about"
		if aboutFor.MatchString(v.For) {
			to = v.For + "#data"
		}
		http.Redirect(w, r, to, http.StatusSeeOther)
	case errors.As(err, &changed):
		theirs := string(changed.Text)
		v.Fault, v.Theirs, v.BaseText = "Somebody has changed this since you opened it. Nothing was written.", &theirs, theirs
		s.showAbout(w, http.StatusConflict, v, "", true)
	case errors.As(err, &wrong):
		v.Fault = "Nothing was written: look at what is marked."
		s.showAbout(w, http.StatusUnprocessableEntity, v, "", true)
	default:
		s.log.Error("about", "err", err)
		v.Fault = "It could not be written: " + err.Error() + "."
		s.showAbout(w, http.StatusInternalServerError, v, "", true)
	}
}

// takeAway is what a page offers of data, and what is said of them.
type takeAway struct {
	Base  string // address of the trial or bench
	Says  string // what about.yaml says, in a line, to be shown as it is
	Wrong string // why it cannot be read
	Edit  string // address of the form; empty: not for the visitor
	Bench bool
}

// takeAwayOf is that of a trial or bench at base, on the page from.
func (s *Site) takeAwayOf(r *http.Request, base, from string) takeAway {
	t := takeAway{Base: base, Bench: strings.HasPrefix(base, "/bench/")}
	if mayOf(r).Owner {
		t.Edit = "/about?for=" + url.QueryEscape(from)
	}
	about, err := dataset.AboutOf(s.benches.folder)
	switch {
	case err != nil:
		t.Wrong = asSentence(err.Error())
	case about == nil:
		t.Says = "Nothing is said of the data yet: they have no licence, so that nobody else may use them, and no authors."
	default:
		var parts []string
		if about.Title != "" {
			parts = append(parts, "title “"+about.Title+"”")
		}
		switch about.Licence {
		case "":
			parts = append(parts, "no licence, so that nobody else may use them")
		case "none":
			parts = append(parts, "licence none, as you say")
		default:
			parts = append(parts, "licence "+about.Licence)
		}
		switch n := len(about.People); n {
		case 0:
			parts = append(parts, "no people")
		case 1:
			parts = append(parts, "1 person")
		default:
			parts = append(parts, fmt.Sprint(n, " people"))
		}
		t.Says = "What is said of the data: " + strings.Join(parts, "; ") + "."
	}
	return t
}
