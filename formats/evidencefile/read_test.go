package evidencefile_test

import (
	"strings"
	"testing"

	"underlamp/formats/evidencefile"
	"underlamp/internal/marked"
	"underlamp/science/diagnosis"
)

// document lays the format down.
const document = "../../docs/formats/evidence.md"

func TestKeysAreDocumented(t *testing.T) { marked.Documented(t, document, evidencefile.Keys()) }

// The example of the document amends the table of the program, which stays as it is.
func TestExampleAmends(t *testing.T) {
	own := evidencefile.Builtin()
	rows, causes := own.Rows(), len(own.Causes)
	got, problems, err := evidencefile.Read(strings.NewReader(marked.Example(t, document)), own)
	if err != nil || len(problems) > 0 {
		t.Fatal(err, problems)
	}
	if own.Rows() != rows || len(own.Causes) != causes || own.Finding("season") != nil {
		t.Error("the table of the program was changed")
	}
	if len(got.Causes) != causes+1 || got.Rows() != rows+1 {
		t.Errorf("%d causes and %d rows, want %d and %d", len(got.Causes), got.Rows(), causes+1, rows+1)
	}
	if c := got.Cause("cold-roots"); c.Often != diagnosis.Often || c.Name == "" || len(c.Changes) == 0 {
		t.Errorf("%+v", c)
	}
	c := got.Cause("chlorine")
	if c.Again != 5 || c.Often != diagnosis.Rare || len(c.Changes) != 1 || c.Hidden {
		t.Errorf("%+v", c)
	}
	if f := got.Finding("ec"); f.Bounds[0] != 1 || f.Bounds[1] != 2.2 || f.Blur != 0.2 || len(f.States) != 3 {
		t.Errorf("%+v", f)
	}
	for _, r := range got.Finding("pale-young").States[0].Rows {
		if r.Cause == "bright" {
			t.Error("the row that was taken away is there")
		}
	}
}

// Each text is wrong where the mark stands.
func TestProblems(t *testing.T) {
	finding := func(rest string) string {
		return "underlamp evidence: 1\nfindings:\n  - {key: pale-old, " + rest + "}\n"
	}
	for name, c := range map[string]struct {
		text string
		want []string
	}{
		"no version":   {"«causes: []\n", []string{"version of the format is missing"}},
		"no key":       {"underlamp evidence: 1\ncauses:\n  - «{name: x}\n", []string{"the key is missing"}},
		"a bad key":    {"underlamp evidence: 1\ncauses:\n  - {key: «Cold Roots}\n", []string{"is no key"}},
		"twice":        {"underlamp evidence: 1\ncauses:\n  - {key: iron}\n  - {key: «iron}\n", []string{"stands twice"}},
		"else":         {"underlamp evidence: 1\ncauses:\n  - {key: «else}\n", []string{"what is not in the table"}},
		"how often":    {"underlamp evidence: 1\ncauses:\n  - {key: iron, met: «always}\n", []string{"not known"}},
		"an unknown":   {"underlamp evidence: 1\ncauses:\n  - {key: iron, «prior: 1}\n", []string{`did you mean "met"`}},
		"no cause":     {finding("states: [{key: seen, tells: [{cause: «irn, is: fair for}]}]"), []string{"there is no cause irn; did you mean iron"}},
		"no strength":  {finding("states: [{key: seen, tells: [{cause: iron, is: «certain}]}]"), []string{"not known"}},
		"half a row":   {finding("states: [{key: seen, tells: [«{cause: iron}]}]"), []string{"missing"}},
		"a bound":      {"underlamp evidence: 1\nfindings:\n  - {key: ec, states: [{key: weak, up to: «low}]}\n", []string{"is no number"}},
		"shares":       {finding("states: [{key: seen, share: 50 %}]"), []string{"add up to"}},
		"no share":     {finding("states: [«{key: half}]"), []string{"share"}},
		"nothing done": {"underlamp evidence: 1\ncauses:\n  - {key: iron, changes: [«{try: dimmer}]}\n", []string{"what to do"}},
	} {
		t.Run(name, func(t *testing.T) {
			text, places := marked.Unmark(c.text)
			got, problems, err := evidencefile.Read(strings.NewReader(text), evidencefile.Builtin())
			if err != nil || got != nil {
				t.Fatalf("read %v, %v", got != nil, err)
			}
			if len(places) != len(c.want) {
				places = nil
			}
			marked.Problems(t, problems, places, c.want)
		})
	}
}

// No text ends the program or is reported outside itself, and what is read can be asked.
func FuzzRead(f *testing.F) {
	f.Add(marked.Example(f, document))
	f.Add("underlamp evidence: 1\r\nfindings: [{key: ec, states: [{key: weak, up to: 1e400}]}]")
	f.Add("underlamp evidence: 1\ncauses: [{key: a, again: 3 d}]\n")
	f.Fuzz(func(t *testing.T, text string) {
		got, problems, err := evidencefile.Read(strings.NewReader(text), evidencefile.Builtin())
		if err != nil {
			return
		}
		marked.Sane(t, []byte(text), got != nil, problems)
		if got != nil && got.Check() != nil {
			t.Fatalf("a table that does not hold was read: %v", got.Check())
		}
	})
}
