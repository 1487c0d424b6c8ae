package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/actuate"
	"underlamp/app/act"
	"underlamp/app/kept"
	"underlamp/formats/actfile"
	"underlamp/formats/benchfolder"
	"underlamp/formats/handwritten"
	"underlamp/science/quantity"
	"underlamp/store"
)

func newAct(w World) *cobra.Command {
	var address string
	cmd := &cobra.Command{
		Use:   "act",
		Short: "Turn lamps over MQTT by the plan of a bench, within limits (off unless you say so)",
		Long: `act keeps how the lamps of a bench are turned: which lamp listens to which topic, when
its light begins, and how far it may be turned. underlamp serve --store does it, over its
own broker or another one. Unless the description says "acting: yes" it only logs what it
would do. docs/formats/act.md describes it all.

It is never the only safety device. Heat, mains and water need protection that works
without a program: a residual-current device (RCD or GFCI), fuses, the maker's cut-out for
heat, a dimmer that goes to a safe state by itself. Local code governs.`,
		Example: `  A description to correct, what it would do today, and into the store beside its bench:

  underlamp demo --no-serve
  underlamp act new underlamp-demo/tier-1-top.yaml --zone Europe/Berlin -o tier-1-top.act.yaml
  underlamp act check tier-1-top.act.yaml underlamp-demo/tier-1-top.yaml
  underlamp benches import underlamp-demo --store readings.db
  underlamp act put tier-1-top.act.yaml --store readings.db

  A person has the last word, for two hours or until it is taken back:

  underlamp act set tier-1-top "front bar" "50 %" --lasting "2 h" --store readings.db
  underlamp act list --store readings.db
  underlamp act clear tier-1-top --store readings.db`,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	withStore := func(c *cobra.Command) *cobra.Command {
		storeFlag(c.Flags(), &address, "")
		return c
	}
	open := openerOf(w, &address)
	var zone, output string
	create := &cobra.Command{Use: "new FILE", Short: "Write a description for the lamps of a bench, to be corrected", Args: oneFile, RunE: func(cmd *cobra.Command, args []string) error {
		bench, err := load(w, args[0])
		if err != nil {
			return err
		}
		if _, err := time.LoadLocation(zone); err != nil || zone == "" || zone == "Local" {
			return &wrongError{err: fmt.Errorf("%q is no time zone; write --zone Europe/Berlin", zone)}
		}
		name := strings.TrimSuffix(filepath.Base(args[0]), filepath.Ext(args[0]))
		text := actTemplate(name, zone, bench)
		if output == "" {
			fmt.Fprint(w.Out, text)
			return nil
		}
		if err := writeFile(output, []byte(text)); err != nil {
			return err
		}
		w.news("%s is written. Correct topics, hours and limits; acting: yes turns lamps.\n", output)
		return nil
	}}
	create.Flags().StringVar(&zone, "zone", "", zoneUsage+"; also of the clock times; it must be said")
	outputFlag(create.Flags(), &output, "standard output")
	check := &cobra.Command{Use: "check DESCRIPTION FILE", Short: "Whether a description fits its bench, and what it would do now", Args: arguments(2, 2, "a description and a bench file"), RunE: func(cmd *cobra.Command, args []string) error {
		acting, _, err := loadActing(w, args[0])
		if err != nil {
			return err
		}
		bench, err := load(w, args[1])
		if err != nil {
			return err
		}
		plans, err := act.Plans(bench, acting)
		if err != nil {
			return &wrongError{err: err}
		}
		showPlans(w, acting, plans, time.Now())
		return nil
	}}
	put := withStore(&cobra.Command{Use: "put DESCRIPTION", Short: "Put a description into the store, under the name of its bench", Args: arguments(1, 1, "one file"), RunE: func(cmd *cobra.Command, args []string) error {
		acting, text, err := loadActing(w, args[0])
		if err != nil {
			return err
		}
		return open(cmd, false, func(s store.Store) error {
			name := benchName(acting.Bench)
			bench, err := benchfolder.Bench(kept.Folder(cmd.Context(), s, time.Now), name)
			if err != nil {
				return &wrongError{err: fmt.Errorf("the bench of the description: %w; underlamp benches import brings it into the store", err)}
			}
			plans, err := act.Plans(bench, acting)
			if err != nil {
				return &wrongError{err: err}
			}
			if err := s.PutDocument(cmd.Context(), store.Document{Kind: actuate.KindAct, Name: name, Recorded: store.At(time.Now()), Text: text}); err != nil {
				return err
			}
			if acting.Live {
				fmt.Fprintf(w.Out, "underlamp serve turns %s of %s from now on.\n", count(len(plans), "lamp"), name)
			} else {
				fmt.Fprintf(w.Out, "underlamp serve logs what it would do with %s of %s. acting: yes turns them.\n", count(len(plans), "lamp"), name)
			}
			return nil
		})
	}})
	list := withStore(&cobra.Command{Use: "list", Short: "The descriptions in the store, and what persons want meanwhile", Args: noArguments, RunE: func(cmd *cobra.Command, _ []string) error {
		return open(cmd, false, func(s store.Store) error { return listActing(cmd.Context(), w, s) })
	}})
	show := withStore(&cobra.Command{Use: "show BENCH", Example: "  underlamp act show tier-1-top --store readings.db", Short: "The text of a description", Args: arguments(1, 1, "the name of a bench"), RunE: func(cmd *cobra.Command, args []string) error {
		return open(cmd, false, func(s store.Store) error {
			d, err := s.Document(cmd.Context(), actuate.KindAct, benchName(args[0]))
			if err != nil {
				return noActing(args[0], err)
			}
			_, err = w.Out.Write(d.Text)
			return err
		})
	}})
	drop := withStore(&cobra.Command{Use: "drop BENCH", Example: "  underlamp act drop tier-1-top --store readings.db", Short: "Take a description out of the store: its lamps go to their safe state", Args: arguments(1, 1, "the name of a bench"), RunE: func(cmd *cobra.Command, args []string) error {
		return open(cmd, false, func(s store.Store) error {
			name := benchName(args[0])
			if err := s.DropDocument(cmd.Context(), actuate.KindAct, name); err != nil {
				return noActing(args[0], err)
			}
			if err := s.DropDocument(cmd.Context(), actuate.KindOverride, name); err != nil && !errors.Is(err, store.ErrNotFound) {
				return err
			}
			fmt.Fprintf(w.Out, "The lamps of %s are not turned any more. Where underlamp serve turned them, it sets them to their safe state.\n", name)
			return nil
		})
	}})
	var duration string
	set := withStore(&cobra.Command{Use: "set BENCH LAMP DIMMING", Short: "What you want of a lamp, whatever the plan says; off, or a dimming", Args: arguments(3, 3, `a bench, a lamp and a dimming: underlamp act set rack "left bar" "50 %"`), RunE: func(cmd *cobra.Command, args []string) error {
		o := underlamp.Override{Lamp: args[1]}
		if args[2] != "off" {
			x, err := quantity.Share.Parse(args[2])
			if err != nil || x < 0 || x > 1 {
				return &wrongError{err: fmt.Errorf("%q is no dimming; write \"50 %%\", or off", args[2])}
			}
			o.Dimming = quantity.Fraction(x)
		}
		if duration != "" {
			h, err := quantity.Duration.Parse(duration)
			if err != nil || h <= 0 {
				return &wrongError{err: fmt.Errorf("--lasting %q is no time; write \"2 h\" or \"30 min\"", duration)}
			}
			o.Until = time.Now().Add(time.Duration(h * float64(time.Hour))).Truncate(time.Second)
		}
		return open(cmd, false, func(s store.Store) error { return setOverride(cmd.Context(), w, s, args[0], o) })
	}})
	set.Flags().StringVar(&duration, "lasting", "", "how long it counts, such as \"2 h\"; without it until it is taken back")
	renamedFlag(w, set.Flags(), "for", "lasting")
	clear := withStore(&cobra.Command{Use: "clear BENCH [LAMP]", Short: "Take back what you wanted of a lamp, or of all", Args: arguments(1, 2, "a bench, and one of its lamps or none"), RunE: func(cmd *cobra.Command, args []string) error {
		return open(cmd, false, func(s store.Store) error {
			lamp := ""
			if len(args) == 2 {
				lamp = args[1]
			}
			return clearOverride(cmd.Context(), w, s, args[0], lamp)
		})
	}})
	cmd.AddCommand(create, check, put, list, show, drop, set, clear)
	return cmd
}

// benchName is a bench without the ending of its file.
func benchName(name string) string {
	return strings.TrimSuffix(strings.TrimSuffix(name, ".yaml"), ".yml")
}

func noActing(name string, err error) error {
	if errors.Is(err, store.ErrNotFound) {
		return &wrongError{err: fmt.Errorf("the store has no description of how lamps of %q are turned; underlamp act list shows them", name)}
	}
	return err
}

// loadActing reads a description and shows what is wrong with it.
func loadActing(w World, name string) (*underlamp.Acting, []byte, error) {
	text, err := os.ReadFile(name)
	if err != nil {
		return nil, nil, &wrongError{err: fmt.Errorf("the description cannot be opened: %w; underlamp act new writes one", err)}
	}
	acting, problems, err := actfile.Read(bytes.NewReader(text))
	if err != nil {
		return nil, nil, &wrongError{err: fmt.Errorf("%s: %w", name, err)}
	}
	if len(problems) > 0 {
		fmt.Fprint(w.Err, problems.Render(name, text, w.colour()))
	}
	if acting == nil {
		return nil, nil, &wrongError{err: fmt.Errorf("%s has errors", name), shown: true}
	}
	return acting, text, nil
}

// actTemplate is a description to be corrected. Its limits are those that the bench
// allows for its best setting.
func actTemplate(name, zone string, b *underlamp.Bench) string {
	var t strings.Builder
	fmt.Fprintf(&t, `# How the lamps of %s are turned; see docs/formats/act.md. Correct every line.
# It is never the only safety device: mains, heat and water need protection that works without a program.
underlamp act: 1
bench: %s
zone: %s
acting: no                 # no: it is only logged what would be done; yes: lamps are turned
lamps:
`, name, name, zone)
	share := func(f quantity.Fraction) string { return quantity.Number(100*float64(f), 4) + " %" }
	why := func(defaults ...bool) string {
		if slices.Contains(defaults, true) {
			return "   # not in the bench file: check it"
		}
		return "   # as the bench file allows"
	}
	l := b.Limits
	for _, x := range b.Lamps {
		fmt.Fprintf(&t, "  - lamp: %q\n    topic: dimmer/%s/set      # what the lamp listens to\n    payload: 0 to 100          # or 0 to 1, 0 to 255, on/off\n    on at: 06:00\n", x.Name, topicWord(x.Name))
		fmt.Fprintf(&t, "    limits:\n      dimming: %s to %s%s\n      hours: %s h%s\n      change: 10 %%            # in a minute, or any\n",
			share(l.MinDim.Value), share(l.MaxDim.Value), why(l.MinDim.IsDefault(), l.MaxDim.IsDefault()), quantity.Number(float64(l.MaxHours.Value), 4), why(l.MaxHours.IsDefault()))
		t.WriteString("    safe: off                  # when underlamp ends or dies; or a dimming\n    safe wait: 1 min\n")
	}
	return t.String()
}

// topicWord brings a name to the characters that a topic may have everywhere.
func topicWord(s string) string {
	out := strings.Map(func(c rune) rune {
		if c >= 'a' && c <= 'z' || c >= '0' && c <= '9' {
			return c
		}
		return '-'
	}, strings.ToLower(s))
	if out = strings.Trim(out, "-"); out == "" {
		return "lamp"
	}
	return out
}

// showPlans tells what would be done now.
func showPlans(w World, a *underlamp.Acting, plans []act.Plan, now time.Time) {
	var rows [][]string
	for _, p := range plans {
		d, _ := act.Decide(p, nil, act.State{}, act.Tick{Now: now})
		_, change := p.Lit(now)
		next := "never"
		if !change.IsZero() {
			next = change.In(a.Zone).Format("2006-01-02 15:04")
		}
		lit := "dark"
		if is, _ := p.Lit(now); is {
			lit = "lit"
			d.Dimming = p.Dimming
		}
		safe := p.Payload.Text(p.Safe)
		rows = append(rows, []string{p.Lamp, p.Topic, lit, p.Payload.Text(d.Dimming), next, quantity.Number(float64(p.Hours), 3), safe})
	}
	writeTable(w.Out, []column{{head: "lamp"}, {head: "topic"}, {head: "now"}, {head: "payload"}, {head: "changes"}, {head: "h a day", right: true}, {head: "safe"}}, rows)
	if a.Live {
		fmt.Fprintln(w.Out, "acting: yes. Once it is in the store, underlamp serve turns these lamps.")
	} else {
		fmt.Fprintln(w.Out, "acting: no. It is only logged what would be done.")
	}
}

func listActing(ctx context.Context, w World, s store.Store) error {
	all, err := s.Documents(ctx, actuate.KindAct)
	if err != nil {
		return err
	}
	if len(all) == 0 {
		fmt.Fprintln(w.Out, "No lamps are turned. underlamp act new writes a description, act put puts it into the store.")
		return nil
	}
	var rows [][]string
	for _, d := range all {
		acting, problems, err := actfile.Read(bytes.NewReader(d.Text))
		if err != nil {
			return err
		}
		if acting == nil {
			rows = append(rows, []string{d.Name, "", "cannot be read: " + firstLine(problems), "", ""})
			continue
		}
		mode := "dry run"
		if acting.Live {
			mode = "turned"
		}
		overrides, err := actuate.Overrides(ctx, s, d.Name)
		if err != nil {
			return err
		}
		for _, l := range acting.Lamps {
			want, until := "", ""
			for _, o := range overrides {
				if o.Lamp == l.Lamp && (o.Until.IsZero() || o.Until.After(time.Now())) {
					want = l.Payload.Text(o.Dimming)
					if until = "taken back"; !o.Until.IsZero() {
						until = o.Until.Local().Format("2006-01-02 15:04")
					}
				}
			}
			rows = append(rows, []string{d.Name, l.Lamp, mode, want, until})
		}
	}
	writeTable(w.Out, []column{{head: "bench"}, {head: "lamp"}, {head: "is"}, {head: "a person wants"}, {head: "until"}}, rows)
	return nil
}

func firstLine(p handwritten.Problems) string {
	text, _, _ := strings.Cut(p.Error(), "\n")
	return text
}

// setOverride enters what a person wants of a lamp that is turned.
func setOverride(ctx context.Context, w World, s store.Store, bench string, o underlamp.Override) error {
	name := benchName(bench)
	d, err := s.Document(ctx, actuate.KindAct, name)
	if err != nil {
		return noActing(bench, err)
	}
	acting, problems, err := actfile.Read(bytes.NewReader(d.Text))
	if err == nil && acting == nil {
		err = problems
	}
	if err != nil {
		return fmt.Errorf("the description in the store: %w", err)
	}
	var names []string
	for _, l := range acting.Lamps {
		names = append(names, l.Lamp)
	}
	if !slices.Contains(names, o.Lamp) {
		return &wrongError{err: fmt.Errorf("the lamp %q is not turned; of %s these are: %s", o.Lamp, name, strings.Join(names, ", "))}
	}
	if err := changeOverrides(ctx, s, name, func(all []underlamp.Override) []underlamp.Override {
		all = slices.DeleteFunc(all, func(x underlamp.Override) bool { return x.Lamp == o.Lamp })
		return append(all, o)
	}); err != nil {
		return err
	}
	until := "until underlamp act clear takes it back"
	if !o.Until.IsZero() {
		until = "until " + o.Until.Format("2006-01-02 15:04")
	}
	what := "off"
	if o.Dimming > 0 {
		what = quantity.Number(100*float64(o.Dimming), 3) + " %"
	}
	fmt.Fprintf(w.Out, "%s: %s %s, within its limits. underlamp serve does it in a few seconds.\n", o.Lamp, what, until)
	return nil
}

// clearOverride takes back what a person wanted of a lamp, or of all.
func clearOverride(ctx context.Context, w World, s store.Store, bench, lamp string) error {
	name, gone := benchName(bench), 0
	if _, err := s.Document(ctx, actuate.KindAct, name); err != nil {
		return noActing(bench, err)
	}
	if err := changeOverrides(ctx, s, name, func(all []underlamp.Override) []underlamp.Override {
		return slices.DeleteFunc(all, func(x underlamp.Override) bool {
			is := lamp == "" || x.Lamp == lamp
			if is {
				gone++
			}
			return is
		})
	}); err != nil {
		return err
	}
	if gone == 0 {
		fmt.Fprintln(w.Out, "There was nothing to take back.")
		return nil
	}
	verb := "follow"
	if gone == 1 {
		verb = "follows"
	}
	fmt.Fprintf(w.Out, "%s %s the plan again.\n", count(gone, "lamp"), verb)
	return nil
}

func changeOverrides(ctx context.Context, s store.Store, name string, change func([]underlamp.Override) []underlamp.Override) error {
	all, err := actuate.Overrides(ctx, s, name)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := actfile.WriteOverrides(&b, change(all)); err != nil {
		return err
	}
	return s.PutDocument(ctx, store.Document{Kind: actuate.KindOverride, Name: name, Recorded: store.At(time.Now()), Text: b.Bytes()})
}
