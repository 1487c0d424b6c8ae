package datapackage

import (
	"crypto/md5"
	"crypto/sha1"
	"crypto/sha256"
	"crypto/sha512"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"strings"

	"underlamp/formats/tables"
)

// Verify reads everything: bytes and hashes of the resources, every cell against its
// column, keys and references. What is wrong is told as [*PlaceError], joined, at most
// fifty; nil if all is well. It holds the keys of the tables in memory.
func (p *Package) Verify() error {
	var bad faults
	note := func(err error) {
		if err != nil && len(bad) < 50 {
			bad = append(bad, err)
		}
	}
	if text, err := readFile(p.Dir, Descriptor, 16<<20); err == nil {
		var d descriptor
		if json.Unmarshal([]byte(strings.TrimPrefix(string(text), "\uFEFF")), &d) == nil {
			for i := range d.Resources {
				note(p.sameBytes(&d.Resources[i]))
			}
		}
	}
	keys := map[string]map[string]bool{} // of "table\x00columns" all combinations
	wanted := map[string][]string{}
	for _, t := range p.Tables {
		for _, r := range t.Refs {
			to := p.Table(r.Table)
			if r.Table == "" {
				to = t
			}
			if to == nil {
				note(&PlaceError{File: Descriptor, Reason: fmt.Sprintf("the table %q refers to %q, which is not in the package", t.Name, r.Table)})
				continue
			}
			wanted[keyName(to.Name, r.Their)] = r.Their
		}
	}
	for _, t := range p.Tables {
		note(p.checkRows(t, keys, wanted))
	}
	for _, t := range p.Tables {
		for _, r := range t.Refs {
			name := r.Table
			if name == "" {
				name = t.Name
			}
			have := keys[keyName(name, r.Their)]
			if have == nil {
				continue // told above
			}
			n := 0
			err := t.Rows(func(row []any) error {
				n++
				key, some := keyOf(t, row, r.Columns)
				if some && !have[key] {
					return &PlaceError{File: fileOf(t), Reason: fmt.Sprintf("row %d: %s of the table %q does not have %s", n, strings.Join(r.Their, ", "), name, strings.ReplaceAll(key, "\x00", ", "))}
				}
				return nil
			})
			note(err)
		}
	}
	if len(bad) == 0 {
		return nil
	}
	return errors.Join(bad...)
}

func fileOf(t *tables.Table) string { return "table " + t.Name }

func keyName(table string, columns []string) string {
	return table + "\x00" + strings.Join(columns, "\x00")
}

// keyOf are some cells of a row as one text; some is false if one is missing.
func keyOf(t *tables.Table, row []any, columns []string) (key string, some bool) {
	parts := make([]string, len(columns))
	some = true
	for i, name := range columns {
		at := t.At(name)
		if at < 0 || row[at] == nil {
			return "", false
		}
		parts[i] = tables.Print(row[at])
	}
	return strings.Join(parts, "\x00"), some
}

// checkRows reads the rows, looks for keys that stand twice, and keeps what others refer to.
func (p *Package) checkRows(t *tables.Table, keys map[string]map[string]bool, wanted map[string][]string) error {
	var keep []string
	for name, columns := range wanted {
		if strings.HasPrefix(name, t.Name+"\x00") {
			keys[name] = map[string]bool{}
			keep = append(keep, name)
			for _, c := range columns {
				if t.At(c) < 0 {
					return &PlaceError{File: Descriptor, Reason: fmt.Sprintf("a reference names the column %q, which the table %q does not have", shortened(c), t.Name)}
				}
			}
		}
	}
	own := map[string]bool{}
	unique := map[int]map[string]bool{}
	for i, c := range t.Columns {
		if c.Unique {
			unique[i] = map[string]bool{}
		}
	}
	n := 0
	return t.Rows(func(row []any) error {
		n++
		if len(t.Key) > 0 {
			key, some := keyOf(t, row, t.Key)
			shown := strings.ReplaceAll(key, "\x00", ", ")
			switch {
			case !some:
				return &PlaceError{File: fileOf(t), Reason: fmt.Sprintf("row %d: a part of the key (%s) is missing", n, strings.Join(t.Key, ", "))}
			case own[key]:
				return &PlaceError{File: fileOf(t), Reason: fmt.Sprintf("row %d: the key %s stands twice", n, shortened(shown))}
			}
			own[key] = true
		}
		for i, seen := range unique {
			if text := tables.Print(row[i]); row[i] != nil {
				if seen[text] {
					return &PlaceError{File: fileOf(t), Column: t.Columns[i].Name, Reason: fmt.Sprintf("row %d: %q stands twice", n, shortened(text))}
				}
				seen[text] = true
			}
		}
		for _, name := range keep {
			if key, some := keyOf(t, row, wanted[name]); some {
				keys[name][key] = true
			}
		}
		return nil
	})
}

// sameBytes holds a file against the bytes and the hash that the descriptor gives.
func (p *Package) sameBytes(r *resource) error {
	if len(r.Path) != 1 || r.Bytes == nil && r.Hash == "" {
		return nil
	}
	f, err := p.Dir.Open(r.Path[0])
	if err != nil {
		return err
	}
	defer f.Close()
	kind, want, ok := strings.Cut(strings.ToLower(r.Hash), ":")
	if !ok {
		kind, want = "md5", kind // as the standard has it
	}
	var h hash.Hash
	switch kind {
	case "sha256":
		h = sha256.New()
	case "sha512":
		h = sha512.New()
	case "sha1":
		h = sha1.New()
	case "md5":
		h = md5.New()
	default:
		return &PlaceError{File: Descriptor, Reason: fmt.Sprintf("hashes of the kind %q are not known here", shortened(kind))}
	}
	n, err := io.Copy(h, f)
	if err != nil {
		return err
	}
	switch {
	case r.Bytes != nil && n != *r.Bytes:
		return &PlaceError{File: r.Path[0], Reason: fmt.Sprintf("it has %d bytes, and the package says %d: it was changed after it was packed", n, *r.Bytes)}
	case want != "" && hex.EncodeToString(h.Sum(nil)) != want:
		return &PlaceError{File: r.Path[0], Reason: "its hash is not that of the package: it was changed after it was packed"}
	}
	return nil
}
