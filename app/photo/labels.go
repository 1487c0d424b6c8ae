package photo

import (
	"cmp"

	"underlamp"
	"underlamp/app/trial"
	"underlamp/draw/labelsheet"
	"underlamp/science/plantlabel"
)

// A Label is what is printed for a subject.
type Label struct {
	Subject Subject
	Content plantlabel.Content
	Plain   bool // the name has letters that cannot be printed; the code stands in its place
}

// labelOf says a name and where it belongs. The code stands in the note, to be typed if a
// label cannot be scanned.
func labelOf(s Subject, name, where string) Label {
	l := Label{Subject: s, Content: plantlabel.Content{Code: CodeOf(s), Title: name}}
	l.Content.Note = l.Content.Code.Readable() + " · " + where
	if !labelsheet.Writable(name) || name == "" {
		l.Content.Title, l.Plain = "", true
		l.Content.Note = where
	}
	if !labelsheet.Writable(where) {
		l.Content.Note = l.Content.Code.Readable()
	}
	return l
}

// BenchLabels are those of the plants of a bench, in the order of its file. key is the name
// of the file without ending.
func BenchLabels(key string, b *underlamp.Bench) []Label {
	var out []Label
	for _, p := range b.Plants {
		out = append(out, labelOf(Subject{Bench: key, Plant: p.Name}, p.Name, b.Name))
	}
	return out
}

// TrialLabels are those of the plants of a trial, block by block in the order of its sheet.
// key is the name of the trial file without ending, bench that of its bench; empty for none.
func TrialLabels(key, bench string, s *trial.Sheet) []Label {
	var out []Label
	for _, b := range s.Blocks {
		for _, u := range b.Units {
			for _, p := range u.Plants {
				out = append(out, labelOf(Subject{Trial: key, Unit: p.Code, Bench: bench, Plant: p.Name}, p.Code, s.Trial.Name))
			}
		}
	}
	return out
}

// Contents are what is printed.
func Contents(all []Label) []plantlabel.Content {
	var out []plantlabel.Content
	for _, l := range all {
		out = append(out, l.Content)
	}
	return out
}

// A LabelPrint is how labels are printed.
type LabelPrint struct {
	Size  string // of a label; empty: small
	Sheet string // its paper; empty: a4
	Scale string // what a rule reads across and down of a check print, such as 148.5x198; empty: true
	Check bool   // the check print alone
	Skip  int    // labels of the first sheet that are used already
}

// PrintLabels makes the sheets as PDF.
func PrintLabels(p LabelPrint, labels []Label) ([]byte, error) {
	layout, err := labelsheet.LayoutOf(cmp.Or(p.Size, "small"))
	if err != nil {
		return nil, err
	}
	format, err := labelsheet.FormatOf(layout, cmp.Or(p.Sheet, "a4"))
	if err != nil {
		return nil, err
	}
	scale, err := labelsheet.ParseScale(p.Scale)
	if err != nil {
		return nil, err
	}
	if p.Check {
		return labelsheet.Check(format.Page, scale)
	}
	return labelsheet.Labels(labelsheet.Options{Layout: layout, Format: format, Scale: scale, Skip: p.Skip, Title: "Labels"}, Contents(labels))
}
