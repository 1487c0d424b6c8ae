package cli

import (
	"bytes"
	"context"
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"underlamp/demo"
	"underlamp/store"
	"underlamp/store/sqlite"
)

// Photos of a folder are measured once, into a folder or a store; what was broken off is
// taken up again, what cannot be measured is told with its reason, and nothing that is written
// says where a photo was taken.
func TestPhotos(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.CopyFS(".", demo.Folder()); err != nil {
		t.Fatal(err)
	}
	os.Mkdir("shots", 0o755)
	for _, name := range []string{"2026-10-22-P4.jpg", "2026-10-29-P4.jpg", "2026-11-02-P11.jpg"} {
		data, err := os.ReadFile(filepath.Join("shots", name))
		if err != nil {
			f, err := demo.Photos().Open(name)
			if err != nil {
				t.Fatal(err)
			}
			var b bytes.Buffer
			b.ReadFrom(f)
			f.Close()
			data = b.Bytes()
		}
		if err := os.WriteFile(filepath.Join("shots", name), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile("shots/x.heic", []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00"), 0o644); err != nil {
		t.Fatal(err)
	}
	run := func(want int, args ...string) (string, string) {
		t.Helper()
		var out, err bytes.Buffer
		w := World{Out: &out, Err: &err, OpenStore: func(ctx context.Context, address string) (store.Store, error) { return sqlite.Open(ctx, address) }}
		if code := Run(context.Background(), w, args); code != want {
			t.Fatalf("%v ends with %d, want %d: %s%s", args, code, want, &out, &err)
		}
		return out.String(), err.String()
	}
	const bench = demo.SensorBench + ".yaml"
	if _, err := run(2, "photos", "shots", bench); !strings.Contains(err, "-o FOLDER") {
		t.Errorf("%s", err)
	}
	if out, _ := run(0, "photos", "shots", bench, "-o", "m", "--zone", "UTC"); out != "photos read: 3, plants measured: 2, photos in which none was: 1, files that are no photos: 1\n" {
		t.Errorf("%s", out)
	}
	list, err := os.ReadFile("m/photos.jsonl")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile("m/photos.jsonl", list[:len(list)-40], 0o644); err != nil { // killed while it wrote
		t.Fatal(err)
	}
	if out, _ := run(0, "photos", "shots", bench, "-o", "m", "--zone", "UTC"); !strings.HasPrefix(out, "photos read: 0,") || !strings.Contains(out, "no photos: 1") {
		t.Errorf("taken up again: %s", out)
	}
	raw, err := os.ReadFile("m/photos.csv")
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(raw)).ReadAll()
	if err != nil || len(rows) != 5 {
		t.Fatalf("%v\n%s", err, raw)
	}
	for _, want := range []string{"2026-10-22T18:05:00Z", "P4", "no label", "Lay the label flat", "send JPEG"} {
		if !strings.Contains(string(raw), want) {
			t.Errorf("no %q in\n%s", want, raw)
		}
	}
	err = filepath.Walk("m", func(path string, info os.FileInfo, err error) error {
		if err == nil && strings.HasSuffix(path, ".jpg") {
			data, err := os.ReadFile(path)
			if err != nil || bytes.Contains(data, []byte("Exif")) {
				t.Errorf("%s: %v", path, err)
			}
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"s.png", "s.gif"} {
		if out, _ := run(0, "strip", bench, "--measured", "m", "-o", name, "--zone", "UTC"); !strings.HasPrefix(out, name+": rows 1, days 2") {
			t.Errorf("%s", out)
		}
	}
	run(0, "photos", "shots", bench, "--store", "a.db", "--zone", "UTC")
	if out, _ := run(0, "photos", "shots", bench, "--store", "a.db", "--zone", "UTC"); !strings.HasPrefix(out, "photos read: 0,") {
		t.Errorf("twice: %s", out)
	}
	run(0, "strip", bench, "--store", "a.db", "-o", "t.png")
	if _, err := run(2, "strip", bench, "--store", "a.db", "-o", "t.bmp"); !strings.Contains(err, ".png or .gif") {
		t.Errorf("%s", err)
	}
	if _, err := run(2, "labels", bench, "--scale", "15x20", "-o", "l.pdf"); !strings.Contains(err, "cannot be right") {
		t.Errorf("%s", err)
	}
	if out, _ := run(0, "labels", bench, "--plants", "P4,P8", "-o", "l.pdf"); !strings.Contains(out, "labels 2") {
		t.Errorf("%s", out)
	}
}
