package plantlabel

import (
	"errors"
	"fmt"
	"strings"

	goqr "github.com/piglig/go-qr"
)

// MaxCode is the most characters that a code has.
const MaxCode = 12

// A Code is what tells one plant from another: 1 to [MaxCode] of 0–9 and A–Z.
type Code string

// ParseCode reads a code as a person types it: small letters, spaces and hyphens are
// taken too.
func ParseCode(text string) (Code, error) {
	s := strings.NewReplacer(" ", "", "-", "").Replace(strings.ToUpper(text))
	if len(s) > MaxCode {
		return "", fmt.Errorf("the code %q has %d characters: give at most %d", text, len(s), MaxCode)
	}
	if s == "" {
		return "", errors.New("the code is empty: give 1 to 12 digits and letters")
	}
	for _, c := range []byte(s) {
		if digit(c) < 0 {
			return "", fmt.Errorf("the code %q has %q: use the digits 0 to 9 and the letters A to Z", text, c)
		}
	}
	return Code(s), nil
}

// Readable is the code in groups of four, for the eyes: ABCD-1234.
func (c Code) Readable() string {
	var out strings.Builder
	for i := range len(c) {
		if i > 0 && i%4 == 0 {
			out.WriteByte('-')
		}
		out.WriteByte(c[i])
	}
	return out.String()
}

// Payload is the text of the QR code on a label of a layout. The code must have passed
// [ParseCode].
func (l Layout) Payload(c Code) string {
	text := "U" + string(l.Letter) + string(c)
	return text + check(text)
}

// ErrForeign is wrapped by what [ParsePayload] says of a text that is no label's.
var ErrForeign = errors.New("this QR code is not that of a plant label")

// ParsePayload reads the text of a QR code. Errors wrap [ErrForeign] unless the text is
// that of a label and damaged.
func ParsePayload(text string) (Layout, Code, error) {
	if len(text) < 5 || len(text) > 4+MaxCode || text[0] != 'U' {
		return Layout{}, "", ErrForeign
	}
	for _, c := range []byte(text) {
		if digit(c) < 0 {
			return Layout{}, "", ErrForeign
		}
	}
	body := text[:len(text)-2]
	if check(body) != text[len(body):] {
		return Layout{}, "", fmt.Errorf("%w, or a damaged one: its check characters are wrong", ErrForeign)
	}
	l, ok := LayoutOf(text[1])
	if !ok {
		return Layout{}, "", fmt.Errorf("the label is of layout %q, which this version does not know: update it", text[1])
	}
	return l, Code(body[2:]), nil
}

// check gives the two check characters of a text of digits and capital letters by
// MOD 1271-36 (ISO7064, recursive method of the pure systems): the text with them, read
// as a number to the base 36, leaves 1 when divided by 1271.
func check(text string) string {
	const modulus, radix = 1271, 36
	p := 0
	for i := range len(text) {
		p = (p + digit(text[i])) * radix % modulus
	}
	p = p * radix % modulus
	c := (modulus + 1 - p) % modulus
	return string([]byte{figures[c/radix], figures[c%radix]})
}

const figures = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"

// digit is the value of a character to the base 36; −1 for others.
func digit(c byte) int { return strings.IndexByte(figures, c) }

// Modules is the QR code of a label row by row; true is dark.
func (l Layout) Modules(c Code) ([Modules][Modules]bool, error) {
	var out [Modules][Modules]bool
	segment, err := goqr.MakeAlphanumeric(l.Payload(c))
	if err != nil {
		return out, fmt.Errorf("the code %q cannot be written: %w", string(c), err)
	}
	code, err := goqr.EncodeSegments([]*goqr.QrSegment{segment}, goqr.Quartile, 1, 1, -1, false)
	if err != nil {
		return out, fmt.Errorf("the code %q does not fit: %w", string(c), err)
	}
	for y := range out {
		for x := range out[y] {
			out[y][x] = code.Module(x, y)
		}
	}
	return out, nil
}
