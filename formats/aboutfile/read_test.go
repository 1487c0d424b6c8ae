package aboutfile_test

import (
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"underlamp/formats/aboutfile"
)

const whole = `underlamp about: 1
title: Light levels for a butterhead
description: Four levels, four lamps.
licence: CC0-1.0
version: 1.0
released: 2026-12-01
publication: doi:10.0000/example
keywords: [lettuce, light]
people:
  - {name: Ida Example, email: ida@example.org, id: "https://orcid.org/0000-0000-0000-0000", role: author, affiliation: Example School}
  - {name: Otto Example}
sources:
  - {title: An earlier trial, path: https://example.org/trial}
site: {institution: Example School, name: cellar, country: NL, facility: rack of three tiers, latitude: 51.97, longitude: 5.66, altitude: 9 m}
cultivation: plugs, one week in a tray
seed: bought, batch 7
`

func TestReadsWhatIsSaid(t *testing.T) {
	got, problems, err := aboutfile.Read(strings.NewReader(whole))
	if err != nil || len(problems) > 0 {
		t.Fatal(err, problems)
	}
	lat, lon, alt := 51.97, 5.66, 9.0
	want := &aboutfile.About{Title: "Light levels for a butterhead", Description: "Four levels, four lamps.", Licence: "CC0-1.0", Version: "1.0", Released: "2026-12-01", Publication: "doi:10.0000/example", Keywords: []string{"lettuce", "light"},
		People:  []aboutfile.Person{{Name: "Ida Example", Email: "ida@example.org", ID: "https://orcid.org/0000-0000-0000-0000", Role: "author", Affiliated: "Example School"}, {Name: "Otto Example", Role: "contributor"}},
		Sources: []aboutfile.Source{{Title: "An earlier trial", Path: "https://example.org/trial"}},
		Site:    aboutfile.Site{Institution: "Example School", Name: "cellar", Country: "NL", Facility: "rack of three tiers", Latitude: &lat, Longitude: &lon, Altitude: &alt}, Cultivation: "plugs, one week in a tray", Seed: "bought, batch 7"}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

func TestMistakesHaveAPlace(t *testing.T) {
	for text, want := range map[string]string{
		"title: x\n": "underlamp about",
		"underlamp about: 1\nlicence: all mine\n":                         "no name of a licence",
		"underlamp about: 1\npeople:\n  - {role: author}\n":               "the name of the person",
		"underlamp about: 1\npeople:\n  - {name: A, email: nowhere}\n":    "no address",
		"underlamp about: 1\nsite: {country: Netherlands}\n":              "two capitals",
		"underlamp about: 1\nsite: {latitude: 91, longitude: 2}\n":        "from -90 to 90",
		"underlamp about: 1\nsite: {latitude: 9}\n":                       "latitude and longitude",
		"underlamp about: 1\npeople:\n  - {name: A, role: boss}\n":        "author",
		"underlamp about: 1\nsources:\n  - {path: https://example.org}\n": "what the source is",
		"underlamp about: 1\npeople:\n  - {name: A, id: 0000-0000}\n":     "no address",
		"underlamp about: 1\nauthor: me\n":                                "author",
	} {
		got, problems, err := aboutfile.Read(strings.NewReader(text))
		if err != nil || got != nil || !strings.Contains(problems.Render("about.yaml", []byte(text), false), want) {
			t.Errorf("%q: %v %v, want %q", text, got, problems, want)
		}
	}
}

// The page of the documents names every key.
func TestKeysAreDescribed(t *testing.T) {
	doc, err := os.ReadFile("../../docs/formats/about.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range aboutfile.Keys() {
		if !strings.Contains(string(doc), "`"+k+"`") {
			t.Errorf("docs/formats/about.md does not have `%s`", k)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add(whole)
	f.Fuzz(func(t *testing.T, text string) {
		got, problems, err := aboutfile.Read(strings.NewReader(text))
		if err == nil && (got == nil) != problems.HasErrors() {
			t.Fatalf("%v with %v", got, problems)
		}
		for _, p := range problems {
			if p.Line < 1 {
				t.Fatalf("without a place: %v", p)
			}
		}
	})
}
