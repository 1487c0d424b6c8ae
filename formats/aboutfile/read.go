package aboutfile

import (
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"underlamp/formats/handwritten"
)

// Version is the version of the format that this package reads.
const Version = 1

// Name is how the file is called that lies beside benches and trials.
const Name = "about.yaml"

// Begin is the whole of a file that says nothing yet.
const Begin = "underlamp about: 1\n"

const (
	mostPeople = 100
	mostWords  = 30
)

// An About is what a person says of their data.
type About struct {
	Title, Description string
	Licence            string // by SPDX: "CC-BY-4.0"; "none": the person gives none
	Version            string // of the data
	Released           string // YYYY-MM-DD, when they were made public
	Publication        string // a DOI
	Keywords           []string
	People             []Person
	Sources            []Source
	Site               Site
	Cultivation        string // how plants were raised and kept
	Seed               string // where it came from
}

// A Person made the data, or helped.
type Person struct {
	Name, Email, ID  string
	Role, Affiliated string
}

// A Source is where something of the data came from.
type Source struct{ Title, Path string }

// A Site is where the plants grew.
type Site struct {
	Institution, Name, Country, Facility string
	Latitude, Longitude, Altitude        *float64 // degrees, m; nil: not said
}

// Roles are what people did, by the words of Data Package.
func Roles() []string {
	return []string{"author", "contributor", "maintainer", "publisher", "wrangler"}
}

var grammar = handwritten.Grammar{
	Package: "aboutfile",
	File:    "what is said of the data",
	Begin:   "what is said of the data, beginning with underlamp about: 1",
	One:     "one such text in a file",
	Sections: []handwritten.Section{
		{Name: "", Keys: []string{"underlamp about", "title", "description", "licence", "version", "released", "publication", "keywords", "people", "sources", "site", "cultivation", "seed"}},
		{Name: "people[]", Keys: []string{"name", "email", "id", "role", "affiliation"}},
		{Name: "sources[]", Keys: []string{"title", "path"}},
		{Name: "site", Keys: []string{"institution", "name", "country", "facility", "latitude", "longitude", "altitude"}},
	},
	Also: map[string]string{
		"license": "licence", "authors": "people", "contributors": "people", "persons": "people", "orcid": "id", "institute": "affiliation", "place": "site", "location": "site", "organisation": "affiliation", "organization": "affiliation", "mail": "email", "url": "path", "doi": "publication",
	},
}

// Grammar is that of the format, for changes that leave every other byte.
func Grammar() handwritten.Grammar { return grammar }

