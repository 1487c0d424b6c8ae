package round

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"underlamp"
	"underlamp/formats/trialtable"
	"underlamp/science/quantity"
	"underlamp/store"
)

// Version is that of the document that keeps an entry.
const Version = 1

// What is seen beside the measures of [underlamp.Responses].
const (
	Note  underlamp.Response = "note"  // text alone
	Photo underlamp.Response = "photo" // a picture, kept under its own id
	Cut   underlamp.Response = "cut"   // the plant was taken; nothing is seen of it afterwards
)

// Kinds are everything that an entry can be of.
func Kinds() []underlamp.Response { return append(underlamp.Responses(), Note, Photo, Cut) }

// Limits of an entry, in bytes of UTF-8.
const (
	MaxName   = 100
	MaxNote   = 2000
	MaxTyped  = 60
	maxBeside = 20
)

// An Entry is one thing that somebody saw of one plant.
type Entry struct {
	ID       string
	Bench    string    // the name of its file, without ending
	At       time.Time // when it was seen, as far as it is known
	Recorded time.Time // when it was entered
	Corrects string    // id of the entry that this one stands for; empty: none
	Struck   bool      // with Corrects: that entry does not count, and nothing stands for it

	Seen
}

// Seen is what an entry says, as its document keeps it.
type Seen struct {
	Plant   string             `json:"plant"`
	What    underlamp.Response `json:"what"`
	Typed   string             `json:"typed,omitempty"`   // as it was typed: "4.97 oz"
	Value   float64            `json:"value,omitempty"`   // in Unit; 0 if Missing, and for notes and photos
	Unit    string             `json:"unit,omitempty"`    // that of What, see [underlamp.Response.Unit]
	Missing string             `json:"missing,omitempty"` // why there is no value
	Photo   string             `json:"photo,omitempty"`   // id of the picture
	By      string             `json:"by,omitempty"`
	With    string             `json:"with,omitempty"` // instrument
	Note    string             `json:"note,omitempty"`
	Beside  []string           `json:"beside,omitempty"` // ids of entries that somebody said are right too
	Clock   *Clock             `json:"clock,omitempty"`  // of the phone; nil: entered at the server
}

// A Clock says how the instant of an entry was reached.
type Clock struct {
	Phone  string `json:"phone"`     // id of the phone
	Typed  int64  `json:"typed_ms"`  // its clock at typing, ms since 1970-01-01 UTC
	Offset int64  `json:"offset_ms"` // what was added to it

	Before *int64 `json:"before_ms,omitempty"` // the offset known at typing
	Jump   int64  `json:"jump_ms,omitempty"`   // what the clock had gained on a steady one since that was known
	State  string `json:"state"`               // one of the states
}

// The states of a clock.
const (
	ClockRight     = "right"     // within Tolerance
	ClockCorrected = "corrected" // it was off, and the time was corrected
	ClockChanged   = "changed"   // it was changed between typing and sending: the time is unsure
)

// document is the JSON that is kept.
type document struct {
	Version int `json:"underlamp seen"`
	Seen
}

// Observation is the entry as the store keeps it.
func (e *Entry) Observation() (store.Observation, error) {
	doc, err := json.Marshal(document{Version, e.Seen})
	if err != nil {
		return store.Observation{}, err
	}
	return store.Observation{ID: e.ID, Bench: e.Bench, At: store.At(e.At), Recorded: store.At(e.Recorded), Corrects: e.Corrects, Struck: e.Struck, Doc: doc}, nil
}

// Read makes an entry of what the store has. The document must be one that this program
// writes; one of a later version is refused.
func Read(o store.Observation) (Entry, error) {
	e := Entry{ID: o.ID, Bench: o.Bench, At: store.Time(o.At), Recorded: store.Time(o.Recorded), Corrects: o.Corrects, Struck: o.Struck}
	var d document
	if err := strictly(o.Doc, &d); err != nil {
		return e, fmt.Errorf("entry %q: %w", o.ID, err)
	}
	switch {
	case d.Version == 0:
		return e, fmt.Errorf(`entry %q: the document has no version under "underlamp seen"`, o.ID)
	case d.Version > Version:
		return e, fmt.Errorf("entry %q: the document is of version %d, this program reads up to %d", o.ID, d.Version, Version)
	}
	e.Seen = d.Seen
	return e, e.valid()
}

// ReadAll makes entries of observations, and says of those it cannot read why. Nothing
// else is left out for them.
func ReadAll(all []store.Observation) ([]Entry, []error) {
	var out []Entry
	var faults []error
	for _, o := range all {
		e, err := Read(o)
		if err != nil {
			faults = append(faults, err)
			continue
		}
		out = append(out, e)
	}
	return out, faults
}

// strictly reads one JSON value without keys that are not known and without anything
// after it.
func strictly(raw []byte, into any) error {
	d := json.NewDecoder(bytes.NewReader(raw))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		var syntax *json.SyntaxError
		if errors.As(err, &syntax) {
			return fmt.Errorf("this is no JSON: %w, at byte %d", err, syntax.Offset)
		}
		return err
	}
	if _, err := d.Token(); err != io.EOF {
		return errors.New("something follows the JSON value")
	}
	return nil
}

