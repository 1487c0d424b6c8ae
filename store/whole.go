package store

import (
	"context"
	"errors"

	"underlamp/store/packed"
)

// ErrNotEmpty is wrapped where a store must be empty and is not.
var ErrNotEmpty = errors.New("the store is not empty")

// A Kind is what a column holds.
type Kind int

// Kinds of columns, and the Go types of their values.
const (
	Integer Kind = iota // int64
	Text                // string
	Bytes               // []byte, a text or JSON as a rule
	File                // []byte, large: a picture
)

// A Column is one of a table.
type Column struct {
	Name  string
	Kind  Kind
	Later bool // it came later: an archive without it has the empty value
}

// A Table is entries of one kind as the store keeps them, apart from readings.
type Table struct {
	Name    string
	Columns []Column
}

// A Sink takes all of a store.
type Sink interface {
	// Row takes an entry, values in the order of the columns.
	Row(t Table, values []any) error
	// Hour takes what a sensor read in an hour, in order, by sensor and hour. Where the
	// readings were forgotten there are none, and sum is what stays of them; else it
	// need not be given. Samples may be used again after the call.
	Hour(sensor int64, sum Bucket, samples []packed.Sample) error
}

// A Whole is a store that can be taken out and filled as a whole.
type Whole interface {
	// Tables are those that Dump hands over, in their order. A name stays, and so do
	// columns; later versions may add some.
	Tables() []Table
	// Dump hands over all of the store as it is at one instant, while it is in use, in an
	// order that depends on the content alone. What is appended is folded first, as
	// far as possible: the rest is held in memory.
	Dump(ctx context.Context, to Sink) error
	// Load fills the store with what fill hands over, all or nothing. A store that is not
	// empty is refused with [ErrNotEmpty].
	Load(ctx context.Context, fill func(to Sink) error) error
	// Size says how much is kept, and on how many bytes.
	Size(ctx context.Context) (Size, error)
}

// A Size is how much a store keeps.
type Size struct {
	Bytes   int64 // of the whole, on the disk
	Waiting int64 // readings that are not folded yet
	Tables  []TableSize
	Sensors []SensorSize // by id
}

// A TableSize is how many entries a table has.
type TableSize struct {
	Name string
	Rows int64
}

// A SensorSize is what is kept of a sensor, folded.
type SensorSize struct {
	ID          int64
	Readings    int64 // that can still be read
	Bytes       int64 // of them
	Forgotten   int64 // of which only the sums by hour are left
	First, Last int64 // the begin of its first hour and of its last
}

// Vitals are what tells at any moment, and cheaply, how a store is.
type Vitals interface {
	// Latest is the newest reading of every sensor that has one, by sensor. Of a sensor whose
	// last hour was forgotten it is the last value at the begin of that hour.
	Latest(ctx context.Context) ([]Reading, error)
	// Backlog is how many readings are not folded yet.
	Backlog(ctx context.Context) (int64, error)
	// Ping fails if the store cannot be written to. It leaves nothing behind, and so does not
	// notice a full disk.
	Ping(ctx context.Context) error
}
