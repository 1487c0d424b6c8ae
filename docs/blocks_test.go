package docs_test

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
	_ "time/tzdata"
	"unicode"

	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"underlamp/demo"
	"underlamp/internal/fileschema"
	"underlamp/internal/pgtest"
)

// slow runs the pages with blocks that are marked slow, and those blocks too:
//
//	go test ./docs -slow
var slow = flag.Bool("slow", false, "of the documents run those pages, whole, that have blocks which take longer than a few seconds")

// fill writes what commands print below those of console blocks that have nothing below them, and
// anew where a page shows what they print no more:
//
//	go test ./docs -run Blocks -fill
var fill = flag.Bool("fill", false, "write what commands print into console blocks that show nothing of it, or what is no more; read it before it is kept")

// A codeBlock is a fenced block of a document.
type codeBlock struct {
	page  string // from the top of the module
	line  int
	kind  string // the first word of its info string
	rest  string // the others
	text  string
	begin int // of the text in the page
}

// pages are all documents, from the top of the module.
func pages(t testing.TB) (out []string) {
	t.Helper()
	err := filepath.WalkDir(".", func(name string, d fs.DirEntry, err error) error {
		if err == nil && strings.HasSuffix(name, ".md") {
			out = append(out, filepath.Join("docs", name))
		}
		return err
	})
	if err != nil || len(out) < 20 {
		t.Fatal(err, len(out))
	}
	return append(out, "README.md", "CONTRIBUTING.md")
}

var fence = regexp.MustCompile("(?m)^([ ]*)```([^\n]*)\n")

// blocksOf are the fenced blocks of a page; blocks within lists lose their indentation.
func blocksOf(t testing.TB, page string) (out []codeBlock) {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join("..", page))
	if err != nil {
		t.Fatal(err)
	}
	text := string(raw)
	for at := 0; ; {
		m := fence.FindStringSubmatchIndex(text[at:])
		if m == nil {
			return out
		}
		indent, info := text[at+m[2]:at+m[3]], strings.TrimSpace(text[at+m[4]:at+m[5]])
		line := 1 + strings.Count(text[:at+m[0]], "\n")
		begin := at + m[1]
		end := strings.Index(text[begin:], indent+"```\n")
		if end < 0 {
			t.Fatalf("%s:%d: the block has no end", page, line)
		}
		body := text[begin : begin+end]
		if indent != "" {
			body = strings.ReplaceAll("\n"+body, "\n"+indent, "\n")[1:]
		}
		kind, rest, _ := strings.Cut(info, " ")
		out = append(out, codeBlock{page, line, kind, strings.TrimSpace(rest), body, begin})
		at = begin + end + len(indent) + 4
	}
}

func (b codeBlock) where() string { return fmt.Sprintf("%s:%d", b.page, b.line) }

