package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

func TestIsVersion(t *testing.T) {
	for text, want := range map[string]bool{
		"1.2.0": true, "0.10.0": true, "1.2.0-rc.1": true, "": false, "1.2": false, "v1.2.0": false, "1.02.0": false, "1.2.x": false, "1.2.0 -X a=b": false, "1.2.0+x": false,
	} {
		if isVersion(text) != want {
			t.Errorf("%q: %t", text, !want)
		}
	}
}

// What is packed comes out again, and packing twice gives the same bytes.
func TestPack(t *testing.T) {
	when := time.Date(2026, 11, 26, 10, 0, 2, 0, time.UTC)
	files := []file{{"a/b.txt", 0o644, []byte("b")}, {"underlamp", 0o755, bytes.Repeat([]byte("x"), 1000)}}
	for name, pack := range map[string]func(string, []file, time.Time) ([]byte, error){"tar.gz": tarGz, "zip": zipped} {
		one, err := pack("f", files, when)
		if err != nil {
			t.Fatal(err)
		}
		two, err := pack("f", files, when)
		if err != nil || !bytes.Equal(one, two) {
			t.Errorf("%s: not the same twice, %v", name, err)
		}
		got := map[string]string{}
		if name == "zip" {
			r, err := zip.NewReader(bytes.NewReader(one), int64(len(one)))
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range r.File {
				o, err := f.Open()
				if err != nil {
					t.Fatal(err)
				}
				body, _ := io.ReadAll(o)
				got[f.Name] = string(body) + f.Mode().String()
			}
		} else {
			z, err := gzip.NewReader(bytes.NewReader(one))
			if err != nil {
				t.Fatal(err)
			}
			for r := tar.NewReader(z); ; {
				h, err := r.Next()
				if err == io.EOF {
					break
				}
				if err != nil {
					t.Fatal(err)
				}
				body, _ := io.ReadAll(r)
				got[h.Name] = string(body) + h.FileInfo().Mode().String()
			}
		}
		if got["f/a/b.txt"] != "b-rw-r--r--" || !strings.HasSuffix(got["f/underlamp"], "-rwxr-xr-x") || len(got) != 2 {
			t.Errorf("%s: %v", name, got)
		}
	}
}

// Files of others in the repository that get into the binary are named, with their terms.
func TestEmbedded(t *testing.T) {
	named := map[string]bool{}
	for _, e := range embedded {
		named[e.text] = true
		if _, err := os.Stat(filepath.Join("..", "..", filepath.FromSlash(e.text))); err != nil {
			t.Error(err)
		}
	}
	err := filepath.WalkDir(filepath.Join("..", ".."), func(p string, e os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, _ := filepath.Rel(filepath.Join("..", ".."), p)
		rel = filepath.ToSlash(rel)
		if e.IsDir() && (e.Name() == "testdata" || e.Name() == "node_modules" || e.Name() == ".git" || rel == "dist" || rel == "pictures") {
			return filepath.SkipDir
		}
		upper := strings.ToUpper(e.Name())
		if !e.IsDir() && rel != "LICENSE" && (strings.Contains(upper, "LICENSE") || strings.Contains(upper, "LICENCE") || upper == "OFL.TXT") && !strings.HasSuffix(upper, ".MD") && !named[rel] {
			t.Errorf("%s holds terms of others, and no part in embedded is under it", rel)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestLicenceOf(t *testing.T) {
	for want, text := range map[string]string{
		"MIT":                     "Permission is hereby\n granted, free of charge, to any person",
		"BSD-3-Clause":            "Redistribution and use in source and binary forms ... Neither the name of",
		"BSD-2-Clause":            "Redistribution and use in source and binary forms, with",
		"Apache-2.0":              "   Apache License\n   Version 2.0, January 2004",
		"MPL-2.0":                 "Mozilla Public License Version 2.0",
		"EPL-2.0 OR BSD-3-Clause": "Eclipse Public License v2.0\nand Eclipse Distribution License v1.0",
		"ISC":                     "Permission to use, copy, modify, and/or distribute this",
		"":                        "All rights reserved.",
	} {
		if got := licenceOf([]file{{"LICENSE", 0, []byte(text)}}); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// The page on installing names the archive of every kind of machine, and no other.
func TestInstallingNamesThem(t *testing.T) {
	page, err := os.ReadFile(filepath.Join("..", "..", "docs", "install.md"))
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]bool{}
	for _, m := range regexp.MustCompile("`(?:underlamp-VERSION|…)-([a-z]+-[a-z0-9]+)(\\.tar\\.gz|\\.zip)`").FindAllStringSubmatch(string(page), -1) {
		if (m[2] == ".zip") != strings.HasPrefix(m[1], "windows-") {
			t.Errorf("%s is not packed as %s", m[1], m[2])
		}
		got[m[1]] = true
	}
	for _, x := range targets {
		if !got[x.String()] {
			t.Errorf("docs/install.md does not name the archive of %s", x)
		}
	}
	if len(got) != len(targets) {
		t.Errorf("docs/install.md names %v, and there are %v", got, targets)
	}
}
