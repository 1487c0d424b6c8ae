package docs_test

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// standsForSudo does what a page asks of a machine to one that is a folder ($ROOT): files are
// installed below it, users entered in its lists, units enabled in its folders. Where that takes
// rights or programs that are not here, it says so and goes on.
const standsForSudo = `#!/bin/sh
set -e
[ "$1" != -u ] || shift 2
command=$1; shift
case $command in
useradd)
  if [ "$(id -u)" != 0 ] || ! command -v useradd >/dev/null; then echo "useradd: told only"; exit 0; fi
  exec useradd --prefix "$ROOT" "$@" ;;
systemctl)
  [ "$*" != daemon-reload ] || exit 0
  [ "$1 $2" = "enable --now" ] || { echo "systemctl $*: what is that to do?"; exit 1; }
  if ! command -v systemctl >/dev/null; then echo "systemctl: told only"; exit 0; fi
  exec systemctl --root="$ROOT" enable "$3" ;;
esac
n=$#
for a; do case $a in /*) a=$ROOT$a ;; esac; set -- "$@" "$a"; done
shift $n
exec "$command" "$@"
`

// A machine is the root folder of one, thrown away after the page.
type machine struct {
	root    string
	env     []string
	service *running
}

// aMachine makes one, and puts a release into the folder of the page.
func aMachine(t testing.TB, dir string, env []string) *machine {
	t.Helper()
	m := &machine{root: t.TempDir()}
	m.env = append(env, "ROOT="+m.root)
	// The program of a release of 1.2.3, of which only the archive's name and layout matter here.
	shell(t, codeBlock{page: "a machine", text: `
printf '%s' "$SUDO" > bin/sudo; chmod +x bin/sudo
mkdir -p "$ROOT/usr/local/bin" "$ROOT/etc/systemd/system" "$ROOT/var/lib" packaging underlamp-1.2.3-linux-amd64
touch "$ROOT/etc/passwd" "$ROOT/etc/group" "$ROOT/etc/shadow" "$ROOT/etc/gshadow"
printf '#!/bin/sh\nexec "%s" "$@"\n' "$PROGRAM" > underlamp; chmod +x underlamp
cp underlamp underlamp-1.2.3-linux-amd64/
tar -czf underlamp-1.2.3-linux-amd64.tar.gz underlamp-1.2.3-linux-amd64
sha256sum underlamp-1.2.3-linux-amd64.tar.gz > SHA256SUMS
echo 0000000000000000000000000000000000000000000000000000000000000000  underlamp-1.2.3-linux-arm64.tar.gz >> SHA256SUMS
rm -r underlamp-1.2.3-linux-amd64
`}, dir, append(m.env, "SUDO="+standsForSudo, "PROGRAM="+theProgram(t)))
	if err := os.CopyFS(filepath.Join(dir, "packaging"), os.DirFS(filepath.Join("..", "packaging"))); err != nil {
		t.Fatal(err)
	}
	return m
}

var (
	execStart = regexp.MustCompile(`(?m)^ExecStart=/usr/local/bin/(underlamp .*)$`)
	stateDirs = regexp.MustCompile(`(?m)^StateDirectory=(.*)$`)
	absolute  = regexp.MustCompile(`(\s)(/\S)`)
	anyPort   = regexp.MustCompile(`(127\.0\.0\.1):\d+`)
)

// below is a command line for the machine: paths below its root, ports that are free.
func (m *machine) below(line string) string {
	line = absolute.ReplaceAllString(line, "${1}"+m.root+"${2}")
	return forOther.ReplaceAllString(anyPort.ReplaceAllString(line, "$1:0"), "--$1=127.0.0.1:0$2")
}

// run runs a block; a unit that it enabled is then started.
func (m *machine) run(t testing.TB, b codeBlock, dir string) string {
	t.Helper()
	out := shell(t, b, dir, m.env)
	if m.service != nil || !strings.Contains(b.text, "enable --now") {
		return out
	}
	file := filepath.Join(m.root, "etc/systemd/system/underlamp.service")
	unit, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	begins, state := execStart.FindSubmatch(unit), stateDirs.FindSubmatch(unit)
	if begins == nil || state == nil {
		t.Fatalf("the unit starts nothing, or has no folder:\n%s", unit)
	}
	for name := range strings.FieldsSeq(string(state[1])) {
		if err := os.MkdirAll(filepath.Join(m.root, "var/lib", name), 0o750); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := exec.LookPath("systemd-analyze"); err != nil {
		t.Log("the unit was not read by systemd, which is not here")
	} else {
		// systemd looks for the program at its place on this machine, where it may not be.
		here := filepath.Join(t.TempDir(), "underlamp.service")
		if err := os.WriteFile(here, []byte(strings.Replace(string(unit), "ExecStart=/usr/local/bin/underlamp", "ExecStart="+theProgram(t), 1)), 0o644); err != nil {
			t.Fatal(err)
		}
		if out, err := exec.Command("systemd-analyze", "verify", "--man=no", here).CombinedOutput(); err != nil || strings.Contains(string(out), "underlamp.service:") {
			t.Errorf("%s: systemd says of the unit: %v\n%s", b.where(), err, out)
		}
	}
	m.service = start(t, dir, m.env, "exec "+m.below(string(begins[1])), "Stop with")
	t.Cleanup(func() { m.service.stop(t) })
	return out
}

// What the container runs is what the program takes.
func TestContainerfile(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "packaging", "Containerfile"))
	if err != nil {
		t.Fatal(err)
	}
	words := func(key string) (out []string) {
		m := regexp.MustCompile(`(?m)^` + key + ` (\[.*\])$`).FindSubmatch(text)
		if m == nil || json.Unmarshal(m[1], &out) != nil {
			t.Fatalf("%s is not a list", key)
		}
		return out
	}
	m := &machine{root: t.TempDir()}
	for _, folder := range words("VOLUME") {
		if err := os.Mkdir(filepath.Join(m.root, folder), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	if got := words("ENTRYPOINT"); len(got) != 1 || !strings.Contains(string(text), "COPY --from=build /out/underlamp "+got[0]+"\n") {
		t.Errorf("%v is begun, and nothing puts it there", got)
	}
	start(t, m.root, append(os.Environ(), "HOME="+m.root), "exec "+theProgram(t)+m.below(" "+strings.Join(words("CMD"), " ")), "Stop with").stop(t)
}
