package cli

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/kept"
	"underlamp/app/live"
	"underlamp/draw/terminal"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/formats/handwritten"
	"underlamp/formats/watchfile"
	"underlamp/science/quantity"
	"underlamp/store"
	"underlamp/working"
)

type watchOptions struct {
	bench, store, zone string
	rules              string
	acknowledge        int64
	by                 string
	limits, history    bool
	json, working      bool
}

func newWatch(w World) *cobra.Command {
	var o watchOptions
	cmd := &cobra.Command{
		Use:   "watch BENCH",
		Short: "How a bench stands now: what follows from its sensors, and what to look at",
		Long: `watch tells how a bench stands now by what its sensors have sent to underlamp serve
--store: light and DLI so far and by the end of the day, vapour pressure deficit, dew,
electricity, the newest value of each sensor, and what is wrong. underlamp serve watches
all the time and opens messages; watch shows them, and looks once.

BENCH is a bench file, or a bench of the store by its name (underlamp benches). What is
watched follows from the bench file. --rules enters a file with limits, hours and
quiet hours of your own; --limits lists what holds, and where each limit comes from.`,
		Example: `  How does the demo's middle tier stand? Nothing has been sent yet, and watch says what
  is missing:

  underlamp demo --no-serve
  underlamp sensor set rack-2/air --reads temperature --sends Cel --bench underlamp-demo/tier-2-middle.yaml --store live.db
  underlamp watch underlamp-demo/tier-2-middle.yaml --store live.db --zone Europe/Berlin

  Its lamps burn from six to ten at night, and moist air is told from 85 % on; the file
  is typed here, and ends with Ctrl-D:

  underlamp watch underlamp-demo/tier-2-middle.yaml --store live.db --rules -
      underlamp watch: 1
      zone: Europe/Berlin
      lights: 06:00-22:00
      humidity: {high: 85 %, delay: 30 min}

  What holds now:

  underlamp watch underlamp-demo/tier-2-middle.yaml --store live.db --limits`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return &wrongError{err: fmt.Errorf("%s takes one bench, for example: %s mybench.yaml --store readings.db", cmd.CommandPath(), cmd.CommandPath())}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			o.bench = args[0]
			return runWatch(cmd, w, o)
		},
	}
	f := cmd.Flags()
	storeFlag(f, &o.store, "")
	zoneFlag(f, &o.zone, "that of the watch file goes first")
	f.StringVar(&o.rules, "rules", "", "enter a watch file for this bench (- is standard input), and end")
	f.BoolVar(&o.limits, "limits", false, "list what is watched, and where each limit comes from")
	f.BoolVar(&o.history, "history", false, "list the messages of the last 30 days")
	f.Int64Var(&o.acknowledge, "acknowledge", 0, "note that somebody knows of the message with this number")
	byFlag(f, &o.by)
	jsonFlag(f, &o.json, "")
	workingFlag(f, &o.working)
	return cmd
}

func runWatch(cmd *cobra.Command, w World, o watchOptions) error {
	ctx := cmd.Context()
	zone, err := zoneOf(o.zone)
	if err != nil {
		return err
	}
	s, err := openStore(cmd, w, o.store, false)
	if err != nil {
		return err
	}
	defer s.Close()
	b, err := liveBench(ctx, w, s, o.bench)
	if err != nil {
		return err
	}
	switch {
	case o.rules != "":
		return enterRules(ctx, w, s, b, o.rules)
	case o.acknowledge != 0:
		if o.by == "" {
			return &wrongError{err: errors.New("--acknowledge needs --by: who knows of it")}
		}
		err := s.Acknowledge(ctx, o.acknowledge, o.by, store.At(time.Now()))
		if errors.Is(err, store.ErrNotFound) {
			return &wrongError{err: fmt.Errorf("there is no message with the number %d", o.acknowledge)}
		} else if err == nil {
			fmt.Fprintf(w.Out, "Noted: %s knows of message %d.\n", o.by, o.acknowledge)
		}
		return err
	}
	engine := live.New(s, func(context.Context) ([]live.Bench, error) { return []live.Bench{b}, nil }, live.Options{
		Zone: zone, ReadWatch: func(b *underlamp.Bench, text []byte) (*underlamp.Watch, error) { return watchfile.Parse(text, b.Units) },
	})
	board, err := engine.Board(ctx, b.Key)
	if err != nil {
		return err
	}
	var past []store.Message
	if o.history {
		now := time.Now()
		if past, err = s.Messages(ctx, b.Key, store.At(now.AddDate(0, 0, -30)), store.At(now)); err != nil {
			return err
		}
	}
	if o.json {
		if o.history {
			return writeJSON(w, boardOut{*board, append([]store.Message{}, past...)})
		}
		return writeJSON(w, board)
	}
	printBoard(w, board, past, o)
	return nil
}

