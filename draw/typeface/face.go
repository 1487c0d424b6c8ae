package typeface

import (
	"embed"
	"encoding/binary"
	"fmt"
	"sync"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

//go:embed fonts/*.ttf
var files embed.FS

// License is the licence of the fonts, to be shown or passed on with them.
//
//go:embed fonts/OFL.txt
var License string

// UnitsPerEm is how many units make the size of the type, in all faces.
const UnitsPerEm = 1000

// Heights of the text faces over and under the line, and of capitals.
const (
	Ascent    = 1069
	Descent   = 293
	CapHeight = 714
)

// A Style says which text face is meant.
type Style struct{ Bold, Italic bool }

// A Face is one font.
type Face struct {
	Name   string // as in the font: NotoSans-Bold
	Bold   bool
	Italic bool

	font   *sfnt.Font
	tables map[string][]byte
	short  bool // loca in 16 bits
	glyphs int
	metric int // how many advances hmtx has
}

// A Letter is a character in a face.
type Letter struct {
	Face    *Face
	Glyph   uint16
	Advance int  // to the next letter, units
	Missing bool // no face has the character: the letter is an empty box
}

var load = sync.OnceValue(func() map[string]*Face {
	faces := map[string]*Face{}
	for _, name := range []string{"NotoSans-Regular", "NotoSans-Bold", "NotoSans-Italic", "NotoSans-BoldItalic", "NotoSansMath-Regular", "NotoSansSymbols2-Regular"} {
		data, err := files.ReadFile("fonts/" + name + ".ttf")
		if err == nil {
			faces[name], err = parse(name, data)
		}
		if err != nil {
			panic("typeface: " + err.Error()) // the fonts are part of the program
		}
	}
	return faces
})

// parse reads a font.
func parse(name string, data []byte) (*Face, error) {
	f, err := sfnt.Parse(data)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	face := &Face{Name: name, font: f, glyphs: f.NumGlyphs(), tables: map[string][]byte{}}
	for i := range int(binary.BigEndian.Uint16(data[4:])) {
		entry := data[12+16*i:]
		at, n := binary.BigEndian.Uint32(entry[8:]), binary.BigEndian.Uint32(entry[12:])
		if uint64(at)+uint64(n) > uint64(len(data)) {
			return nil, fmt.Errorf("%s: table %q ends after the file", name, entry[:4])
		}
		face.tables[string(entry[:4])] = data[at : at+n]
	}
	for _, need := range []string{"glyf", "head", "hhea", "hmtx", "loca", "maxp"} {
		if face.tables[need] == nil {
			return nil, fmt.Errorf("%s has no table %q", name, need)
		}
	}
	face.short = binary.BigEndian.Uint16(face.tables["head"][50:]) == 0
	face.metric = int(binary.BigEndian.Uint16(face.tables["hhea"][34:]))
	face.Bold = name == "NotoSans-Bold" || name == "NotoSans-BoldItalic"
	face.Italic = name == "NotoSans-Italic" || name == "NotoSans-BoldItalic"
	return face, nil
}

// styleName is the text face of a style.
func styleName(s Style) string {
	switch {
	case s.Bold && s.Italic:
		return "NotoSans-BoldItalic"
	case s.Bold:
		return "NotoSans-Bold"
	case s.Italic:
		return "NotoSans-Italic"
	}
	return "NotoSans-Regular"
}

type key struct {
	style Style
	r     rune
}

var letters sync.Map // key → Letter; as many as the faces have characters, and what is missing is not kept

// Of is the letter of a character in a style: of its text face, or else of the
// faces with signs. A character that none of them has is an empty box of the text
// face.
func Of(s Style, r rune) Letter {
	if l, ok := letters.Load(key{s, r}); ok {
		return l.(Letter)
	}
	faces := load()
	var buf sfnt.Buffer
	for _, name := range []string{styleName(s), "NotoSansMath-Regular", "NotoSansSymbols2-Regular"} {
		f := faces[name]
		if g, err := f.font.GlyphIndex(&buf, r); err == nil && g != 0 {
			l := Letter{Face: f, Glyph: uint16(g), Advance: f.Advance(uint16(g))}
			letters.Store(key{s, r}, l)
			return l
		}
	}
	f := faces[styleName(s)]
	return Letter{Face: f, Advance: f.Advance(0), Missing: true}
}

// Width is how wide a text is in a style, in units.
func Width(s Style, text string) int {
	w := 0
	for _, r := range text {
		w += Of(s, r).Advance
	}
	return w
}

// Advance is how far it is from a glyph to the next, in units.
func (f *Face) Advance(g uint16) int {
	i := min(int(g), f.metric-1)
	return int(binary.BigEndian.Uint16(f.tables["hmtx"][4*i:]))
}

// Glyphs is how many glyphs the face has.
func (f *Face) Glyphs() int { return f.glyphs }

// Box is the box about all glyphs: left, bottom, right, top in units.
func (f *Face) Box() [4]int {
	var b [4]int
	for i := range b {
		b[i] = int(int16(binary.BigEndian.Uint16(f.tables["head"][36+2*i:])))
	}
	return b
}

// A Segment is a piece of an outline: M and L have one point, Q has a control
// point and its end.
type Segment struct {
	Op byte // 'M', 'L' or 'Q'
	At [2][2]float64
}

// Outline is the shape of a glyph, in units, y upwards. Contours are closed.
func (f *Face) Outline(g uint16) ([]Segment, error) {
	var buf sfnt.Buffer
	segs, err := f.font.LoadGlyph(&buf, sfnt.GlyphIndex(g), fixed.I(UnitsPerEm), &sfnt.LoadGlyphOptions{})
	if err != nil {
		return nil, fmt.Errorf("glyph %d of %s cannot be drawn: %w", g, f.Name, err)
	}
	out := make([]Segment, 0, len(segs))
	p := func(x fixed.Point26_6) [2]float64 { return [2]float64{float64(x.X) / 64, -float64(x.Y) / 64} }
	for _, s := range segs {
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			out = append(out, Segment{'M', [2][2]float64{p(s.Args[0])}})
		case sfnt.SegmentOpLineTo:
			out = append(out, Segment{'L', [2][2]float64{p(s.Args[0])}})
		case sfnt.SegmentOpQuadTo:
			out = append(out, Segment{'Q', [2][2]float64{p(s.Args[0]), p(s.Args[1])}})
		default:
			return nil, fmt.Errorf("glyph %d of %s has a cubic curve, which no font with glyf has", g, f.Name)
		}
	}
	return out, nil
}
