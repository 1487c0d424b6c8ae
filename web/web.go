package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"html/template"
	"io/fs"
	"log/slog"
	"net/http"
	"path"
	"strings"
	"sync"
	"time"

	"underlamp"
	"underlamp/access"
	"underlamp/api"
	"underlamp/app/dataset"
	"underlamp/app/environment"
	"underlamp/app/kept"
	"underlamp/app/light"
	"underlamp/app/settings"
	"underlamp/app/tasks"
	"underlamp/app/trialbook"
	"underlamp/formats/evidencefile"
	"underlamp/report"
	"underlamp/store"
)

//go:embed page/*.tmpl static
var files embed.FS

// A Site serves the pages.
type Site struct {
	benches   *benches
	work      *tasks.Registry
	pages     *template.Template
	assets    map[string]asset // by name in the URL, which holds a hash
	urls      map[string]string
	hosts     []string
	live      Live
	place     trialbook.Place // nil: nothing is written
	uploads   trialbook.Uploads
	plots     plots
	rounds    Rounds
	worker    []byte // the service worker of the rounds
	small     chan struct{}
	zone      *time.Location
	people    People
	settings  *settings.Keeper
	here      Here
	backing   chan struct{} // one copy of the store at a time
	log       *slog.Logger
	photoCame chan struct{} // something is to be measured
	labels    registered
	reportCS  string // content-security policy source of the report's stylesheet
	sensors   environment.Keeper
	readWatch func(*underlamp.Bench, []byte) (*underlamp.Watch, error)
	version   string
	api       *api.API
	tokens    *access.Tokens // of programs; nil where nothing is kept

	desk      *kept.Desk // writes benches; nil where none are written
	drafts    chan struct{}
	lastMu    sync.Mutex // the light of a text that is no bench's, see draftModel
	lastBase  string
	lastModel *light.Model
	past      pastEntries
	cases     Cases // of trouble; nil where nothing is kept
	evidence  evidencefile.Folder
	data      dataset.Store // what a store keeps, for downloads; nil where nothing is kept
}

type asset struct {
	kind   string
	body   []byte
	zipped func() []byte // the body compressed, once somebody asks; nil if that is not worth it
}

// Options are what a site needs from its caller.
type Options struct {
	Folder fs.FS        // with the bench files
	Hosts  []string     // host names that requests may use, without port
	Log    *slog.Logger // nil logs nothing

	Live   Live           // how benches stand now; nil where nothing is kept
	Rounds Rounds         // what was seen of plants; nil where nothing is kept
	Cases  Cases          // troubles and what became of them; nil where nothing is kept
	Desk   *kept.Desk     // writes benches; nil: they are only shown
	Zone   *time.Location // of days; nil is that of this machine

	Trials trialbook.Place // where trials are written; nil: their pages only show. It holds what Folder shows

	Keep store.Store // all that is kept, for reports, downloads and what programs ask for; nil where nothing is

	People   People           // who may see the pages from elsewhere; nil where nothing is kept
	Settings *settings.Keeper // what is set for all pages; nil where nothing is kept
	Here     Here

	ReadWatch func(*underlamp.Bench, []byte) (*underlamp.Watch, error) // watch files, for reports; may be nil
	Version   string                                                   // of the program
}

// New makes the site. It panics if a template or a static file of the program
// is broken: a start that would fail later must fail at once.
func New(o Options) *Site {
	s := &Site{benches: newBenches(o.Folder), hosts: o.Hosts, live: o.Live, rounds: o.Rounds, place: o.Trials, desk: o.Desk, drafts: make(chan struct{}, 2), small: make(chan struct{}, 1), photoCame: make(chan struct{}, 1), zone: o.Zone, log: o.Log, assets: map[string]asset{}, urls: map[string]string{}}
	s.work = tasks.New(tasks.Options{Log: s.log})
	s.cases = o.Cases
	s.readWatch, s.version = o.ReadWatch, o.Version
	if o.Keep != nil {
		s.sensors, s.data = o.Keep, o.Keep
	}
	s.people, s.settings, s.here, s.backing = o.People, o.Settings, o.Here, make(chan struct{}, 1)
	s.benches.settings = o.Settings
	if s.zone == nil {
		s.zone = time.Local
	}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	own, err := files.ReadFile("static/pages.css")
	if err != nil {
		panic("web: " + err.Error())
	}
	s.addAsset("pages.css", "text/css; charset=utf-8", append([]byte(report.CSS()), own...))
	s.addAsset("sheet.css", "text/css; charset=utf-8", []byte(report.SheetCSS()))
	kinds := map[string]string{".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8", ".svg": "image/svg+xml", ".png": "image/png"}
	all, err := files.ReadDir("static")
	if err != nil {
		panic("web: " + err.Error())
	}
	for _, f := range all {
		kind := kinds[path.Ext(f.Name())]
		if kind == "" || s.urls[f.Name()] != "" || f.Name() == workerFile { // a licence, what stands already, what lies at the root
			continue
		}
		body, err := files.ReadFile("static/" + f.Name())
		if err != nil {
			panic("web: " + err.Error())
		}
		s.addAsset(f.Name(), kind, body)
	}
	if s.worker, err = files.ReadFile("static/" + workerFile); err != nil {
		panic("web: " + err.Error())
	}
	s.pages = template.Must(template.New("").Funcs(template.FuncMap{
		"asset":   func(name string) string { return s.urls[name] },
		"refresh": func() template.HTML { return refreshMark },
		"works":   func() template.HTML { return worksMark },
		"help":    func() template.HTML { return helpMark },
	}).ParseFS(files, "page/*.tmpl"))
	sum := sha256.Sum256([]byte(report.CSS()))
	s.reportCS = "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
	if o.Keep != nil {
		s.tokens = access.NewTokens(o.Keep, nil)
	}
	s.api = s.newAPI(o)
	return s
}

