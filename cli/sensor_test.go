package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"underlamp"
	"underlamp/notify"
	"underlamp/store"
	"underlamp/store/sqlite"
)

// A room runs commands over one store and the demo's middle tier.
type room struct {
	t     *testing.T
	file  string // of the store
	bench string
	told  []string
}

func newRoom(t *testing.T) *room {
	return &room{t: t, file: filepath.Join(t.TempDir(), "readings.db"), bench: demoFile(t, "tier-2-middle.yaml")}
}

// run carries out a line of words; STORE and BENCH stand for those of the room.
func (r *room) run(in string, args ...string) (out, errs string, code int) {
	r.t.Helper()
	for i, a := range args {
		args[i] = strings.NewReplacer("STORE", r.file, "BENCH", r.bench).Replace(a)
	}
	var o, e bytes.Buffer
	code = Run(context.Background(), World{In: strings.NewReader(in), Out: &o, Err: &e,
		OpenStore: func(ctx context.Context, address string) (store.Store, error) { return sqlite.Open(ctx, address) },
		Tell: func(_ context.Context, x *underlamp.Receiver, n notify.Notice) error {
			r.told = append(r.told, x.Name+" "+n.Event)
			if x.Name == "broken" {
				return errors.New("no connection")
			}
			return nil
		},
	}, args)
	return o.String(), e.String(), code
}

// must fails unless a line is done and says what is wanted.
func (r *room) must(want, in string, args ...string) string {
	r.t.Helper()
	out, errs, code := r.run(in, args...)
	if code != 0 || !strings.Contains(out, want) {
		r.t.Errorf("%v: code %d, %s%s, want %q", args, code, out, errs, want)
	}
	return out
}

// refused fails unless a line is the fault of who wrote it, and says why.
func (r *room) refused(want, in string, args ...string) {
	r.t.Helper()
	out, errs, code := r.run(in, args...)
	if code != 2 || !strings.Contains(errs, want) {
		r.t.Errorf("%v: code %d, %s%s, want %q", args, code, out, errs, want)
	}
}

func TestSensorCommand(t *testing.T) {
	r := newRoom(t)
	r.refused("needs --store", "", "sensor", "list")
	r.refused("cannot be opened", "", "sensor", "list", "--store", "STORE")
	r.must("is entered; it has sent nothing yet: PPFD in lx, on tier-2-middle", "", "sensor", "set", "rack/ppfd", "--reads", "light", "--sends", "lx", "--bench", "BENCH", "--position", "60 cm, 30 cm", "--height", "5 cm", "--every", "1 min", "--store", "STORE")
	r.must("is described anew", "", "sensor", "set", "rack/ppfd", "--sends", "umol/m2/s", "--store", "STORE")
	r.must("60 cm, 30 cm, 5 cm up", "", "sensor", "list", "--store", "STORE")
	r.must("true = 1.06 × read, gain from one pair", "", "sensor", "calibrate", "rack/ppfd", "--pair", "200 212", "--by", "Ines", "--date", "2026-11-01", "--store", "STORE")
	out := r.must("Ines", "", "sensor", "show", "rack/ppfd", "--store", "STORE")
	if !strings.Contains(out, "nothing in the last 30 days") || !strings.Contains(out, "1.06") {
		t.Error(out)
	}
	var all struct{ Sensors []map[string]any }
	text := r.must("", "", "sensor", "list", "--json", "--store", "STORE")
	conforms(t, []byte(text))
	err := json.Unmarshal([]byte(text), &all)
	list := all.Sensors
	if err != nil || len(list) != 1 || list[0]["key"] != "rack/ppfd" || list[0]["bench"] != "tier-2-middle" {
		t.Errorf("%v, %v", list, err)
	}
	r.must("on no bench", "", "sensor", "set", "rack/ppfd", "--no-bench", "--store", "STORE")
	for want, args := range map[string][]string{
		"takes the name of one sensor":       {"sensor", "set"},
		"no sensor is called":                {"sensor", "show", "rack/air"},
		"is no command of underlamp sensor":  {"sensor", "remove"},
		"changes nothing as it stands":       {"sensor", "set", "rack/ppfd"},
		"is nothing that is read here":       {"sensor", "set", "rack/ppfd", "--reads", "wetness"},
		"--position \"60 cm\" is not":        {"sensor", "set", "rack/ppfd", "--position", "60 cm"},
		"--position: \"60\" is not a length": {"sensor", "set", "rack/ppfd", "--position", "60, 30 cm"},
		"the bench ends at 120 cm":           {"sensor", "set", "rack/ppfd", "--position", "2 m, 30 cm", "--bench", "BENCH"},
		"nor a bench of the store":           {"sensor", "set", "rack/ppfd", "--bench", "attic"},
		"needs --pair":                       {"sensor", "calibrate", "rack/ppfd"},
		"--pair \"200\" is not":              {"sensor", "calibrate", "rack/ppfd", "--pair", "200"},
		"without units":                      {"sensor", "calibrate", "rack/ppfd", "--pair", "200 two"},
		"the day \"yesterday\" is not":       {"sensor", "calibrate", "rack/ppfd", "--gain", "1.1", "--date", "yesterday"},
		"a gain of 0.018 is no":              {"sensor", "calibrate", "rack/ppfd", "--gain", "0.018"},
		"--gain and --offset, or --worth":    {"sensor", "calibrate", "rack/ppfd", "--gain", "1.1", "--worth", "0.018"},
	} {
		r.refused(want, "", append(args, "--store", "STORE")...)
	}
	r.must("factor as said", "", "sensor", "calibrate", "rack/ppfd", "--worth", "0.018", "--store", "STORE")
}

