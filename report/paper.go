package report

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"html/template"
	"slices"
	"strings"

	"underlamp/app/environment"
	"underlamp/working"
)

// A Head is what every report says of itself, so that others can check and cite it. The zero
// value leaves all of it out.
type Head struct {
	Written string  // the day it was written, YYYY-MM-DD
	Version string  // of the program
	Inputs  []Input // the files that it was made of
	Command string  // that makes it again
	Seed    string  // of what was drawn at random
}

// An Input is a file that a report was made of.
type Input struct{ Name, SHA256 string }

// Hashed is an input with the hash of its bytes.
func Hashed(name string, content []byte) Input {
	sum := sha256.Sum256(content)
	return Input{name, hex.EncodeToString(sum[:])}
}

// Short is the begin of a hash, enough to tell versions of a file apart.
func (i Input) Short() string { return i.SHA256[:min(len(i.SHA256), 12)] }

// A Paper is a report as HTML in one file that asks for nothing from anywhere: whole, in the
// order of a short paper, or as one page with one picture and three numbers.
type Paper interface {
	HTML() []byte
	Short() []byte
}

// A paper is what the template of every report is given.
type paper struct {
	Kind, Title, Note string
	Head
	CSS      template.CSS
	Summary  summary
	Parts    []part
	Cautions template.HTML
	Appendix []part
}

// A summary says in plain language what a report says.
type summary struct{ Asked, Came, Do, Sure []string }

// A part is a section of a report.
type part struct {
	ID, Title string
	Body      template.HTML
}

// add appends a section; an empty one is left out.
func (p *paper) add(id, title string, body template.HTML) {
	if strings.TrimSpace(string(body)) != "" {
		p.Parts = append(p.Parts, part{id, title, body})
	}
}

// addix appends a section to the appendix.
func (p *paper) addix(id, title string, body template.HTML) {
	if strings.TrimSpace(string(body)) != "" {
		p.Appendix = append(p.Appendix, part{id, title, body})
	}
}

// close ends a paper with what all have, and writes it.
func (p *paper) close(sources []string) []byte {
	p.addix("sources", "Sources", sourcesSection(sources))
	p.addix("repeat", "To repeat and to cite", p.repeat())
	p.CSS, p.Cautions = template.CSS(CSS()), Cautions()
	return []byte(render("paper.tmpl", p))
}

func (p *paper) repeat() template.HTML {
	var facts [][2]string
	add := func(name, text string) {
		if text != "" {
			facts = append(facts, [2]string{name, text})
		}
	}
	if p.Version != "" {
		add("program", "underlamp "+p.Version)
	}
	add("written", p.Written)
	add("seed", p.Seed)
	for _, i := range p.Inputs {
		add("from "+i.Name, "SHA-256 "+i.SHA256)
	}
	add("made again by", p.Command)
	add("to cite", p.cite())
	if len(facts) == 0 {
		return ""
	}
	return render("facts.tmpl", facts)
}

// cite is how the report is named in another text.
func (p *paper) cite() string {
	s := p.Title + ". " + p.Kind
	if p.Written != "" {
		s += ", " + p.Written
	}
	if p.Version != "" {
		s += ". Computed by underlamp " + p.Version
	}
	for i, in := range p.Inputs {
		lead := "; "
		if i == 0 {
			lead = " from "
		}
		s += lead + in.Name + " (SHA-256 " + in.Short() + "…)"
	}
	return s + "."
}

// sourcesSection lists works by key, once each.
func sourcesSection(keys []string) template.HTML {
	slices.Sort(keys)
	var out []string
	for _, k := range slices.Compact(keys) {
		if k != "" {
			out = append(out, working.Cite(k))
		}
	}
	if len(out) == 0 {
		return ""
	}
	slices.Sort(out)
	return render("sources.tmpl", out)
}

// sourcesOf are the works that figures name.
func sourcesOf(figures []working.Figure) []string {
	var out []string
	for _, f := range figures {
		out = append(out, f.Working.Sources...)
	}
	return out
}