// Keys lists every key of the format once.
func Keys() []string {
	var all []string
	for _, s := range grammar.Sections {
		all = append(all, s.Keys...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

type reader struct{ *handwritten.Reader }

// Read reads what is said. It is nil exactly when the problems hold an error. The error is
// for what is no matter of the text: a failing reader, or [handwritten.ErrTooLarge].
func Read(in io.Reader) (*About, handwritten.Problems, error) {
	r := &reader{&handwritten.Reader{Grammar: grammar}}
	return handwritten.Read(r.Reader, in, r.about)
}

var (
	country  = regexp.MustCompile(`^[A-Z]{2}$`)
	email    = regexp.MustCompile(`^[^@\s]+@[^@\s]+$`)
	spdx     = regexp.MustCompile(`^[A-Za-z0-9.+-]+$`)
	orcidURL = "https://orcid.org/0000-0000-0000-0000"
)

func (r *reader) about(v handwritten.Value) *About {
	f, ok := r.Mapping(v, "")
	if !ok {
		return nil
	}
	a := &About{}
	r.Version(f.Get("underlamp about"), Version)
	a.Title, _ = r.Words(f.Get("title"), handwritten.MaxNote)
	a.Description, _ = r.Words(f.Get("description"), handwritten.MaxNote)
	if x := f.Get("licence"); x.Written() {
		a.Licence, _ = r.Words(x, handwritten.MaxName)
		if !spdx.MatchString(a.Licence) {
			r.Errorf(x, "a name of the SPDX list such as CC-BY-4.0, or none", "%q is no name of a licence", handwritten.Shortened(a.Licence))
		}
	}
	a.Version, _ = r.Words(f.Get("version"), handwritten.MaxName)
	a.Released = r.Date(f.Get("released"))
	a.Publication, _ = r.Words(f.Get("publication"), 200)
	a.Cultivation, _ = r.Words(f.Get("cultivation"), handwritten.MaxNote)
	a.Seed, _ = r.Words(f.Get("seed"), handwritten.MaxNote)
	if x := f.Get("keywords"); x.Written() {
		items, _ := r.List(x, "a list of words", mostWords, "keywords")
		for _, item := range items {
			if w, ok := r.Words(item, handwritten.MaxName); ok {
				a.Keywords = append(a.Keywords, w)
			}
		}
	}
	r.people(f.Get("people"), a)
	if x := f.Get("sources"); x.Written() {
		items, _ := r.List(x, "a list of sources: - {title: …, path: https://…}", mostPeople, "sources")
		for _, item := range items {
			g, ok := r.Mapping(item, "sources[]")
			if !ok {
				continue
			}
			var s Source
			if s.Title, _ = r.Words(g.Get("title"), handwritten.MaxNote); s.Title == "" {
				r.Missing(g.Get("title"), "title: the paper or data set", "what the source is")
			}
			s.Path, _ = r.Words(g.Get("path"), 500)
			a.Sources = append(a.Sources, s)
		}
	}
	if x := f.Get("site"); x.Written() {
		r.site(x, a)
	}
	return a
}

func (r *reader) people(v handwritten.Value, a *About) {
	if !v.Written() {
		return
	}
	items, _ := r.List(v, "a list of people: - {name: …, role: author}", mostPeople, "people")
	for _, item := range items {
		g, ok := r.Mapping(item, "people[]")
		if !ok {
			continue
		}
		var p Person
		if p.Name, _ = r.Words(g.Get("name"), handwritten.MaxName); p.Name == "" {
			r.Missing(g.Get("name"), "name: as it stands on papers", "the name of the person")
		}
		if x := g.Get("email"); x.Written() {
			if p.Email, _ = r.Words(x, 200); !email.MatchString(p.Email) {
				r.Errorf(x, "an address such as name@example.org", "%q is no address", handwritten.Shortened(p.Email))
			}
		}
		if x := g.Get("id"); x.Written() {
			p.ID, _ = r.Words(x, 200)
			if !strings.HasPrefix(p.ID, "https://") {
				r.Errorf(x, "an address that stays, such as "+orcidURL, "%q is no address", handwritten.Shortened(p.ID))
			}
		}
		p.Role = "contributor"
		if x := g.Get("role"); x.Written() {
			p.Role = handwritten.Choice(r.Reader, x, Roles(), nil, "contributor")
		}
		p.Affiliated, _ = r.Words(g.Get("affiliation"), 200)
		a.People = append(a.People, p)
	}
}

func (r *reader) site(v handwritten.Value, a *About) {
	g, ok := r.Mapping(v, "site")
	if !ok {
		return
	}
	s := &a.Site
	s.Institution, _ = r.Words(g.Get("institution"), 300)
	s.Name, _ = r.Words(g.Get("name"), 300)
	s.Facility, _ = r.Words(g.Get("facility"), handwritten.MaxNote)
	if x := g.Get("country"); x.Written() {
		if s.Country, _ = r.Words(x, 60); !country.MatchString(s.Country) {
			r.Errorf(x, "two capitals by ISO 3166, such as NL", "%q is no country in two capitals", handwritten.Shortened(s.Country))
		}
	}
	number := func(key string, low, high float64) *float64 {
		x := g.Get(key)
		if !x.Written() {
			return nil
		}
		text, _ := r.Scalar(x, "a number")
		n, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(text), "m")), 64)
		if err != nil || math.IsNaN(n) || n < low || n > high {
			r.Errorf(x, "a number from "+strconv.FormatFloat(low, 'g', -1, 64)+" to "+strconv.FormatFloat(high, 'g', -1, 64), "%q is none", handwritten.Shortened(text))
			return nil
		}
		return &n
	}
	s.Latitude, s.Longitude, s.Altitude = number("latitude", -90, 90), number("longitude", -180, 180), number("altitude", -500, 9000)
	if (s.Latitude == nil) != (s.Longitude == nil) {
		r.Errorf(v, "latitude and longitude, or neither", "one of latitude and longitude is missing")
	}
}
