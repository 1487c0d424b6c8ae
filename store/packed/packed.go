package packed

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"math"
	"math/bits"
	"slices"
)

// A Sample is one reading of a sensor.
type Sample struct {
	At    int64 // µs since 1970-01-01 UTC
	Value float64
}

const (
	bare     = 1 // layout without a checksum, of earlier versions
	layout   = 2
	decimals = 0  // mode of values: 0 to maxE is the exponent of ten
	maxE     = 9  // 10^9 and whole numbers below 2^53 leave room for six digits before the point
	asBits   = 15 // mode of values: their bits
)

// Most is the largest number of samples of a block: a reading every millisecond
// for an hour.
const Most = 3_600_000

// tens are exact in float64.
var tens = [maxE + 1]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9}

// Encode appends the block of samples to dst. Times must ascend strictly, and values
// be numbers; it panics if they do not, or if there are more than [Most].
func Encode(dst []byte, start int64, samples []Sample) []byte {
	if len(samples) > Most {
		panic("packed: too many samples for a block")
	}
	begin := len(dst)
	dst = append(dst, layout)
	dst = binary.AppendUvarint(dst, uint64(len(samples)))
	if len(samples) > 0 {
		dst = binary.AppendVarint(dst, samples[0].At-start)
		dst = appendTimes(dst, samples)
		dst = appendValues(dst, samples)
	}
	return binary.LittleEndian.AppendUint32(dst, checksum(start, dst[begin:]))
}

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// checksum covers the start too, spread over its 32 bits, so that a block in the place of
// another is noticed.
func checksum(start int64, data []byte) uint32 {
	return crc32.Update(uint32(uint64(start)*0x9E3779B97F4A7C15>>32), castagnoli, data)
}

func appendTimes(dst []byte, samples []Sample) []byte {
	step, change, run := int64(0), int64(0), uint64(0)
	flush := func() {
		if run > 0 {
			dst = binary.AppendVarint(dst, change)
			dst = binary.AppendUvarint(dst, run)
		}
	}
	for i := 1; i < len(samples); i++ {
		now := samples[i].At - samples[i-1].At
		if now <= 0 {
			panic("packed: times do not ascend")
		}
		if d := now - step; run > 0 && d == change {
			run++
		} else {
			flush()
			change, run = d, 1
		}
		step = now
	}
	flush()
	return dst
}

func appendValues(dst []byte, samples []Sample) []byte {
	if e, ok := exponent(samples); ok {
		dst = append(dst, byte(decimals+e))
		last := int64(0)
		for _, s := range samples {
			v := int64(math.Round(s.Value * tens[e]))
			dst = binary.AppendVarint(dst, v-last)
			last = v
		}
		return dst
	}
	dst = append(dst, asBits)
	last := uint64(0)
	for _, s := range samples {
		v := math.Float64bits(s.Value)
		x := v ^ last
		last = v
		// The zero bytes in front and behind are counted, the others written.
		lead, trail := bits.LeadingZeros64(x)/8, bits.TrailingZeros64(x)/8
		if x == 0 {
			lead, trail = 8, 0
		}
		dst = append(dst, byte(lead<<4|trail))
		for k := 7 - lead; k >= trail; k-- {
			dst = append(dst, byte(x>>(8*k)))
		}
	}
	return dst
}

// exponent is the smallest e for which every value is a whole number of 10^−e,
// exactly as a float64.
func exponent(samples []Sample) (int, bool) {
	e := 0
	for _, s := range samples {
		for !whole(s.Value, e) {
			if math.IsNaN(s.Value) {
				panic("packed: a value is no number")
			}
			if e++; e > maxE {
				return 0, false
			}
		}
	}
	// A larger exponent than one value asked for must still carry it.
	for _, s := range samples {
		if !whole(s.Value, e) {
			return 0, false
		}
	}
	return e, true
}

func whole(v float64, e int) bool {
	k := math.Round(v * tens[e])
	return math.Abs(k) < 1<<53 && k/tens[e] == v && (k != 0 || !math.Signbit(v))
}

var errShort = errors.New("packed: the block ends too early")

// A reader takes numbers from a block.
type reader struct {
	data []byte
	err  error
}

func (r *reader) byte() byte {
	if len(r.data) == 0 {
		r.err = errShort
		return 0
	}
	b := r.data[0]
	r.data = r.data[1:]
	return b
}

