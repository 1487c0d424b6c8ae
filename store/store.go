// Package store says what underlamp keeps, and in which words: the descriptions of
// benches as they were, what was seen on them, and what sensors read.
//
// The interfaces are small, one for each kind of thing, so that a caller asks for no
// more than it uses. Packages sqlite and postgres keep the promises; package storetest
// is the suite that both pass.
//
// # Promises
//
//   - What a call has returned without an error is kept, also if the program is killed
//     at the next instant.
//   - A call does all of what it was asked, or nothing.
//   - Sending the same again changes nothing: readings are known by sensor and instant,
//     observations by their id.
//   - Nothing is overwritten: benches have versions, an observation is corrected by another
//     one that names it. Of two readings of one sensor at one instant the later counts.
//
// # Time
//
// Instants are microseconds since 1970-01-01 UTC. Days and hours of a place are the
// business of callers.
package store

import (
	"context"
	"errors"
	"math"
	"time"

	"underlamp/store/packed"
)

// ErrNotFound is wrapped by what is asked for by name and is not there.
var ErrNotFound = errors.New("not found")

// A Reading is what a sensor read.
type Reading struct {
	Sensor int64 // see [Sensor.ID]
	At     int64 // µs since 1970-01-01 UTC
	Value  float64
}

// At is an instant as the store counts it.
func At(t time.Time) int64 { return t.UnixMicro() }

// Time is an instant of the store in UTC.
func Time(at int64) time.Time { return time.UnixMicro(at).UTC() }

// Stretches of time in the unit of [Reading.At].
const (
	Second = int64(1e6)
	Minute = 60 * Second
	Hour   = 60 * Minute
	Day    = 24 * Hour
)

// A Bucket sums up the readings of a sensor in a stretch of time.
type Bucket struct {
	From        int64 // its begin
	N           int64 // readings in it, at least 1
	Min, Max    float64
	Sum         float64
	First, Last float64 // in time
}

// Mean is the mean of the readings.
func (b Bucket) Mean() float64 { return b.Sum / float64(b.N) }

// Add puts one more reading, later than all before, into the bucket.
func (b *Bucket) Add(v float64) {
	if b.N == 0 {
		b.Min, b.Max, b.First = v, v, v
	}
	b.N++
	b.Min, b.Max, b.Last = math.Min(b.Min, v), math.Max(b.Max, v), v
	b.Sum += v
}

// Join puts a later bucket into the bucket.
func (b *Bucket) Join(later Bucket) {
	if b.N == 0 {
		from := b.From
		*b = later
		b.From = from
		return
	}
	b.N += later.N
	b.Min, b.Max, b.Last = math.Min(b.Min, later.Min), math.Max(b.Max, later.Max), later.Last
	b.Sum += later.Sum
}

// Readings keep what sensors read.
type Readings interface {
	// Append keeps readings, in any order and however late. It returns when they are
	// on the disk. A value that is no number, a sensor of no id, or an instant outside
	// the years 1970 to 9999 is refused, with all that came with it.
	Append(ctx context.Context, readings []Reading) error

	// Samples are the readings of a sensor from an instant to before another, in
	// order.
	Samples(ctx context.Context, sensor, from, to int64) ([]packed.Sample, error)

	// Buckets sum up the readings of a sensor from an instant to before another, in
	// stretches of width that begin at whole multiples of it; those without a reading
	// are left out. Width is a whole number of seconds. Where it is a whole number of
	// hours the sums by hour serve, which stay when readings are forgotten.
	Buckets(ctx context.Context, sensor, from, to, width int64) ([]Bucket, error)

	// Fold packs what was appended lately, some hundred thousand readings at a time,
	// and returns how many readings it took; 0 if there is no more to do. Nothing that
	// can be read changes by it.
	Fold(ctx context.Context) (int, error)

	// Forget drops the readings of a sensor before an instant, by whole hours; their sums
	// by hour stay. What was appended lately is folded first.
	Forget(ctx context.Context, sensor, before int64) error
}

// A Sensor is what reads.
type Sensor struct {
	ID       int64         `json:"-"` // given by the store
	Key      string        `json:"-"` // what it is called by: "rack-2/air", of its own
	Bench    string        `json:"bench" doc:"where it is; empty for a whole room"`
	Quantity string        `json:"quantity" doc:"what it reads"` // what it reads: "temperature", "PPFD"
	Unit     string        `json:"unit" doc:"of what it sends"`
	X        *float64      `json:"x_m,omitempty" doc:"from the left (m); missing: not said"`
	Y        *float64      `json:"y_m,omitempty" doc:"from the front (m); missing: not said"`
	Height   *float64      `json:"height_m,omitempty" doc:"over the bench (m); missing: not said"`
	Every    time.Duration `json:"every_ns" doc:"between readings, as expected (ns); 0 if not known"` // between readings, as expected; 0 if not known
	Note     string        `json:"note,omitempty" doc:"for people"`

	Calibrations []Calibration `json:"calibrations,omitempty" doc:"in order of their begin"` // ascending by From
}

