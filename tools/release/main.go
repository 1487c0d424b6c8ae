// Command release makes what is handed out of underlamp: a binary for each kind of
// machine, packed with what belongs to it, a list of what is inside it (CycloneDX), the
// licences of that, and the checksums of all. The same commit gives the same bytes
// wherever it is built: paths are trimmed, times are those of the commit, and entries of
// archives are in order.
//
// It is run from the folder tools:
//
//	go run ./release -version 1.0.0 -out ../dist
package main

import (
	"context"
	"crypto/sha256"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"os/signal"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// A target is a kind of machine.
type target struct{ os, arch, arm string }

// String is the target as its archive is named.
func (t target) String() string {
	if t.arm != "" {
		return t.os + "-" + t.arch + "v" + t.arm
	}
	return t.os + "-" + t.arch
}

// env is the environment of the go command for a target.
func (t target) env() []string {
	return append(os.Environ(), "CGO_ENABLED=0", "GOOS="+t.os, "GOARCH="+t.arch, "GOARM="+t.arm, "GOAMD64=v1", "GOARM64=v8.0", "GOFLAGS=")
}

// targets are all kinds of machines that a release is made for. Of the small boards those
// with ARMv6 (the first ones), ARMv7 and 64 bits.
var targets = []target{
	{os: "linux", arch: "amd64"}, {os: "linux", arch: "arm64"}, {os: "linux", arch: "arm", arm: "7"}, {os: "linux", arch: "arm", arm: "6"},
	{os: "darwin", arch: "amd64"}, {os: "darwin", arch: "arm64"},
	{os: "windows", arch: "amd64"}, {os: "windows", arch: "arm64"},
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	err := run(ctx)
	stop()
	if err != nil {
		fmt.Fprintln(os.Stderr, "release:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context) error {
	version := flag.String("version", "", "version of the release, such as 1.2.0")
	out := flag.String("out", "../dist", "folder to write to; it must be new or empty")
	only := flag.String("only", "", "these kinds of machines alone, such as linux-arm64,windows-amd64")
	list := flag.String("licences", "", "write the list of licences to this file, and make no release")
	flag.Parse()
	if flag.NArg() > 0 {
		return fmt.Errorf("%q is not understood; every value belongs to a flag, such as -version 1.2.0", flag.Arg(0))
	}
	root, err := filepath.Abs("..")
	if err != nil {
		return err
	}
	if _, err := os.Stat(filepath.Join(root, "cmd", "underlamp")); err != nil {
		return errors.New("run it from the folder tools of the project: go run ./release")
	}
	if *list != "" {
		return writeList(ctx, root, *list)
	}
	if !isVersion(*version) {
		return fmt.Errorf("the version is %q; three numbers are wanted, and a word if it is a trial release: -version 1.2.0, -version 1.2.0-rc.1", *version)
	}
	chosen := targets
	if *only != "" {
		chosen = nil
		for _, name := range strings.Split(*only, ",") {
			i := slices.IndexFunc(targets, func(t target) bool { return t.String() == name })
			if i < 0 {
				return fmt.Errorf("there is no kind of machine %q; there are %s", name, strings.Trim(fmt.Sprint(targets), "[]"))
			}
			chosen = append(chosen, targets[i])
		}
	}
	if files, err := os.ReadDir(*out); err == nil && len(files) > 0 {
		return fmt.Errorf("%s is not empty; give a new folder, so that nothing old is handed out", *out)
	}
	if err := os.MkdirAll(*out, 0o755); err != nil {
		return err
	}
	when, err := commitTime(ctx, root)
	if err != nil {
		return err
	}
	work, err := os.MkdirTemp("", "release-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(work)
	beside, err := besides(ctx, root, work, *version)
	if err != nil {
		return err
	}
	for _, t := range chosen {
		if err := make1(ctx, root, work, *out, *version, t, when, beside); err != nil {
			return fmt.Errorf("%s: %w", t, err)
		}
	}
	return sums(*out)
}

// isVersion says that a text is a version as SemVer 2.0.0 has it, without what is built.
func isVersion(s string) bool {
	core, _, _ := strings.Cut(s, "-")
	parts := strings.Split(core, ".")
	if len(parts) != 3 || strings.ContainsAny(s, "+ /\\\"'") {
		return false
	}
	for _, p := range parts {
		if p == "" || strings.Trim(p, "0123456789") != "" || len(p) > 1 && p[0] == '0' {
			return false
		}
	}
	return true
}

// commitTime is when the commit that is built was made.
func commitTime(ctx context.Context, root string) (time.Time, error) {
	dirty, err := output(ctx, root, nil, "git", "status", "--porcelain")
	if err != nil {
		return time.Time{}, fmt.Errorf("a release is made from a clone of the repository: %w", err)
	}
	if len(dirty) > 0 {
		return time.Time{}, fmt.Errorf("there are changes that are not committed; commit them first:\n%s", dirty)
	}
	text, err := output(ctx, root, []string{"TZ=UTC"}, "git", "log", "-1", "--format=%cI")
	if err != nil {
		return time.Time{}, err
	}
	t, err := time.Parse(time.RFC3339, strings.TrimSpace(string(text)))
	return t.UTC().Truncate(2 * time.Second), err // zip tells even seconds alone
}

// make1 makes archive and list of parts for a kind of machine.
func make1(ctx context.Context, root, work, out, version string, t target, when time.Time, beside []file) error {
	began := time.Now()
	binary := filepath.Join(work, t.String())
	if err := build(ctx, root, binary, version, t); err != nil {
		return err
	}
	parts, err := partsOf(ctx, root, binary)
	if err != nil {
		return err
	}
	body, err := os.ReadFile(binary)
	if err != nil {
		return err
	}
	name := "underlamp"
	if t.os == "windows" {
		name += ".exe"
	}
	files := append([]file{{name, 0o755, body}, {"LICENCES-OF-PARTS.txt", 0o644, licenceTexts(parts)}}, beside...)
	slices.SortFunc(files, func(a, b file) int { return strings.Compare(a.name, b.name) })
	folder := "underlamp-" + version + "-" + t.String()
	pack, suffix := tarGz, ".tar.gz"
	if t.os == "windows" {
		pack, suffix = zipped, ".zip"
	}
	archive, err := pack(folder, files, when)
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(out, folder+suffix), archive, 0o644); err != nil {
		return err
	}
	bom, err := billOfMaterials(version, t, body, parts, when)
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(out, folder+".cdx.json"), bom, 0o644); err != nil {
		return err
	}
	fmt.Printf("%-16s %5.1f MB, packed %4.1f MB, %d parts, %.0f s\n", t, float64(len(body))/1e6, float64(len(archive))/1e6, len(parts), time.Since(began).Seconds())
	return nil
}

// build makes the binary. Its commit is stamped by the go command.
func build(ctx context.Context, root, binary, version string, t target) error {
	cmd := exec.CommandContext(ctx, "go", "build", "-trimpath", "-buildvcs=true", "-ldflags=-s -w -buildid= -X underlamp/cli.version="+version, "-o", binary, "./cmd/underlamp")
	cmd.Dir, cmd.Env, cmd.Stderr = root, t.env(), os.Stderr
	return cmd.Run()
}

// besides are the files that lie beside the binary on every machine: documents, manual
// pages and scripts of completion, which the program itself writes.
func besides(ctx context.Context, root, work, version string) ([]file, error) {
	var out []file
	for _, name := range []string{"README.md", "CHANGELOG.md", "LICENSE", "packaging/underlamp.service", "packaging/Containerfile"} {
		body, err := os.ReadFile(filepath.Join(root, filepath.FromSlash(name)))
		if err != nil {
			return nil, err
		}
		out = append(out, file{name, 0o644, body})
	}
	man := filepath.Join(work, "man")
	if _, err := output(ctx, root, []string{"CGO_ENABLED=0"}, "go", "run", "-ldflags=-X underlamp/cli.version="+version, "./cmd/underlamp", "man", "-o", man); err != nil {
		return nil, err
	}
	err := filepath.WalkDir(man, func(p string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		name, err := filepath.Rel(man, p)
		if err != nil {
			return err
		}
		body, err := os.ReadFile(p)
		out = append(out, file{filepath.ToSlash(name), 0o644, body})
		return err
	})
	return out, err
}

// sums writes the checksums of all files, as sha256sum reads them.
func sums(out string) error {
	var b strings.Builder
	err := filepath.WalkDir(out, func(p string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		body, err := os.ReadFile(p)
		if err == nil {
			fmt.Fprintf(&b, "%x  %s\n", sha256.Sum256(body), path.Base(filepath.ToSlash(p)))
		}
		return err
	})
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(out, "SHA256SUMS"), []byte(b.String()), 0o644)
}

// output runs a command in the root.
func output(ctx context.Context, root string, env []string, name string, args ...string) ([]byte, error) {
	cmd := exec.CommandContext(ctx, name, args...)
	cmd.Dir, cmd.Env = root, append(os.Environ(), env...)
	text, err := cmd.Output()
	if exit, ok := errors.AsType[*exec.ExitError](err); ok {
		err = fmt.Errorf("%s %s: %w: %s", name, args[0], err, strings.TrimSpace(string(exit.Stderr)))
	}
	return text, err
}
