package pdf_test

import (
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"time"

	"underlamp/internal/pdftest"
	"underlamp/report/pdf"
)

func page(body string) []byte {
	return []byte(`<!doctype html><html lang="en"><head><meta charset="utf-8"><title>A page – report</title></head><body><main class="report"><h1>A page</h1>` + body + `</main></body></html>`)
}

const drawing = `<figure class="d-figure"><svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 760 200" aria-labelledby="t d"><title id="t">Light by height</title><desc id="d">It falls.</desc><defs><clipPath id="c"><rect x="0" y="0" width="400" height="100"/></clipPath><pattern id="p" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path d="M1 0V7" stroke="#15191e"/></pattern></defs><g clip-path="url(#c)"><path d="M0 0H10V10h-5c1 1 2 2 3 3s4 4 5 5q1 1 2 2t3 3a5 8 30 1 0 9 9A5 5 0 01 40 40z" fill="url(#p)" fill-opacity="0.5" stroke="#1f5f8b" stroke-dasharray="8 4"/></g><text x="380" y="100" text-anchor="middle" font-size="13" fill="#1b2430" stroke="#ffffff" stroke-width="3" paint-order="stroke">259 µmol/m²/s, −3 °C · 10⁻² → ½</text><text x="20" y="150" transform="rotate(-90 20 150)" font-size="12" fill="#535e6b">height, cm</text></svg><details class="d-twin"><summary>The numbers as a table</summary><table class="d-table"><caption>Light by height</caption><thead><tr><th scope="col">Height</th><th scope="col" class="d-num">PPFD, µmol/m²/s</th></tr></thead><tbody><tr><th scope="row">1 cm</th><td class="d-num">259</td></tr></tbody></table></details></figure>`

// Signs of our texts are found as they were written, in text, tables and drawings;
// ligatures stay letters.
func TestSigns(t *testing.T) {
	p := page(`<p>An office of five: efficient, float, waffle. 14.9 mol/m²/d; 10⁻² m; H₂O; µ is U+00B5 and μ U+03BC; “so” – no… α β γ Σ Ж; Łódź, Ærø, ça.</p>` + drawing)
	file, res := set(t, p, pdf.Options{})
	if len(res.Says()) > 0 {
		t.Errorf("it says %q", res.Says())
	}
	pdftest.Check(t, p, file)
	pdftest.CheckReading(t, p, file)
}

// Everything a report may hold, at once, by the judgement of tools from outside.
func TestEverything(t *testing.T) {
	var jpg, png1 bytes.Buffer
	im := image.NewRGBA(image.Rect(0, 0, 3000, 900))
	for i := range im.Pix {
		im.Pix[i] = byte(i * 7)
	}
	small := image.NewNRGBA(image.Rect(0, 0, 20, 10))
	small.Set(3, 3, color.NRGBA{200, 10, 10, 128})
	if err := errors.Join(jpeg.Encode(&jpg, im, nil), png.Encode(&png1, small)); err != nil {
		t.Fatal(err)
	}
	uri := func(kind string, b []byte) string {
		return "data:image/" + kind + ";base64," + base64.StdEncoding.EncodeToString(b)
	}
	p := page(`<section id="first"><h2>First</h2><p>See <a href="#last">the last part</a> and <a href="https://doi.org/10.1000/182">the handbook</a>.</p>
<h3>A list</h3><ol><li>one<ul><li>within</li></ul></li><li>two</li></ol>
<dl class="facts"><div><dt>space</dt><dd>120 cm</dd></div></dl><dl class="figures"><div><dt>Mean</dt><dd><span class="value">259</span> <span class="band">236 to 282</span></dd></div></dl>
<p class="note"><strong>Note.</strong> ` + strings.Repeat("Much is to be said here. ", 30) + `</p>
<details class="working"><summary>Mean: 259</summary><dl><dt>Formula</dt><dd class="formula">` + strings.Repeat("a+b·c/", 60) + `</dd></dl></details>
<figure class="d-figure"><figcaption>Strips</figcaption><img src="` + uri("jpeg", jpg.Bytes()) + `" width="3000" height="900" alt="Plants through time"></figure><img src="` + uri("png", png1.Bytes()) + `" alt="A dot">` + drawing + `</section>
<section id="last"><h2>Last</h2><table class="d-table"><caption>Spans</caption><thead><tr><th scope="col">a</th><th scope="col">b</th><th scope="col">c</th></tr></thead><tbody><tr><th colspan="3" scope="rowgroup">Group</th></tr><tr><td rowspan="2">1</td><td>2</td><td>3 <ul><li>within</li></ul></td></tr><tr><td>5</td><td>6</td></tr></tbody></table><pre>one
  two</pre><hr><blockquote><p>Said.</p></blockquote></section>`)
	for _, paper := range []pdf.Paper{pdf.A4, pdf.Letter} {
		file, res := set(t, p, pdf.Options{Paper: paper, Created: time.Date(2026, 10, 4, 0, 0, 0, 0, time.UTC)})
		if len(res.Says()) > 0 {
			t.Errorf("it says %q", res.Says())
		}
		pdftest.Check(t, p, file)
	}
}