// workshop is a folder as the blocks of a page find it: the demo, and its middle tier under the
// names that documents give to a bench of one's own.
func workshop(t testing.TB) (dir string, env []string) {
	t.Helper()
	dir = t.TempDir()
	own := demo.Folder()
	for _, to := range []string{"underlamp-demo", "."} {
		if err := os.CopyFS(filepath.Join(dir, to), own); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.CopyFS(filepath.Join(dir, "DCIM"), demo.Photos()); err != nil {
		t.Fatal(err)
	}
	if err := os.CopyFS(filepath.Join(dir, "underlamp-demo", "photos"), demo.Photos()); err != nil {
		t.Fatal(err)
	}
	copyOf := func(from, to string, changes ...string) {
		raw, err := os.ReadFile(filepath.Join(dir, from))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, to), []byte(strings.NewReplacer(changes...).Replace(string(raw))), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	named := []string{"tier-2-middle.yaml", "mybench.yaml", "light-levels.trial.csv", "mytrial.trial.csv"}
	copyOf("tier-2-middle.yaml", "mybench.yaml", named...)
	copyOf("tier-2-middle.autumn.cycle.yaml", "mybench.autumn.cycle.yaml", named...)
	copyOf("tier-2-middle.summer.cycle.yaml", "mybench.summer.cycle.yaml", named...)
	copyOf("tier-2-middle.logger.csv", "logger.csv")
	copyOf("tier-2-middle.seen.json", "seen.json")
	copyOf("rack.feed.yaml", "mine.feed.yaml", "tier-1-top.yaml", "mybench.yaml")
	copyOf("light-levels.trial.yaml", "mytrial.trial.yaml", named...)
	copyOf("light-levels.trial.csv", "mytrial.trial.csv")
	if err := os.Mkdir(filepath.Join(dir, "bin"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(theProgram(t), filepath.Join(dir, "bin", "underlamp")); err != nil {
		t.Fatal(err)
	}
	home := t.TempDir()
	env = append(os.Environ(), "PATH="+filepath.Join(dir, "bin")+":"+os.Getenv("PATH"), "NO_COLOR=1", "TZ=UTC", "HOME="+home, "XDG_CONFIG_HOME="+home, "LC_ALL=C.UTF-8")
	// The store of a server that has run for a while, under the two names that pages use.
	shell(t, codeBlock{page: "the workshop", text: "underlamp benches import mybench.yaml --store underlamp.db; underlamp rounds import mybench.yaml seen.json --store underlamp.db; cp underlamp.db readings.db"}, dir, env)
	return dir, env
}

// run carries a line out as a person's shell does.
func run(t testing.TB, dir string, env []string, line string) (string, error) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Minute)
	defer cancel()
	c := exec.CommandContext(ctx, "/bin/sh", "-c", line)
	c.Dir, c.Env = dir, env
	var both bytes.Buffer
	c.Stdout, c.Stderr = &both, &both
	err := c.Run()
	return both.String(), err
}

// aDatabase is the address of a database as documents write it.
var aDatabase = regexp.MustCompile(`postgres://grower@host/underlamp`)

// notRun is how many blocks are not run, by page. What is not run can be wrong without anybody
// seeing it: a new one needs a better reason than that it is laborious.
var notRun = map[string]int{
	"README.md":       1, // it is the run of all tests
	"docs/install.md": 2, // eight binaries take minutes, and .ci/run makes one of them twice; containers
	"docs/faults.md":  1, // minutes of kills
	"docs/photos.md":  1, // the demo has photos of benches alone
}

// Every fenced block of the documents is held to what it is: commands run on the demo and print
// what is shown, files are read by their readers. What is not run says why, and is counted:
//
//	```console         "$ " and a command, and below it what it prints. A line … stands for lines
//	                   that are left out, … within a line for what differs from run to run
//	```console slow    the same, with -slow alone
//	```sh              commands that must end well
//	```sh server       the same in the folder of the demo, which underlamp serve shows at $BASE;
//	                   $TOKEN reads. Such blocks of a page have one server and one shell
//	```sh serves       lines of which those that go on until they are stopped are started, and
//	                   stopped when they run
//	```sh database     the same with a PostgreSQL server behind postgres://grower@host/underlamp
//	```sh machine      what changes a machine, done to one that is a folder
//	```sh sources      how the program of these tests is built
//	```sh … given X=…  with words of the block that stand for something
//	```powershell      run by pwsh, or by sh where that is not
//	```text printed    what the block of commands above prints, held as that of console blocks
//	```sh not run: why
//	```yaml            a whole file; it is read by the reader of its kind
//	```yaml wrong      one that its reader refuses
//	```yaml part KIND  some keys of a file of a kind: the schema must take them
//	```json, go        is JSON; compiles
//	```json NAME       a file for the blocks that follow
//	```r, python       run where Rscript or python3 is there, else that is told
//	```text, mermaid   no code
func TestBlocks(t *testing.T) {
	kinds := map[string]int{}
	gate := make(chan struct{}, max(1, runtime.GOMAXPROCS(0)))
	for _, page := range pages(t) {
		all := blocksOf(t, page)
		not := 0
		for _, b := range all {
			kinds[b.kind]++
			why, is := strings.CutPrefix(b.rest, "not run:")
			if is && len(strings.TrimSpace(why)) < 8 {
				t.Errorf("%s: say why it is not run", b.where())
			}
			if is {
				not++
			}
		}
		if not != notRun[page] {
			t.Errorf("%s: %d blocks are not run, and %d are known", page, not, notRun[page])
		}
		if len(all) == 0 || *slow && !slices.ContainsFunc(all, func(b codeBlock) bool { return mannerOf(b.rest).slow }) {
			continue
		}
		t.Run(strings.ReplaceAll(page, "/", "_"), func(t *testing.T) {
			t.Parallel()
			gate <- struct{}{}
			defer func() { <-gate }()
			var dir string
			var env []string
			filled := map[int]string{}
			var talk *conversation
			var other *machine
			var said *string // by the block before
			for _, b := range all {
				how, before := mannerOf(b.rest), said
				said = nil
				if how.not != "" {
					continue
				}
				switch {
				case b.kind == "sh" || b.kind == "console" || b.kind == "powershell":
					if dir == "" {
						dir, env = workshop(t)
					}
					if how.slow && !*slow {
						continue
					}
					if how.odd != "" || b.kind != "sh" && how != (manner{slow: how.slow}) {
						t.Errorf("%s: %q says nothing here", b.where(), b.rest)
					}
					if tool := lacking(b); tool != "" {
						if os.Getenv("CI") != "" {
							t.Fatalf("%s: %s is not there, and nothing may be skipped here", b.where(), tool)
						}
						t.Skipf("%s: not run, and what follows on its page: there is no %s here", b.where(), tool)
					}
					began := time.Now()
					text := put(how.given, b.text)
					switch {
					case b.kind == "console":
						if text := console(t, b, dir, env); text != "" {
							filled[b.begin] = text
						}
					case b.kind == "powershell":
						powershell(t, b, dir, env)
					case how.server:
						if talk == nil {
							talk = converse(t, dir, env)
						}
						out, err := talk.say(text)
						if err != nil {
							t.Fatalf("%s: %v\n%s\n%s", b.where(), err, text, out) // those that follow go on from it
						}
						said = &out
					case how.sources:
						if strings.TrimSpace(b.text) != buildLine {
							t.Errorf("%s: the program is built by %q, which is run; this is not", b.where(), buildLine)
						}
						theProgram(t)
					case how.machine:
						if other == nil {
							other = aMachine(t, dir, env)
						}
						b.text = text
						out := other.run(t, b, dir)
						said = &out
					case how.database && !pgtest.Installed():
						t.Logf("%s: not run, there is no PostgreSQL here", b.where())
						if os.Getenv("CI") != "" {
							t.Errorf("%s: PostgreSQL is not there, and nothing may be skipped here", b.where())
						}
					case how.database:
						b.text = aDatabase.ReplaceAllLiteralString(b.text, pgtest.Start(t).Database(t))
						serves(t, b, how.given, dir, env)
					case how.serves:
						serves(t, b, how.given, dir, env)
					default:
						b.text = text
						out := shell(t, b, dir, env)
						said = &out
					}
					if took := time.Since(began); took > time.Second {
						t.Logf("%s: %.1f s", b.where(), took.Seconds())
					}
					continue
				case how.printed:
					if before == nil {
						t.Errorf("%s: no block of commands stands before it", b.where())
						continue
					}
					if text := printed(t, b, *before); text != "" {
						filled[b.begin] = text
					}
					continue
				}
				switch b.kind {
				case "yaml":
					file(t, b)
				case "json":
					if !json.Valid([]byte(b.text)) {
						t.Errorf("%s: this is no JSON", b.where())
					}
					if b.rest != "" { // a file, for the blocks that follow
						if dir == "" {
							dir, env = workshop(t)
						}
						for _, at := range []string{".", "underlamp-demo"} {
							if err := os.WriteFile(filepath.Join(dir, at, filepath.Base(b.rest)), []byte(b.text), 0o644); err != nil {
								t.Fatal(err)
							}
						}
					}
				case "go":
					compiles(t, b)
				case "r", "python":
					if dir == "" {
						dir, env = workshop(t)
					}
					interpret(t, b, dir, env)
				case "text", "mermaid":
				default:
					t.Errorf("%s: %q says nothing of how the block is tested; text is for what is no code", b.where(), b.kind)
				}
			}
			if *fill && len(filled) > 0 {
				name := filepath.Join("..", page)
				raw, err := os.ReadFile(name)
				if err != nil {
					t.Fatal(err)
				}
				for _, b := range slices.Backward(all) {
					if text, ok := filled[b.begin]; ok {
						raw = slices.Concat(raw[:b.begin], []byte(text), raw[b.begin+len(b.text):])
					}
				}
				if err := os.WriteFile(name, raw, 0o644); err != nil {
					t.Fatal(err)
				}
			}
		})
	}
	t.Logf("%v", kinds)
	if kinds["console"]+kinds["sh"] < 10 || kinds["yaml"] < 10 {
		t.Errorf("few blocks were found: %v", kinds)
	}
}

// shell runs the lines of a block in one shell that stops where one fails.
func shell(t testing.TB, b codeBlock, dir string, env []string) string {
	t.Helper()
	out, err := run(t, dir, env, "set -e\n"+b.text)
	if err != nil {
		t.Errorf("%s: %v\n%s\n%s", b.where(), err, b.text, out)
	}
	return out
}

// powershell runs a block in PowerShell; where there is none, a shell does: the few lines of the
// documents are written alike.
func powershell(t testing.TB, b codeBlock, dir string, env []string) {
	t.Helper()
	if _, err := exec.LookPath("pwsh"); err != nil {
		t.Logf("%s: run by sh, there is no pwsh here", b.where())
		shell(t, b, dir, append(env, "PROFILE="+filepath.Join(dir, "profile.ps1")))
		return
	}
	c := exec.CommandContext(t.Context(), "pwsh", "-NoProfile", "-Command", b.text)
	c.Dir, c.Env = dir, env
	if out, err := c.CombinedOutput(); err != nil {
		t.Errorf("%s: %v\n%s", b.where(), err, out)
	}
}

// printed holds what commands printed against the block that shows it. It gives the block anew
// where that is asked for.
func printed(t *testing.T, b codeBlock, got string) (filled string) {
	t.Helper()
	got = strings.ReplaceAll(got, "\r\n", "\n") // CSV has such line ends
	lines := strings.Split(strings.TrimRight(got, "\n"), "\n")
	var want []string
	if b.text != "" {
		want = strings.Split(strings.TrimSuffix(b.text, "\n"), "\n")
	}
	switch {
	case len(want) == 0 && *fill:
		return got
	case fits(lines, want):
	case *fill:
		return strings.Join(anew(lines, want), "\n") + "\n"
	default:
		t.Errorf("%s: the commands above print\n%s\nand the page shows\n%s", b.where(), got, b.text)
	}
	return ""
}

// console runs the commands of a block and holds what each prints against what is shown below
// it. It gives the block with what was printed, where nothing was shown and that is asked for.
func console(t *testing.T, b codeBlock, dir string, env []string) (filled string) {
	t.Helper()
	lines := strings.Split(strings.TrimSuffix(b.text, "\n"), "\n")
	var out strings.Builder
	changed := false
	for i := 0; i < len(lines); {
		command, ok := strings.CutPrefix(lines[i], "$ ")
		if !ok {
			t.Errorf("%s: %q stands below no command", b.where(), lines[i])
			return ""
		}
		out.WriteString(lines[i] + "\n")
		for i++; strings.HasSuffix(command, "\\") && i < len(lines); i++ {
			command += "\n" + strings.TrimPrefix(lines[i], "> ")
			out.WriteString(lines[i] + "\n")
		}
		var want []string
		for ; i < len(lines) && !strings.HasPrefix(lines[i], "$ "); i++ {
			want = append(want, lines[i])
		}
		got, err := once(t, dir, env, command)
		if err != nil && !strings.Contains(command, "|| ") {
			var exit *exec.ExitError
			if !asExit(err, &exit) || len(want) == 0 {
				t.Errorf("%s: %s: %v\n%s", b.where(), command, err, got)
			}
		}
		printed := strings.Split(strings.TrimRight(got, "\n"), "\n")
		switch {
		case len(want) == 0:
			out.WriteString(got)
			changed = changed || got != ""
		case fits(printed, want):
			out.WriteString(strings.Join(want, "\n") + "\n")
		case *fill:
			out.WriteString(strings.Join(anew(printed, want), "\n") + "\n")
			changed = true
		default:
			t.Errorf("%s: %s prints\n%s\nand the page shows\n%s", b.where(), command, got, strings.Join(want, "\n"))
		}
	}
	if !changed || !*fill {
		return ""
	}
	return out.String()
}

// told are commands that print the same wherever they are run: they read the demo and write
// nothing.
var told = regexp.MustCompile(`^underlamp (light|lamp|spectrum|outlook|aim|match|raise|best|doubt|air|crops|learn|feed mix|trial findings) [^>|;]*$`)

var answers struct {
	sync.Mutex
	of map[string]*answer
}

type answer struct {
	sync.Once
	out string
	err error
}

// once runs a command; one that several pages show is run for all of them.
func once(t testing.TB, dir string, env []string, line string) (string, error) {
	t.Helper()
	if !told.MatchString(line) || strings.Contains(line, " -o ") || strings.Contains(line, "--store") {
		return run(t, dir, env, line)
	}
	answers.Lock()
	if answers.of == nil {
		answers.of = map[string]*answer{}
	}
	a := answers.of[line]
	if a == nil {
		a = &answer{}
		answers.of[line] = a
	}
	answers.Unlock()
	a.Do(func() { a.out, a.err = run(t, dir, env, line) })
	return a.out, a.err
}

func asExit(err error, to **exec.ExitError) bool {
	e, ok := err.(*exec.ExitError)
	*to = e
	return ok
}

// fits says that printed lines are those that are shown; a line … stands for any lines.
func fits(got, want []string) bool {
	if len(want) == 0 {
		return len(got) == 0
	}
	if strings.TrimSpace(want[0]) == "…" {
		for i := 0; i <= len(got); i++ {
			if fits(got[i:], want[1:]) {
				return true
			}
		}
		return false
	}
	return len(got) > 0 && alike(strings.TrimRight(got[0], " "), strings.TrimRight(want[0], " ")) && fits(got[1:], want[1:])
}

// anew are printed lines instead of those that were shown: of each shown line the one that is
// most like it, in order, and … where others lie between.
func anew(got, want []string) (out []string) {
	last := -1
	for _, w := range want {
		best, at := 0.6, -1
		for i := last + 1; i < len(got) && strings.TrimSpace(w) != "…"; i++ {
			if alike(got[i], w) {
				best, at = 1, i
				break
			}
			if s := likeness(got[i], w); s > best {
				best, at = s, i
			}
		}
		if at < 0 {
			continue
		}
		if at > last+1 {
			out = append(out, "…")
		}
		if last = at; alike(got[at], w) {
			out = append(out, w) // with what differs from run to run left out
		} else {
			out = append(out, got[at])
		}
	}
	if last < len(got)-1 {
		out = append(out, "…")
	}
	return out
}

// likeness is the share of the words of two lines, numbers aside, that they have in common.
func likeness(a, b string) float64 {
	words := func(s string) []string {
		return strings.FieldsFunc(s, func(c rune) bool { return !unicode.IsLetter(c) })
	}
	x, y := words(a), words(b)
	if len(x)+len(y) == 0 {
		return map[bool]float64{true: 0.7}[strings.TrimSpace(a) == "" == (strings.TrimSpace(b) == "")]
	}
	n := 0
	for _, w := range x {
		if i := slices.Index(y, w); i >= 0 {
			n++
			y = slices.Delete(slices.Clone(y), i, i+1)
		}
	}
	return 2 * float64(n) / float64(len(x)+n+len(y))
}

// alike says that a line is the one shown; … within it stands for any signs.
func alike(got, want string) bool {
	parts := strings.Split(want, "…")
	for i := range parts {
		parts[i] = regexp.QuoteMeta(parts[i])
	}
	return regexp.MustCompile("^" + strings.Join(parts, ".*") + "$").MatchString(got)
}

// By hand.
func TestFits(t *testing.T) {
	for _, c := range []struct {
		got, want string
		fits      bool
	}{
		{"a|b", "a|b", true}, {"a|b", "a", false}, {"a", "a|b", false}, {"a|b|c", "a|…|c", true}, {"a|c", "a|…|c", true}, {"a|b", "…", true}, {"a 1.5 s|b", "a … s|b", true}, {"a.c", "abc", false}, {"abc", "a.c", false},
	} {
		if fits(strings.Split(c.got, "|"), strings.Split(c.want, "|")) != c.fits {
			t.Errorf("%q shown as %q: not %v", c.got, c.want, c.fits)
		}
	}
}

// By hand.
func TestAnew(t *testing.T) {
	for _, c := range []struct{ got, want, anew string }{
		{"mass 4 g|new|end", "mass 3 g|end", "mass 4 g|…|end"}, {"a one|b two|c three", "b two|…", "…|b two|…"}, {"token xyz", "token …", "token …"}, {"mean of all 3|x", "the mean of all 2|…", "mean of all 3|…"},
	} {
		if got := strings.Join(anew(strings.Split(c.got, "|"), strings.Split(c.want, "|")), "|"); got != c.anew {
			t.Errorf("%q shown as %q: %q, want %q", c.got, c.want, got, c.anew)
		}
	}
}

// file reads a block as the file that it is.
func file(t *testing.T, b codeBlock) {
	t.Helper()
	kinds := fileschema.Kinds()
	if name, ok := strings.CutPrefix(b.rest, "part "); ok {
		i := slices.IndexFunc(kinds, func(k fileschema.Kind) bool { return k.Name == name })
		if i < 0 {
			t.Errorf("%s: there is no kind %q", b.where(), name)
			return
		}
		if err := part(kinds[i], b.text); err != nil {
			t.Errorf("%s: %v", b.where(), err)
		}
		return
	}
	for _, k := range kinds {
		if !regexp.MustCompile(`(?m)\A(\s*(#[^\n]*)?\n)*` + k.Version + `:`).MatchString(b.text) {
			continue
		}
		ok, problems := k.Read(b.text)
		switch {
		case b.rest == "wrong" && ok:
			t.Errorf("%s: the reader takes it", b.where())
		case b.rest == "" && !ok:
			t.Errorf("%s: %v", b.where(), problems)
		case b.rest != "" && b.rest != "wrong":
			t.Errorf("%s: %q says nothing here", b.where(), b.rest)
		}
		return
	}
	t.Errorf("%s: the file is of no kind; a part of one is marked: part bench", b.where())
}

// part holds some keys of a file to its schema, from which what must be there is taken.
func part(k fileschema.Kind, text string) error {
	raw, err := os.ReadFile(filepath.Join("schemas", "files", k.Name+".schema.json"))
	if err != nil {
		return err
	}
	var schema map[string]any
	if err := json.Unmarshal(raw, &schema); err != nil {
		return err
	}
	delete(schema, "required")
	delete(schema, "allOf")
	c := jsonschema.NewCompiler()
	if err := c.AddResource("part", schema); err != nil {
		return err
	}
	s, err := c.Compile("part")
	if err != nil {
		return err
	}
	var v any
	if err := yaml.Unmarshal([]byte(text), &v); err != nil {
		return err
	}
	if raw, err = json.Marshal(v); err != nil {
		return err
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(raw))
	if err != nil {
		return err
	}
	return s.Validate(doc)
}

// fetches are programs that examples of the HTTP API use and a machine with Go may lack.
var fetches = regexp.MustCompile(`\b(curl|jq)\b`)

// lacking is such a program that a block uses and this machine does not have; empty if there is none.
func lacking(b codeBlock) string {
	for _, tool := range fetches.FindAllString(b.rest+"\n"+b.text, -1) {
		if _, err := exec.LookPath(tool); err != nil {
			return tool
		}
	}
	return ""
}

// interpret runs a block of another language, if it is there.
func interpret(t *testing.T, b codeBlock, dir string, env []string) {
	t.Helper()
	program := map[string]string{"r": "Rscript", "python": "python3"}[b.kind]
	if _, err := exec.LookPath(program); err != nil {
		t.Logf("%s: not run, there is no %s here", b.where(), program)
		return
	}
	name := "block." + b.kind
	if err := os.WriteFile(filepath.Join(dir, name), []byte(b.text), 0o644); err != nil {
		t.Fatal(err)
	}
	if out, err := run(t, dir, env, program+" "+name); err != nil {
		t.Errorf("%s: %v\n%s", b.where(), err, out)
	}
}

// compiles builds a block as a program of the module.
func compiles(t *testing.T, b codeBlock) {
	t.Helper()
	dir, err := os.MkdirTemp("..", "block-of-docs-")
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(dir)
	if err := os.WriteFile(filepath.Join(dir, "main.go"), []byte(b.text), 0o644); err != nil {
		t.Fatal(err)
	}
	c := exec.Command("go", "vet", "./"+filepath.Base(dir))
	c.Dir = ".."
	if out, err := c.CombinedOutput(); err != nil {
		t.Errorf("%s: %v\n%s", b.where(), err, out)
	}
}
