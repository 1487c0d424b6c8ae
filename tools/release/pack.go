package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"io/fs"
	"time"
)

// A file is an entry of an archive.
type file struct {
	name string // with slashes
	mode fs.FileMode
	body []byte
}

// tarGz packs files into a folder. Nothing of the machine that packs gets in.
func tarGz(folder string, files []file, when time.Time) ([]byte, error) {
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	w := tar.NewWriter(z)
	for _, f := range files {
		h := &tar.Header{Typeflag: tar.TypeReg, Name: folder + "/" + f.name, Mode: int64(f.mode), Size: int64(len(f.body)), ModTime: when, Format: tar.FormatUSTAR}
		if err := w.WriteHeader(h); err != nil {
			return nil, err
		}
		if _, err := w.Write(f.body); err != nil {
			return nil, err
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// zipped packs files into a folder, as Windows opens it by itself.
func zipped(folder string, files []file, when time.Time) ([]byte, error) {
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, f := range files {
		h := &zip.FileHeader{Name: folder + "/" + f.name, Method: zip.Deflate, Modified: when}
		h.SetMode(f.mode)
		e, err := w.CreateHeader(h)
		if err != nil {
			return nil, err
		}
		if _, err := e.Write(f.body); err != nil {
			return nil, err
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
