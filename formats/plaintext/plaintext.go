// Package plaintext turns the bytes of a file that some instrument wrote into lines
// of text, whatever their dress: UTF-8 with or without a mark, UTF-16, or Windows-1252,
// of which Latin-1 is a part; lines that end as in Unix, DOS or of old.
package plaintext

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// ErrEmpty is returned for a file without text.
var ErrEmpty = errors.New("the file is empty")

// A NotTextError says at which line, from 1, a file turns out not to be text.
type NotTextError struct{ Line int }

// Error is the fault with its line.
func (e *NotTextError) Error() string { return fmt.Sprintf("line %d: the file is not text", e.Line) }

// windows1252 are the characters of the bytes 0x80 to 0x9f, where it differs from Latin-1
// (WHATWG, Encoding Standard, index windows-1252).
var windows1252 = [32]rune{
	'€', 0x81, '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', 0x8d, 'Ž', 0x8f,
	0x90, '‘', '’', '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', 0x9d, 'ž', 'Ÿ',
}

// Lines are the lines of a file without their ends, and in notes what was assumed to
// read them. It fails with [ErrEmpty] or a [*NotTextError].
func Lines(raw []byte) (lines, notes []string, err error) {
	if len(bytes.TrimSpace(raw)) == 0 {
		return nil, nil, ErrEmpty
	}
	var s string
	switch order := wide(raw); {
	case order != nil:
		if len(raw)%2 == 1 {
			raw = raw[:len(raw)-1]
		}
		units := make([]uint16, 0, len(raw)/2)
		for i := 0; i+1 < len(raw); i += 2 {
			units = append(units, order.Uint16(raw[i:]))
		}
		s = strings.TrimPrefix(string(utf16.Decode(units)), "\ufeff")
		notes = append(notes, "The text is in UTF-16.")
	case utf8.Valid(raw):
		s = strings.TrimPrefix(string(raw), "\ufeff")
	default:
		// Every byte is a character: µ and ² of older programs, and dashes of office ones.
		r := make([]rune, len(raw))
		for i, b := range raw {
			if r[i] = rune(b); b >= 0x80 && b < 0xa0 {
				r[i] = windows1252[b-0x80]
			}
		}
		s = string(r)
		notes = append(notes, "The text is not UTF-8; it was read as Windows-1252.")
	}
	if i := strings.IndexByte(s, 0); i >= 0 {
		return nil, nil, &NotTextError{1 + strings.Count(s[:i], "\n")}
	}
	s = strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n")
	return strings.Split(s, "\n"), notes, nil
}

// wide returns the byte order of UTF-16 text, by its mark or by the zeros beside
// the digits; nil for other text.
func wide(raw []byte) binary.ByteOrder {
	switch {
	case bytes.HasPrefix(raw, []byte{0xff, 0xfe}):
		return binary.LittleEndian
	case bytes.HasPrefix(raw, []byte{0xfe, 0xff}):
		return binary.BigEndian
	}
	head := raw[:min(len(raw), 512)]
	even, odd := 0, 0
	for i, b := range head {
		if b == 0 {
			if i%2 == 0 {
				even++
			} else {
				odd++
			}
		}
	}
	switch half := len(head) * 2 / 5; {
	case odd > half && even == 0:
		return binary.LittleEndian
	case even > half && odd == 0:
		return binary.BigEndian
	}
	return nil
}