func (r *reader) unsigned() uint64 {
	v, n := binary.Uvarint(r.data)
	if n <= 0 {
		r.err = errShort
		return 0
	}
	r.data = r.data[n:]
	return v
}

func (r *reader) signed() int64 {
	v, n := binary.Varint(r.data)
	if n <= 0 {
		r.err = errShort
		return 0
	}
	r.data = r.data[n:]
	return v
}

// Decode appends the samples of a block to dst. A block that was not written by
// [Encode] gives an error, and dst as it was.
func Decode(dst []Sample, start int64, data []byte) ([]Sample, error) {
	if len(data) == 0 {
		return dst, errShort
	}
	switch l := data[0]; l {
	case bare:
	case layout:
		n := len(data) - 4
		if n < 1 {
			return dst, errShort
		}
		if binary.LittleEndian.Uint32(data[n:]) != checksum(start, data[:n]) {
			return dst, errors.New("packed: the checksum does not match")
		}
		data = data[:n]
	default:
		return dst, fmt.Errorf("packed: layout %d is not known to this version, which reads up to %d", l, layout)
	}
	r := reader{data: data[1:]}
	n := r.unsigned()
	switch {
	case r.err != nil:
		return dst, r.err
	case n > Most || n > uint64(len(data)): // every value takes a byte or more
		return dst, fmt.Errorf("packed: %d samples in %d bytes", n, len(data))
	case n == 0 && len(r.data) > 0:
		return dst, errors.New("packed: an empty block has more to it")
	case n == 0:
		return dst, nil
	}
	out := slices.Grow(dst, int(n))[:len(dst)+int(n)]
	samples := out[len(dst):]
	if err := r.times(samples, start); err != nil {
		return dst, err
	}
	if err := r.values(samples); err != nil {
		return dst, err
	}
	if len(r.data) > 0 {
		return dst, fmt.Errorf("packed: %d bytes too many", len(r.data))
	}
	return out, nil
}

func (r *reader) times(samples []Sample, start int64) error {
	at := start + r.signed()
	samples[0].At = at
	step := int64(0)
	for i := 1; i < len(samples) && r.err == nil; {
		change, run := r.signed(), r.unsigned()
		if r.err == nil && (run == 0 || run > uint64(len(samples)-i)) {
			return errors.New("packed: the times do not match the number of samples")
		}
		for range run {
			step += change
			if step <= 0 || at > math.MaxInt64-step {
				return errors.New("packed: times do not ascend")
			}
			at += step
			samples[i].At = at
			i++
		}
	}
	return r.err
}

func (r *reader) values(samples []Sample) error {
	mode := r.byte()
	switch {
	case r.err != nil:
		return r.err
	case mode <= maxE:
		last := int64(0)
		for i := range samples {
			last += r.signed()
			if r.err != nil {
				return r.err
			}
			samples[i].Value = float64(last) / tens[mode]
		}
		return nil
	case mode != asBits:
		return fmt.Errorf("packed: values of kind %d are not known", mode)
	}
	last := uint64(0)
	for i := range samples {
		h := r.byte()
		lead, trail := int(h>>4), int(h&15)
		if lead > 8 || lead+trail > 8 {
			return errors.New("packed: a value has more bytes than a number")
		}
		x := uint64(0)
		for k := 7 - lead; k >= trail; k-- {
			x |= uint64(r.byte()) << (8 * k)
		}
		if r.err != nil {
			return r.err
		}
		last ^= x
		samples[i].Value = math.Float64frombits(last)
		if math.IsNaN(samples[i].Value) {
			return errors.New("packed: a value is no number")
		}
	}
	return nil
}

// Merge joins two runs of samples, each with strictly ascending times. Where both
// have one of the same instant, that of later counts.
func Merge(dst, earlier, later []Sample) []Sample {
	for len(earlier) > 0 && len(later) > 0 {
		switch a, b := earlier[0], later[0]; {
		case a.At < b.At:
			dst, earlier = append(dst, a), earlier[1:]
		case a.At > b.At:
			dst, later = append(dst, b), later[1:]
		default:
			dst, earlier, later = append(dst, b), earlier[1:], later[1:]
		}
	}
	return append(append(dst, earlier...), later...)
}