// A table of many rows repeats its head on each page and loses nothing; so does one
// of many columns, and one with a cell higher than a page.
func TestTables(t *testing.T) {
	var long, wide strings.Builder
	long.WriteString(`<table class="d-table"><caption>Long</caption><thead><tr><th scope="col">plant number</th><th scope="col">light of it</th></tr></thead><tbody>`)
	for i := range 400 {
		fmt.Fprintf(&long, `<tr><th scope="row">P%d</th><td class="d-num">%d.5</td></tr>`, i, i)
	}
	long.WriteString(`</tbody></table>`)
	wide.WriteString(`<table class="d-table"><thead><tr>`)
	for i := range 60 {
		fmt.Fprintf(&wide, `<th scope="col">column%dlong</th>`, i)
	}
	wide.WriteString(`</tr></thead><tbody><tr>`)
	for i := range 60 {
		fmt.Fprintf(&wide, `<td>value%d</td>`, i)
	}
	wide.WriteString(`</tr></tbody></table>`)
	high := `<table class="d-table"><thead><tr><th scope="col">a</th><th scope="col">text</th></tr></thead><tbody><tr><td>1</td><td>` + strings.Repeat("This cell is long. ", 2500) + `</td></tr><tr><td>2</td><td>short</td></tr></tbody></table>`
	for name, body := range map[string]string{"long": long.String(), "wide": wide.String(), "high": high} {
		t.Run(name, func(t *testing.T) {
			file, _ := set(t, page(body), pdf.Options{})
			pdftest.Check(t, page(body), file)
			if name != "long" {
				return
			}
			out, err := exec.Command(pdftest.Tool(t, "pdftotext", "poppler-utils"), "-raw", pdftest.Keep(t, file), "-").Output()
			if err != nil {
				t.Fatal(err)
			}
			if n, pages := strings.Count(string(out), "plant number light of it"), pdftest.Pages(t, file); n != pages || pages < 5 {
				t.Errorf("the head stands %d times on %d pages", n, pages)
			}
		})
	}
}

// Nothing goes over the edges of the paper: a picture wider than it is scaled, and
// so is all text. poppler tells where each word is.
func TestWithinThePaper(t *testing.T) {
	wide := strings.NewReplacer("760 200", "9000 200").Replace(drawing)
	tall := strings.NewReplacer("760 200", "100 9000").Replace(drawing)
	p := page(`<h2>` + strings.Repeat("Longheading", 40) + `</h2>` + wide + tall + `<p>` + strings.Repeat("x", 5000) + `</p>`)
	file, _ := set(t, p, pdf.Options{})
	out, err := exec.Command(pdftest.Tool(t, "pdftotext", "poppler-utils"), "-bbox", pdftest.Keep(t, file), "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, m := range regexp.MustCompile(`xMin="([-0-9.]+)" yMin="([-0-9.]+)" xMax="([-0-9.]+)" yMax="([-0-9.]+)"`).FindAllStringSubmatch(string(out), -1) {
		var v [4]float64
		for i := range v {
			fmt.Sscan(m[i+1], &v[i])
		}
		if n++; v[0] < 0 || v[1] < 0 || v[2] > pdf.A4.Width || v[3] > pdf.A4.Height {
			t.Errorf("a word stands over the edge: %s", m[0])
		}
	}
	if n < 20 {
		t.Errorf("only %d words were found", n)
	}
}

// A character without a letter is named, stays what it is for search, and stops
// nothing.
func TestMissingLetters(t *testing.T) {
	p := page(`<p>The cultivar 光菜 🥬 grows.</p>`)
	file, res := set(t, p, pdf.Options{})
	if got := string(res.Missing); got != "光菜🥬" {
		t.Errorf("missing are %q", got)
	}
	if says := strings.Join(res.Says(), " "); !strings.Contains(says, "光 (U+5149)") {
		t.Errorf("it says %q", says)
	}
	pdftest.Check(t, p, file)
}

