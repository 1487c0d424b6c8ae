package plaintext_test

import (
	"errors"
	"slices"
	"testing"
	"unicode/utf16"

	"underlamp/formats/plaintext"
)

// One text in every dress gives the same lines.
func TestDresses(t *testing.T) {
	const text = "Zeit;PPFD µmol/m²/s\n12,5;1"
	want := []string{"Zeit;PPFD µmol/m²/s", "12,5;1"}
	wide := func(little, mark bool) (out []byte) {
		units := utf16.Encode([]rune(text))
		if mark {
			units = append([]uint16{0xfeff}, units...)
		}
		for _, u := range units {
			if little {
				out = append(out, byte(u), byte(u>>8))
			} else {
				out = append(out, byte(u>>8), byte(u))
			}
		}
		return out
	}
	var latin []byte
	for _, r := range text {
		latin = append(latin, byte(r))
	}
	for name, raw := range map[string][]byte{
		"UTF-8": []byte(text), "with a mark": []byte("\ufeff" + text), "DOS": []byte("Zeit;PPFD µmol/m²/s\r\n12,5;1"), "old": []byte("Zeit;PPFD µmol/m²/s\r12,5;1"),
		"UTF-16 little": wide(true, true), "UTF-16 big": wide(false, true), "UTF-16 without a mark": wide(true, false), "UTF-16 big without a mark": wide(false, false),
		"Latin-1": latin,
	} {
		if got, _, err := plaintext.Lines(raw); err != nil || !slices.Equal(got, want) {
			t.Errorf("%s: %q, %v", name, got, err)
		}
	}
}

func TestNoText(t *testing.T) {
	if _, _, err := plaintext.Lines([]byte(" \r\n\t")); !errors.Is(err, plaintext.ErrEmpty) {
		t.Errorf("nothing: %v", err)
	}
	if _, _, err := plaintext.Lines([]byte("a\nb\x00\x01c, and so on")); err == nil || err.Error() != "line 2: the file is not text" {
		t.Errorf("bytes: %v", err)
	}
}
