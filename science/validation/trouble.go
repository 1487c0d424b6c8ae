package validation

import (
	"fmt"
	"strings"

	"underlamp/science/diagnosis"
	"underlamp/science/reference"
)

// The sets of published descriptions in package reference. The old one is known to those
// who amended the table of evidence, the other was coded by one who had not seen the table,
// and not seen by those who amended it.
const (
	OldCases   = "trouble_cases"
	BlindCases = "trouble_cases_blind"
)

// Trouble checks the ranking of causes against published descriptions that the table of
// evidence was not filled from. The aim, four of five among the first two, is our own.
func Trouble(evidence *diagnosis.Table) []Check {
	var out []Check
	for _, set := range []struct{ table, name string }{{OldCases, "cases"}, {BlindCases, "blind cases"}} {
		out = append(out, troubleIn(evidence, set.table, set.name)...)
	}
	return out
}

func troubleIn(evidence *diagnosis.Table, table, which string) []Check {
	var out []Check
	for _, told := range []bool{true, false} {
		cases, err := TroubleCases(evidence, table, told)
		if err != nil {
			panic("validation: Trouble: " + err.Error())
		}
		first, two := 0, 0
		var missed []string
		for _, c := range cases {
			if c.Rank == 1 {
				first++
			}
			if c.Rank <= 2 {
				two++
			} else {
				missed = append(missed, c.Case+" "+c.Cause)
			}
		}
		n := float64(len(cases))
		name := which + ": right cause among the first two, with what the texts tell besides symptoms"
		if !told {
			name = which + ": right cause among the first two, by the symptoms alone"
		}
		c := value("trouble", name, "", Published, "%", 100*float64(two)/n, 80, 80, 100)
		c.Note = fmt.Sprintf("%d descriptions, each by its work in the table %s; ranked first %d; not among the first two: %s", len(cases), table, first, strings.Join(missed, ", "))
		out = append(out, c)
	}
	return out
}

// A TroubleCase is a published description of a trouble with where the table of evidence
// ranks the cause that the source gives.
type TroubleCase struct {
	Case, Cause, Source, Words string
	Rank                       int     // from 1
	Chance                     float64 // of the right cause
	First                      string  // key of the cause ranked first
}

// TroubleCases ranks a set of published cases, [OldCases] or [BlindCases], by a table of
// evidence. With told, answers and records that the texts tell count beside the symptoms.
func TroubleCases(evidence *diagnosis.Table, set string, told bool) ([]TroubleCase, error) {
	model, err := diagnosis.New(evidence)
	if err != nil {
		return nil, err
	}
	table, err := reference.Load(set)
	if err != nil {
		return nil, err
	}
	var out []TroubleCase
	for i := range table.Rows {
		r := row{table, i}
		c := TroubleCase{Case: r.text("case"), Cause: r.text("cause"), Words: r.text("words")}
		c.Source = r.text("source")
		if model.Table().Cause(c.Cause) == nil {
			return nil, fmt.Errorf("%s: there is no cause %s", c.Case, c.Cause)
		}
		found, err := model.Table().Picked(strings.Fields(r.text("symptoms")))
		if err != nil {
			return nil, fmt.Errorf("%s: %w", c.Case, err)
		}
		for _, word := range strings.Fields(r.text("told")) {
			key, state, _ := strings.Cut(word, "=")
			f := model.Table().Finding(key)
			if f == nil || f.State(state) < 0 {
				return nil, fmt.Errorf("%s: there is no finding %s", c.Case, word)
			}
			trust := diagnosis.TrustSeen
			if f.Kind == diagnosis.Record {
				trust = diagnosis.TrustStated
			}
			if told {
				found = append(found, model.Table().Is(key, state, trust))
			}
		}
		chances := model.Chances(found)
		c.Chance, c.Rank = chances[c.Cause], 1
		for key, p := range chances {
			if p > c.Chance {
				c.Rank++
			}
			if p > chances[c.First] || p == chances[c.First] && key < c.First {
				c.First = key
			}
		}
		out = append(out, c)
	}
	return out, nil
}