// validID are ids that phones give; letters, digits, - and _ alone, so that they can
// stand in addresses and names of files.
var validID = regexp.MustCompile(`^[A-Za-z0-9_-]{8,64}$`)

// ValidID says whether a text can be an id of an entry or a photo.
func ValidID(s string) bool { return validID.MatchString(s) }

// valid holds an entry to what entries may be, apart from its value.
func (e *Entry) valid() error {
	s := &e.Seen
	switch {
	case !ValidID(e.ID):
		return fmt.Errorf("the id %q has not 8 to 64 letters, digits, - or _", shortened(e.ID))
	case e.Corrects != "" && !ValidID(e.Corrects):
		return fmt.Errorf("%q under corrects is no id", shortened(e.Corrects))
	case e.Corrects == e.ID:
		return errors.New("an entry cannot correct itself")
	case e.Struck && e.Corrects == "":
		return errors.New("an entry that strikes another names it under corrects")
	case s.Plant == "":
		return errors.New("the plant is missing")
	case !slices.Contains(Kinds(), s.What):
		return fmt.Errorf("%q is none of %s", shortened(string(s.What)), kinds())
	case len(s.Beside) > maxBeside:
		return fmt.Errorf("more than %d entries beside this one", maxBeside)
	case math.IsNaN(s.Value) || math.IsInf(s.Value, 0):
		return errors.New("the value is no number")
	case e.At.Year() < 1970 || e.At.Year() > 9999:
		return errors.New("the time is outside the years 1970 to 9999")
	case s.Photo != "" && !ValidID(s.Photo):
		return fmt.Errorf("%q is no id of a photo", shortened(s.Photo))
	case s.What == Photo && s.Photo == "" && !e.Struck:
		return errors.New("a photo needs the id of its picture")
	case s.What == Note && s.Note == "" && !e.Struck:
		return errors.New("there is nothing in the note")
	}
	for _, id := range s.Beside {
		if !ValidID(id) {
			return fmt.Errorf("%q under beside is no id", shortened(id))
		}
	}
	for _, t := range []struct {
		name, text string
		most       int
	}{{"plant", s.Plant, MaxName}, {"typed", s.Typed, MaxTyped}, {"missing", s.Missing, MaxName}, {"by", s.By, MaxName}, {"with", s.With, MaxName}, {"unit", s.Unit, MaxName}, {"note", s.Note, MaxNote}} {
		if err := fits(t.name, t.text, t.most); err != nil {
			return err
		}
	}
	if s.Clock != nil {
		if err := fits("phone", s.Clock.Phone, MaxName); err != nil {
			return err
		}
	}
	return nil
}

// fits holds a text to its length and to letters that people write.
func fits(name, text string, most int) error {
	if len(text) > most {
		return fmt.Errorf("%s is longer than %d bytes", name, most)
	}
	if !utf8.ValidString(text) {
		return fmt.Errorf("%s is not in UTF-8", name)
	}
	for _, c := range text {
		if unicode.IsControl(c) && !(name == "note" && (c == '\n' || c == '\t')) {
			return fmt.Errorf("%s holds a character that nobody types (U+%04X)", name, c)
		}
	}
	return nil
}

func shortened(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}

func kinds() string {
	var s []string
	for _, k := range Kinds() {
		s = append(s, string(k))
	}
	return strings.Join(s, ", ")
}

// measured says that a kind has a value.
func measured(k underlamp.Response) bool { return slices.Contains(underlamp.Responses(), k) }

// assess makes the value of what was typed. Without a bench the value of a day of the
// calendar stays as it is.
func (s *Seen) assess(b *underlamp.Bench) error {
	was := s.Value
	s.Value, s.Unit = 0, ""
	if !measured(s.What) {
		if s.What == Cut {
			s.Value = 1
		}
		return nil
	}
	s.Unit = s.What.Unit()
	if s.Missing != "" {
		if s.Typed != "" {
			return errors.New("there is a value beside a reason why it is missing")
		}
		return nil
	}
	s.Value = was
	if dated, err := s.onDay(b); dated {
		return err
	}
	s.Value = 0
	v, err := trialtable.Value(s.What, s.Typed)
	if err != nil {
		return err
	}
	s.Value = v
	return nil
}

// Text is the value with its unit, as a person reads it.
func (s *Seen) Text() string {
	switch {
	case s.Missing != "":
		return "missing: " + s.Missing
	case s.What == Note:
		return s.Note
	case s.What == Photo:
		return "photo"
	case s.What == Cut:
		return "cut"
	case s.What == underlamp.ResponseBurn && s.Value == 0:
		return "none"
	case s.What == underlamp.ResponseBurn:
		return "seen"
	case s.What == underlamp.ResponseFirst || s.What == underlamp.ResponseClear:
		return "day " + quantity.Number(s.Value, 4)
	case s.What == underlamp.ResponseSeverity:
		return "grade " + quantity.Number(s.Value, 1)
	}
	return strings.TrimSpace(quantity.Number(s.Value, 4) + " " + s.Unit)
}
