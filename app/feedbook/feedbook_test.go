package feedbook_test

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"underlamp"
	"underlamp/app/feedbook"
	"underlamp/demo"
	"underlamp/safefolder"
)

const file = "rack.feed.yaml"

func place(t *testing.T) (*safefolder.Folder, string) {
	t.Helper()
	dir := t.TempDir()
	text, err := fs.ReadFile(demo.Folder(), file)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, file), text, 0o644); err != nil {
		t.Fatal(err)
	}
	return safefolder.New(dir), dir
}

// An entry of the log is set into the file, and nothing else of it changes; what cannot be read
// writes nothing.
func TestLog(t *testing.T) {
	at, dir := place(t)
	before, err := os.ReadFile(filepath.Join(dir, file))
	if err != nil {
		t.Fatal(err)
	}
	l := feedbook.Logged{Date: "2026-11-22", Volume: "93", EC: "1,5", PH: "6.3", Water: "27 L", Ions: "ca 130 mg/L", Added: "potassium nitrate 12 g, nitric acid 4 mL", By: `Ida "the scale"`, Note: "warm: 26 °C"}
	if err := feedbook.Log(at, file, l); err != nil {
		t.Fatal(err)
	}
	p, after, err := feedbook.Open(at, file)
	if err != nil {
		t.Fatal(err)
	}
	e := p.Log[len(p.Log)-1]
	if e.Date != l.Date || e.Litres != 93 || e.EC != 1.5 || e.PH != 6.3 || e.Water != 27 || e.By != l.By || e.Note != l.Note || len(p.Log) != 6 {
		t.Errorf("%+v", e)
	}
	if !strings.HasPrefix(string(after), strings.TrimRight(string(before), "\n")) {
		t.Errorf("more than the log has changed:\n%s", after)
	}
	for name, bad := range map[string]feedbook.Logged{
		"no day":        {Date: "yesterday", EC: "1.5"},
		"no EC":         {Date: "2026-11-23", EC: "strong"},
		"no product":    {Date: "2026-11-23", Added: "gold 3 g"},
		"no ion":        {Date: "2026-11-23", Ions: "gold 3 mg/L"},
		"not by itself": {Date: "2026-11-23", Note: "x", Volume: "93 L}, {date: 2026-01-01"},
	} {
		if err := feedbook.Log(at, file, bad); err == nil || feedbook.Plain(err) == "" {
			t.Errorf("%s: %v", name, err)
		}
		if now, _ := os.ReadFile(filepath.Join(dir, file)); string(now) != string(after) {
			t.Fatalf("%s: something was written", name)
		}
	}
}

// A file is replaced under the stamp of what was read, by what can be read.
func TestSave(t *testing.T) {
	at, _ := place(t)
	text, err := feedbook.Text(at, file)
	if err != nil {
		t.Fatal(err)
	}
	stamp := feedbook.Stamp(text)
	var broken *feedbook.BrokenError
	if err := feedbook.Save(at, file, []byte("underlamp feed: 1\n"), stamp); !errors.As(err, &broken) {
		t.Errorf("no feed: %v", err)
	}
	mine := append(text, "# mine\n"...)
	if err := feedbook.Save(at, file, mine, stamp); err != nil {
		t.Fatal(err)
	}
	if err := feedbook.Save(at, file, text, stamp); !errors.Is(err, feedbook.ErrChanged) {
		t.Errorf("somebody was faster: %v", err)
	}
}

// What differs is applied to the plan alone, within bounds.
func TestWhatIf(t *testing.T) {
	at, _ := place(t)
	for name, c := range map[string]struct {
		w       feedbook.WhatIf
		changed bool
		wrong   string
	}{
		"nothing":       {feedbook.WhatIf{}, false, ""},
		"its own":       {feedbook.WhatIf{Recipe: "lettuce of 2014"}, false, ""},
		"another":       {feedbook.WhatIf{Recipe: "Steiner universal", Strength: "80 %", Volume: "21 gal"}, true, ""},
		"none":          {feedbook.WhatIf{Recipe: "gold"}, false, "gold"},
		"too strong":    {feedbook.WhatIf{Strength: "900"}, false, "5 to 300 %"},
		"no volume":     {feedbook.WhatIf{Volume: "much"}, false, "80 L"},
		"without stock": {feedbook.WhatIf{NoStock: true}, true, ""},
		"the cheapest":  {feedbook.WhatIf{Mix: "cheapest"}, true, ""},
	} {
		p, _, err := feedbook.Open(at, file)
		if err != nil {
			t.Fatal(err)
		}
		changed, err := c.w.Apply(p)
		if changed != c.changed || (err == nil) != (c.wrong == "") || err != nil && !strings.Contains(err.Error(), c.wrong) {
			t.Errorf("%s: %v %v", name, changed, err)
		}
	}
	files, err := feedbook.Files(at, "tier-1-top", "tier-1-top.yaml", &underlamp.Bench{})
	if err != nil || len(files) != 1 || files[0] != file {
		t.Errorf("%v %v", files, err)
	}
}