func TestBadInput(t *testing.T) {
	for name, c := range map[string]struct {
		page []byte
		o    pdf.Options
		says string
	}{
		"nothing":    {nil, pdf.Options{}, "no HTML"},
		"no element": {[]byte("only words"), pdf.Options{}, "no HTML"},
		"empty":      {[]byte("<main></main>"), pdf.Options{}, "empty"},
		"deep":       {[]byte(strings.Repeat("<div>", 400) + "x"), pdf.Options{}, "within one another"},
		"paper":      {page("<p>x</p>"), pdf.Options{Paper: pdf.Paper{Width: 10, Height: 10}}, "cannot be set on"},
	} {
		t.Run(name, func(t *testing.T) {
			var b bytes.Buffer
			_, err := pdf.Write(&b, c.page, c.o)
			if err == nil || !strings.Contains(err.Error(), c.says) {
				t.Errorf("it says %v, not %q", err, c.says)
			}
			if b.Len() > 0 {
				t.Errorf("%d bytes were written nevertheless", b.Len())
			}
		})
	}
	// What cannot be read of a picture is said, and the rest is set.
	for _, src := range []string{"https://example.org/a.png", "data:image/png;base64,AAAA", "data:image/gif;base64,R0lGODlhAQABAAAAACw="} {
		p := page(`<p>Before.</p><img src="` + src + `" alt="A strip"><p>After.</p>`)
		var b bytes.Buffer
		res, err := pdf.Write(&b, p, pdf.Options{})
		if err != nil || len(res.Lost) != 1 || !strings.Contains(res.Lost[0], "A strip") {
			t.Errorf("%s: %v, %q", src, err, res.Lost)
		}
	}
}

// full takes so many bytes and then no more, as a full disk does.
type full int

func (f *full) Write(p []byte) (int, error) {
	if len(p) > int(*f) {
		n := int(*f)
		*f = 0
		return n, errors.New("no space left on device")
	}
	*f -= full(len(p))
	return len(p), nil
}

func TestFullDisk(t *testing.T) {
	for _, room := range []full{0, 10, 2000} {
		if _, err := pdf.Write(&room, page(drawing), pdf.Options{}); err == nil || !strings.Contains(err.Error(), "no space left") {
			t.Errorf("it says %v", err)
		}
	}
}

func TestPaperOf(t *testing.T) {
	if p, err := pdf.PaperOf("letter"); err != nil || p != pdf.Letter {
		t.Error(p, err)
	}
	if _, err := pdf.PaperOf("a5"); err == nil {
		t.Error("a5 is taken")
	}
}

// A word of bytes that are no UTF-8 is cut at whole signs, wherever the line ends.
func TestNoUTF8(t *testing.T) {
	for n := 40; n < 140; n++ {
		if _, err := pdf.Write(io.Discard, []byte("<main><p>"+strings.Repeat("\xa5", n)), pdf.Options{}); err != nil {
			t.Fatal(err)
		}
	}
}

// A title of any length, in signs that no face has, stands shortened under every page; it once
// took seconds a page.
func TestLongTitle(t *testing.T) {
	res, err := pdf.Write(io.Discard, []byte("<html><head><title>"+strings.Repeat("\x7f", 50_000)+"</title></head><body><main>"+strings.Repeat("<p>x</p>", 500)+"</main>"), pdf.Options{})
	if err != nil || res.Pages < 5 {
		t.Errorf("%+v %v", res, err)
	}
}

// Whatever stands in it, a page is set or refused in bounded time, and what comes
// out is read by qpdf (that is: has the end that it should; qpdf itself is run over
// the seeds alone).
func FuzzWrite(f *testing.F) {
	f.Add(page(drawing))
	f.Add(page(`<table><tr><td colspan="9999" rowspan="-1">x<td><table><tr><td>y</table></table><dl><dd>x<dt>y</dl><ul>x<li></ul>`))
	f.Add(page(`<p><a href="#x"><b>y</a></b><svg viewBox="0 0 1e9 nan"><path d="M0 0L1e999"/></svg><svg width="5" height="5"><text>a<tspan x="1">b</tspan></text><path d="M0 0a1 1 0 11 5 5z"/></svg>`))
	f.Add([]byte("<details class=working><summary></summary></details><div class=note><h1></h1></div><ul class=labels><li></ul>"))
	f.Add([]byte("<details class=working><summary></summary></dlass=s><div class=note><h1></h1></div><ql class=labels><li></ul>"))
	f.Fuzz(func(t *testing.T, in []byte) {
		if len(in) > 1<<16 {
			return
		}
		var b bytes.Buffer
		res, err := pdf.Write(&b, in, pdf.Options{})
		if err != nil {
			if b.Len() > 0 {
				t.Errorf("%v, and %d bytes were written", err, b.Len())
			}
			return
		}
		if !bytes.HasPrefix(b.Bytes(), []byte("%PDF-1.7\n")) || !bytes.HasSuffix(b.Bytes(), []byte("%%EOF\n")) || res.Pages < 1 {
			t.Errorf("%d pages, %d bytes that are no PDF", res.Pages, b.Len())
		}
		if b.Len() > 200*len(in)+1_000_000 {
			t.Errorf("%d bytes of %d", b.Len(), len(in))
		}
	})
}

func BenchmarkFindings(b *testing.B) {
	p := findings(b, "light-levels.trial.yaml")
	b.SetBytes(int64(len(p)))
	b.ReportAllocs()
	size := 0
	for b.Loop() {
		var out bytes.Buffer
		if _, err := pdf.Write(&out, p, pdf.Options{}); err != nil {
			b.Fatal(err)
		}
		size = out.Len()
	}
	b.ReportMetric(float64(size), "bytes/file")
}
