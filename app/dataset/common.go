package dataset

import (
	"bytes"
	"encoding/json"
	"strings"

	"underlamp"
	"underlamp/formats/aboutfile"
	"underlamp/formats/datapackage"
)

func joined(all []string) string { return strings.Join(all, "; ") }

// begin is a package with what is said of it.
func (a *Ask) begin(kind, title, file string) *datapackage.Package {
	about := a.About
	if about == nil {
		about = &aboutfile.About{}
	}
	out := &datapackage.Package{Name: datapackage.Name(strings.TrimSuffix(strings.TrimSuffix(file, ".yaml"), ".yml")), Title: title, Created: a.Created, Version: about.Version,
		Keywords: about.Keywords, Made: &datapackage.Made{Program: a.Program.Name, Version: a.Program.Version, Kind: kind, Begin: under + file}}
	if about.Title != "" {
		out.Title = about.Title
	}
	for _, p := range about.People {
		out.People = append(out.People, datapackage.Person{Title: p.Name, Email: p.Email, Path: p.ID, Role: p.Role, Organization: p.Affiliated})
	}
	for _, s := range about.Sources {
		out.Sources = append(out.Sources, datapackage.Source{Title: s.Title, Path: s.Path})
	}
	const how = "Write %s into " + aboutfile.Name + " beside the file."
	lack := func(is bool, what, key string) {
		if is {
			out.Missing = append(out.Missing, datapackage.Missing{What: what, How: strings.Replace(how, "%s", key, 1)})
		}
	}
	switch about.Licence {
	case "":
		lack(true, "A licence. Without one nobody else may use the data.", "licence: CC-BY-4.0, or another name of the SPDX list,")
	case "none":
		out.Missing = append(out.Missing, datapackage.Missing{What: "A licence: the author gives none. Nobody else may use the data without asking.", How: "Ask the author."})
	default:
		out.Licence = licenceOf(about.Licence)
	}
	if len(a.hidden) > 0 {
		out.Missing = append(out.Missing, datapackage.Missing{What: "Who made the data: names were left out.", How: "Ask who handed the data on."})
	} else {
		lack(len(about.People) == 0, "Who made the data.", "people: - {name: …, role: author}")
	}
	return out
}

// licenceOf adds title and address of licences for data that are used most.
func licenceOf(name string) *datapackage.Licence {
	l := &datapackage.Licence{Name: name}
	switch name {
	case "CC-BY-4.0":
		l.Title, l.Path = "Creative Commons Attribution 4.0", "https://creativecommons.org/licenses/by/4.0/"
	case "CC-BY-SA-4.0":
		l.Title, l.Path = "Creative Commons Attribution Share-Alike 4.0", "https://creativecommons.org/licenses/by-sa/4.0/"
	case "CC0-1.0":
		l.Title, l.Path = "Creative Commons CC0 1.0", "https://creativecommons.org/publicdomain/zero/1.0/"
	}
	return l
}

// findings is the document of findings: with what they were made, the seed of the
// randomisation, and what the program prints.
func (a *Ask) findings(t *underlamp.Trial) []byte {
	type seed struct {
		Layout string `json:"layout"`
		Note   string `json:"note"`
	}
	doc := struct {
		Made     datapackage.Made `json:"made_with"`
		Seed     seed             `json:"seed"`
		Findings json.RawMessage  `json:"findings"`
	}{datapackage.Made{Program: a.Program.Name, Version: a.Program.Version, Kind: KindTrial}, seed{layoutSeed(t), "Of the randomisation of the layout. Draws within the findings have fixed seeds, so the same version gives the same figures."}, a.tellsJSON}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if e.Encode(doc) != nil {
		return nil
	}
	return b.Bytes()
}