// What a sensor sent is on the board, as text and as JSON; a bench of the store will do as
// well as a file.
func TestWatchCommand(t *testing.T) {
	r := newRoom(t)
	r.must("", "", "sensor", "set", "rack/air", "--reads", "temperature", "--sends", "Cel", "--bench", "BENCH", "--store", "STORE")
	r.must("", "", "benches", "import", "BENCH", "--store", "STORE")
	s, err := sqlite.Open(context.Background(), r.file)
	if err != nil {
		t.Fatal(err)
	}
	x, err := s.Sensor(context.Background(), "rack/air")
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	var rs []store.Reading
	for i := range 60 {
		rs = append(rs, store.Reading{Sensor: x.ID, At: store.At(now.Add(-time.Duration(i) * time.Minute)), Value: 20.5})
	}
	if err := s.Append(context.Background(), rs); err != nil {
		t.Fatal(err)
	}
	m, _, err := s.OpenMessage(context.Background(), store.Message{Bench: "tier-2-middle", Rule: "dew", Text: "Dew is near.", Mend: "Move the air.", Since: store.At(now), Opened: store.At(now)})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	for _, bench := range []string{"BENCH", "tier-2-middle"} {
		out := r.must("20.5 °C", "", "watch", bench, "--store", "STORE", "--history", "--limits", "--working")
		if !strings.Contains(out, "Cellar rack, middle tier") || !strings.Contains(out, "Dew is near. Move the air.") || !strings.Contains(out, "around") && !strings.Contains(out, "4 °C below the cooler") {
			t.Error(out)
		}
	}
	var board struct {
		Bench   string
		Sensors []struct{ Last *float64 }
		Past    []store.Message `json:"messages_of_30_days"`
	}
	printed := []byte(r.must("", "", "watch", "BENCH", "--store", "STORE", "--json", "--history"))
	conforms(t, printed)
	conforms(t, []byte(r.must("", "", "watch", "BENCH", "--store", "STORE", "--json")))
	if err := json.Unmarshal(printed, &board); err != nil || board.Bench != "tier-2-middle" || len(board.Sensors) != 1 || *board.Sensors[0].Last != 20.5 || len(board.Past) != 1 {
		t.Errorf("%+v, %v", board, err)
	}
	r.must("Ines knows of message 1", "", "watch", "BENCH", "--store", "STORE", "--acknowledge", "1", "--by", "Ines")
	if m.ID != 1 {
		t.Errorf("message %d", m.ID)
	}
	r.must("(Ines knows of it.)", "", "watch", "BENCH", "--store", "STORE")
	r.must("from now on: 1 rule", "underlamp watch: 1\nhumidity: off\n", "watch", "BENCH", "--store", "STORE", "--rules", "-")
	r.must("switched off", "", "watch", "BENCH", "--store", "STORE", "--limits")
	r.refused("did you mean \"humidity\"", "underlamp watch: 1\nhumdity: off\n", "watch", "BENCH", "--store", "STORE", "--rules", "-")
	r.refused("no message with the number 9", "", "watch", "BENCH", "--store", "STORE", "--acknowledge", "9", "--by", "Ines")
	r.refused("needs --by", "", "watch", "BENCH", "--store", "STORE", "--acknowledge", "1")
	r.refused("is not known; zones", "", "watch", "BENCH", "--store", "STORE", "--zone", "Berlin")
	r.refused("takes one bench", "", "watch", "--store", "STORE")
	r.refused("nor a bench of the store", "", "watch", "attic", "--store", "STORE")
}

func TestNotifyCommand(t *testing.T) {
	r := newRoom(t)
	r.must("", "", "device", "add", "logger", "--store", "STORE")
	r.must("Nobody is told", "", "notify", "--store", "STORE")
	r.refused("nobody is told", "", "notify", "--test", "--store", "STORE")
	const good = "underlamp notify: 1\nreceivers:\n  - {name: phone, only: urgent, webhook: {url: \"https://example.org/hook?token=sesame\"}}\n  - {name: house, mqtt: t}\n"
	r.must("2 receivers are told", good, "notify", "-", "--test", "--store", "STORE")
	if strings.Join(r.told, ", ") != "phone test, house test" {
		t.Error(r.told)
	}
	if out := r.must("only what is urgent", "", "notify", "--store", "STORE"); strings.Contains(out, "sesame") {
		t.Error(out)
	}
	r.refused("has 0 ways", "underlamp notify: 1\nreceivers: [{name: a}]\n", "notify", "-", "--store", "STORE")
	out, errs, code := r.run(strings.ReplaceAll(good, "phone", "broken"), "notify", "-", "--test", "--store", "STORE")
	if code != 1 || !strings.Contains(out, "broken: no connection") || !strings.Contains(errs, "1 of 2 receivers") {
		t.Error(code, out, errs)
	}
}
