package trialtable

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
)

const (
	maxXLSX     = 8 << 20
	maxUnpacked = 32 << 20
	maxSheetCol = 200
)

type richText struct {
	T string `xml:"t"`
	R []struct {
		T string `xml:"t"`
	} `xml:"r"`
}

func (t richText) text() string {
	s := t.T
	for _, r := range t.R {
		s += r.T
	}
	return s
}

// xlsxRows reads the first sheet of a workbook.
func xlsxRows(raw []byte) (rows [][]string, lines []int, err error) {
	if len(raw) > maxXLSX {
		return nil, nil, errors.New("the workbook is larger than 8 MiB")
	}
	z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		return nil, nil, fmt.Errorf("the workbook cannot be unpacked: %w", err)
	}
	var shared struct {
		SI []richText `xml:"si"`
	}
	if err := part(z, "xl/sharedStrings.xml", &shared); err != nil && !errors.Is(err, errNoPart) {
		return nil, nil, err
	}
	// The first sheet is the one named first in the workbook, through its relation.
	var book struct {
		Sheets []struct {
			ID string `xml:"http://schemas.openxmlformats.org/officeDocument/2006/relationships id,attr"`
		} `xml:"sheets>sheet"`
	}
	var rels struct {
		R []struct {
			ID     string `xml:"Id,attr"`
			Target string `xml:"Target,attr"`
		} `xml:"Relationship"`
	}
	name := "xl/worksheets/sheet1.xml"
	if part(z, "xl/workbook.xml", &book) == nil && part(z, "xl/_rels/workbook.xml.rels", &rels) == nil && len(book.Sheets) > 0 {
		for _, r := range rels.R {
			if r.ID == book.Sheets[0].ID {
				name = "xl/" + strings.TrimPrefix(strings.TrimPrefix(r.Target, "/"), "xl/")
			}
		}
	}
	var sheet struct {
		Rows []struct {
			R     int `xml:"r,attr"`
			Cells []struct {
				R  string   `xml:"r,attr"`
				T  string   `xml:"t,attr"`
				V  string   `xml:"v"`
				IS richText `xml:"is"`
			} `xml:"c"`
		} `xml:"sheetData>row"`
	}
	if err := part(z, name, &sheet); err != nil {
		return nil, nil, err
	}
	for i, r := range sheet.Rows {
		var row []string
		for j, c := range r.Cells {
			at := columnOf(c.R, j)
			if at >= maxSheetCol {
				return nil, nil, fmt.Errorf("the sheet has more than %d columns", maxSheetCol)
			}
			for len(row) <= at {
				row = append(row, "")
			}
			text := c.V
			switch c.T {
			case "s":
				var n int
				if _, err := fmt.Sscanf(c.V, "%d", &n); err != nil || n < 0 || n >= len(shared.SI) {
					return nil, nil, fmt.Errorf("the workbook is damaged: the text of cell %s is not there", c.R)
				}
				text = shared.SI[n].text()
			case "inlineStr":
				text = c.IS.text()
			case "e":
				text = ""
			}
			row[at] = strings.TrimSpace(text)
		}
		if len(rows) > maxLines {
			return nil, nil, fmt.Errorf("the table has more than %d lines", maxLines)
		}
		line := r.R
		if line == 0 {
			line = i + 1
		}
		rows, lines = append(rows, row), append(lines, line)
	}
	return rows, lines, nil
}

// columnOf is the index of a cell such as B7; j if it has no name.
func columnOf(ref string, j int) int {
	n := 0
	for _, c := range ref {
		if c < 'A' || c > 'Z' || n > maxSheetCol {
			break
		}
		n = 26*n + int(c-'A') + 1
	}
	if n == 0 {
		return j
	}
	return n - 1
}

var errNoPart = errors.New("the workbook has no sheet that can be read")

func part(z *zip.Reader, name string, into any) error {
	for _, f := range z.File {
		if f.Name != name {
			continue
		}
		in, err := f.Open()
		if err != nil {
			return fmt.Errorf("the workbook cannot be unpacked: %w", err)
		}
		defer in.Close()
		text, err := io.ReadAll(io.LimitReader(in, maxUnpacked+1))
		if err != nil {
			return fmt.Errorf("the workbook cannot be unpacked: %w", err)
		}
		if len(text) > maxUnpacked {
			return errors.New("the workbook is larger than 32 MiB when unpacked")
		}
		if err := xml.Unmarshal(text, into); err != nil {
			return fmt.Errorf("the workbook is damaged: %w", err)
		}
		return nil
	}
	return errNoPart
}