// heading is a heading within a section.
func heading(text string) template.HTML {
	return template.HTML("<h3>" + template.HTMLEscapeString(text) + "</h3>\n")
}

// paragraph is a sentence or some.
func paragraph(text string) template.HTML {
	return template.HTML("<p>" + template.HTMLEscapeString(text) + "</p>\n")
}

// facts are names with values.
func facts(rows [][2]string) template.HTML { return render("facts.tmpl", rows) }

// bullets is a list of sentences.
func bullets(items []string) template.HTML {
	if len(items) == 0 {
		return ""
	}
	return render("bullets.tmpl", items)
}

// A short is a report of one page.
type short struct {
	Kind, Title, Lead string
	Head
	CSS     template.CSS
	Picture template.HTML
	Numbers []shortNumber
	Source  string
}

// A shortNumber is a figure with a sentence.
type shortNumber struct {
	Figure   working.Figure
	Sentence string
}

func (s short) html() []byte {
	s.CSS = template.CSS(CSS())
	p := paper{Kind: s.Kind, Title: s.Title, Head: s.Head}
	s.Source = p.cite()
	return []byte(render("short.tmpl", s))
}

// EnvironmentSection is the environment of a crop as guidelines ask, and what lacks of it. link
// is the address of a page where something is filled in, and of a field of the page Edit; nil leaves
// addresses out.
func EnvironmentSection(t *environment.Table, link Link) template.HTML {
	type group struct {
		Name string
		Rows []environment.Row
	}
	v := struct {
		Groups   []group
		Notes    []string
		Sentence string
		Missing  template.HTML
		By       []string
	}{Notes: t.Notes, Sentence: t.Sentence(), Missing: MissingSection(t, link), By: guidelines}
	for _, g := range environment.Groups() {
		x := group{Name: string(g)}
		for _, r := range t.Rows {
			if r.Group == g && r.Value != "" {
				x.Rows = append(x.Rows, r)
			}
		}
		if len(x.Rows) > 0 {
			v.Groups = append(v.Groups, x)
		}
	}
	return render("environment.tmpl", v)
}

// guidelines are those of [environment.Items].
var guidelines = []string{"EP411", "TibbittsSagerKrizek2000", "ICCEG2004", "Both2015", "Krizek2000", "Poorter2012"}

// A Link is the address of a page of a bench, at a field of it ("": at none); empty where there is
// no such page.
type Link func(page environment.Page, field string) string

// MissingSection is the checklist of what the guidelines ask for and nobody told.
func MissingSection(t *environment.Table, link Link) template.HTML {
	type gap struct{ What, How, Field, URL, Page string }
	type item struct {
		Name, Asks string
		Gaps       []gap
	}
	names := map[environment.Page]string{environment.EditPage: "Edit", environment.LivePage: "Now", environment.FeedPage: "Feed", environment.AirPage: "Air"}
	var out []item
	for _, r := range t.Rows {
		x := item{Name: r.Name, Asks: r.Asks}
		for _, g := range r.Gaps {
			y := gap{What: g.What, How: g.How}
			if link != nil {
				if g.Field != "" {
					y.Field = link(environment.EditPage, g.Field)
				}
				if g.At != environment.EditPage || y.Field == "" {
					y.URL, y.Page = link(g.At, ""), names[g.At]
				}
			}
			x.Gaps = append(x.Gaps, y)
		}
		if len(x.Gaps) > 0 {
			out = append(out, x)
		}
	}
	return render("missing.tmpl", out)
}

// SureOf says in one sentence how much of the environment is told.
func sureOf(t *environment.Table) string {
	if t == nil {
		return ""
	}
	told, measured := t.Told()
	return fmt.Sprintf("Of %d things that guidelines for growth rooms ask to be told of the environment %d are told and %d measured.", len(t.Rows), told, measured)
}

// writeTo is what the reports that are written have in common.
func joined(parts ...template.HTML) template.HTML {
	var b bytes.Buffer
	for _, p := range parts {
		b.WriteString(string(p))
	}
	return template.HTML(b.String())
}
