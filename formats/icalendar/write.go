package icalendar

import (
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"
)

// A Calendar is a list of jobs.
type Calendar struct {
	Name  string
	Stamp time.Time // when it was made
	Jobs  []Job
}

// A Job is something to do on one day.
type Job struct {
	ID      string // unique in the world: of letters, digits, "-", ".", "@"
	Date    string // YYYY-MM-DD
	Title   string
	Details string // empty: none
}

// lineOctets is the longest line, without its end (Desruisseaux2009, 3.1).
const lineOctets = 75

// Write writes a calendar. The error names a job whose day or ID is none.
func Write(out io.Writer, c Calendar) error {
	var b strings.Builder
	line := func(s string) { fold(&b, s) }
	line("BEGIN:VCALENDAR")
	line("VERSION:2.0")
	line("PRODID:-//underlamp//trial//EN")
	line("CALSCALE:GREGORIAN")
	if c.Name != "" {
		line("NAME:" + text(c.Name)) // RFC 7986
	}
	seen := map[string]bool{}
	for _, j := range c.Jobs {
		day, err := time.Parse(time.DateOnly, j.Date)
		if err != nil || day.Year() < 1 {
			return fmt.Errorf("the job %q is of %q; a day such as 2026-10-01 is needed", j.Title, j.Date)
		}
		if j.ID == "" || seen[j.ID] || strings.IndexFunc(j.ID, odd) >= 0 {
			return fmt.Errorf("the job %q has the id %q; each needs one of its own, of letters, digits, -, . and @", j.Title, j.ID)
		}
		seen[j.ID] = true
		line("BEGIN:VEVENT")
		line("UID:" + j.ID)
		line("DTSTAMP:" + c.Stamp.UTC().Format("20060102T150405Z"))
		line("DTSTART;VALUE=DATE:" + day.Format("20060102"))
		line("DTEND;VALUE=DATE:" + day.AddDate(0, 0, 1).Format("20060102")) // the day after: the end is not part of it
		line("TRANSP:TRANSPARENT")
		line("SUMMARY:" + text(j.Title))
		if j.Details != "" {
			line("DESCRIPTION:" + text(j.Details))
		}
		line("END:VEVENT")
	}
	line("END:VCALENDAR")
	if _, err := io.WriteString(out, b.String()); err != nil {
		return fmt.Errorf("the calendar cannot be written: %w", err)
	}
	return nil
}

func odd(r rune) bool {
	return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '.' || r == '@')
}

// text escapes a TEXT value (Desruisseaux2009, 3.3.11). Characters that a line may not hold are left
// out.
func text(s string) string {
	var b strings.Builder
	s = strings.ReplaceAll(s, "\r\n", "\n")
	for _, r := range s { // an invalid byte reads as U+FFFD
		switch {
		case r == '\\' || r == ';' || r == ',':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n' || r == '\r':
			b.WriteString(`\n`)
		case r < 0x20 && r != '\t' || r == 0x7f:
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// fold writes one content line: a line that goes on begins with a blank.
func fold(b *strings.Builder, s string) {
	room := lineOctets
	for _, r := range s {
		n := utf8.RuneLen(r)
		if n > room {
			b.WriteString("\r\n ")
			room = lineOctets - 1
		}
		b.WriteRune(r)
		room -= n
	}
	b.WriteString("\r\n")
}
