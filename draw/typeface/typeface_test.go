package typeface_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"underlamp/draw/typeface"
)

var styles = []typeface.Style{{}, {Bold: true}, {Italic: true}, {Bold: true, Italic: true}}

// Every character that stands in a report of the golden files has a letter in every
// style, and so have the letters that names in Europe have.
func TestReportsHaveLetters(t *testing.T) {
	files, err := filepath.Glob("../../report/testdata/*.golden")
	if err != nil || len(files) == 0 {
		t.Fatal(files, err)
	}
	text := "ÀÁÂÃÄÅÆÇÈÉÊËÌÍÎÏÐÑÒÓÔÕÖØÙÚÛÜÝÞßĀĂĄĆČĎĐĒĘĚĞĢĪİĶĻŁŃŅŇŐŒŘŚŞŠŢŤŪŮŰŲŹŻŽȘȚ ΑΒΓΔΕΖΗΘΙΚΛΜΝΞΟΠΡΣΤΥΦΧΨΩ АБВГДЕЖЗИЙКЛМНОПРСТУФХЦЧШЩЪЫЬЭЮЯІЇЄЂЉЊЋЏ ⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻₀₁₂₃₄ ½¼¾⅓ µμ°±×÷−·≈≤≥≠∞√∛∫∑∂ ←↑→↓ ✓✗☐ €£ „“”‘’«»–—…•"
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		text += string(data)
	}
	seen := map[rune]bool{}
	for _, r := range text {
		if seen[r] || unicode.IsControl(r) {
			continue
		}
		seen[r] = true
		for _, s := range styles {
			if typeface.Of(s, r).Missing {
				t.Errorf("%q (U+%04X) has no letter in %+v", r, r, s)
			}
		}
	}
}

// A part of a font is a font: the reader of x/image gives the same outlines and
// widths for it as for the whole.
func TestSubset(t *testing.T) {
	for _, s := range styles {
		var list = []uint16{0}
		var letters []typeface.Letter
		face := typeface.Of(s, 'A').Face
		for _, r := range "Ällo, é½ñ\u00a0Ж5" {
			l := typeface.Of(s, r)
			if l.Face != face {
				t.Fatalf("%q stands in %s", r, l.Face.Name)
			}
			list, letters = append(list, l.Glyph), append(letters, l)
		}
		data, err := face.Subset(list)
		if err != nil {
			t.Fatal(err)
		}
		if len(data) > 12_000 {
			t.Errorf("%s: %d letters take %d bytes", face.Name, len(list), len(data))
		}
		// x/image wants tables that a PDF does not: it is lent those of an empty cmap.
		got, err := sfnt.Parse(lend(t, data))
		if err != nil {
			t.Fatalf("%s: %v", face.Name, err)
		}
		var buf sfnt.Buffer
		for i, l := range letters {
			segs, err := got.LoadGlyph(&buf, sfnt.GlyphIndex(i+1), fixed.I(typeface.UnitsPerEm), nil)
			if err != nil {
				t.Fatal(err)
			}
			want, err := l.Face.Outline(l.Glyph)
			if err != nil {
				t.Fatal(err)
			}
			if len(segs) != len(want) {
				t.Errorf("%s, letter %d: %d segments, and were %d", face.Name, i, len(segs), len(want))
				continue
			}
			for k, s := range segs {
				x, y := float64(s.Args[0].X)/64, -float64(s.Args[0].Y)/64
				if w := want[k].At[0]; w != [2]float64{x, y} {
					t.Errorf("%s, letter %d, segment %d: (%g, %g), and was %v", face.Name, i, k, x, y, w)
					break
				}
			}
			adv, err := got.GlyphAdvance(&buf, sfnt.GlyphIndex(i+1), fixed.I(typeface.UnitsPerEm), 0)
			if err != nil || int(adv/64) != l.Advance {
				t.Errorf("%s, letter %d: advance %v, want %d; %v", face.Name, i, adv, l.Advance, err)
			}
		}
	}
}

func TestMissing(t *testing.T) {
	if l := typeface.Of(typeface.Style{}, '光'); !l.Missing || l.Advance == 0 {
		t.Errorf("an ideograph is %+v", l)
	}
	if w := typeface.Width(typeface.Style{}, "nn"); w != 2*typeface.Of(typeface.Style{}, 'n').Advance {
		t.Errorf("two letters are %d wide", w)
	}
	if _, err := typeface.Of(typeface.Style{}, 'A').Face.Subset([]uint16{0, 65535}); err == nil {
		t.Error("a glyph that is none is taken")
	}
	if !strings.Contains(typeface.License, "SIL OPEN FONT LICENSE Version 1.1") {
		t.Error("the licence is not that of the fonts")
	}
}

// What is the same in all fonts.
func TestUnits(t *testing.T) {
	for _, r := range "A√✓" {
		face := typeface.Of(typeface.Style{}, r).Face
		data, err := os.ReadFile("fonts/" + face.Name + ".ttf")
		if err != nil {
			t.Fatal(err)
		}
		f, err := sfnt.Parse(data)
		if err != nil || f.UnitsPerEm() != typeface.UnitsPerEm || f.NumGlyphs() != face.Glyphs() {
			t.Errorf("%s: %v units, %v", face.Name, f.UnitsPerEm(), err)
		}
	}
}