// workerFile is the service worker of the rounds; it lies at the root of the site.
const workerFile = "rounds-worker.js"

// addAsset gives a static file an address that changes with its content, so
// that browsers may keep it for ever.
func (s *Site) addAsset(name, kind string, body []byte) {
	sum := sha256.Sum256(body)
	ext := path.Ext(name)
	hashed := strings.TrimSuffix(name, ext) + "-" + hex.EncodeToString(sum[:5]) + ext
	a := asset{kind: kind, body: body}
	if worthZipping(kind) {
		a.zipped = sync.OnceValue(func() []byte {
			var b bytes.Buffer
			z, _ := gzip.NewWriterLevel(&b, gzip.BestCompression) // the level is one that there is
			z.Write(body)                                         // into memory
			z.Close()
			return b.Bytes()
		})
	}
	s.assets[hashed] = a
	s.urls[name] = "/static/" + hashed
}

func (s *Site) static(w http.ResponseWriter, r *http.Request) {
	a, ok := s.assets[r.PathValue("name")]
	if !ok {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", a.kind)
	w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	if a.zipped != nil {
		w.Header().Set("Vary", "Accept-Encoding")
		if takesGzip(r) {
			w.Header().Set("Content-Encoding", "gzip")
			w.Write(a.zipped())
			return
		}
	}
	w.Write(a.body)
}

// page carries out a template whole before the first byte is sent, so that a
// failure never shows half a page.
func (s *Site) page(w http.ResponseWriter, status int, name string, data any) {
	var b bytes.Buffer
	if err := s.pages.ExecuteTemplate(&b, name, data); err != nil {
		s.log.Error("page", "name", name, "err", err)
		http.Error(w, "This page could not be made.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	w.Write(s.headed(w, b.Bytes()))
}

// Marks in the head of a page, for what only the whole page or the visitor tells. What comes
// from outside cannot hold them: its brackets are escaped.
const (
	refreshMark = "<!--refresh-->"
	worksMark   = "<!--works-->"
	helpMark    = "<!--help-->"
)

// headed fills the marks: a page with work that runs loads itself again where there is no
// script, the header counts what runs for those who may see it, and leads to the chapter of the
// book that is about the page.
func (s *Site) headed(w http.ResponseWriter, page []byte) []byte {
	refresh, works, chapter := "", "", ""
	if bytes.Contains(page, []byte(`data-state="running"`)) || bytes.Contains(page, []byte(`data-state="waiting"`)) {
		refresh = `<noscript><meta http-equiv="refresh" content="3"></noscript>`
	}
	if v, ok := w.(visited); ok && access.Readers.Has(v.by) {
		if n := s.work.Running(); n > 0 {
			works = fmt.Sprintf(` <a class="works-run" href="/work" data-running="%d">Work <span class="number">%d</span></a>`, n, n)
		}
	}
	if v, ok := w.(visited); ok {
		chapter = v.chapter
	}
	page = bytes.Replace(page, []byte(helpMark), []byte(` <a href="`+helpRoot+"/"+chapter+`">Help</a>`), 1)
	page = bytes.Replace(page, []byte(refreshMark), []byte(refresh), 1)
	return bytes.Replace(page, []byte(worksMark), []byte(works), 1)
}

// A visited answer knows who asked, and which chapter of the book is about it.
type visited struct {
	http.ResponseWriter
	by      access.Visitor
	chapter string
}

// Unwrap is for [http.ResponseController].
func (v visited) Unwrap() http.ResponseWriter { return v.ResponseWriter }

// fail shows a sentence about what is wrong, and what to do.
func (s *Site) fail(w http.ResponseWriter, status int, what, advice string) {
	s.page(w, status, "wrong.tmpl", struct{ Title, What, Advice string }{"Not found", what, advice})
}