// A Calibration is what makes a true value of a read one: Gain · (read − Offset).
// Readings are kept as they were sent, so that a calibration can be put right.
type Calibration struct {
	From   int64   `json:"from_us" doc:"instant from which it holds (µs since 1970-01-01 UTC)"` // the instant from which it holds
	Gain   float64 `json:"gain" doc:"true value is gain × (read − offset)"`
	Offset float64 `json:"offset" doc:"in the unit that the sensor sends"`
	By     string  `json:"by,omitempty" doc:"who entered it"`
	Note   string  `json:"note,omitempty" doc:"for people"`
}

// True is what a value means that was read at an instant. Before the first
// calibration it is taken as it was read.
func (s *Sensor) True(at int64, read float64) float64 {
	out := read
	for _, c := range s.Calibrations {
		if c.From > at {
			break
		}
		out = c.Gain * (read - c.Offset)
	}
	return out
}

// Sensors keep the register of sensors.
type Sensors interface {
	// PutSensor enters a sensor, or what has changed of the one with its key, and
	// returns its id, which stays.
	PutSensor(ctx context.Context, s Sensor) (int64, error)
	// Sensor finds one by its key.
	Sensor(ctx context.Context, key string) (Sensor, error)
	// Sensors are all, by key.
	Sensors(ctx context.Context) ([]Sensor, error)
}

// A Version is a bench as it was described from a time on.
type Version struct {
	Bench    string // what it is called by
	Number   int    // from 1, in the order of recording
	From     int64  // since when it was so
	Recorded int64  // when it was entered
	By       string
	Why      string // as who entered it says; empty for nothing
	Text     []byte // the bench file
}

// Benches keep the descriptions of benches. A slip is put right by a version with the
// same From, and both stay.
type Benches interface {
	// PutBench enters a version and returns its number. Number and text of the newest
	// version are returned unchanged if it has the same From and text.
	PutBench(ctx context.Context, v Version) (int, error)
	// PutBenches enters versions of one bench, in order, all or none, and returns the number
	// of the last. A correction of the past may need several.
	PutBenches(ctx context.Context, vs []Version) (int, error)
	// Bench is the version that holds at an instant: of those that hold since then or
	// before, the one with the latest From; of several of one From that entered last.
	Bench(ctx context.Context, bench string, at int64) (Version, error)
	// History is all versions of a bench in the order of recording.
	History(ctx context.Context, bench string) ([]Version, error)
	// Benches are the names of all.
	Benches(ctx context.Context) ([]string, error)
}

// An Observation is what somebody saw or weighed.
type Observation struct {
	ID       string // given by who saw it, so that sending twice enters once
	Bench    string
	At       int64  // when it was seen
	Recorded int64  // when it was entered
	Corrects string // id of the observation that this one replaces; empty for none
	Struck   bool   // the one corrected does not count, and nothing takes its place
	Doc      []byte // what was seen, as JSON
}

// ErrDiffers is wrapped where an id comes again with another content.
var ErrDiffers = errors.New("an entry of this id has another content")

// Observations keep what was seen. They are only ever added.
type Observations interface {
	// Observe enters observations. One whose id is known is taken as sent again if it
	// says the same; if it does not, the call fails with [ErrDiffers] and enters nothing.
	Observe(ctx context.Context, seen []Observation) error
	// Observations are those of a bench seen from an instant to before another, in
	// order, with those that were corrected.
	Observations(ctx context.Context, bench string, from, to int64) ([]Observation, error)
}

// Counting leaves out of observations those that others correct, and the corrections
// that only strike. A correction of a correction counts last.
func Counting(all []Observation) []Observation {
	gone := map[string]bool{}
	for _, o := range all {
		if o.Corrects != "" {
			gone[o.Corrects] = true
		}
	}
	var out []Observation
	for _, o := range all {
		if !gone[o.ID] && !o.Struck {
			out = append(out, o)
		}
	}
	return out
}

// A Document is a text that is kept by kind and name: a file that benches name, the
// mapping of a logger's table, who gets messages.
type Document struct {
	Kind     string
	Name     string
	Recorded int64 // when it was entered
	Text     []byte
}

// Documents keep texts of which the newest counts.
type Documents interface {
	// PutDocument enters a document, in place of the one of its kind and name.
	PutDocument(ctx context.Context, d Document) error
	// SwapDocument enters a document in place of the one of its kind and name, if that
	// still has the text was; nil: if there is none. Otherwise [ErrDiffers].
	SwapDocument(ctx context.Context, d Document, was []byte) error
	// Document finds one.
	Document(ctx context.Context, kind, name string) (Document, error)
	// Documents are all of a kind, by name.
	Documents(ctx context.Context, kind string) ([]Document, error)
	// DropDocument takes one away; one that is not there gives [ErrNotFound].
	DropDocument(ctx context.Context, kind, name string) error
}

// MaxPhoto is the most bytes that a photo may have.
const MaxPhoto = 32 << 20

// A Photo is a picture of plants, apart from its bytes.
type Photo struct {
	ID       string // given by who took it, so that sending twice enters once
	Bench    string
	At       int64  // when it was taken
	Recorded int64  // when it was entered
	Media    string // "image/jpeg"
	Doc      []byte // what it shows, as JSON
}

