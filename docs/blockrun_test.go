package docs_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// buildLine is how the documents say that the program is built. Blocks that are marked "sources"
// hold it; its result goes elsewhere, for nothing may be written beside the sources.
const buildLine = "go build ./cmd/underlamp"

// What blocks call underlamp is the program itself, built once by that line.
var program struct {
	sync.Once
	dir, path string
	err       error
}

func TestMain(m *testing.M) {
	code := m.Run()
	if program.dir != "" {
		os.RemoveAll(program.dir)
	}
	os.Exit(code)
}

// theProgram is the path of the program.
func theProgram(t testing.TB) string {
	t.Helper()
	program.Do(func() {
		if program.dir, program.err = os.MkdirTemp("", "underlamp-docs-"); program.err != nil {
			return
		}
		// The folders of the sources are read, so that the go command knows what a result that it
		// keeps of this test hangs on.
		if program.err = filepath.WalkDir("..", func(name string, d fs.DirEntry, err error) error {
			if err == nil && d.IsDir() && name != ".." && (strings.HasPrefix(d.Name(), ".") || d.Name() == "node_modules") {
				return fs.SkipDir
			}
			return err
		}); program.err != nil {
			return
		}
		program.path = filepath.Join(program.dir, "underlamp")
		c := exec.Command("/bin/sh", "-c", buildLine)
		c.Dir, c.Env = "..", append(os.Environ(), "GOFLAGS="+os.Getenv("GOFLAGS")+" -o="+program.path)
		if out, err := c.CombinedOutput(); err != nil {
			program.err = fmt.Errorf("%w\n%s", err, out)
		}
	})
	if program.err != nil {
		t.Fatalf("the program is not built: %v", program.err)
	}
	return program.path
}

// How a block of commands is run, as its info string says behind the kind.
type manner struct {
	slow, server, serves, database, machine, sources, printed bool

	given string // assignments of a shell, for words of the block that stand for something
	not   string // why it is not run
	odd   string // what says nothing
}

func mannerOf(rest string) (m manner) {
	if why, ok := strings.CutPrefix(rest, "not run:"); ok {
		m.not = strings.TrimSpace(why)
		return m
	}
	rest, m.given, _ = strings.Cut(rest, "given ")
	for word := range strings.FieldsSeq(rest) {
		switch word {
		case "slow":
			m.slow = true
		case "server":
			m.server = true
		case "serves":
			m.serves = true
		case "database":
			m.database = true
		case "machine":
			m.machine = true
		case "sources":
			m.sources = true
		case "printed":
			m.printed = true
		default:
			m.odd = word
		}
	}
	return m
}

var assigned = regexp.MustCompile(`(?:^|\s)([A-Za-z]+)=`)

// put puts what is given for words of a text before it, and their values in their places.
func put(given, text string) string {
	if given == "" {
		return text
	}
	for _, m := range assigned.FindAllStringSubmatch(given, -1) {
		text = regexp.MustCompile(`\b`+m[1]+`\b`).ReplaceAllLiteralString(text, "${"+m[1]+"}")
	}
	return given + "\n" + text
}

// A running program, and what it has said so far.
type running struct {
	*exec.Cmd
	mu    sync.Mutex
	said  bytes.Buffer
	ended chan struct{}
	err   error
}

// Write takes what the program says.
func (r *running) Write(p []byte) (int, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.said.Write(p)
}

func (r *running) text() string {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.said.String()
}

// start starts a program that goes on until it is stopped, by a line that becomes it (exec), and
// waits until it says what is waited for.
func start(t testing.TB, dir string, env []string, line, until string) *running {
	t.Helper()
	r := &running{Cmd: exec.Command("/bin/sh", "-c", line), ended: make(chan struct{})}
	r.Dir, r.Env, r.Stdout, r.Stderr = dir, env, r, r
	if err := r.Start(); err != nil {
		t.Fatal(err)
	}
	go func() {
		r.err = r.Wait()
		close(r.ended)
	}()
	for begun := time.Now(); !strings.Contains(r.text(), until); {
		select {
		case <-r.ended:
			t.Fatalf("%s ended at once: %v\n%s", line, r.err, r.text())
		case <-time.After(10 * time.Millisecond):
		}
		if time.Since(begun) > time.Minute {
			r.Process.Kill()
			t.Fatalf("%s does not say %q\n%s", line, until, r.text())
		}
	}
	return r
}

