package cli

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
)

func newSchema(w World) *cobra.Command {
	return &cobra.Command{
		Use:   "schema [NAME]",
		Short: "The JSON Schema of what a command prints with --json; alone it lists them",
		Long: `schema prints the JSON Schema (2020-12) of an output, by the middle part of its
identifier: light for underlamp/light/1. underlamp help json tells how outputs change.`,
		Example: `  Which are there, and what does light --json print?

  underlamp schema
  underlamp schema light > light.schema.json`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return wrongf("%s takes one name of an output, or none", cmd.CommandPath())
			}
			return nil
		},
		RunE: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				for _, o := range outputs() {
					writeBeside(w.Out, fmt.Sprintf("%-28s", o.id()), o.about)
				}
				return nil
			}
			var names []string
			for _, o := range outputs() {
				if names = append(names, o.name); args[0] != o.name && args[0] != o.id() {
					continue
				}
				text, err := o.document()
				if err != nil {
					return err
				}
				_, err = w.Out.Write(text)
				return err
			}
			hint := ""
			if s := nearest(args[0], names); s != "" {
				hint = fmt.Sprintf("; did you mean %q?", s)
			}
			return wrongf("%q is no output%s (underlamp schema lists them)", args[0], hint)
		},
	}
}

func newMan(w World) *cobra.Command {
	var folder string
	cmd := &cobra.Command{
		Use:   "man",
		Short: "Write manual pages and completions for shells into a folder",
		Long: `man writes a manual page of every command (man1) and the completions for bash, zsh,
fish and PowerShell (completions) into a folder, as packages of a system want them.`,
		Example: `  underlamp man --output manual
  man -l manual/man1/underlamp-light.1`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if folder == "" {
				return wrongf("%s needs -o: the folder to write to", cmd.CommandPath())
			}
			n, err := writeManual(cmd.Root(), folder)
			if err == nil {
				w.news("%s: %s written\n", folder, count(n, "file"))
			}
			return err
		},
	}
	cmd.Flags().StringVarP(&folder, "output", "o", "", "write to this folder")
	return cmd
}

// writeManual writes all pages and completions.
func writeManual(root *cobra.Command, folder string) (files int, err error) {
	for _, sub := range []string{"man1", "completions"} {
		if err := os.MkdirAll(filepath.Join(folder, sub), 0o755); err != nil {
			return 0, fmt.Errorf("the folder cannot be made: %w", err)
		}
	}
	put := func(name string, write func(w io.Writer) error) {
		var b strings.Builder
		if err == nil {
			err = write(&b)
		}
		if err == nil {
			err = writeFile(filepath.Join(folder, filepath.FromSlash(name)), []byte(b.String()))
			files++
		}
	}
	var pages func(c *cobra.Command)
	pages = func(c *cobra.Command) {
		if c.Hidden || c.IsAdditionalHelpTopicCommand() || c.Name() == "help" {
			return
		}
		put("man1/"+manName(c)+".1", func(w io.Writer) error { return writeManPage(w, c) })
		for _, s := range c.Commands() {
			pages(s)
		}
	}
	pages(root)
	put("completions/underlamp.bash", func(w io.Writer) error { return root.GenBashCompletionV2(w, true) })
	put("completions/_underlamp", root.GenZshCompletion)
	put("completions/underlamp.fish", func(w io.Writer) error { return root.GenFishCompletion(w, true) })
	put("completions/underlamp.ps1", root.GenPowerShellCompletionWithDesc)
	return files, err
}

// manName is the name of the page of a command.
func manName(c *cobra.Command) string { return strings.ReplaceAll(c.CommandPath(), " ", "-") }

