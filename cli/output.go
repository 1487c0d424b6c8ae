package cli

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"
	"strconv"

	"underlamp/app/live"
	"underlamp/wire"
	"underlamp/wire/schema"
)

// An output is what a command prints with --json. Its identifier stands at the top of
// what is printed, and its schema in docs/schemas. Fields may be added within a version;
// one that goes, or means something else, raises it.
type output struct {
	name    string // "light"
	version int
	is      reflect.Type
	about   string // a sentence
}

// id is the identifier: "underlamp/light/1".
func (o output) id() string { return "underlamp/" + o.name + "/" + strconv.Itoa(o.version) }

func outputOf[T any](name string, version int, about string) output {
	return output{name, version, reflect.TypeFor[T](), about}
}

// outputs is every output. A type stands for one of them alone.
func outputs() []output {
	return []output{
		outputOf[wire.Light]("light", 1, "The light of a bench: underlamp light --json."),
		outputOf[lampOut]("lamp", 1, "What is in a photometric file: underlamp lamp --json."),
		outputOf[spectrumOut]("spectrum", 1, "The colour of a lamp: underlamp spectrum --json."),
		outputOf[wire.Aim]("aim", 1, "A setting for a target of light: underlamp aim --json."),
		outputOf[wire.Match]("match", 1, "Two groups of plants in one light: underlamp match --json."),
		outputOf[wire.Raise]("raise", 1, "A calendar that raises the lamps: underlamp raise --json."),
		outputOf[wire.Outlook]("outlook", 1, "A forecast to harvest: underlamp outlook --json."),
		outputOf[wire.Best]("best", 1, "The best setting: underlamp best --json."),
		outputOf[wire.Plan]("plan", 1, "The best of everything that can be turned: underlamp plan --json."),
		outputOf[wire.Doubts]("doubt", 1, "What the outlook is least sure of: underlamp doubt --json."),
		outputOf[learnOut]("learn", 1, "What cycles and trials teach: underlamp learn --json."),
		outputOf[backtestOut]("backtest", 1, "What the outlook would have said: underlamp backtest --json."),
		outputOf[cropsOut]("crops", 1, "Head types and species: underlamp crops --json."),
		outputOf[wire.Crop]("crop", 1, "One head type or species: underlamp crops NAME --json."),
		outputOf[airOut]("air", 1, "The air of a bench: underlamp air FILE --json."),
		outputOf[moistAirOut]("moist-air", 1, "Moist air by itself: underlamp air --json."),
		outputOf[mixOut]("feed-mix", 1, "What to weigh for a feed: underlamp feed mix --json, and feed check --weighed --json."),
		outputOf[feedCheckOut]("feed-check", 1, "Whether a feed holds together: underlamp feed check --json."),
		outputOf[correctOut]("feed-correct", 1, "What brings a tank back: underlamp feed correct --json."),
		outputOf[recipesOut]("feed-recipes", 1, "Published recipes: underlamp feed recipes --json."),
		outputOf[substancesOut]("feed-substances", 1, "Salts and acids that are known by name: underlamp feed substances --json."),
		outputOf[designsOut]("trial-design", 1, "Layouts of a trial: underlamp trial design --json."),
		outputOf[wire.TrialFindings]("trial-findings", 1, "What a trial tells: underlamp trial findings --json."),
		outputOf[troubleAnswer]("trouble", 1, "Causes of what is seen: underlamp trouble --json."),
		outputOf[casesOut]("trouble-cases", 1, "Cases of a bench and how often the first cause was right: underlamp trouble --cases --json."),
		outputOf[sensorsOut]("sensors", 1, "The sensors of a store: underlamp sensor list --json."),
		outputOf[loggedOut]("logged", 1, "What a data logger read: underlamp logged --json."),
		outputOf[live.Board]("watch", 1, "How a bench stands now: underlamp watch --json."),
		outputOf[boardOut]("watch-history", 1, "The same with the messages of the last 30 days: underlamp watch --history --json."),
		outputOf[importOut]("import", 1, "What an import would do, or has done: underlamp import --json."),
		outputOf[packageOut]("import-package", 1, "What taking a data package in would do, or has done: underlamp import PACKAGE --json."),
		outputOf[importsOut]("imports", 1, "The imports of a folder or a store: underlamp import list --json."),
		outputOf[checkOut]("check", 1, "Whether a bench file is in order: underlamp check --json."),
		outputOf[validateOut]("validate", 1, "Every outside check: underlamp validate --json."),
		outputOf[doctorOut]("doctor", 1, "What doctor found: underlamp doctor --json."),
		outputOf[sizeOut]("store-size", 1, "How much a store keeps: underlamp store size --json."),
		outputOf[benchesOut]("benches", 1, "The benches of a store: underlamp benches list --json."),
		outputOf[benchHistoryOut]("bench-history", 1, "What of a bench was changed when: underlamp benches history --json."),
		outputOf[reportOut]("report", 1, "The figures of a report: underlamp report --json."),
	}
}

// writeJSON prints an output for programs, with its identifier at the top.
func writeJSON(w World, v any) error {
	t := reflect.TypeOf(v)
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	for _, o := range outputs() {
		if o.is != t {
			continue
		}
		var b bytes.Buffer
		enc := json.NewEncoder(&b)
		enc.SetEscapeHTML(false)
		if err := enc.Encode(v); err != nil {
			return err
		}
		rest, ok := bytes.CutPrefix(b.Bytes(), []byte("{"))
		if !ok {
			break
		}
		head := `{"schema":` + strconv.Quote(o.id())
		if !bytes.HasPrefix(rest, []byte("}")) {
			head += ","
		}
		var out bytes.Buffer
		if err := json.Indent(&out, append([]byte(head), rest...), "", "  "); err != nil {
			return err
		}
		_, err := w.Out.Write(out.Bytes())
		return err
	}
	panic(fmt.Sprintf("cli: %s is no output: it is missing in outputs", t))
}

// document is the JSON Schema of an output.
func (o output) document() ([]byte, error) {
	var book schema.Book
	ref := book.Of(o.is, false)
	doc := schema.Node{
		"$schema":     "https://json-schema.org/draft/2020-12/schema",
		"$id":         "urn:underlamp:" + o.name + ":" + strconv.Itoa(o.version),
		"title":       o.id(),
		"description": o.about + " Numbers are in the units that names end with; what is not known is null. Fields may be added within a version.",
		"type":        "object",
		"properties":  schema.Node{"schema": schema.Node{"const": o.id(), "description": "which output this is, and in which version"}},
		"required":    []string{"schema"},
		"allOf":       []any{ref},
		"$defs":       book.Defs(),
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	err := enc.Encode(doc)
	return b.Bytes(), err
}
