package datapackage

import (
	"archive/zip"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"strings"
	"time"
)

// Limits of what is read. They are wide of what a trial or a bench of years brings, and keep
// a file that was made to do harm from filling memory or disk.
var Limits = struct {
	Zip       int64 // bytes of a zip file
	Unpacked  int64 // bytes of all that is in it
	File      int64 // bytes of one file that is read whole
	Entries   int   // files in it
	Resources int
	Columns   int
	Rows      int // of one table
	Cell      int // bytes
}{Zip: 256 << 20, Unpacked: 2 << 30, File: 64 << 20, Entries: 10_000, Resources: 2000, Columns: 500, Rows: 20_000_000, Cell: 1 << 20}

// OpenZip opens a zip file as a folder. It is refused as a whole if a name in it leaves the
// package, stands twice or is none of a plain file, if it is larger than [Limits] allow, or
// would be when unpacked. A single folder that holds everything is entered. Reading a file
// ends with an error where more comes out than the zip file announces (archive/zip).
func OpenZip(r io.ReaderAt, size int64) (fs.FS, error) {
	if size > Limits.Zip {
		return nil, fmt.Errorf("the package is larger than %d MiB", Limits.Zip>>20)
	}
	z, err := zip.NewReader(r, size)
	if err != nil && !errors.Is(err, zip.ErrInsecurePath) {
		return nil, fmt.Errorf("the package is no zip file, or a damaged one: %w", err)
	}
	if len(z.File) > Limits.Entries {
		return nil, fmt.Errorf("the package holds more than %d files", Limits.Entries)
	}
	seen := map[string]bool{}
	total := uint64(0)
	for _, f := range z.File {
		name := strings.TrimSuffix(f.Name, "/")
		if !plainPath(name) {
			return nil, &PlaceError{File: shortened(f.Name), Reason: "the name leads out of the package, or is none that every machine can have"}
		}
		key := strings.ToLower(name) // some machines do not tell upper case from lower
		if seen[key] {
			return nil, &PlaceError{File: shortened(f.Name), Reason: "there are two files of this name"}
		}
		seen[key] = true
		if m := f.Mode(); !m.IsRegular() && !m.IsDir() {
			return nil, &PlaceError{File: shortened(f.Name), Reason: "it is neither a file nor a folder"}
		}
		if f.Flags&1 != 0 {
			return nil, &PlaceError{File: shortened(f.Name), Reason: "it is encrypted; pack it without a password"}
		}
		if total += f.UncompressedSize64; f.UncompressedSize64 > uint64(Limits.Unpacked) || total > uint64(Limits.Unpacked) {
			return nil, fmt.Errorf("the package would be larger than %d MiB when unpacked", Limits.Unpacked>>20)
		}
	}
	if _, err := fs.Stat(z, Descriptor); err == nil {
		return z, nil
	}
	if top, err := fs.ReadDir(z, "."); err == nil && len(top) == 1 && top[0].IsDir() {
		return fs.Sub(z, top[0].Name())
	}
	return z, nil
}

// plainPath says that a path stays within the package on every machine.
func plainPath(name string) bool {
	if !fs.ValidPath(name) || name == "." || len(name) > 400 || strings.ContainsAny(name, "\\:\x00*?\"<>|") || path.Clean(name) != name {
		return false
	}
	for _, part := range strings.Split(name, "/") {
		if strings.HasSuffix(part, ".") || strings.HasSuffix(part, " ") {
			return false
		}
	}
	return true
}

func readFile(dir fs.FS, name string, most int64) ([]byte, error) {
	f, err := dir.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, most+1))
	if err == nil && int64(len(text)) > most {
		err = &PlaceError{File: name, Reason: fmt.Sprintf("it is larger than %d MiB", most>>20)}
	}
	return text, err
}

func shortened(s string) string {
	if r := []rune(s); len(r) > 80 {
		return string(r[:80]) + "…"
	}
	return s
}

// A Folder takes the files of a package, one after the other. Names are plain and
// have /.
type Folder interface {
	// Create begins a file; the one before is done.
	Create(name string) (io.Writer, error)
}

// A Zip is a folder that becomes a zip file.
type Zip struct {
	z    *zip.Writer
	when time.Time
}

// NewZip writes a zip file whose entries carry one time, so that the bytes depend on the
// content alone.
func NewZip(w io.Writer, when time.Time) *Zip { return &Zip{zip.NewWriter(w), when} }

// Create begins a file.
func (z *Zip) Create(name string) (io.Writer, error) {
	return z.z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: z.when.UTC().Truncate(2 * time.Second)})
}

// Close ends the zip file; it does not close what it is written to.
func (z *Zip) Close() error { return z.z.Close() }
