package cli

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"underlamp/draw/terminal"
)

// valueNames say what a flag takes, where its name does not.
var valueNames = map[string]string{
	"store": "STORE", "output": "FILE", "zone": "ZONE", "by": "NAME", "note": "TEXT", "html": "FILE", "svg": "FILE", "calendar": "FILE",
	"table": "FILE", "trial-table": "FILE", "evidence": "FILE", "rules": "FILE", "cycle": "FILE", "trial": "FILE", "bench": "FILE", "outlook": "FILE",
	"scatter-from": "FILE", "cert": "FILE", "key": "FILE", "broker-ca": "FILE", "access-log": "FILE",
	"folder": "FOLDER", "measured": "FOLDER", "tables": "FOLDER", "certificates": "FOLDER",
	"listen": "ADDRESS", "intake": "ADDRESS", "mqtt": "ADDRESS", "broker": "ADDRESS", "lan": "ADDRESS", "https": "ADDRESS", "lan-name": "NAME",
	"target": "PPFD", "ceiling": "PPFD", "at-most": "PPFD", "ppfd": "PPFD", "both": "LEVEL", "dli": "DLI", "level": "DLI", "between": "DLI",
	"within": "SHARE", "sure": "SHARE", "dim-step": "SHARE", "for": "WHO", "color": "WHEN",
	"canopy": "HEIGHT", "clearance": "LENGTH", "step": "LENGTH", "height": "HEIGHT", "position": "PLACE", "blades": "LENGTH", "distance": "LENGTH", "altitude": "HEIGHT",
	"hours": "TIME", "dark": "TIME", "light-from": "CLOCK", "light-until": "CLOCK", "lights": "CLOCKS", "lasting": "TIME", "every": "TIME",
	"at": "TIME", "since": "TIME", "date": "DAY", "start": "DAY", "from": "DAY", "to": "DAY", "before": "DAY",
	"plants": "NAMES", "plant": "NAME", "first": "NAMES", "second": "NAMES", "column": "NAME=WHAT", "answer": "KEY=ANSWER", "symptom": "KEY", "cause": "KEY",
	"outcome": "ID", "corrects": "ID", "strike": "ID", "try-lamps": "NUMBERS", "tariff": "PRICES", "factor": "NAME=LEVELS", "curve": "FORM",
	"question": "TEXT", "missing": "TEXT", "why": "TEXT", "with": "NAME", "dates": "ORDER", "field": "WHEN", "units": "SYSTEM", "scale": "MM", "led": "DIODES",
	"per-lumen": "CLASS", "efficacy": "UMOL/J", "turn": "DEGREES", "turns": "RPM", "pair": "NUMBERS", "topic": "TOPIC", "weighed": "AMOUNTS", "ions": "AMOUNTS",
	"volume": "VOLUME", "temperature": "TEMPERATURE", "acknowledge": "NUMBER", "made": "NUMBER", "proposal": "NUMBER", "used": "NUMBER", "seed": "NUMBER", "draws": "NUMBER", "number": "NUMBER",
	"fans": "NUMBER", "lamps": "NUMBER", "plants-per-lamp": "NUMBER", "cycles": "NUMBER", "place": "NUMBER", "days": "DAYS", "gap": "DAYS", "rounds": "DAYS", "day": "DAY",
	"may": "SCOPES", "crop-day": "DAY", "heading": "ROW", "year": "YEAR", "into": "FILE", "as": "WHAT", "decimal": "MARK", "seedling-days": "DAYS", "about": "FILE", "records": "STORE", "licence": "SPDX", "width": "PIXELS", "columns": "COLUMNS", "gain": "NUMBER", "offset": "NUMBER", "worth": "NUMBER",
}

// valueName is what a flag takes, in capitals; empty for a switch.
func valueName(f *pflag.Flag) string {
	if f.Value.Type() == "bool" {
		return ""
	}
	last := f.Name[strings.LastIndexByte(f.Name, '-')+1:]
	return cmp.Or(valueNames[f.Name], strings.ToUpper(last))
}

