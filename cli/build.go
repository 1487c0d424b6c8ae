package cli

import (
	"fmt"
	"runtime"
	"runtime/debug"
	"strings"
)

// Version is printed by --version. Releases set it with the linker.
var version = "0.1.0-dev"

// Version is that of the program.
func Version() string { return version }

// built tells from what and for what the program was built: its commit, if it was built
// from a clone, the Go that built it, and the kind of machine.
func built(info *debug.BuildInfo) string {
	said := map[string]string{}
	if info != nil {
		for _, s := range info.Settings {
			said[s.Key] = s.Value
		}
	}
	var parts []string
	if commit := said["vcs.revision"]; commit != "" {
		text := "commit " + commit[:min(12, len(commit))]
		if day, _, ok := strings.Cut(said["vcs.time"], "T"); ok {
			text += " of " + day
		}
		if said["vcs.modified"] == "true" {
			text += ", changed since"
		}
		parts = append(parts, text)
	}
	machine := runtime.GOOS + "/" + runtime.GOARCH
	if arm := said["GOARM"]; runtime.GOARCH == "arm" && arm != "" {
		machine += "v" + arm
	}
	return strings.Join(append(parts, fmt.Sprintf("%s, %s", runtime.Version(), machine)), "\n")
}