// stop stops the program as Ctrl-C does; it must end in order.
func (r *running) stop(t testing.TB) {
	t.Helper()
	r.Process.Signal(syscall.SIGINT)
	select {
	case <-r.ended:
		if r.err != nil {
			t.Errorf("%s: stopped, it ends with %v\n%s", r.Args[2], r.err, r.text())
		}
	case <-time.After(20 * time.Second):
		r.Process.Kill()
		t.Errorf("%s does not stop", r.Args[2])
	}
}

// The blocks of a page that need a server have one of the demo, with its store, and one shell in
// the folder of the demo: what a block sets, the next ones have.
type conversation struct {
	dir   string
	shell *exec.Cmd
	in    *os.File
	out   *running // what the shell says
	n     int
}

var shownAt = regexp.MustCompile(`are shown at (http://\S+)/\n`)

// converse begins it: $BASE is the address of the server, $TOKEN a token that reads.
func converse(t testing.TB, dir string, env []string) *conversation {
	t.Helper()
	dir = filepath.Join(dir, "underlamp-demo")
	shell(t, codeBlock{page: "the store of the demo", text: "underlamp benches import . --store underlamp.db --quiet; underlamp rounds import tier-2-middle.yaml tier-2-middle.seen.json --store underlamp.db"}, dir, env)
	server := start(t, dir, env, "exec underlamp serve --listen 127.0.0.1:0", "Stop with")
	t.Cleanup(func() {
		begun := time.Now()
		server.stop(t)
		t.Logf("the server stopped in %.1f s", time.Since(begun).Seconds())
	})
	at := shownAt.FindStringSubmatch(server.text())
	if at == nil {
		t.Fatalf("the server does not say where it is:\n%s", server.text())
	}
	token, err := run(t, dir, env, "underlamp token add examples --may read --store underlamp.db --quiet 2>/dev/null")
	if err != nil {
		t.Fatal(err, token)
	}
	c := &conversation{dir: dir, shell: exec.Command("/bin/sh", "-e"), out: &running{ended: make(chan struct{})}}
	in, out, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	c.in = out
	c.shell.Dir, c.shell.Env = dir, append(env, "BASE="+at[1], "TOKEN="+strings.TrimSpace(token))
	c.shell.Stdin, c.shell.Stdout, c.shell.Stderr = in, c.out, c.out
	if err := c.shell.Start(); err != nil {
		t.Fatal(err)
	}
	in.Close()
	go func() {
		c.out.err = c.shell.Wait()
		close(c.out.ended)
	}()
	t.Cleanup(func() {
		c.in.Close()
		<-c.out.ended
	})
	return c
}

// say runs the lines of a block and gives what they print.
func (c *conversation) say(text string) (string, error) {
	c.n++
	file := fmt.Sprintf("block-%d.sh", c.n)
	if err := os.WriteFile(filepath.Join(c.dir, file), []byte(text), 0o644); err != nil {
		return "", err
	}
	begin, end := len(c.out.text()), fmt.Sprintf("\x01%d\n", c.n)
	if _, err := fmt.Fprintf(c.in, ". ./%s </dev/null\nprintf '\\001%d\\n'\n", file, c.n); err != nil {
		return "", err
	}
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	defer cancel()
	for {
		if said, ok := strings.CutSuffix(c.out.text()[begin:], end); ok {
			return said, nil
		}
		select {
		case <-c.out.ended:
			return c.out.text()[begin:], errors.Join(c.out.err, errors.New("the shell ended"))
		case <-ctx.Done():
			c.shell.Process.Kill()
			return c.out.text()[begin:], ctx.Err()
		case <-time.After(5 * time.Millisecond):
		}
	}
}

var (
	goesOn   = regexp.MustCompile(`^underlamp serve\b| --watch\b`)
	forOther = regexp.MustCompile(`--(lan|https)(\s|$)`)
)

// serves runs the lines of a block one by one; those that go on until they are stopped are
// stopped when they run. What they open to other machines is opened on free ports of this one.
func serves(t testing.TB, b codeBlock, given, dir string, env []string) {
	t.Helper()
	for line := range strings.Lines(b.text) {
		line, _, _ = strings.Cut(strings.TrimSpace(line), " #")
		switch {
		case line == "":
		case goesOn.MatchString(line):
			start(t, dir, env, put(given, "exec "+forOther.ReplaceAllString(line, "--$1=127.0.0.1:0$2")), "top with Ctrl-C").stop(t)
		default:
			shell(t, codeBlock{page: b.page, line: b.line, text: put(given, line)}, dir, env)
		}
	}
}
