package web

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"encoding/hex"
	"html/template"
	"io/fs"
	"log/slog"
	"net/http"
	"path"
	"strings"
	"sync"
	"time"

	"underlamp/app/kept"
	"underlamp/app/light"
	"underlamp/report"
)

//go:embed page/*.tmpl static
var files embed.FS

// A Site serves the pages.
type Site struct {
	benches   *benches
	jobs      *jobs
	pages     *template.Template
	assets    map[string]asset // by name in the URL, which holds a hash
	urls      map[string]string
	hosts     []string
	live      Live
	desk      *kept.Desk // writes benches; nil where none are written
	drafts    chan struct{}
	zone      *time.Location
	log       *slog.Logger
	lastMu    sync.Mutex // the light of a text that is no bench's, see modelOf
	lastBase  string
	lastModel *light.Model
	past      pastEntries
	reportCS  string // content-security policy source of the report's stylesheet
}

type asset struct {
	kind string
	body []byte
}

// Options are what a site needs from its caller.
type Options struct {
	Folder fs.FS        // with the bench files
	Hosts  []string     // host names that requests may use, without port
	Log    *slog.Logger // nil logs nothing

	Live Live           // how benches stand now; nil where nothing is kept
	Desk *kept.Desk     // writes benches; nil: they are only shown
	Zone *time.Location // of days; nil is that of this machine
}

// New makes the site. It panics if a template or a static file of the program
// is broken: a start that would fail later must fail at once.
func New(o Options) *Site {
	s := &Site{benches: newBenches(o.Folder), hosts: o.Hosts, live: o.Live, desk: o.Desk, drafts: make(chan struct{}, 2), zone: o.Zone, log: o.Log, assets: map[string]asset{}, urls: map[string]string{}}
	s.jobs = newJobs()
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
	for name, kind := range map[string]string{"pages.js": "text/javascript; charset=utf-8", "learn.js": "text/javascript; charset=utf-8", "live.js": "text/javascript; charset=utf-8",
		"edit.js": "text/javascript; charset=utf-8", "edit.css": "text/css; charset=utf-8",
		"uplot.js": "text/javascript; charset=utf-8", "uplot.css": "text/css; charset=utf-8", "mark.svg": "image/svg+xml"} {
		body, err := files.ReadFile("static/" + name)
		if err != nil {
			panic("web: " + err.Error())
		}
		s.addAsset(name, kind, body)
	}
	s.pages = template.Must(template.New("").Funcs(template.FuncMap{
		"asset": func(name string) string { return s.urls[name] },
	}).ParseFS(files, "page/*.tmpl"))
	sum := sha256.Sum256([]byte(report.CSS()))
	s.reportCS = "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
	return s
}

// addAsset gives a static file an address that changes with its content, so
// that browsers may keep it for ever.
func (s *Site) addAsset(name, kind string, body []byte) {
	sum := sha256.Sum256(body)
	ext := path.Ext(name)
	hashed := strings.TrimSuffix(name, ext) + "-" + hex.EncodeToString(sum[:5]) + ext
	s.assets[hashed] = asset{kind, body}
	s.urls[name] = "/static/" + hashed
}

// Handler routes requests.
func (s *Site) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.list)
	mux.HandleFunc("GET /bench/{id}", s.bench)
	mux.HandleFunc("GET /bench/{id}/light", s.lightPart)
	mux.HandleFunc("GET /bench/{id}/outlook", s.outlookPart)
	mux.HandleFunc("GET /bench/{id}/best", s.bestPart)
	mux.HandleFunc("GET /bench/{id}/match", s.match)
	mux.HandleFunc("GET /bench/{id}/raise", s.raise)
	mux.HandleFunc("GET /bench/{id}/map", s.mapPart)
	mux.HandleFunc("GET /bench/{id}/plan", s.plan)
	mux.HandleFunc("GET /bench/{id}/plan/run", s.planRun)
	mux.HandleFunc("GET /bench/{id}/doubt", s.doubtPart)
	mux.HandleFunc("GET /bench/{id}/lamps", s.lamps)
	mux.HandleFunc("GET /bench/{id}/aim", s.aim)
	mux.HandleFunc("GET /bench/{id}/report", s.report)
	mux.HandleFunc("GET /bench/{id}/learn", s.learnPart)
	mux.HandleFunc("POST /bench/{id}/learn", s.learnDo)
	mux.HandleFunc("GET /bench/{id}/profile", s.profile)
	mux.HandleFunc("GET /trial/{id}", s.trialPage)
	if s.desk != nil {
		s.editRoutes(mux)
	}
	if s.live != nil {
		mux.HandleFunc("GET /bench/{id}/live", s.livePage)
		mux.HandleFunc("GET /bench/{id}/live/now", s.livePart)
		mux.HandleFunc("GET /bench/{id}/live/chart", s.liveChart)
		mux.HandleFunc("POST /bench/{id}/live/known", s.liveKnown)
	}
	mux.HandleFunc("GET /static/{name}", s.static)
	mux.HandleFunc("GET /", func(w http.ResponseWriter, _ *http.Request) {
		s.fail(w, http.StatusNotFound, "There is no page at this address.", "The benches are listed on the first page.")
	})
	return s.guard(mux)
}

func (s *Site) static(w http.ResponseWriter, r *http.Request) {
	a, ok := s.assets[r.PathValue("name")]
	if !ok {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", a.kind)
	w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
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
	w.Write(b.Bytes())
}

// fail shows a sentence about what is wrong, and what to do.
func (s *Site) fail(w http.ResponseWriter, status int, what, advice string) {
	s.page(w, status, "wrong.tmpl", struct{ Title, What, Advice string }{"Not found", what, advice})
}
