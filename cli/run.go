package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime/debug"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"underlamp/access"
	"underlamp/draw/terminal"
	"underlamp/notify"
	"underlamp/store"
)

// A World is what the commands reach outside: streams, and the server that main
// hands down.
type World struct {
	In  io.Reader
	Out io.Writer
	Err io.Writer

	// Serve shows the benches in a folder as pages until ctx is done. It calls
	// ready with the address once it listens.
	Serve func(ctx context.Context, o ServeOptions, ready func(Serving)) error

	// OpenStore opens the store at an address: a file, or postgres://…
	OpenStore func(ctx context.Context, address string) (store.Store, error)

	// Tell takes a notice to a receiver now.
	Tell notify.Send

	// Colour says that Err is a terminal that wants colour.
	Colour bool

	// Colours are those that Out, a terminal, shows and wants.
	Colours terminal.Colours

	// ASCII says that Out shows no letters beyond ASCII in pictures.
	ASCII bool

	// Terminal says that Out is a terminal: a person reads it, and nothing keeps it.
	Terminal bool

	// Follows says that Err is a terminal that can take back a line: progress is shown.
	Follows bool

	// Width is how many columns that terminal has; 0 if nobody knows.
	Width int

	memory   *memory       // of tests
	demoSpan time.Duration // of tests: how far back the sensors of the demo have read; 0: a year
	look     *look         // what the flags of the command line say; Run makes it
}

// ServeOptions are what the page server needs.
type ServeOptions struct {
	Folder string // with the bench files; empty: those of the store
	Listen string // host:port of the pages; port 0 lets the system choose
	Open   string // name of the bench file to link to first; may be empty
	Store  string // address of the store; empty: nothing is kept
	Zone   string // of the days; empty: that of this machine

	Intake            string   // host:port for what devices send over HTTP, besides that of the pages; empty: none
	MQTT              string   // host:port of a broker of our own; empty: none
	CertFile, KeyFile string   // of Intake and MQTT, in PEM; empty: without TLS
	Broker, BrokerCA  string   // address of an outside broker, mqtt://…, and certificates of its authority; empty: none
	Topics            []string // what to read from it
	Tables            string   // folder of loggers' tables; empty: none

	LAN          string   // host:port at which other machines see the pages, host may be empty; empty: none do
	HTTPS        string   // the same over TLS, under an authority of our own
	HTTPSOnly    bool     // LAN leads to HTTPS and shows nothing else
	Names        []string // of this machine in the network, besides those that it knows
	Certificates string   // folder of the authority; empty: that of this user
	AccessLog    string   // file for what other machines ask; empty: none
	Terminal     bool     // a person reads what ready shows: a code may be in it

	// Beside goes on beside the server and sends; nil does nothing.
	Beside func(ctx context.Context, take Take)
}

// Take takes a reading of a sensor, and returns when it is on the disk.
type Take func(ctx context.Context, sensor, unit string, at time.Time, value float64) error

// Serving says where a server answers.
type Serving struct {
	Pages  string // address of the first page
	Store  string // as asked; empty: nothing is kept
	Intake string // address for devices, if it is another one
	MQTT   string // host:port of the broker; empty: none

	Elsewhere   access.Addresses // for other machines
	Invite      *access.Invite   // for the first owner; nil if there is one, or nobody would read it
	Fingerprint string           // of the authority; empty without TLS
}

// Exit codes, see the package comment.
const (
	exitDone    = 0
	exitError   = 1
	exitWrong   = 2
	exitStopped = 130 // 128 and the number of SIGINT, as shells have it
)

// wrongError marks an error that is the fault of the input, and has been shown
// already if shown is true.
type wrongError struct {
	err   error
	shown bool
}

func (e *wrongError) Error() string { return e.err.Error() }
func (e *wrongError) Unwrap() error { return e.err }

// Run carries out one command line, without the name of the program, and
// returns the exit code.
func Run(ctx context.Context, w World, args []string) int {
	out := &checkedWriter{w: w.Out}
	w.Out = out
	w.look = &look{}
	root := newRoot(w)
	root.SetArgs(args)
	root.SetIn(w.In)
	root.SetOut(w.Out)
	root.SetErr(w.Err)
	err := root.ExecuteContext(ctx)
	w.clearProgress()
	if err == nil {
		err = out.err
	}
	if err == nil {
		return exitDone
	}
	if errors.Is(err, context.Canceled) && ctx.Err() != nil {
		fmt.Fprintln(w.Err, "underlamp: stopped before it was done")
		return exitStopped
	}
	var wrong *wrongError
	if errors.As(err, &wrong) {
		if !wrong.shown {
			fmt.Fprintln(w.Err, "underlamp: "+err.Error())
		}
		return exitWrong
	}
	fmt.Fprintln(w.Err, "underlamp: "+err.Error())
	return exitError
}

