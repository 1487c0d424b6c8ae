package icalendar_test

import (
	"bytes"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	ics "github.com/arran4/golang-ical"
	"pgregory.net/rapid"

	"underlamp/formats/icalendar"
)

// rules holds a calendar against the rules for lines of RFC 5545, section 3.1: every line
// ends with CR LF and has at most 75 octets, folds do not cut a character, no control
// character stands in it.
func rules(t interface{ Fatalf(string, ...any) }, out []byte) {
	if !bytes.HasSuffix(out, []byte("\r\n")) {
		t.Fatalf("does not end with CR LF")
	}
	for _, line := range bytes.Split(bytes.TrimSuffix(out, []byte("\r\n")), []byte("\r\n")) {
		if len(line) > 75 {
			t.Fatalf("a line of %d octets: %q", len(line), line)
		}
		if !utf8.Valid(line) {
			t.Fatalf("a fold cuts a character: %q", line)
		}
		for _, c := range line {
			if c < 0x20 && c != '\t' || c == 0x7f {
				t.Fatalf("a control character in %q", line)
			}
		}
		if len(line) == 0 {
			t.Fatalf("an empty line")
		}
	}
}

var stamp = time.Date(2026, 9, 30, 12, 0, 0, 0, time.UTC)

// A general-purpose parser (golang-ical 0.3.4) reads back what was written.
func TestParserReadsItBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"", "a; b, c\\d", "two\nlines\r\nthree", strings.Repeat("µmol/m²/s ", 40), "a\xffb", "BEGIN:VEVENT", "x:y;z=\"q\""}))
		c := icalendar.Calendar{Name: word.Draw(t, "name"), Stamp: stamp}
		n := rapid.IntRange(0, 4).Draw(t, "jobs")
		for i := range n {
			c.Jobs = append(c.Jobs, icalendar.Job{ID: string(rune('a'+i)) + "@underlamp.example", Date: rapid.SampledFrom([]string{"2026-02-28", "2028-02-28", "2026-12-31"}).Draw(t, "date"), Title: word.Draw(t, "title"), Details: word.Draw(t, "details")})
		}
		var b bytes.Buffer
		if err := icalendar.Write(&b, c); err != nil {
			t.Fatal(err)
		}
		rules(t, b.Bytes())
		cal, err := ics.ParseCalendar(bytes.NewReader(b.Bytes()))
		if err != nil {
			t.Fatalf("%v in\n%s", err, b.String())
		}
		events := cal.Events()
		if len(events) != n {
			t.Fatalf("%d events of %d", len(events), n)
		}
		// What cannot stand in a line is left out, line ends are one.
		plain := func(s string) string {
			s = strings.ToValidUTF8(strings.ReplaceAll(s, "\r\n", "\n"), "\ufffd")
			var b strings.Builder
			for _, r := range s {
				switch {
				case r == '\r':
					b.WriteByte('\n')
				case r < 0x20 && r != '\t' && r != '\n' || r == 0x7f:
				default:
					b.WriteRune(r)
				}
			}
			return b.String()
		}
		for i, e := range events {
			j := c.Jobs[i]
			if got := e.GetProperty(ics.ComponentPropertySummary).Value; plain(got) != plain(j.Title) && !strings.Contains(j.Title, "\xff") {
				t.Fatalf("title %q, want %q", got, j.Title)
			}
			from, err := e.GetAllDayStartAt()
			if err != nil {
				t.Fatal(err)
			}
			to, err := e.GetAllDayEndAt()
			if err != nil {
				t.Fatal(err)
			}
			if from.Format(time.DateOnly) != j.Date || to.Sub(from) != 24*time.Hour || e.Id() != j.ID {
				t.Fatalf("%s: from %s to %s, want %s", e.Id(), from, to, j.Date)
			}
		}
	})
}

func TestRefusals(t *testing.T) {
	for _, jobs := range [][]icalendar.Job{{{ID: "a", Date: "tomorrow"}}, {{ID: "", Date: "2026-01-01"}}, {{ID: "a", Date: "2026-01-01"}, {ID: "a", Date: "2026-01-02"}}, {{ID: "a:b", Date: "2026-01-01"}}} {
		if err := icalendar.Write(&bytes.Buffer{}, icalendar.Calendar{Jobs: jobs}); err == nil {
			t.Errorf("%+v was written", jobs)
		}
	}
}
