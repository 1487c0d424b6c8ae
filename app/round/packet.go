package round

import (
	"errors"
	"fmt"
	"time"

	"underlamp"
)

// Limits of a packet.
const (
	MaxPacket  = 1 << 20 // bytes
	maxEntries = 500
)

// Tolerance is how far a clock may be off without a word about it, in ms. Clocks that are
// set by hand are seldom nearer; common practice, no source.
const Tolerance = 2 * 60 * 1000

// A Packet is what a phone sends at once.
type Packet struct {
	Version int    `json:"underlamp rounds"` // 1
	Phone   string `json:"phone"`            // id of the phone, made by it
	Now     int64  `json:"now_ms"`           // its clock, ms since 1970-01-01 UTC
	Entries []Sent `json:"entries"`
}

// Sent is an entry as a phone sends it. It is the same however often it is sent.
type Sent struct {
	ID       string             `json:"id"`
	Plant    string             `json:"plant"`
	What     underlamp.Response `json:"what"`
	Typed    string             `json:"typed,omitempty"`
	Missing  string             `json:"missing,omitempty"`
	Photo    string             `json:"photo,omitempty"`
	By       string             `json:"by,omitempty"`
	With     string             `json:"with,omitempty"`
	Note     string             `json:"note,omitempty"`
	At       int64              `json:"typed_ms"`            // the phone's clock at typing
	Before   *int64             `json:"before_ms,omitempty"` // the offset from the server's clock that was known at typing
	Jump     int64              `json:"jump_ms,omitempty"`   // what the clock had gained on a steady one since then
	Corrects string             `json:"corrects,omitempty"`
	Struck   bool               `json:"struck,omitempty"`
}

// ReadPacket reads what a phone sent. Whether its entries are fit to be kept is asked of
// each by [Packet.Enter], so that one that is not does not hold up the others.
func ReadPacket(raw []byte) (*Packet, error) {
	if len(raw) > MaxPacket {
		return nil, fmt.Errorf("a packet has at most %d bytes", MaxPacket)
	}
	var p Packet
	if err := strictly(raw, &p); err != nil {
		return nil, err
	}
	switch {
	case p.Version != 1:
		return nil, fmt.Errorf("the packet is of version %d, this program reads version 1; load the page again", p.Version)
	case !ValidID(p.Phone):
		return nil, fmt.Errorf("the phone has no id of 8 to 64 letters, digits, - or _")
	case len(p.Entries) > maxEntries:
		return nil, fmt.Errorf("a packet has at most %d entries", maxEntries)
	case p.Now < 0 || p.Now > lastMilli:
		return nil, fmt.Errorf("the phone's clock is outside the years 1970 to 9999")
	}
	return &p, nil
}

var lastMilli = time.Date(9999, 12, 31, 0, 0, 0, 0, time.UTC).UnixMilli()

// Enter makes entry i of a packet, received at an instant, of a bench. The first day of
// burn may be typed as a day of the calendar if the bench says when it was transplanted.
func (p *Packet) Enter(i int, bench string, b *underlamp.Bench, received time.Time) (Entry, error) {
	s := p.Entries[i]
	e := Entry{ID: s.ID, Bench: bench, Recorded: received.UTC().Truncate(time.Microsecond), Corrects: s.Corrects, Struck: s.Struck, Seen: Seen{
		Plant: s.Plant, What: s.What, Typed: s.Typed, Missing: s.Missing, Photo: s.Photo, By: s.By, With: s.With, Note: s.Note,
	}}
	if s.At < 0 || s.At > lastMilli {
		return e, errors.New("the time is outside the years 1970 to 9999")
	}
	c := readClock(s, received.UnixMilli()-p.Now)
	c.Phone = p.Phone
	e.Clock = &c
	e.At = time.UnixMilli(c.Typed + c.Offset).UTC()
	if err := e.valid(); err != nil {
		return e, err
	}
	if e.Struck {
		return e, nil
	}
	return e, e.assess(b)
}

// readClock settles the instant of an entry that arrived with an offset.
func readClock(s Sent, now int64) Clock {
	c := Clock{Typed: s.At, Offset: now, Before: s.Before, Jump: s.Jump, State: ClockRight}
	near := func(a, b int64) bool { return a-b <= Tolerance && b-a <= Tolerance }
	if !near(now, 0) {
		c.State = ClockCorrected
	}
	if s.Before != nil {
		// Against a steady clock a clock falls behind only if it was turned back: its offset at
		// typing is known then. It gets ahead if it was turned on, or if the phone slept, which
		// halts the steady one: either may be so, and what holds at sending tells which.
		then := *s.Before
		if s.Jump < -Tolerance || near(then-s.Jump, now) {
			then -= s.Jump
		}
		if !near(then, now) {
			c.Offset, c.State = then, ClockChanged
		}
	}
	if at := s.At + c.Offset; at < 0 || at > lastMilli { // nonsense from the phone cannot make a date
		c.Offset, c.State = now, ClockChanged
		if at := s.At + c.Offset; at < 0 || at > lastMilli {
			c.Offset = 0
		}
	}
	return c
}

// onDay makes days after transplanting of a day of the calendar that was typed for burn.
// It is false if no day of the calendar was typed.
func (s *Seen) onDay(b *underlamp.Bench) (bool, error) {
	if s.What != underlamp.ResponseFirst && s.What != underlamp.ResponseClear {
		return false, nil
	}
	t, err := time.Parse(time.DateOnly, s.Typed)
	if err != nil {
		return false, nil
	}
	if b == nil { // an entry that is read again: its value stands
		return true, nil
	}
	day, ok := DayOf(b, t)
	switch {
	case !ok:
		return true, errors.New("the bench file does not say when the crop was transplanted, so a date tells no day of the crop")
	case day < 0 || day > oldest:
		return true, fmt.Errorf("%s is %d days after transplanting (%s); it must be 0 to %d", s.Typed, day, b.Crop.Transplanted, oldest)
	}
	s.Value = float64(day)
	return true, nil
}

// DayOf counts days from transplanting to the day of an instant, in its own zone; false
// if the bench does not say when it was transplanted.
func DayOf(b *underlamp.Bench, t time.Time) (int, bool) {
	start, err := time.Parse(time.DateOnly, b.Crop.Transplanted)
	if err != nil {
		return 0, false
	}
	y, m, d := t.Date()
	return int(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Sub(start).Hours() / 24), true
}

// SameAs says that an entry which is kept came from what a phone sends again: all that
// the phone said is equal. The offset of its clock may have been seen some ms apart.
func (e *Entry) SameAs(again *Entry) bool {
	a, b := e.Seen, again.Seen
	if (a.Clock == nil) != (b.Clock == nil) || e.ID != again.ID || e.Bench != again.Bench || e.Corrects != again.Corrects || e.Struck != again.Struck {
		return false
	}
	if a.Clock != nil {
		x, y := *a.Clock, *b.Clock
		if x.Phone != y.Phone || x.Typed != y.Typed || x.Jump != y.Jump || (x.Before == nil) != (y.Before == nil) || x.Before != nil && *x.Before != *y.Before {
			return false
		}
	}
	return a.Plant == b.Plant && a.What == b.What && a.Typed == b.Typed && a.Value == b.Value && a.Missing == b.Missing && a.Photo == b.Photo && a.By == b.By && a.With == b.With && a.Note == b.Note
}