// checkedWriter remembers the first error, so that a full disk is not taken for
// a result.
type checkedWriter struct {
	w   io.Writer
	err error
}

func (c *checkedWriter) Write(p []byte) (int, error) {
	n, err := c.w.Write(p)
	if err != nil && c.err == nil {
		c.err = fmt.Errorf("the output cannot be written: %w", err)
	}
	return n, err
}

// Help lists the commands in the order of the job.
func init() { cobra.EnableCommandSorting = false }

func newRoot(w World) *cobra.Command {
	if w.look == nil {
		w.look = &look{}
	}
	root := &cobra.Command{
		Use:   "underlamp",
		Short: "How bright, from how high, for how long: leafy greens under lamps",
		Long: `underlamp settles, for a bench of leafy greens under lamps, how bright, from how
high and for how long to light it, so that heads are heavy, hearts do not burn,
and little electricity is used. You describe the bench in a text file; it
computes the light at every plant, an outlook to harvest, and the best setting.

See the whole job on an invented bench:   underlamp demo
Describe your own:                        underlamp new -o mybench.yaml

Where a command takes FILE, - reads standard input. It ends with 0 if it is done,
1 if it could not be done, 2 if the bench file or the command line is wrong, 130 if
it was stopped (underlamp help exit-codes). Completion for your shell:
underlamp completion --help.`,
		Version:       version,
		SilenceUsage:  true,
		SilenceErrors: true,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return noCommand(cmd, args[0])
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	root.SuggestionsMinimumDistance = 2
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return &wrongError{err: fmt.Errorf("%w%s (%s --help lists the options)", err, nearestFlag(cmd, err), cmd.CommandPath())}
	})
	info, _ := debug.ReadBuildInfo()
	root.SetVersionTemplate("underlamp {{.Version}}\n" + built(info) + "\n")
	w.look.flags(root)
	root.PersistentPreRunE = func(cmd *cobra.Command, _ []string) error {
		if err := swallowed(cmd); err != nil {
			return err
		}
		return w.look.check()
	}
	root.SetHelpFunc(func(c *cobra.Command, _ []string) { writeHelp(w.Out, c) })
	root.SetUsageFunc(func(c *cobra.Command) error { writeHelp(w.Out, c); return nil })
	root.SetHelpCommand(newHelp())
	for _, group := range []struct {
		title    string
		commands []*cobra.Command
	}{
		{"Describe a bench:", []*cobra.Command{newNew(w), newCheck(w)}},
		{"Its light:", []*cobra.Command{newLight(w), newLamp(w), newSpectrum(w), newAim(w), newMatch(w), newRaise(w)}},
		{"Its harvest:", []*cobra.Command{newOutlook(w), newBest(w), newPlan(w), newDoubt(w), newLearn(w), newBacktest(w), newCrops(w)}},
		{"Its air and feed:", []*cobra.Command{newAir(w), newFeed(w)}},
		{"Its trials:", []*cobra.Command{newTrial(w)}},
		{"What people see:", []*cobra.Command{newRounds(w), newImport(w), newTrouble(w), newLabels(w), newPhotos(w), newStrip(w)}},
		{"What sensors read:", []*cobra.Command{newSensor(w), newDevice(w), newTables(w), newLogged(w), newWatch(w), newNotify(w)}},
		{"Its lamps:", []*cobra.Command{newAct(w)}},
		{"What is kept:", []*cobra.Command{newBenches(w), newStore(w), newDoctor(w)}},
		{"Show it:", []*cobra.Command{newReport(w), newServe(w), newPeople(w), newToken(w), newDemo(w)}},
		{"About underlamp:", []*cobra.Command{newValidate(w), newSchema(w), newMan(w)}},
	} {
		root.AddGroup(&cobra.Group{ID: group.title, Title: group.title})
		for _, c := range group.commands {
			c.GroupID = group.title
			root.AddCommand(c)
		}
	}
	root.SetHelpCommandGroupID("About underlamp:")
	root.AddCommand(newCompletion(w))
	root.AddCommand(topics()...)
	subcommands(root)
	completions(w, root)
	return root
}

// newHelp is help as a word, which refuses what it does not know.
func newHelp() *cobra.Command {
	return &cobra.Command{
		Use:     "help [COMMAND]",
		Short:   "What a command does, with an example",
		Example: "  underlamp help light",
		ValidArgsFunction: func(cmd *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
			about, _, err := cmd.Root().Find(args)
			if err != nil {
				return nil, cobra.ShellCompDirectiveNoFileComp
			}
			var out []string
			for _, s := range about.Commands() {
				if !s.Hidden {
					out = append(out, called(s.Name(), s.Short))
				}
			}
			return out, cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			about, rest, err := cmd.Root().Find(args)
			if err != nil || about == nil || len(rest) > 0 {
				if about != nil && len(rest) > 0 {
					return noCommand(about, rest[0])
				}
				return noCommand(cmd.Root(), strings.Join(args, " "))
			}
			about.InitDefaultHelpFlag()
			return about.Help()
		},
	}
}

