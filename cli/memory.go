package cli

import (
	"context"
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"sync"

	"underlamp/app/light"
	"underlamp/app/outlook"
	"underlamp/report"
)

// A memory keeps answers that take long, for command lines that are carried out one after
// another in one process and ask the same of the same files: the tests of the examples. A
// World without one computes.
type memory struct {
	mutex   sync.Mutex
	answers map[string]any
}

// remembered computes an answer, unless it was computed of the same files before.
func remembered[T any](w World, what, file string, compute func() (T, error)) (T, error) {
	if w.memory == nil || file == "-" {
		return compute()
	}
	key := what + " " + folderKey(file)
	w.memory.mutex.Lock()
	known, ok := w.memory.answers[key].(T)
	w.memory.mutex.Unlock()
	if ok {
		return known, nil
	}
	v, err := compute()
	if err == nil {
		w.memory.put(key, v)
	}
	return v, err
}

func (m *memory) put(key string, v any) {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	if m.answers == nil {
		m.answers = map[string]any{}
	}
	m.answers[key] = v
}

// folderKey stands for a bench file and for what it may name beside it.
func folderKey(file string) string {
	h := sha256.New()
	names := []string{file}
	for _, pattern := range []string{"*.profile.yaml", "*.feed.yaml", filepath.Join("lamps", "*")} {
		found, _ := filepath.Glob(filepath.Join(filepath.Dir(file), pattern))
		names = append(names, found...)
	}
	for _, name := range names {
		text, err := os.ReadFile(name)
		fmt.Fprintf(h, "%s %x %v\n", filepath.Base(name), text, err)
	}
	return fmt.Sprintf("%x", h.Sum(nil))
}

// reportOf computes a report.
func reportOf(ctx context.Context, w World, m *light.Model, file string) (*report.Document, error) {
	d, err := remembered(w, "report", file, func() (*report.Document, error) { return report.Compute(ctx, m, 0, progressTo(w)) })
	if err != nil {
		return nil, err
	}
	if w.memory != nil && d.Best != nil && file != "-" { // its parts are answers of their own
		w.memory.put("best "+folderKey(file), d.Best)
		w.memory.put("doubt "+folderKey(file), d.Doubts)
	}
	own := *d // what is added to it is added to one report
	return &own, nil
}

// bestOf searches the best setting of a bench.
func bestOf(ctx context.Context, w World, o *outlook.Outlook, file string) (*outlook.Best, error) {
	return remembered(w, "best", file, func() (*outlook.Best, error) { return o.Best(ctx, progressTo(w)) })
}
