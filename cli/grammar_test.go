package cli

import (
	"bytes"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"underlamp/draw/terminal"
)

// tree is every command, the root first.
func tree(t *testing.T) []*cobra.Command {
	t.Helper()
	var all []*cobra.Command
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		all = append(all, c)
		for _, s := range c.Commands() {
			walk(s)
		}
	}
	walk(newRoot(World{Out: &bytes.Buffer{}, Err: &bytes.Buffer{}}))
	return all
}

// byCommand are flags whose meaning hangs on what their command is about: the volume of a
// tank and that of a room. They take the same everywhere nonetheless.
var byCommand = map[string]string{
	"volume": "of a room, a tank, a feed", "temperature": "of air, a tank", "name": "of a trial, a profile", "clearance": "has a default in one place",
	"every": "between readings, outlooks", "no-questions": "what is assumed differs", "output": "a file, a folder", "plant": "chosen, named", "days": "of a cycle, a token",
	"sheet": "of paper, of a workbook", "first": "of two groups, of a date", "table": "of photos, of a package",
}

// meaning is what a usage says before it tells what one command does with it, gives an
// example or a default.
func meaning(usage string) string {
	for _, cut := range []string{";", " (default", ", such as", ", for example", " such as"} {
		usage, _, _ = strings.Cut(usage, cut)
	}
	return usage
}

// A flag is called, spelled, taken and explained in the same way wherever it stands.
func TestFlagsMeanTheSameEverywhere(t *testing.T) {
	type seen struct{ path, kind, short, meaning string }
	first, letters := map[string]seen{}, map[string]string{}
	for _, c := range tree(t) {
		check := func(f *pflag.Flag) {
			if f.Hidden || f.Name == "help" {
				return
			}
			now := seen{c.CommandPath(), f.Value.Type(), f.Shorthand, meaning(f.Usage)}
			was, ok := first[f.Name]
			if !ok {
				first[f.Name] = now
				was = now
			}
			if was.kind != now.kind || was.short != now.short {
				t.Errorf("--%s is %s -%s in %q and %s -%s in %q", f.Name, was.kind, was.short, was.path, now.kind, now.short, now.path)
			}
			if was.meaning != now.meaning && byCommand[f.Name] == "" {
				t.Errorf("--%s means %q in %q and %q in %q", f.Name, was.meaning, was.path, now.meaning, now.path)
			}
			if f.Shorthand != "" {
				if other := letters[f.Shorthand]; other != "" && other != f.Name {
					t.Errorf("-%s is --%s and --%s", f.Shorthand, other, f.Name)
				}
				letters[f.Shorthand] = f.Name
			}
			switch u := f.Usage; {
			case u == "" || strings.HasSuffix(u, ".") || strings.TrimSpace(u) != u || strings.Contains(u, "  "):
				t.Errorf("%s --%s: %q is no usage", c.CommandPath(), f.Name, u)
			case strings.ToUpper(u[:1]) == u[:1] && !strings.HasPrefix(u, "DLI") && !strings.HasPrefix(u, "PPFD") && !strings.HasPrefix(u, "CO2") && u[0] >= 'A' && u[0] <= 'Z':
				t.Errorf("%s --%s begins with a capital: %q", c.CommandPath(), f.Name, u)
			}
			if f.Name != strings.ToLower(f.Name) || strings.Contains(f.Name, "_") {
				t.Errorf("--%s: words are small and parted by hyphens", f.Name)
			}
			if f.Value.Type() != "bool" && valueNames[f.Name] == "" && strings.Contains(f.Name, "-") && valueName(f) == "" {
				t.Errorf("--%s does not say what it takes", f.Name)
			}
		}
		c.LocalNonPersistentFlags().VisitAll(check)
		c.PersistentFlags().VisitAll(check)
	}
	for name := range byCommand {
		if _, ok := first[name]; !ok {
			t.Errorf("byCommand has --%s, which is no flag", name)
		}
	}
}

// Every command says what it does, with an example; no line of help is wider than a
// terminal, and none ends with a blank.
func TestHelpOfEveryCommand(t *testing.T) {
	for _, c := range tree(t) {
		path := c.CommandPath()
		if c.Short == "" || strings.HasSuffix(c.Short, ".") || len([]rune(c.Short)) > 90 {
			t.Errorf("%s: short text %q", path, c.Short)
		}
		topic := c.IsAdditionalHelpTopicCommand()
		if !c.HasExample() && c.HasParent() && !topic {
			t.Errorf("%s has no example", path)
		}
		if len(c.Aliases) > 0 {
			t.Errorf("%s has other names: %v", path, c.Aliases)
		}
		var b bytes.Buffer
		writeHelp(&b, c)
		inExample := false
		for line := range strings.Lines(b.String()) {
			line = strings.TrimSuffix(line, "\n")
			inExample = (inExample || line == "Example:") && !strings.HasPrefix(line, "Options")
			if n := terminal.Cells(line); n > 100 && !inExample || strings.TrimRight(line, " ") != line {
				t.Errorf("%s: %d columns: %q", path, n, line)
			}
		}
	}
}

// Old names of flags are taken, and the new one is said.
func TestRenamedFlags(t *testing.T) {
	code, out, errs := run(t, "", "new", "--yes", "--us")
	if code != 0 || !strings.Contains(out, " in") || !strings.Contains(errs, "--yes is called --no-questions now") || !strings.Contains(errs, "--units us instead of --us") {
		t.Errorf("code %d, errors %q", code, errs)
	}
	if code, _, errs = run(t, "", "new", "--no-questions", "--units", "us"); code != 0 || strings.Contains(errs, "now") {
		t.Errorf("code %d, errors %q", code, errs)
	}
	if code, out, _ = run(t, "", "new", "--help"); code != 0 || strings.Contains(out, "--yes") || strings.Contains(out, "--us ") {
		t.Errorf("help shows old names:\n%s", out)
	}
}

func TestNearest(t *testing.T) {
	for word, want := range map[string]string{"lihgt": "light", "ligt": "light", "outl": "outlook", "zzz": "", "lamps": "lamp", "a": ""} {
		if got := nearest(word, []string{"lamp", "light", "outlook"}); got != want {
			t.Errorf("%q: %q, want %q", word, got, want)
		}
	}
	refuses(t, `did you mean "light"`, "lihgt")
	refuses(t, "did you mean --json", "light", "--jsno", "x")
	refuses(t, `did you mean "findings"`, "trial", "findngs")
	refuses(t, `did you mean "light"`, "schema", "ligth")
	refuses(t, `"--help" looks like the next option`, "validate", "-o", "--help")
	refuses(t, "is a trial file: underlamp trial findings", "light", demoFile(t, "light-levels.trial.yaml"))
	refuses(t, "is a feed file: underlamp feed mix", "outlook", demoFile(t, "rack.feed.yaml"))
	refuses(t, "is a photometric file: underlamp lamp", "light", demoFile(t, "lamps/hollin-bar-42.ies"))
	refuses(t, "is a bench file: underlamp light", "trial", "findings", demoFile(t, "tier-1-top.yaml"))
}
