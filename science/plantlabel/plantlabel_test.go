package plantlabel

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// ISO/IEC 7064:2003, section 8.2, "Example using recursive method": ISO79 has the check
// characters 3W (as quoted in the tests of two open implementations that cite the section).
func TestCheckCharactersOfTheStandard(t *testing.T) {
	if got := check("ISO79"); got != "3W" {
		t.Errorf("check characters of ISO79: %s, want 3W", got)
	}
}

func TestParseCode(t *testing.T) {
	for _, c := range []struct{ in, want, fault string }{
		{"ab-12", "AB12", ""},
		{"  7k 3q ", "7K3Q", ""},
		{"ABCDEFGHIJKL", "ABCDEFGHIJKL", ""},
		{"ABCDEFGHIJKLM", "", "at most 12"},
		{" - ", "", "empty"},
		{"A_B", "", "digits 0 to 9"},
		{"Ä", "", "digits 0 to 9"},
	} {
		got, err := ParseCode(c.in)
		if string(got) != c.want || (err == nil) != (c.fault == "") || err != nil && !strings.Contains(err.Error(), c.fault) {
			t.Errorf("ParseCode(%q) = %q, %v; want %q, %q", c.in, got, err, c.want, c.fault)
		}
	}
	if got := Code("ABCDEF").Readable(); got != "ABCD-EF" {
		t.Errorf("readable: %s", got)
	}
}

// What is written is read, and every text with one wrong character or two swapped
// neighbours is refused, as ISO7064 promises of its pure systems.
func TestPayloadIsReadRightOrRefused(t *testing.T) {
	layouts := Layouts()
	rapid.Check(t, func(t *rapid.T) {
		l := rapid.SampledFrom(layouts).Draw(t, "layout")
		c := Code(rapid.StringMatching(`[0-9A-Z]{1,12}`).Draw(t, "code"))
		text := l.Payload(c)
		back, code, err := ParsePayload(text)
		if err != nil || code != c || back.Letter != l.Letter {
			t.Fatalf("%s: read %c %s, %v", text, back.Letter, code, err)
		}
		i := rapid.IntRange(0, len(text)-1).Draw(t, "place")
		other := rapid.SampledFrom([]byte(figures)).Draw(t, "character")
		if wrong := text[:i] + string(other) + text[i+1:]; wrong != text {
			if _, _, err := ParsePayload(wrong); err == nil {
				t.Fatalf("%s instead of %s was taken", wrong, text)
			}
		}
		if i > 0 {
			b := []byte(text)
			b[i], b[i-1] = b[i-1], b[i]
			if string(b) != text {
				if _, _, err := ParsePayload(string(b)); err == nil {
					t.Fatalf("%s instead of %s was taken", b, text)
				}
			}
		}
	})
	for _, text := range []string{"", "HTTPS://EXAMPLE.ORG", "U", "USA", "uSAB12", "UZA" + check("UZA"), strings.Repeat("U", 40)} {
		if _, _, err := ParsePayload(text); err == nil {
			t.Errorf("%q was taken", text)
		}
	}
	if _, _, err := ParsePayload("WIFI:S:A;;"); !errors.Is(err, ErrForeign) {
		t.Errorf("another code: %v", err)
	}
}

// Nothing printed covers anything else, the QR code has its margin, and white places are
// white.
func TestLayoutsHaveRoom(t *testing.T) {
	letters := map[byte]bool{}
	for _, l := range Layouts() {
		if letters[l.Letter] {
			t.Errorf("letter %c stands twice", l.Letter)
		}
		letters[l.Letter] = true
		if l.QR.Width < 20 {
			t.Errorf("%s: QR code of %.1f mm, want 20 or more", l.Name, l.QR.Width)
		}
		quiet := 4 * l.QR.Width / Modules
		type named struct {
			string
			Rect
		}
		rooms := []named{{"QR code", Rect{l.QR.X - quiet, l.QR.Y - quiet, l.QR.Width + 2*quiet, l.QR.Height + 2*quiet}}, {"title", l.Title}, {"note", l.Note}}
		a := l.arrow()
		rooms = append(rooms, named{"arrow", Rect{a[2].X, a[0].Y, a[1].X - a[2].X, a[1].Y - a[0].Y}})
		for _, m := range l.Marks {
			rooms = append(rooms, named{"mark", Rect{m.X - l.MarkRadius, m.Y - l.MarkRadius, 2 * l.MarkRadius, 2 * l.MarkRadius}})
		}
		for _, p := range l.Patches {
			rooms = append(rooms, named{p.Name, p.Rect})
		}
		for i, a := range rooms {
			if a.X < 0 || a.Y < 0 || a.X+a.Width > l.Width || a.Y+a.Height > l.Height {
				t.Errorf("%s: %s is outside: %+v", l.Name, a.string, a.Rect)
			}
			for _, b := range rooms[:i] {
				if math.Min(a.X+a.Width, b.X+b.Width)-math.Max(a.X, b.X) > 1e-9 && math.Min(a.Y+a.Height, b.Y+b.Height)-math.Max(a.Y, b.Y) > 1e-9 {
					t.Errorf("%s: %s covers %s", l.Name, a.string, b.string)
				}
			}
		}
		for _, p := range l.White {
			for _, r := range rooms[1:] {
				if p.X > r.X-1 && p.X < r.X+r.Width+1 && p.Y > r.Y-1 && p.Y < r.Y+r.Height+1 && r.string != "title" && r.string != "note" {
					t.Errorf("%s: white place %v lies near %s", l.Name, p, r.string)
				}
			}
		}
		for _, f := range l.Fits {
			if f.Width < l.Width || f.Height < l.Height {
				t.Errorf("%s does not fit on %g × %g", l.Name, f.Width, f.Height)
			}
		}
	}
}

func TestDrawing(t *testing.T) {
	l, _ := LayoutOf('S')
	d, err := l.Draw(Content{Code: "AB12"})
	if err != nil {
		t.Fatal(err)
	}
	if d.Words[0].Text != "AB12" || len(d.Words) != 1 {
		t.Errorf("words without a title: %+v", d.Words)
	}
	if _, err := l.Draw(Content{Code: "ab"}); err == nil {
		t.Error("a code in small letters was drawn")
	}
	dark := 0.0
	modules, err := l.Modules("AB12")
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range modules {
		for _, m := range row {
			if m {
				dark++
			}
		}
	}
	area := 0.0
	for _, p := range d.Polygons {
		a := 0.0
		for i, q := range p.Points {
			n := p.Points[(i+1)%len(p.Points)]
			a += (q.X*n.Y - n.X*q.Y) / 2
		}
		if c := p.Points[0]; c.X >= l.QR.X && c.X < l.QR.X+l.QR.Width && c.Y >= l.QR.Y && c.Y < l.QR.Y+l.QR.Height && p.Ink == (Ink{}) {
			area += math.Abs(a)
		}
	}
	if m := l.QR.Width / Modules; math.Abs(area-dark*m*m) > 1e-6 {
		t.Errorf("the drawn modules cover %.3f mm², want %.3f", area, dark*m*m)
	}
}
