package docs_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// What shells are asked, each in its own way: lines of words and the key that completes, then
// "== " and the line, and below it what the shell proposes.
var shellsAsk = map[string]string{
	// The function that the key calls, as bash calls it.
	"bash": `
. /usr/share/bash-completion/bash_completion
. "$HOME/completion"
ask() {
  COMP_LINE=$1 COMP_POINT=${#1} COMP_TYPE=9 COMP_KEY=9
  read -ra COMP_WORDS <<<"$1"
  COMP_CWORD=$((${#COMP_WORDS[@]} - 1)) COMPREPLY=()
  local f; read -r _ _ _ _ f _ <<<"$(complete -p underlamp)"
  "${f:-none}" underlamp "${COMP_WORDS[COMP_CWORD]}" "${COMP_WORDS[COMP_CWORD - 1]}" 2>/dev/null # compopt works under the key alone
  printf '%s\n' "== $1" "${COMPREPLY[@]}"
}
`,
	// A terminal of its own, in which the keys are typed; a key more shows the line.
	"zsh": `
zmodload zsh/zpty
until_there() { out=; for i in {1..1500}; do zpty -r -t z part && out+=$part; [[ $out == $~1 ]] && return; sleep 0.01; done }
zpty -b z zsh -f -i
zpty -w z "PS1='@ '; stty columns 200; fpath=($HOME/zsh \$fpath); autoload -Uz compinit; compinit -u -D; bindkey '^I' complete-word; function shown { print -r -- \"<\$BUFFER>\"; BUFFER= }; zle -N shown; bindkey '^X' shown; print rea''dy"
until_there '*ready*'
ask() {
  zpty -w -n z "$1"$'\t\x18'
  until_there '*<*>*'
  line=${${out##*<}%%>*}
  print -r -- "== $1"
  print -r -- "${${line% }##* }"
}
`,
	"fish": `
source "$HOME/completion"
function ask
  printf '%s\n' "== $argv[1]" (complete -C "$argv[1]" | string split -f1 \t)
end
`,
}

// The scripts of completion do in the shells what they are for. What a shell is not here for is
// told; in CI all are there (Debian: bash-completion, zsh, fish). By hand.
func TestCompletionInShells(t *testing.T) {
	asked := []struct{ line, proposes string }{
		{"underlamp lig", "light"},
		{"underlamp light underlamp-demo/tier-1", "underlamp-demo/tier-1-top.yaml"},
		{"underlamp learn underlamp-demo/tier-2-middle.yaml underlamp-demo/tier-2-middle.s", "underlamp-demo/tier-2-middle.summer.cycle.yaml"},
		{"underlamp trouble --symptom inner", "inner-leaf-burn"},
		{"underlamp plan --goal el", "electricity"},
	}
	dir, env := workshop(t)
	var there []string
	for _, name := range []string{"bash", "zsh", "fish"} {
		_, err := exec.LookPath(name)
		if name == "bash" && err == nil {
			_, err = os.Stat("/usr/share/bash-completion/bash_completion")
		}
		if err != nil {
			if os.Getenv("CI") != "" {
				t.Errorf("%s or its completion is not there, and nothing may be skipped here: %v", name, err)
			}
			continue
		}
		there = append(there, name)
		t.Run(name, func(t *testing.T) {
			home := t.TempDir()
			script, err := run(t, dir, env, "underlamp completion "+name)
			if err != nil {
				t.Fatal(err, script)
			}
			ask := shellsAsk[name]
			want := ""
			for _, a := range asked {
				ask += "ask '" + a.line + "'\n"
				want += "== " + a.line + "\n" + a.proposes + "\n"
			}
			if err := os.Mkdir(filepath.Join(home, "zsh"), 0o755); err != nil {
				t.Fatal(err)
			}
			for file, text := range map[string]string{"completion": script, "zsh/_underlamp": script, "ask": ask} {
				if err := os.WriteFile(filepath.Join(home, file), []byte(text), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			own := map[string]string{"bash": "--norc", "zsh": "-f", "fish": "--no-config"}[name]
			got, err := run(t, dir, append(env, "HOME="+home, "TERM=xterm"), name+" "+own+" "+filepath.Join(home, "ask"))
			if err != nil || got != want {
				t.Errorf("%v; %s proposes\n%s\nwant\n%s", err, name, got, want)
			}
		})
	}
	t.Logf("tried in %s; PowerShell was not", strings.Join(there, ", "))
}
