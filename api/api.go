package api

import (
	"context"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"net/http"
	"reflect"
	"slices"
	"sync"
	"time"

	"underlamp"
	"underlamp/access"
	"underlamp/app/dataset"
	"underlamp/app/kept"
	"underlamp/app/light"
	"underlamp/app/live"
	"underlamp/app/notes"
	"underlamp/app/outlook"
	"underlamp/app/settings"
	"underlamp/app/tasks"
	"underlamp/app/trialbook"
	"underlamp/formats/benchfile"
	"underlamp/store"
	"underlamp/wire/schema"
)

// A Bench is one as it was read last, with what is computed of it, which is computed once.
type Bench interface {
	ID() string      // the name of its file without the ending
	Stamp() string   // changes with all that anything is computed from
	Broken() string  // what is wrong with the file, so that nothing is computed; empty if it can be used
	Remarks() string // what else is to be said of the file
	Bench() *underlamp.Bench
	Model() *light.Model
	Lit(s underlamp.Setting) (*light.Lit, error)
	NextReading() *light.NextReading                                          // nil: it cannot be said
	Outlook(whole bool) (*outlook.Outlook, error)                             // whole: with all draws; the error is [*outlook.NotSupported]
	Forecast(change *underlamp.Setting) (*outlook.Forecast, error)            // nil: as the bench is set, with all draws
	Doubts(ctx context.Context) (*outlook.Doubts, error)                      // of the outlook as the bench is set
	Past(ctx context.Context, at time.Time) (past Bench, known bool, _ error) // as it was
}

// Benches finds them. Get gives nil for a name that no bench has.
type Benches interface {
	List() ([]string, error)
	Get(id string) (Bench, error)
}

// Live tells how benches stand now; a [*live.Engine] does.
type Live interface {
	Board(ctx context.Context, bench string) (*live.Board, error)
	Chart(ctx context.Context, bench, sensor string, from, to time.Time, pieces int) (*live.Chart, error)
	Acknowledge(ctx context.Context, id int64, by string) error
}

// Options are what the API answers from.
type Options struct {
	Benches   Benches
	Folder    fs.FS // with the files of benches and trials
	Work      *tasks.Registry
	Desk      *kept.Desk       // nil: benches are only shown
	Trials    trialbook.Place  // nil: trials are only shown
	Keep      store.Store      // nil: nothing is kept
	Live      Live             // nil: nothing is kept
	People    *access.Door     // nil: nobody comes from elsewhere
	Settings  *settings.Keeper // nil: nothing is kept
	Elsewhere bool             // the pages are shown to other machines
	Plain     []string         // addresses of the pages for other machines, with a slash at the end
	Secure    []string         // those over TLS
	Authority Authority        // nil without TLS
	Backup    func(ctx context.Context, to io.Writer) error
	Change    func(text, base []byte, changes []benchfile.Change, moved bool) ([]byte, error) // of a bench file, as the editor makes them; moved: lamps hang elsewhere and keep what readings taught
	Version   string                                                                          // of the program
	Papers    Papers                                                                          // reports as the pages write them
	Office    func() *notes.Office                                                            // takes notes in; gives nil where nothing can be written
	Ask       func() (*dataset.Ask, error)                                                    // what is packed of anything here
	Zone      func() *time.Location                                                           // of days
	Hints     func()                                                                          // a photo has come and is to be measured; may be nil
	Log       *slog.Logger                                                                    // nil logs nothing
	Now       func() time.Time                                                                // nil: that of this machine
}

// An API answers under [Prefix].
type API struct {
	o       Options
	ops     []Operation
	byID    map[string]*Operation
	book    *schema.Book
	params  map[string][]param
	bodies  map[string]schema.Node
	tokens  *access.Tokens // nil: nothing is kept
	answers store.Answers
	wrong   *access.Limit // tokens that let nobody in, by address
	mux     *http.ServeMux
	doc     func() []byte // the OpenAPI document
	grower
	changes sync.Mutex // one that reads, changes and writes settings at a time
}

// New makes the API. It panics if the table of operations makes no sense: a start that would fail
// later must fail at once.
func New(o Options) *API {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Zone == nil {
		o.Zone = func() *time.Location { return time.Local }
	}
	a := &API{o: o, byID: map[string]*Operation{}, params: map[string][]param{}, bodies: map[string]schema.Node{}, book: &schema.Book{Prefix: "#/components/schemas/"}, mux: http.NewServeMux()}
	a.large = make(chan struct{}, 1)
	a.wrong = access.NewLimit(10, 30*time.Second)
	a.answers = &answersHere{all: map[string]store.Answer{}}
	if o.Keep != nil {
		a.tokens, a.answers = access.NewTokens(o.Keep, o.Now), o.Keep
	}
	a.ops = slices.Concat(a.serverOps(), a.planning(), a.growing(), a.taskOps())
	for i := range a.ops {
		op := &a.ops[i]
		a.check(op)
		a.byID[op.ID] = op
		a.params[op.ID] = paramsOf(op.params, a.book)
		if op.body != nil {
			a.bodies[op.ID] = a.book.Of(op.body, true)
		}
		a.mux.HandleFunc(op.Pattern(), func(w http.ResponseWriter, r *http.Request) { a.answer(w, r, op) })
	}
	a.mux.HandleFunc(Prefix+"/", a.nothing)
	a.doc = sync.OnceValue(a.document)
	return a
}

// check holds an operation to the rules of the table.
func (a *API) check(op *Operation) {
	bad := ""
	named := pathNames(op.Path)
	var inPath []string
	for _, p := range paramsOf(op.params, &schema.Book{}) {
		if p.in == "path" {
			inPath = append(inPath, p.name)
		}
	}
	switch {
	case op.ID == "" || op.Summary == "" || op.Tag == "":
		bad = "has no id, summary or tag"
	case a.byID[op.ID] != nil:
		bad = "has the id of another"
	case !slices.Equal(named, inPath):
		bad = fmt.Sprintf("names %v in its path and %v in its parameters", named, inPath)
	case op.reads() && op.Body > 0:
		bad = "reads and takes a body"
	case op.body != nil && op.Body == 0:
		bad = "takes a body of no size"
	case op.Once && op.Method != http.MethodPost:
		bad = "creates, but is no POST"
	case op.reads() && (op.Once || op.Match):
		bad = "reads and changes"
	case !op.reads() && len(op.Scopes) == 0:
		bad = "changes something for anybody"
	}
	if bad != "" {
		panic(fmt.Sprintf("api: operation %s %s %q %s", op.Method, op.Path, op.ID, bad))
	}
}

// typeOf is the schema of what an operation answers.
func (a *API) typeOf(t reflect.Type) schema.Node { return a.book.Of(t, false) }
