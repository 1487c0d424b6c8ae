package web

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"underlamp/science/quantity"
)

// Numbers of a page go into the marks that are set; what people typed, names, files and
// addresses stay.
func TestInMarks(t *testing.T) {
	const page = `<!doctype html>
<html lang="en"><head><title>1.5 g</title><link href="/static/a-1.5.css"><style>a{width:1.5px}</style><script src="x">let a = 1.5</script></head>
<body data-scale="0.5"><!-- 1.5 --><h1 translate="no">Shelf <span>1.2</span></h1><p title="2.5 g">12` + "\u202f" + `345.6 g, <b>0.31</b> EUR/kWh</p>
<svg viewBox="0 0 1.5 2" aria-label="from 1.5 to 2 g"><path d="M1.5 2"/><text x="1.5">1.5</text></svg>
<input name="a" inputmode="decimal" value="30.5" data-start="30.5"><input name="b" value="30.5"><input type="number" inputmode="decimal" value="30.5">
<textarea>1.5</textarea><pre>1.5 <code>1.5</code></pre><code>1.5</code><em translate="no">1.5<em>2.5</em>1.5</em> 1.5</body></html>`
	got := string(inMarks([]byte(page), quantity.CommaPointMarks))
	for _, want := range []string{`<html lang="en" data-decimal="," data-group=".">`, `<title>1.5 g</title>`, `/static/a-1.5.css`, `width:1.5px`, `let a = 1.5<`, `data-scale="0.5"`, `<!-- 1.5 -->`, `<span>1.2</span>`, `title="2,5 g">12.345,6 g, <b>0,31</b>`,
		`viewBox="0 0 1.5 2" aria-label="from 1,5 to 2 g"`, `d="M1.5 2"`, `x="1.5">1,5<`, `value="30,5" data-start="30.5"`, `name="b" value="30.5"`, `type="number" inputmode="decimal" value="30.5"`, `<textarea>1.5<`, `<pre>1.5 <code>1.5</code></pre><code>1.5</code>`, `<em translate="no">1.5<em>2.5</em>1.5</em> 1,5<`} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in\n%s", want, got)
		}
	}
	if again := inMarks([]byte(page), quantity.PointMarks); string(again) != page {
		t.Error("the marks as they are printed change a page")
	}
	if got := string(inMarks([]byte("<p title='5 %'>5 % to 7.5 %, all %</p>"), quantity.CommaMarks)); got != "<p title='5 %'>5\u00a0% to 7,5\u00a0%, all %</p>" {
		t.Errorf("%q", got)
	}
}

// Nothing that looks like a page, or like a piece of one, brings it down; without numbers it
// comes out as it went in.
func FuzzInMarks(f *testing.F) {
	for _, s := range []string{"<", "<p", "<p title='>'>1.5", "<!--", "<pre>", "<a translate=\"no\">1.5", "</html>", "<html lang=\"en\">", "<input inputmode=\"decimal\" value=\"1.5", "1.5</"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got := string(inMarks([]byte(s), quantity.CommaMarks))
		if !strings.ContainsAny(s, ".\u202f%") && !strings.Contains(strings.ToLower(s), "<html") && got != s {
			t.Fatalf("%q gives %q", s, got)
		}
	})
}

// A page and what streams go out compressed where the browser takes it, and the same without.
func TestAnswers(t *testing.T) {
	long := "<p>" + strings.Repeat("word ", 1000) + "</p>"
	h := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch r.URL.Path {
		case "/page":
			w.Header().Set("Content-Type", "text/html; charset=utf-8")
			w.WriteHeader(http.StatusTeapot)
			io.WriteString(w, long)
		case "/stream":
			w.Header().Set("Content-Type", "application/x-ndjson")
			for range 2 {
				io.WriteString(w, "{}\n")
				w.(http.Flusher).Flush()
			}
		case "/events":
			w.Header().Set("Content-Type", "text/event-stream")
			io.WriteString(w, long)
		case "/picture":
			w.Header().Set("Content-Type", "image/png")
			io.WriteString(w, long)
		}
	})
	for path, zipped := range map[string]bool{"/page": true, "/stream": true, "/events": true, "/picture": false} {
		for _, takes := range []string{"", "gzip", "gzip;q=0", "br, gzip;q=0.5"} {
			r := httptest.NewRequest("GET", path, nil)
			r.Header.Set("Accept-Encoding", takes)
			w := httptest.NewRecorder()
			a := &answer{ResponseWriter: w, marks: quantity.PointMarks, zips: takesGzip(r), status: 200}
			h.ServeHTTP(a, r)
			a.close()
			body := w.Body.Bytes()
			is := w.Header().Get("Content-Encoding") == "gzip"
			if is != (zipped && (takes == "gzip" || strings.HasSuffix(takes, "0.5"))) {
				t.Errorf("%s for %q: compressed %v", path, takes, is)
			}
			if is {
				z, err := gzip.NewReader(bytes.NewReader(body))
				if err != nil {
					t.Fatal(err)
				}
				if body, err = io.ReadAll(z); err != nil {
					t.Fatal(err)
				}
			}
			want := long
			if path == "/stream" {
				want = "{}\n{}\n"
			}
			if string(body) != want || path == "/page" && w.Code != http.StatusTeapot {
				t.Errorf("%s for %q: %d, %d bytes", path, takes, w.Code, len(body))
			}
		}
	}
}
