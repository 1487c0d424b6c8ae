package parquetfile

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"io"
	"math"
	"time"

	"underlamp/formats/tables"
)

// groupRows is how many rows are held before they are written.
const groupRows = 1 << 16

// The numbers of the format.
const (
	typeBoolean, typeInt32, typeInt64, typeDouble, typeBytes = 0, 1, 2, 5, 6

	convertedUTF8, convertedDate, convertedMillis = 0, 6, 9

	encodingPlain, encodingRLE = 0, 3

	codecGzip = 2

	pageData = 0

	required, optional = 0, 1
)

// A Pair is metadata by key.
type Pair struct{ Key, Value string }

// Write writes a table. by names the program.
func Write(w io.Writer, t *tables.Table, by string, more ...Pair) error {
	if err := t.Check(); err != nil {
		return err
	}
	f := &file{w: bufio.NewWriterSize(w, 1<<16), table: t}
	f.put([]byte("PAR1"))
	rows := make([][]any, len(t.Columns)) // by column
	n := 0
	flush := func() error {
		if n == 0 {
			return nil
		}
		err := f.group(rows, n)
		for i := range rows {
			rows[i] = rows[i][:0]
		}
		n = 0
		return err
	}
	err := t.Each(func(row []any) error {
		for i, cell := range row {
			rows[i] = append(rows[i], cell)
		}
		if n++; n == groupRows {
			return flush()
		}
		return f.err
	})
	if err != nil {
		return err
	}
	if err := flush(); err != nil {
		return err
	}
	f.footer(by, more)
	if f.err != nil {
		return f.err
	}
	return f.w.Flush()
}

type chunk struct {
	column           int
	values           int64
	offset           int64
	packed, unpacked int64
}

type group struct {
	chunks []chunk
	rows   int64
}

type file struct {
	w      *bufio.Writer
	at     int64
	err    error
	table  *tables.Table
	groups []group
}

func (f *file) put(p []byte) {
	if f.err == nil {
		_, f.err = f.w.Write(p)
	}
	f.at += int64(len(p))
}

// group writes n rows.
func (f *file) group(rows [][]any, n int) error {
	g := group{rows: int64(n)}
	var page bytes.Buffer
	for i, c := range f.table.Columns {
		page.Reset()
		if !c.Required {
			levels(&page, rows[i])
		}
		values(&page, c.Kind, rows[i])
		var packed bytes.Buffer
		z, err := gzip.NewWriterLevel(&packed, gzip.BestSpeed)
		if err != nil {
			return err
		}
		if _, err := z.Write(page.Bytes()); err != nil {
			return err
		}
		if err := z.Close(); err != nil {
			return err
		}
		var h compact
		h.begin()
		h.i32(1, pageData)
		h.i32(2, int32(page.Len()))
		h.i32(3, int32(packed.Len()))
		h.structure(5, func() {
			h.i32(1, int32(n))
			h.i32(2, encodingPlain)
			h.i32(3, encodingRLE)
			h.i32(4, encodingRLE)
		})
		h.end()
		x := chunk{column: i, values: int64(n), offset: f.at, packed: int64(h.Len() + packed.Len()), unpacked: int64(h.Len() + page.Len())}
		f.put(h.Bytes())
		f.put(packed.Bytes())
		g.chunks = append(g.chunks, x)
	}
	f.groups = append(f.groups, g)
	return f.err
}

// levels writes which cells are there, as runs (hybrid of run lengths, one bit wide) after
// their length in four bytes.
func levels(to *bytes.Buffer, cells []any) {
	var b []byte
	for i := 0; i < len(cells); {
		j := i
		for j < len(cells) && (cells[j] == nil) == (cells[i] == nil) {
			j++
		}
		b = binary.AppendUvarint(b, uint64(j-i)<<1)
		if cells[i] == nil {
			b = append(b, 0)
		} else {
			b = append(b, 1)
		}
		i = j
	}
	to.Write(binary.LittleEndian.AppendUint32(nil, uint32(len(b))))
	to.Write(b)
}

// values writes the cells that are there, plainly.
func values(to *bytes.Buffer, kind tables.Kind, cells []any) {
	var b [8]byte
	var bits byte
	have := 0
	for _, cell := range cells {
		switch x := cell.(type) {
		case string:
			binary.LittleEndian.PutUint32(b[:], uint32(len(x)))
			to.Write(b[:4])
			to.WriteString(x)
		case float64:
			binary.LittleEndian.PutUint64(b[:], math.Float64bits(x))
			to.Write(b[:])
		case int64:
			binary.LittleEndian.PutUint64(b[:], uint64(x))
			to.Write(b[:])
		case tables.Day:
			binary.LittleEndian.PutUint32(b[:], uint32(int32(x.Midnight().Unix()/86400)))
			to.Write(b[:4])
		case time.Time:
			binary.LittleEndian.PutUint64(b[:], uint64(x.UnixMilli()))
			to.Write(b[:])
		case bool:
			if x {
				bits |= 1 << have
			}
			if have++; have == 8 {
				to.WriteByte(bits)
				bits, have = 0, 0
			}
		}
	}
	if kind == tables.Yes && have > 0 {
		to.WriteByte(bits)
	}
}

func physical(k tables.Kind) int32 {
	switch k {
	case tables.Number:
		return typeDouble
	case tables.Whole, tables.Time:
		return typeInt64
	case tables.Yes:
		return typeBoolean
	case tables.Date:
		return typeInt32
	}
	return typeBytes
}