// liveBench reads a bench file, or else a bench of the store by its name.
func liveBench(ctx context.Context, w World, s store.Store, name string) (live.Bench, error) {
	key := strings.TrimSuffix(filepath.Base(name), filepath.Ext(name))
	if _, err := os.Stat(name); err == nil {
		b, err := load(w, name)
		return live.Bench{Key: key, Bench: b}, err
	}
	v, err := s.Bench(ctx, name, store.At(time.Now()))
	if errors.Is(err, store.ErrNotFound) {
		if _, err := os.Stat(name + ".yaml"); err == nil {
			return live.Bench{}, wrongf("no bench of the store is called %q; for the file write %s.yaml", name, name)
		}
		return live.Bench{}, &wrongError{err: fmt.Errorf("%q is neither a bench file nor a bench of the store (underlamp benches list shows those)", name)}
	} else if err != nil {
		return live.Bench{}, err
	}
	b, problems, err := benchfile.ReadWith(bytes.NewReader(v.Text), benchfolder.Files(kept.Folder(ctx, s, time.Now)))
	if err := shown(w, name, v.Text, problems, err); err != nil {
		return live.Bench{}, err
	}
	return live.Bench{Key: name, Bench: b}, nil
}

// enterRules checks a watch file and keeps it for a bench.
func enterRules(ctx context.Context, w World, s store.Store, b live.Bench, name string) error {
	text, err := readInput(w, name)
	if err != nil {
		return err
	}
	got, problems, err := watchfile.Read(bytes.NewReader(text), b.Units)
	if err := shown(w, name, text, problems, err); err != nil {
		return err
	}
	if err := s.PutDocument(ctx, store.Document{Kind: live.KindWatch, Name: b.Key, Recorded: store.At(time.Now()), Text: text}); err != nil {
		return err
	}
	fmt.Fprintf(w.Out, "The watch file holds for %s from now on: %s.\n", b.Key, count(len(got.Rules), "rule"))
	return nil
}

// shown prints the problems of a file written by hand, and fails if one is an error.
func shown(w World, name string, text []byte, problems handwritten.Problems, err error) error {
	if err != nil {
		return &wrongError{err: fmt.Errorf("%s: %w", name, err)}
	}
	if len(problems) > 0 {
		fmt.Fprint(w.Err, problems.Render(name, text, w.colour()))
	}
	if problems.HasErrors() {
		return &wrongError{err: fmt.Errorf("%s has errors", name), shown: true}
	}
	return nil
}