// spelled is a flag with what it takes: "-o, --output FILE".
func spelled(f *pflag.Flag) string {
	s := "    --" + f.Name
	if f.Shorthand != "" {
		s = "-" + f.Shorthand + ", --" + f.Name
	}
	if v := valueName(f); v != "" && f.NoOptDefVal != "" {
		s += "[=" + v + "]"
	} else if v != "" {
		s += " " + v
	}
	return s
}

// usualValue is what a flag has if it is not said, where its usage does not say that.
func usualValue(f *pflag.Flag) string {
	if slices.Contains([]string{"", "0", "0s", "false", "[]"}, f.DefValue) || strings.Contains(f.Usage, "(default") {
		return ""
	}
	return " (default " + f.DefValue + ")"
}

// options are the flags of a command itself, and those that all commands have.
func options(c *cobra.Command) (own, common []*pflag.Flag) {
	c.InitDefaultHelpFlag()
	everywhere := c.Root().PersistentFlags()
	c.NonInheritedFlags().VisitAll(func(f *pflag.Flag) {
		if f.Hidden || f.Name == "help" || f.Name == "version" || everywhere.Lookup(f.Name) != nil {
			return
		}
		own = append(own, f)
	})
	c.InheritedFlags().VisitAll(func(f *pflag.Flag) {
		if !f.Hidden && everywhere.Lookup(f.Name) == nil {
			own = append(own, f)
		}
	})
	slices.SortFunc(own, func(a, b *pflag.Flag) int { return strings.Compare(a.Name, b.Name) })
	everywhere.VisitAll(func(f *pflag.Flag) { common = append(common, f) })
	for _, name := range []string{"help", "version"} {
		if name == "version" && c.HasParent() {
			continue
		}
		if f := c.Flags().Lookup(name); f != nil {
			common = append(common, f)
		}
	}
	slices.SortFunc(common, func(a, b *pflag.Flag) int { return strings.Compare(a.Name, b.Name) })
	return own, common
}

// usageOf is the line that shows the use of a command.
func usageOf(c *cobra.Command) string {
	switch {
	case !c.HasParent():
		return "underlamp COMMAND [OPTIONS]"
	case c.HasAvailableSubCommands() && !strings.Contains(c.Use, " "):
		return c.CommandPath() + " COMMAND [OPTIONS]"
	}
	words := c.Parent().CommandPath() + " " + c.Use
	return words + " [OPTIONS]"
}

// writeHelp prints all that is known of a command.
func writeHelp(w io.Writer, c *cobra.Command) {
	fmt.Fprintln(w, strings.TrimSpace(cmp.Or(c.Long, c.Short+".")))
	if c.Runnable() || c.HasAvailableSubCommands() {
		fmt.Fprintf(w, "\nUse:\n  %s\n", usageOf(c))
	}
	writeCommands(w, c)
	if c.HasExample() {
		fmt.Fprintf(w, "\nExample:\n%s\n", strings.TrimRight(c.Example, "\n"))
	}
	if !c.Runnable() && !c.HasAvailableSubCommands() {
		return
	}
	own, common := options(c)
	writeOptions(w, "Options", own)
	writeOptions(w, "Options of every command", common)
	if c.HasAvailableSubCommands() {
		fmt.Fprintf(w, "\n%s COMMAND --help tells more of a command.\n", c.CommandPath())
	}
}

// writeCommands lists what stands below a command, group by group.
func writeCommands(w io.Writer, c *cobra.Command) {
	wide := 0
	for _, s := range c.Commands() {
		if s.IsAvailableCommand() || s.IsAdditionalHelpTopicCommand() {
			wide = max(wide, len(s.Name()))
		}
	}
	list := func(title string, is func(s *cobra.Command) bool) {
		first := true
		for _, s := range c.Commands() {
			if s.Hidden || !is(s) {
				continue
			}
			if first {
				fmt.Fprintf(w, "\n%s\n", title)
				first = false
			}
			writeBeside(w, terminal.Pad(s.Name(), wide, false), s.Short)
		}
	}
	topic := func(s *cobra.Command) bool { return s.IsAdditionalHelpTopicCommand() }
	for _, g := range c.Groups() {
		list(g.Title, func(s *cobra.Command) bool { return s.GroupID == g.ID && !topic(s) })
	}
	list("Commands:", func(s *cobra.Command) bool { return s.GroupID == "" && !topic(s) })
	list("More help (underlamp help TOPIC):", topic)
}