// roff writes text so that troff takes nothing of it for itself: backslashes, and dots
// and quotes at the begin of a line; hyphens stay what is typed.
var roff = strings.NewReplacer(`\`, `\e`, "-", `\-`, "\n.", "\n\\&.", "\n'", "\n\\&'", "’", `\(cq`, "^", `\(ha`, "~", `\(ti`, "`", `\(ga`)

func troff(s string) string {
	s = roff.Replace("\n" + s)[1:]
	return s
}

// writeManPage writes the manual page of a command, in the macros man(7).
func writeManPage(w io.Writer, c *cobra.Command) error {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	section := func(name string) { line(".SH %s", name) }
	verbatim := func(text string) {
		line(".PP\n.RS 2\n.nf\n%s\n.fi\n.RE", troff(text))
	}
	line(`.\" Written by underlamp man; do not edit.`)
	line(`.TH "%s" "1" "" "underlamp %s" "underlamp"`, strings.ToUpper(troff(manName(c))), troff(c.Root().Version))
	section("NAME")
	line(`%s \- %s`, troff(manName(c)), troff(c.Short))
	section("SYNOPSIS")
	line(".B %s", troff(c.CommandPath()))
	if rest := strings.TrimSpace(strings.TrimPrefix(usageOf(c), c.CommandPath())); rest != "" {
		line("%s", troff(rest))
	}
	section("DESCRIPTION")
	paragraphs(&b, c)
	if c.HasAvailableSubCommands() {
		section("COMMANDS")
		for _, s := range c.Commands() {
			if s.IsAvailableCommand() && s.Name() != "help" {
				line(".TP\n.B %s\n%s", troff(s.Name()), troff(s.Short))
			}
		}
	}
	own, common := options(c)
	if len(own) > 0 {
		section("OPTIONS")
	}
	for i, f := range append(own, common...) {
		if i == len(own) {
			section(`"OPTIONS OF EVERY COMMAND"`)
		}
		line(".TP\n.B %s\n%s", troff(strings.TrimSpace(spelled(f))), troff(f.Usage+usualValue(f)))
	}
	if c.HasExample() {
		section("EXAMPLE")
		verbatim(strings.Trim(c.Example, "\n"))
	}
	section(`"EXIT STATUS"`)
	for _, e := range exits {
		line(".TP\n.B %d\n%s", e.code, troff(e.means))
	}
	if !c.HasParent() {
		for _, t := range c.Commands() {
			if t.IsAdditionalHelpTopicCommand() && t.Name() != "exit-codes" {
				section(map[string]string{"environment": `"ENVIRONMENT AND FILES"`, "json": "JSON"}[t.Name()])
				verbatim(t.Long)
			}
		}
	} else {
		section("ENVIRONMENT")
		line("%s", troff("NO_COLOR, TERM, COLORTERM and TZ; underlamp(1) tells them, and the files that are known by their names."))
	}
	section(`"SEE ALSO"`)
	line("%s", strings.Join(seeAlso(c), "\n"))
	_, err := io.WriteString(w, b.String())
	return err
}

// paragraphs writes the long text of a command; what is indented in it stays as it is.
func paragraphs(b *strings.Builder, c *cobra.Command) {
	text := strings.TrimSpace(c.Long)
	if text == "" {
		text = c.Short + "."
	}
	for i, p := range strings.Split(text, "\n\n") {
		if i > 0 {
			b.WriteString(".PP\n")
		}
		if strings.HasPrefix(p, "  ") {
			fmt.Fprintf(b, ".RS 2\n.nf\n%s\n.fi\n.RE\n", troff(p))
			continue
		}
		b.WriteString(troff(p) + "\n")
	}
}

// seeAlso are the pages above, beside and below.
func seeAlso(c *cobra.Command) []string {
	page := func(c *cobra.Command) string { return ".BR " + troff(manName(c)) + " (1)" }
	var out []string
	if c.HasParent() {
		out = append(out, page(c.Parent()))
		for _, s := range c.Parent().Commands() {
			if s != c && s.IsAvailableCommand() && s.Name() != "help" && s.GroupID == c.GroupID {
				out = append(out, page(s))
			}
		}
	}
	for _, s := range c.Commands() {
		if s.IsAvailableCommand() && s.Name() != "help" {
			out = append(out, page(s))
		}
	}
	for i := range out[:max(len(out)-1, 0)] {
		out[i] += ","
	}
	return out
}

func newCompletion(w World) *cobra.Command {
	cmd := &cobra.Command{
		Use:     "completion",
		GroupID: "About underlamp:",
		Short:   "Completion for bash, zsh, fish and PowerShell",
		Long: `completion prints a script by which a shell completes commands, options, files by
what is in them, and the names in a store. To use it from the next shell on:

  bash        underlamp completion bash > ~/.local/share/bash-completion/completions/underlamp
              (the package bash-completion must be there)
  zsh         underlamp completion zsh > "${fpath[1]}/_underlamp"
              (with autoload -U compinit; compinit in ~/.zshrc)
  fish        underlamp completion fish > ~/.config/fish/completions/underlamp.fish
  PowerShell  underlamp completion powershell >> $PROFILE`,
		Example: `  underlamp completion bash > underlamp.bash`,
		RunE:    func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	for _, shell := range []struct {
		name  string
		write func(root *cobra.Command) error
	}{
		{"bash", func(root *cobra.Command) error { return root.GenBashCompletionV2(w.Out, true) }},
		{"zsh", func(root *cobra.Command) error { return root.GenZshCompletion(w.Out) }},
		{"fish", func(root *cobra.Command) error { return root.GenFishCompletion(w.Out, true) }},
		{"powershell", func(root *cobra.Command) error { return root.GenPowerShellCompletionWithDesc(w.Out) }},
	} {
		cmd.AddCommand(&cobra.Command{
			Use: shell.name, Short: "The script for " + shell.name, Args: noArguments, Example: "  underlamp completion " + shell.name + " > completion." + shell.name,
			RunE: func(cmd *cobra.Command, _ []string) error { return shell.write(cmd.Root()) },
		})
	}
	return cmd
}