func printBoard(w World, b *live.Board, past []store.Message, o watchOptions) {
	zone, err := time.LoadLocation(b.Zone)
	if err != nil {
		zone = time.Local
	}
	lamps := ""
	if b.Lit != nil {
		lamps = map[bool]string{true: "; the lamps are on", false: "; the lamps are off"}[*b.Lit]
	}
	fmt.Fprintf(w.Out, "%s, %s%s\n", cmp.Or(b.Name, b.Bench), b.At.In(zone).Format("2006-01-02 15:04 MST"), lamps)
	if len(b.Messages) > 0 {
		fmt.Fprintln(w.Out)
		for _, m := range b.Messages {
			lead := fmt.Sprintf("  ! %d  ", m.ID)
			known := ""
			if m.Acknowledged != 0 {
				known = " (" + m.By + " knows of it.)"
			}
			writeParagraph(w.Out, lead, live.Text(m)+known)
		}
	}
	if len(b.Figures) > 0 {
		fmt.Fprintln(w.Out)
		writeFigures(w.Out, boardFigures(b))
	}
	if len(b.Today.Rows) > 0 {
		fmt.Fprintf(w.Out, "\nToday, %s", b.Today.Date)
		if d := b.Today.To.Sub(b.Today.From); d != 24*time.Hour {
			fmt.Fprintf(w.Out, " (%s, for the clocks change)", quantity.Duration.Format(d.Hours(), quantity.Metric, 3))
		}
		if b.Today.Cover != nil {
			fmt.Fprintf(w.Out, ", %s of it so far read", working.Percent(*b.Today.Cover))
		}
		fmt.Fprintln(w.Out)
		var rows [][]string
		number := func(v *float64) string {
			if v == nil {
				return ""
			}
			return quantity.Number(*v, 3)
		}
		for _, r := range b.Today.Rows {
			rows = append(rows, []string{r.Name, r.Unit, quantity.Number(r.SoFar, 3), number(r.End), number(r.Plan), r.State})
		}
		writeTable(w.Out, []column{{}, {}, {"so far", true}, {"by the end", true}, {"planned", true}, {}}, rows)
	}
	if len(b.Sensors) > 0 {
		fmt.Fprintln(w.Out)
		var rows [][]string
		for _, x := range b.Sensors {
			age := x.Age
			if age != "" {
				age += " ago"
			}
			least, most := "", ""
			if len(x.Spark) > 0 {
				low, high := x.Spark[0].Min, x.Spark[0].Max
				for _, p := range x.Spark {
					low, high = min(low, p.Min), max(high, p.Max)
				}
				least, most = quantity.Number(low, 3), quantity.Number(high, 3)
			}
			rows = append(rows, []string{x.Key, string(x.Quantity), x.Text, age, least, most, terminal.Spark(w.style(), hourly(x.Spark, b.At))})
		}
		writeTable(w.Out, []column{{head: "sensor"}, {head: "reads"}, {"now", true}, {"read", true}, {"least of 24 h", true}, {"most", true}, {head: "the day, oldest first"}}, rows)
		for _, x := range b.Sensors {
			for _, c := range x.Checks {
				writeParagraph(w.Out, "  ! "+x.Key+": ", c.Text+" "+c.Mend)
			}
		}
	}
	if o.limits {
		fmt.Fprintln(w.Out)
		var rows [][]string
		for _, l := range b.Limits {
			state := ""
			if l.Off {
				state = "off"
			}
			rows = append(rows, []string{string(l.Key), l.Text, state, l.Origin, l.Note})
		}
		writeTable(w.Out, []column{{head: "watched"}, {head: "limit"}, {}, {head: "origin"}, {head: "note"}}, rows)
	}
	if o.history {
		fmt.Fprintln(w.Out)
		at := func(us int64) string {
			if us == 0 {
				return ""
			}
			return store.Time(us).In(zone).Format("01-02 15:04")
		}
		var rows [][]string
		for _, m := range past {
			rows = append(rows, []string{fmt.Sprint(m.ID), m.Rule, at(m.Since), at(m.Opened), at(m.Closed), strings.TrimSpace(at(m.Acknowledged) + " " + m.By)})
		}
		if len(rows) == 0 {
			fmt.Fprintln(w.Out, "  No message in the last 30 days.")
		} else {
			writeTable(w.Out, []column{{head: "no."}, {head: "rule"}, {head: "since"}, {head: "told"}, {head: "over"}, {head: "known"}}, rows)
		}
	}
	for _, n := range b.Notes {
		fmt.Fprintln(w.Out)
		writeParagraph(w.Out, "  ! ", n)
	}
	if o.working {
		writeWorking(w.Out, boardFigures(b))
	}
}

// hourly is the mean of what a sensor read in each of the last 24 hours, oldest first; an
// hour without a reading is no number.
func hourly(points []live.Point, now time.Time) []float64 {
	sum, n := make([]float64, 24), make([]float64, 24)
	for _, p := range points {
		if h := int(now.Sub(p.At) / time.Hour); h >= 0 && h < 24 {
			sum[23-h] += p.Mean
			n[23-h]++
		}
	}
	for h := range sum {
		sum[h] /= n[h] // 0/0 is no number
	}
	return sum
}

func boardFigures(b *live.Board) []working.Figure {
	var out []working.Figure
	for _, f := range b.Figures {
		out = append(out, f.Figure)
	}
	return out
}

// boardOut is how a bench stands, and what was told of it.
type boardOut struct {
	live.Board
	Past []store.Message `json:"messages_of_30_days" doc:"messages of the last 30 days, open or over"`
}