func writeOptions(w io.Writer, title string, flags []*pflag.Flag) {
	if len(flags) == 0 {
		return
	}
	fmt.Fprintf(w, "\n%s:\n", title)
	wide := 0
	for _, f := range flags {
		wide = max(wide, min(len(spelled(f)), 30))
	}
	for _, f := range flags {
		writeBeside(w, terminal.Pad(spelled(f), wide, false), f.Usage+usualValue(f))
	}
}

// writeBeside prints text beside a name, broken under itself.
func writeBeside(w io.Writer, name, text string) {
	lead := "  " + name + "  "
	if len(lead) > 36 {
		fmt.Fprintln(w, "  "+name)
		lead = strings.Repeat(" ", 34)
	}
	writeParagraph(w, lead, text)
}

// topics are what help tells besides the commands.
func topics() []*cobra.Command {
	return []*cobra.Command{
		{Use: "exit-codes", Short: "How a command ends, and what that means", Long: exitText()},
		{Use: "environment", Short: "Variables that underlamp reads, and files that it knows", Long: environmentText},
		{Use: "json", Short: "What --json prints, its schemas and their versions", Long: jsonText()},
	}
}

// exits are all exit codes, with what they mean.
var exits = []struct {
	code  int
	means string
}{
	{exitDone, "done; validate ends so also where a check does not hold, which its table says"},
	{exitError, "could not be done: a file, a port, a database, a disk; doctor ends so where there is something to look at"},
	{exitWrong, "wrong input: the command line, a file, a value in it; nothing was written. doctor ends so where something is wrong"},
	{exitStopped, "stopped by Ctrl-C or a signal before it was done; serve, photos --watch and demo, which go on until then, end with 0"},
}

func exitText() string {
	var b strings.Builder
	b.WriteString("Every command ends with one of these codes. Errors stand on standard error, with what to\ndo; results on standard output.\n\n")
	for _, e := range exits {
		writeParagraph(&b, fmt.Sprintf("  %3d  ", e.code), e.means)
	}
	return b.String()
}

const environmentText = `Variables of the environment that underlamp reads:

  NO_COLOR      set to anything: no colour (--color always overrides it)
  TERM          dumb: no colour, no progress, pictures of plain letters; the console
                of Linux (linux) has plain letters too
  COLORTERM     truecolor: all colours; without it TERM tells how many there are
  LC_ALL, LC_CTYPE, LANG
                C or POSIX: pictures of plain letters
  TZ            the time zone of this machine, where --zone does not name another
  HOME, XDG_CONFIG_HOME, AppData
                where serve --https keeps the certificates of this user
  PGPASSWORD, PGPASSFILE and the like
                as every client of PostgreSQL, for a store at postgres://…
  UNDERLAMP_MQTT_PASSWORD_FILE and others
                secrets of serve: underlamp help serve lists them

Files that it knows by their ending: *.yaml bench files, *.cycle.yaml, *.trial.yaml,
*.trial.csv, *.feed.yaml, *.profile.yaml, *.watch.yaml, *.act.yaml; .ies and .ldt photometric
files. underlamp.db in the folder of the benches is the store of underlamp serve.`

func jsonText() string {
	var b strings.Builder
	b.WriteString(`With --json a command prints one JSON object for programs: the figures that people see,
with units in the names of the fields (height_m, power_w) and null for what is not known.
At the top stands which output it is and in which version, such as

  "schema": "underlamp/light/1"

Within a version fields may be added, so programs leave aside what they do not know. A
field that goes, or means something else, makes the next version, and the change log says
so. The JSON Schemas (2020-12) of all outputs:

`)
	for _, o := range outputs() {
		writeParagraph(&b, "  "+terminal.Pad(o.id(), 30, false), o.about)
	}
	b.WriteString(`
underlamp schema NAME prints one. Not among them: photos --json, a line for each photo, and
rounds list and export --json, which rounds import reads.`)
	return b.String()
}
