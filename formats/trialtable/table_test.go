package trialtable_test

import (
	"archive/zip"
	"bytes"
	"strings"
	"testing"

	"underlamp"
	"underlamp/demo"
	"underlamp/formats/sheet"
	"underlamp/formats/trialtable"
)

const head = "id,time,unit,plant,what,value,missing,by,with,note,corrects,struck\n"

func TestCorrections(t *testing.T) {
	all, err := trialtable.Read([]byte(head + "e1,2026-10-01,A,P1,mass,120,,,,,,\ne2,,A,P2,mass,,eaten,,,,,\ne3,2026-10-01,A,P1,mass,4.2 oz,,,,,e1,\ne4,,A,P2,mass,,,,,,e2,yes\n"))
	if err != nil {
		t.Fatal(err)
	}
	if len(all) != 4 || all[0].Value != 120 {
		t.Fatalf("%+v", all)
	}
	// 4.2 oz are 119.068 g: 28.349523125 g to the ounce (ThompsonTaylor2008, appendix B).
	if s := trialtable.Standing(all); len(s) != 1 || s[0].ID != "e3" || s[0].Value < 119.067 || s[0].Value > 119.069 {
		t.Errorf("standing: %+v", s)
	}
}

func TestFaultsHaveTheirLine(t *testing.T) {
	for line, want := range map[string]string{
		"e1,,A,P1,mass,heavy,,,,,,":            "line 3, column \"value\"",
		"e1,,A,P1,weight,3,,,,,,":              "column \"what\"",
		"e0,,A,P1,mass,3,,,,,,":                "is the id of line 2",
		"e1,,A,P1,mass,3,,,,,e9,":              "no line above",
		"e1,yesterday,A,P1,mass,3,,,,,,":       "no day",
		"e1,,A,P1,severity,2.5,,,,,,":          "whole number",
		"e1,,A,P1,mass,NaN,,,,,,":              "column \"value\"",
		"e1,,A,P1,mass,3,lost in the sun,,,,,": "beside a reason",
	} {
		_, err := trialtable.Read([]byte(head + "e0,,A,P1,mass,1,,,,,,\n" + line + "\n"))
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", line, err, want)
		}
	}
}

// A workbook as ECMA-376 lays it out: shared and inline strings, numbers, gaps.
func workbook(t testing.TB) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, text := range map[string]string{
		"xl/workbook.xml":            `<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="Harvest" sheetId="1" r:id="rId3"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId3" Type="x" Target="worksheets/sheet7.xml"/></Relationships>`,
		"xl/sharedStrings.xml":       `<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><si><t>unit</t></si><si><r><t>pla</t></r><r><t>nt</t></r></si><si><t>C1-L1</t></si></sst>`,
		"xl/worksheets/sheet7.xml": `<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>
<row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" t="s"><v>1</v></c><c r="D1" t="inlineStr"><is><t>mass</t></is></c><c r="E1" t="inlineStr"><is><t>date</t></is></c></row>
<row r="3"><c r="A3" t="s"><v>2</v></c><c r="B3"><v>7</v></c><c r="D3"><v>151.25</v></c><c r="E3"><v>46140</v></c></row></sheetData></worksheet>`,
	} {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(text)); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func imported(raw []byte, columns map[string]string, known []underlamp.TrialEntry) (*trialtable.Preview, error) {
	t, err := trialtable.Open(raw, "", 0, sheet.Conventions{})
	if err != nil {
		return nil, err
	}
	return trialtable.Import(t, columns, known)
}

func TestImport(t *testing.T) {
	p, err := imported(workbook(t), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	// 46140 days after 1899-12-30 is 2026-04-28.
	if len(p.New) != 1 || p.New[0].Value != 151.25 || p.New[0].TrialUnit != "C1-L1" || p.New[0].Plant != "7" || p.New[0].Time != "2026-04-28" {
		t.Errorf("%+v", p)
	}
	again, err := imported(workbook(t), nil, p.New)
	if err != nil || again.Duplicates != 1 || len(again.New) != 0 {
		t.Errorf("%+v, %v", again, err)
	}
	csv := []byte("Lamp;Head;Weight\nA;1;150,5\nA;2;5.3 oz\n")
	if _, err := imported(csv, nil, nil); err == nil || !strings.Contains(err.Error(), "--column") {
		t.Errorf("unknown headings: %v", err)
	}
	p, err = imported(csv, map[string]string{"Lamp": "unit", "Head": "plant", "Weight": "mass"}, nil)
	if err != nil || len(p.New) != 2 || p.New[0].Value != 150.5 {
		t.Errorf("%+v, %v", p, err)
	}
}

// Doubts are told and nothing is left out.
func TestDoubts(t *testing.T) {
	mass := func(id, plant, day string, v float64) underlamp.TrialEntry {
		return underlamp.TrialEntry{ID: id, TrialUnit: "A", Plant: plant, Time: day, What: underlamp.ResponseMass, Value: v}
	}
	e := []underlamp.TrialEntry{mass("a", "1", "2026-01-20", 150), mass("b", "2", "2026-01-20", 160), mass("c", "3", "2026-01-20", 140), mass("d", "4", "2026-01-20", 155), mass("ounces", "5", "2026-01-20", 5.3), mass("fell", "1", "2026-01-30", 60), mass("huge", "6", "2026-01-30", 1900)}
	got := trialtable.Doubts(e)
	if len(got) != 3 || !strings.Contains(got[0], "ounces") || !strings.Contains(strings.Join(got, ""), "fell by more than half") {
		t.Errorf("%q", got)
	}
}

func FuzzRead(f *testing.F) {
	f.Add(demo.File("light-levels.trial.csv"))
	f.Add([]byte(head + "e1,,A,P1,mass,1 kg,,,,,e1,yes\n"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		if all, err := trialtable.Read(raw); err == nil {
			trialtable.Doubts(trialtable.Standing(all))
		}
	})
}

func FuzzImport(f *testing.F) {
	f.Add(demo.File("light-levels.harvest5.csv"))
	f.Add(workbook(f))
	f.Fuzz(func(_ *testing.T, raw []byte) {
		_, _ = imported(raw, map[string]string{"Lamp code": "unit", "Head": "plant", "Weight": "mass"}, nil)
	})
}