// noCommand refuses a word that is no command, and names the nearest.
func noCommand(c *cobra.Command, word string) error {
	hint := ""
	var names []string
	for _, s := range c.Commands() {
		if !s.Hidden {
			names = append(names, s.Name())
		}
	}
	if s := nearest(word, names); s != "" {
		hint = fmt.Sprintf("; did you mean %q?", s)
	}
	return wrongf("%q is no command of %s%s (%s --help lists them)", word, c.CommandPath(), hint, c.CommandPath())
}

// subcommands lets every command that only has commands say which it has.
func subcommands(c *cobra.Command) {
	for _, s := range c.Commands() {
		if s.Example == "" {
			s.Example = examplesOf(c.Example, s.CommandPath())
		}
		if s.HasSubCommands() {
			subcommands(s)
			if strings.HasPrefix(s.Use, s.Name()+" FILE") { // import takes a file beside its commands
				continue
			}
			s.Args = func(cmd *cobra.Command, args []string) error {
				if len(args) > 0 {
					return noCommand(cmd, args[0])
				}
				return nil
			}
		}
	}
}

// examplesOf are the lines of an example that show one command, with what is typed into
// it.
func examplesOf(example, path string) string {
	var out []string
	taken := false
	for line := range strings.Lines(example) {
		line = strings.TrimRight(line, "\n")
		switch {
		case strings.HasPrefix(line, "  "+path+" ") || line == "  "+path:
			out, taken = append(out, line), true
		case taken && strings.HasPrefix(line, "      "):
			out = append(out, line)
		default:
			taken = false
		}
	}
	return strings.Join(out, "\n")
}

// nearestFlag names the flag that was perhaps meant by one that is not known.
func nearestFlag(c *cobra.Command, err error) string {
	var unknown *pflag.NotExistError
	if !errors.As(err, &unknown) {
		return ""
	}
	own, common := options(c)
	var names []string
	for _, f := range append(own, common...) {
		names = append(names, f.Name)
	}
	if s := nearest(unknown.GetSpecifiedName(), names); s != "" {
		return "; did you mean --" + s + "?"
	}
	return ""
}

// nearest is the name that differs least from a word, if it differs in few letters or
// begins with it; empty if none does.
func nearest(word string, names []string) string {
	best, found := 1+max(1, len(word)/3), ""
	for _, n := range names {
		if d := edits(word, n); d < best {
			best, found = d, n
		}
	}
	if found == "" && len(word) >= 3 {
		for _, n := range names {
			if strings.HasPrefix(n, word) {
				return n
			}
		}
	}
	return found
}

// edits is how many letters must be put in, taken out, changed or swapped with their
// neighbour to make one word of another (the restricted distance of Damerau).
func edits(a, b string) int {
	x, y := []rune(strings.ToLower(a)), []rune(strings.ToLower(b))
	d := make([][]int, len(x)+1)
	for i := range d {
		d[i] = make([]int, len(y)+1)
		d[i][0] = i
	}
	for j := range y {
		d[0][j+1] = j + 1
	}
	for i := 1; i <= len(x); i++ {
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			d[i][j] = min(d[i-1][j]+1, d[i][j-1]+1, d[i-1][j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				d[i][j] = min(d[i][j], d[i-2][j-2]+1)
			}
		}
	}
	return d[len(x)][len(y)]
}

// oneFile takes exactly one bench file.
func oneFile(cmd *cobra.Command, args []string) error {
	if len(args) != 1 {
		return &wrongError{err: fmt.Errorf("%s takes one bench file, for example: %s mybench.yaml", cmd.CommandPath(), cmd.CommandPath())}
	}
	return nil
}

// noArguments refuses words that a command would ignore.
func noArguments(cmd *cobra.Command, args []string) error {
	if len(args) > 0 {
		return &wrongError{err: fmt.Errorf("%s does not know what to do with %q (%s --help shows its use)", cmd.CommandPath(), args[0], cmd.CommandPath())}
	}
	return nil
}

// writeFile writes a whole file or nothing: beside it first, then in its place.
func writeFile(name string, data []byte) error {
	tmp := name + ".part"
	if err := os.WriteFile(tmp, data, 0o644); err != nil {
		os.Remove(tmp)
		return fmt.Errorf("%s cannot be written: %w", name, err)
	}
	if err := os.Rename(tmp, name); err != nil {
		os.Remove(tmp)
		return fmt.Errorf("%s cannot be written: %w", name, err)
	}
	return nil
}