// Photos keep pictures. They are only ever added.
type Photos interface {
	// PutPhoto enters a photo. One whose id is known is taken as sent again if it is the
	// same; if it is not, the call fails with [ErrDiffers].
	PutPhoto(ctx context.Context, p Photo, data []byte) error
	// Photo finds one, with its bytes.
	Photo(ctx context.Context, id string) (Photo, []byte, error)
	// Photos are those of a bench taken from an instant to before another, in order.
	Photos(ctx context.Context, bench string, from, to int64) ([]Photo, error)
}

// A Device may send readings.
type Device struct {
	Name    string // of its own
	Made    int64
	Revoked int64 // since when it may not send any more; 0 while it may
}

// Devices keep who may send. Of a token only its hash is kept.
type Devices interface {
	// AddDevice enters a device by the SHA-256 of its token. A name that is there gives
	// [ErrDiffers].
	AddDevice(ctx context.Context, d Device, hash [32]byte) error
	// DeviceBy finds the device of a token that may send.
	DeviceBy(ctx context.Context, hash [32]byte) (Device, error)
	// Revoke ends the right of a device to send.
	Revoke(ctx context.Context, name string, at int64) error
	// Devices are all, by name.
	Devices(ctx context.Context) ([]Device, error)
}

// A Message is what a person is told of a bench.
type Message struct {
	ID     int64  `json:"id" doc:"given by the store"`
	Bench  string `json:"bench" doc:"key of the bench"`
	Rule   string `json:"rule" doc:"what it is about"` // what it is about: "humidity high", "silent rack/air"
	Text   string `json:"text" doc:"what is so"`
	Mend   string `json:"mend" doc:"what to do"`
	Urgent bool   `json:"urgent" doc:"it does not wait for the end of quiet hours"`

	Since        int64  `json:"since_us" doc:"since when it is so (µs since 1970-01-01 UTC)"`
	Opened       int64  `json:"opened_us" doc:"when it was noticed (µs since 1970-01-01 UTC)"`
	Closed       int64  `json:"closed_us" doc:"since when it is over (µs since 1970-01-01 UTC); 0 while it is so"`                     // since when it is over; 0 while it is so
	Acknowledged int64  `json:"acknowledged_us" doc:"when somebody said that they know (µs since 1970-01-01 UTC); 0 while nobody has"` // when somebody said that they know; 0 while nobody has
	By           string `json:"by,omitempty" doc:"who said that they know"`
}

// Messages keep what people are told. Of a bench and a rule one message is open at a
// time, however many servers notice the same.
type Messages interface {
	// OpenMessage enters a message if none of its bench and rule is open; else the
	// open one gets its text, what to do, and urgency. It returns the one that is open, and
	// whether it is new.
	OpenMessage(ctx context.Context, m Message) (Message, bool, error)
	// CloseMessage ends the open message of a bench and a rule; false if there is none.
	CloseMessage(ctx context.Context, bench, rule string, at int64) (bool, error)
	// Acknowledge notes who knows of a message; the first counts. One that is not there
	// gives [ErrNotFound].
	Acknowledge(ctx context.Context, id int64, by string, at int64) error
	// OpenMessages are those of a bench that are open, the oldest first; of all benches
	// if the name is empty.
	OpenMessages(ctx context.Context, bench string) ([]Message, error)
	// Messages are those of a bench, of all benches if the name is empty, that were open
	// at any time from an instant to before another, the oldest first.
	Messages(ctx context.Context, bench string, from, to int64) ([]Message, error)
}

// A Delivery is a message on its way to somebody.
type Delivery struct {
	Message  int64  // id
	Event    string // "open" or "close"
	Receiver string // as the list of receivers names them
	Due      int64  // not to be sent before
	Tries    int
	Done     int64  // when it arrived or was given up; 0 before
	Fault    string // of the last try; with Done: it was given up
}

// Deliveries keep what was sent to whom, so that a new start neither loses nor repeats.
type Deliveries interface {
	// PlanDeliveries enters deliveries; of a message, event and receiver that is there
	// nothing changes.
	PlanDeliveries(ctx context.Context, ds []Delivery) error
	// ClaimDeliveries takes some that are due, for the caller alone until an instant. What
	// is not finished then can be claimed again.
	ClaimDeliveries(ctx context.Context, now, until int64, most int) ([]Delivery, error)
	// PutDelivery enters what became of a claimed one, and ends the claim.
	PutDelivery(ctx context.Context, d Delivery) error
	// Deliveries are those of a message.
	Deliveries(ctx context.Context, message int64) ([]Delivery, error)
}

// A Fault is what is wrong with a store.
type Fault struct {
	Where string // "sensor 12, hour 2026-11-25 13:00"
	What  string
	Mend  string // what to do
}

// A Store is all of it.
type Store interface {
	Readings
	Sensors
	Benches
	Observations
	Documents
	Photos
	Measures
	Devices
	People
	Tokens
	Answers
	Whole
	Vitals
	Messages
	Deliveries

	// Verify reads everything and says what does not agree.
	Verify(ctx context.Context) ([]Fault, error)
	Close() error
}
