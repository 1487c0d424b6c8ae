package cli

import (
	"runtime"
	"runtime/debug"
	"testing"
)

func TestBuilt(t *testing.T) {
	machine := runtime.Version() + ", " + runtime.GOOS + "/" + runtime.GOARCH
	set := func(kv ...string) *debug.BuildInfo {
		info := &debug.BuildInfo{}
		for i := 0; i < len(kv); i += 2 {
			info.Settings = append(info.Settings, debug.BuildSetting{Key: kv[i], Value: kv[i+1]})
		}
		return info
	}
	for want, info := range map[string]*debug.BuildInfo{
		machine: nil,
		"commit 0123456789ab of 2026-11-26\n" + machine:                set("vcs.revision", "0123456789abcdef", "vcs.time", "2026-11-26T10:00:00Z", "vcs.modified", "false"),
		"commit 0123456789ab of 2026-11-26, changed since\n" + machine: set("vcs.revision", "0123456789abcdef", "vcs.time", "2026-11-26T10:00:00Z", "vcs.modified", "true"),
		"commit abc\n" + machine:                                       set("vcs.revision", "abc"),
	} {
		if got := built(info); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