// footer describes the file, after its groups.
func (f *file) footer(by string, more []Pair) {
	t := f.table
	var h compact
	h.begin()
	h.i32(1, 1) // version
	h.list(2, len(t.Columns)+1, func(i int) {
		h.begin()
		if i == 0 {
			h.text(4, "schema")
			h.i32(5, int32(len(t.Columns)))
			h.end()
			return
		}
		c := t.Columns[i-1]
		h.i32(1, physical(c.Kind))
		if c.Required {
			h.i32(3, required)
		} else {
			h.i32(3, optional)
		}
		h.text(4, c.Name)
		switch c.Kind { // both words for it, the older and the newer
		case tables.Text:
			h.i32(6, convertedUTF8)
			h.structure(10, func() { h.structure(1, func() {}) })
		case tables.Date:
			h.i32(6, convertedDate)
			h.structure(10, func() { h.structure(6, func() {}) })
		case tables.Time:
			h.i32(6, convertedMillis)
			h.structure(10, func() {
				h.structure(8, func() {
					h.yes(1)
					h.structure(2, func() { h.structure(1, func() {}) })
				})
			})
		}
		h.end()
	})
	rows := int64(0)
	for _, g := range f.groups {
		rows += g.rows
	}
	h.i64(3, rows)
	h.list(4, len(f.groups), func(i int) {
		g := f.groups[i]
		total, packed := int64(0), int64(0)
		for _, c := range g.chunks {
			total, packed = total+c.unpacked, packed+c.packed
		}
		h.begin()
		h.list(1, len(g.chunks), func(k int) {
			c := g.chunks[k]
			h.begin()
			h.i64(2, c.offset)
			h.structure(3, func() {
				h.i32(1, physical(t.Columns[c.column].Kind))
				h.list32(2, encodingPlain, encodingRLE)
				h.texts(3, t.Columns[c.column].Name)
				h.i32(4, codecGzip)
				h.i64(5, c.values)
				h.i64(6, c.unpacked)
				h.i64(7, c.packed)
				h.i64(9, c.offset)
			})
			h.end()
		})
		h.i64(2, total)
		h.i64(3, g.rows)
		h.i64(6, packed)
		h.end()
	})
	pairs := []Pair{{"title", t.Title}, {"description", t.About}}
	for _, c := range t.Columns {
		pairs = append(pairs, Pair{"description." + c.Name, c.About})
		if c.Unit != "" {
			pairs = append(pairs, Pair{"unit." + c.Name, c.Unit})
		}
	}
	pairs = append(pairs, more...)
	h.list(5, len(pairs), func(i int) {
		h.begin()
		h.text(1, pairs[i].Key)
		h.text(2, pairs[i].Value)
		h.end()
	})
	h.text(6, by)
	h.end()
	f.put(h.Bytes())
	f.put(binary.LittleEndian.AppendUint32(nil, uint32(h.Len())))
	f.put([]byte("PAR1"))
}

// compact writes the compact protocol of Thrift.
type compact struct {
	bytes.Buffer
	last []int16 // ids of the fields before, of the structures that are open
}

// The types of the protocol.
const (
	kindTrue   = 1
	kindI32    = 5
	kindI64    = 6
	kindBinary = 8
	kindList   = 9
	kindStruct = 12
)

func (c *compact) begin() { c.last = append(c.last, 0) }
func (c *compact) end() {
	c.WriteByte(0)
	c.last = c.last[:len(c.last)-1]
}

func (c *compact) field(id int16, kind byte) {
	was := &c.last[len(c.last)-1]
	if d := id - *was; d > 0 && d <= 15 {
		c.WriteByte(byte(d)<<4 | kind)
	} else {
		c.WriteByte(kind)
		c.zigzag(int64(id))
	}
	*was = id
}

func (c *compact) zigzag(x int64) { c.Write(binary.AppendVarint(nil, x)) }

func (c *compact) i32(id int16, x int32) { c.field(id, kindI32); c.zigzag(int64(x)) }
func (c *compact) i64(id int16, x int64) { c.field(id, kindI64); c.zigzag(x) }
func (c *compact) yes(id int16)          { c.field(id, kindTrue) }

func (c *compact) bin(s string) {
	c.Write(binary.AppendUvarint(nil, uint64(len(s))))
	c.WriteString(s)
}

func (c *compact) text(id int16, s string) { c.field(id, kindBinary); c.bin(s) }

func (c *compact) structure(id int16, fill func()) {
	c.field(id, kindStruct)
	c.begin()
	fill()
	c.end()
}

func (c *compact) size(id int16, n int, kind byte) {
	c.field(id, kindList)
	if n < 15 {
		c.WriteByte(byte(n)<<4 | kind)
		return
	}
	c.WriteByte(0xF0 | kind)
	c.Write(binary.AppendUvarint(nil, uint64(n)))
}

// list writes structures; item begins and ends its own.
func (c *compact) list(id int16, n int, item func(i int)) {
	c.size(id, n, kindStruct)
	for i := range n {
		item(i)
	}
}

func (c *compact) list32(id int16, all ...int32) {
	c.size(id, len(all), kindI32)
	for _, x := range all {
		c.zigzag(int64(x))
	}
}

func (c *compact) texts(id int16, all ...string) {
	c.size(id, len(all), kindBinary)
	for _, s := range all {
		c.bin(s)
	}
}
