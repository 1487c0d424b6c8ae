package dataset

import (
	"bytes"
	"fmt"
	"path"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"underlamp/formats/aboutfile"
	"underlamp/formats/datapackage"
	"underlamp/formats/handwritten"
	"underlamp/formats/tables"
	"underlamp/formats/trialtable"
)

// Names says whose names leave with data.
type Names string

// Whose names.
const (
	AllNames    Names = "all"     // as they were written
	AuthorNames Names = "authors" // of the people of about.yaml; those who saw, entered and changed are "person 1" and so on
	NoNames     Names = "none"    // nobody's
)

// AllWhose are all of them.
func AllWhose() []Names { return []Names{AllNames, AuthorNames, NoNames} }

// ParseNames reads whose names are meant; nothing is [AllNames].
func ParseNames(s string) (Names, error) {
	if s == "" {
		return AllNames, nil
	}
	if n := Names(s); slices.Contains(AllWhose(), n) {
		return n, nil
	}
	return "", fmt.Errorf("%q is none of all, authors and none: whose names leave with the data", handwritten.Shortened(s))
}

// ofAuthors takes the people out of what is said of the data, if nobody's name leaves.
func (a *Ask) ofAuthors() {
	if a.Names != NoNames || a.About == nil {
		return
	}
	about := *a.About
	a.hidden, about.People = about.People, nil
	a.About = &about
}

// byColumn is the column of tables that says who.
const byColumn = "by"

// wordless are the large tables of sensors, in which no words of people stand.
var wordless = []string{sensorHours.name, sensorReadings.name}

// leaveOut puts "person 1" and so on in the place of those who saw, entered and changed: in the
// tables, and in the files that people wrote. A person has the same number everywhere. What people
// wrote in words is not changed; where such words hold a name that was left out, the package says
// in which table or file, so that somebody looks. table is the file that holds the observations of a
// trial, empty for a bench.
func (a *Ask) leaveOut(p *datapackage.Package, table string) error {
	if a.Names == "" || a.Names == AllNames {
		return nil
	}
	o := &persons{}
	for _, t := range p.Tables {
		at := t.At(byColumn)
		if at < 0 {
			continue
		}
		if err := t.Each(func(row []any) error { o.see(row[at]); return nil }); err != nil {
			return err
		}
	}
	// Files may name some whom no table does, such as who looked at the tank.
	var kept []datapackage.File
	for _, f := range p.Files {
		if data, err := o.file(f, table); err != nil {
			p.Missing = append(p.Missing, datapackage.Missing{What: "The file " + f.Path + ".", How: fmt.Sprintf("Names cannot be taken out of it: %v.", err)})
			continue
		} else if data != nil {
			f.Data = data
			f.About += " Names in it are left out."
		}
		kept = append(kept, f)
	}
	p.Files = kept
	var names []string
	for name := range o.number {
		names = append(names, name)
	}
	for _, x := range a.hidden {
		names = append(names, x.Name)
	}
	var where []string
	if a.About != nil && anyName(names, strings.Join([]string{a.About.Title, a.About.Description, a.About.Cultivation, a.About.Seed, a.About.Site.Name, a.About.Site.Institution, a.About.Site.Facility}, "\n")) {
		where = append(where, "what is said of the data in "+aboutfile.Name)
	}
	for _, t := range p.Tables {
		if at := t.At(byColumn); at >= 0 {
			rows := t.Rows
			t.Rows = func(each func([]any) error) error {
				return rows(func(row []any) error {
					row = slices.Clone(row)
					row[at] = o.instead(row[at])
					return each(row)
				})
			}
		}
		if slices.Contains(wordless, t.Name) {
			continue
		}
		found := false
		err := t.Each(func(row []any) error {
			for _, cell := range row {
				if s, ok := cell.(string); ok && !found {
					found = anyName(names, s)
				}
			}
			return nil
		})
		if err != nil {
			return err
		}
		if found {
			where = append(where, "data/"+t.Name+".csv")
		}
	}
	for _, f := range p.Files {
		if utf8.Valid(f.Data) && anyName(names, string(f.Data)) {
			where = append(where, f.Path)
		}
	}
	say := func(what, how string) {
		p.Missing = append(p.Missing, datapackage.Missing{What: what, How: how})
	}
	if len(o.number) > 0 {
		say("The names of those who saw, entered and changed: person 1 and so on stand for them.", "Ask who handed the data on.")
	}
	if len(where) > 0 {
		say("Words in which a name that was left out may still stand: "+strings.Join(where, ", ")+".", "Look at them before you publish.")
	}
	return nil
}

// persons are numbered in the order in which they are first met.
type persons struct{ number map[string]string }

func (o *persons) see(cell any) string {
	name, ok := cell.(string)
	if name = strings.TrimSpace(name); !ok || name == "" {
		return ""
	}
	if o.number == nil {
		o.number = map[string]string{}
	}
	if o.number[name] == "" {
		o.number[name] = fmt.Sprint("person ", len(o.number)+1)
	}
	return o.number[name]
}

func (o *persons) instead(cell any) any { return tables.TextOf(o.see(cell)) }

// file is a file of people without the names of who saw, entered or looked; nil if it needs no
// change.
func (o *persons) file(f datapackage.File, table string) ([]byte, error) {
	name, ok := strings.CutPrefix(f.Path, under)
	switch {
	case !ok:
		return nil, nil
	case name == table && table != "":
		entries, err := trialtable.Read(f.Data)
		if err != nil {
			return nil, err
		}
		named := false
		for i := range entries {
			named = named || entries[i].By != ""
			entries[i].By = o.see(entries[i].By)
		}
		if !named {
			return nil, nil
		}
		var b bytes.Buffer
		err = trialtable.Append(&b, entries, true)
		return b.Bytes(), err
	case path.Ext(name) != ".yaml" && path.Ext(name) != ".yml":
		return nil, nil
	}
	var g handwritten.Grammar // lists are walked by number, so that no grammar of a kind of file is needed
	var changes []handwritten.Change
	for _, list := range []string{"observations", "log"} { // of a cycle file, of a feed file
		n, err := g.Items(f.Data, list)
		if err != nil {
			continue // no such list
		}
		for i := range n {
			at := fmt.Sprintf("%s[%d].%s", list, i, byColumn)
			by, err := g.Written(f.Data, at)
			if err != nil {
				return nil, err
			}
			if who := o.see(by[0]); who != "" {
				changes = append(changes, handwritten.Change{Do: handwritten.Set, Path: at, Text: who})
			}
		}
	}
	if len(changes) == 0 {
		return nil, nil
	}
	return g.Apply(f.Data, changes...)
}

// anyName says that one of the names stands as a word in a text. Single letters are not looked for.
func anyName(names []string, text string) bool {
	lower := strings.ToLower(text)
	part := func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }
	for _, name := range names {
		name = strings.ToLower(name)
		if utf8.RuneCountInString(name) < 2 {
			continue
		}
		for from := 0; ; {
			i := strings.Index(lower[from:], name)
			if i < 0 {
				break
			}
			before, _ := utf8.DecodeLastRuneInString(lower[:from+i])
			after, _ := utf8.DecodeRuneInString(lower[from+i+len(name):])
			if !part(before) && !part(after) {
				return true
			}
			from += i + len(name)
		}
	}
	return false
}
