package taggedpdf_test

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"underlamp/draw/typeface"
	"underlamp/formats/taggedpdf"
	"underlamp/internal/pdftest"
)

// small is a document with a bit of everything.
func small(t testing.TB) *taggedpdf.Document {
	t.Helper()
	d := taggedpdf.New(taggedpdf.Info{Title: "Wärme & Licht (1)", Subject: "A test", Language: "en", Producer: "test", Created: time.Date(2026, 10, 4, 0, 0, 0, 0, time.UTC)})
	e := d.Root().Add("P")
	first := e.Content()
	link := e.Add("Link")
	second := link.Content()
	p := d.Page(300, 400)
	p.Over.Mark(first)
	p.Over.Text(20, 40, 12, typeface.Style{}, "First ")
	p.Over.Mark(second)
	p.Over.Text(60, 40, 12, typeface.Style{Bold: true}, "there")
	p.Link(link, 60, 30, 100, 44, "#there", "there")
	p.Link(link, 60, 30, 100, 44, "#nowhere", "nowhere")
	fig := d.Root().Add("Figure")
	fig.Alt = "A square"
	in := fig.Content()
	p.Over.Mark(in)
	p.Over.Save()
	p.Over.Transform(taggedpdf.Matrix{2, 0, 0, 2, 50, 100})
	p.Over.FillTile(5, 5, taggedpdf.Identity, func(c *taggedpdf.Canvas) {
		c.Fill(taggedpdf.RGB{R: 200})
		c.Rect(0, 0, 2, 2)
		c.Paint(taggedpdf.Fills)
	})
	p.Over.Opacity(0.5, 1)
	p.Over.Rect(0, 0, 30, 30)
	p.Over.Paint(taggedpdf.Fills | taggedpdf.Strokes)
	p.Over.Restore()
	fig.Place(p, 50, 100, 110, 160)
	q := d.Page(300, 400)
	q.Under.Fill(taggedpdf.RGB{G: 250})
	q.Under.Rect(0, 0, 10, 10)
	q.Under.Paint(taggedpdf.Fills)
	q.Over.Mark(first) // goes on over the page
	q.Over.Text(20, 40, 12, typeface.Style{}, "last")
	d.Anchor("there", q, 40)
	d.Bookmark(1, "One", p, 40)
	d.Bookmark(3, "One and more", q, 40)
	return d
}

func TestSmall(t *testing.T) {
	var a, b bytes.Buffer
	if err := small(t).Write(&a); err != nil {
		t.Fatal(err)
	}
	if err := small(t).Write(&b); err != nil || !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Errorf("the second time other bytes come out: %v", err)
	}
	file := filepath.Join(t.TempDir(), "small.pdf")
	if err := os.WriteFile(file, a.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	for tool, c := range map[string]struct {
		args []string
		says []string
	}{
		"qpdf":      {[]string{"--check", file}, []string{"No syntax or stream encoding errors"}},
		"pdfinfo":   {[]string{"-struct-text", file}, []string{`"First "`, `"last"`, `"there"`, "Figure"}},
		"pdftotext": {[]string{file, "-"}, []string{"First", "there", "last"}},
	} {
		out, err := exec.Command(pdftest.Tool(t, tool, "qpdf or poppler-utils"), c.args...).CombinedOutput()
		if err != nil {
			t.Errorf("%s: %v %s", tool, err, out)
		}
		for _, says := range c.says {
			if !strings.Contains(string(out), says) {
				t.Errorf("%s does not say %q:\n%s", tool, says, out)
			}
		}
	}
	out, err := exec.Command(pdftest.Tool(t, "pdfinfo", "poppler-utils"), "-isodates", file).Output()
	for _, says := range []string{"Wärme & Licht (1)", "A test", "2026-10-04T00:00:00Z", "Tagged:          yes"} {
		if err != nil || !strings.Contains(string(out), says) {
			t.Errorf("pdfinfo does not say %q: %v\n%s", says, err, out)
		}
	}
}

// The tile and the square stand where they should: poppler paints them.
func TestPlaces(t *testing.T) {
	var a bytes.Buffer
	if err := small(t).Write(&a); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	file := filepath.Join(dir, "small.pdf")
	if err := os.WriteFile(file, a.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(pdftest.Tool(t, "pdftoppm", "poppler-utils"), "-r", "72", "-jpeg", "-f", "1", "-l", "1", file, filepath.Join(dir, "p")).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, out)
	}
	f, err := os.Open(filepath.Join(dir, "p-1.jpg"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	im, err := jpeg.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	dark := func(r image.Rectangle) (n int) {
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				if color.GrayModel.Convert(im.At(x, y)).(color.Gray).Y < 230 {
					n++
				}
			}
		}
		return n
	}
	if im.Bounds().Dx() != 300 || im.Bounds().Dy() != 400 {
		t.Errorf("the page is %v", im.Bounds())
	}
	if n := dark(image.Rect(45, 95, 115, 165)); n < 200 {
		t.Errorf("the square has %d dark points", n)
	}
	if n := dark(image.Rect(10, 200, 290, 390)); n != 0 {
		t.Errorf("%d dark points stand where nothing was drawn", n)
	}
}

func TestImages(t *testing.T) {
	d := taggedpdf.New(taggedpdf.Info{Title: "x", Language: "en"})
	for name, data := range map[string][]byte{"nothing": nil, "no picture": []byte("GIF"), "cut": []byte("\xff\xd8\xff\xe0")} {
		if _, err := d.Image(data); err == nil {
			t.Errorf("%s is taken", name)
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 9, 5)), nil); err != nil {
		t.Fatal(err)
	}
	im, err := d.Image(b.Bytes())
	if err != nil || im.Width != 9 || im.Height != 5 {
		t.Errorf("%+v, %v", im, err)
	}
}

// Mistakes of the programmer are told where they are made.
func TestPanics(t *testing.T) {
	for name, do := range map[string]func(*taggedpdf.Document){
		"no page": func(d *taggedpdf.Document) { d.Write(&bytes.Buffer{}) },
		"between": func(d *taggedpdf.Document) {
			p := d.Page(100, 100)
			p.Over.Save()
			p.Over.Mark(d.Root().Content())
		},
	} {
		func() {
			defer func() {
				if s, _ := recover().(string); !strings.HasPrefix(s, "taggedpdf: ") {
					t.Errorf("%s: panics with %q", name, s)
				}
			}()
			do(taggedpdf.New(taggedpdf.Info{}))
		}()
	}
}
