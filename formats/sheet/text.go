package sheet

import (
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	"underlamp/formats/plaintext"
)

// separators in the order in which they are preferred where several would do.
var separators = []byte{'\t', ';', ',', '|'}

// looked is how many rows are tried to find the separator.
const looked = 500

func readText(raw []byte) (*Book, error) {
	text, notes, err := textOf(raw)
	if err != nil {
		return nil, err
	}
	sep, from, begin := Separator(text)
	s := &Sheet{Lines: true, Notes: notes}
	cells := 0
	err = eachRow(text[begin:], sep, from, func(line int, row []string) error {
		cells += len(row)
		switch {
		case cells > MaxCells:
			return tooMany(fmt.Sprintf("line %d", line))
		case len(row) > maxColumns:
			return tooWide(fmt.Sprintf("line %d", line))
		}
		r := Row{N: line, Cells: make([]Cell, len(row))}
		for i, c := range row {
			if len(c) > 4*maxText || len(c) > maxText && utf8.RuneCountInString(c) > maxText {
				return &Error{Place: fmt.Sprintf("line %d, column %d", line, i+1), Reason: fmt.Sprintf("the cell has more than %d characters", maxText), Do: "is a quote opened and not closed?"}
			}
			if c != "" {
				r.Cells[i] = Cell{Kind: Text, Text: c}
			}
		}
		if !r.Blank() {
			s.Rows = append(s.Rows, r)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return &Book{Format: "text", Sheets: []*Sheet{s}}, nil
}

// textOf is a file as one text with lines that end in \n.
func textOf(raw []byte) (string, []string, error) {
	lines, notes, err := plaintext.Lines(raw)
	var bad *plaintext.NotTextError
	switch {
	case errors.As(err, &bad):
		return "", nil, &Error{Place: fmt.Sprintf("line %d", bad.Line), Reason: "the file is no text, and no workbook either", Do: "save the table as CSV, XLSX or ODS"}
	case err != nil:
		return "", nil, ErrNoRows
	}
	return strings.Join(lines, "\n"), notes, nil
}

// TextRows are the rows of a table of text as they are, with their lines, without those
// that are empty: for tables whose layout is known.
func TextRows(raw []byte) (rows [][]string, lines []int, err error) {
	text, _, err := textOf(raw)
	if err != nil {
		return nil, nil, err
	}
	sep, from, begin := Separator(text)
	cells := 0
	err = eachRow(text[begin:], sep, from, func(line int, row []string) error {
		if cells += len(row); cells > MaxCells {
			return tooMany(fmt.Sprintf("line %d", line))
		}
		for _, c := range row {
			if c != "" {
				rows, lines = append(rows, row), append(lines, line)
				break
			}
		}
		return nil
	})
	return rows, lines, err
}

// Separator finds what parts the cells of a text, from which line its rows begin, and at
// which byte: the separator by which the most rows have equally many cells. A first line
// such as sep=; says it.
func Separator(text string) (sep byte, line, begin int) {
	head, _, more := strings.Cut(text, "\n")
	if rest, ok := strings.CutPrefix(strings.ToLower(strings.TrimSpace(head)), "sep="); ok && len(rest) == 1 && more {
		return rest[0], 2, len(head) + 1
	}
	best, most := byte(','), 0
	for _, c := range separators {
		count := map[int]int{}
		rows := 0
		_ = eachRow(text, c, 1, func(_ int, row []string) error {
			for len(row) > 0 && row[len(row)-1] == "" { // rows of spreadsheets end alike, those of people do not
				row = row[:len(row)-1]
			}
			if count[len(row)]++; len(row) == 0 {
				return nil
			}
			if rows++; rows == looked {
				return errEnough
			}
			return nil
		})
		score := 0 // also of a text whose quotes go wrong later, so that it is told where
		for n, k := range count {
			if n >= 2 {
				score = max(score, k*1000+n) // more rows alike, then more cells
			}
		}
		if score > most {
			best, most = c, score
		}
	}
	return best, 1, 0
}

var errEnough = errors.New("enough")

// eachRow parts a text into rows of cells without blanks around them. A cell in quotes may
// hold separators, ends of lines and doubled quotes (RFC 4180); a quote within a cell is
// part of it. line is that of the first row.
func eachRow(text string, sep byte, line int, emit func(line int, row []string) error) error {
	width := 8
	for i := 0; i < len(text); {
		row := make([]string, 0, width)
		begin := line
		for {
			j := i
			for j < len(text) && (text[j] == ' ' || text[j] == '\t' && sep != '\t') {
				j++
			}
			if j < len(text) && text[j] == '"' {
				cell, next, ends, ok := quoted(text, j+1, sep)
				if !ok {
					return &Error{Place: fmt.Sprintf("line %d, column %d", line, len(row)+1), Reason: "a quote is opened and not closed", Do: "close it, or double it if it is part of the text"}
				}
				line += ends
				row, i = append(row, strings.TrimSpace(cell)), next
			} else {
				for j = i; j < len(text) && text[j] != sep && text[j] != '\n'; j++ {
				}
				row, i = append(row, strings.TrimSpace(text[i:j])), j
			}
			if i >= len(text) || text[i] == '\n' {
				break
			}
			i++ // past the separator
		}
		i++ // past the end of the line
		width = max(width, len(row))
		if err := emit(begin, row); err != nil {
			return err
		}
		line++
	}
	return nil
}

// quoted reads a cell from behind its opening quote to the separator or the end of the line
// behind its closing one, and counts the ends of lines in it.
func quoted(text string, i int, sep byte) (cell string, next, ends int, ok bool) {
	from := i
	var joined strings.Builder
	for {
		k := strings.IndexByte(text[i:], '"')
		if k < 0 || joined.Len() > 8*maxText {
			return "", 0, 0, false
		}
		i += k
		joined.WriteString(text[from:i])
		if i++; i < len(text) && text[i] == '"' {
			joined.WriteByte('"')
			i++
			from = i
			continue
		}
		tail := i
		for i < len(text) && text[i] != sep && text[i] != '\n' { // what people leave behind the quote
			i++
		}
		cell = joined.String()
		return cell + text[tail:i], i, strings.Count(cell, "\n"), true
	}
}

// SplitLine parts one line into its cells, without quotes and blanks around them.
func SplitLine(line string, sep rune) []string {
	var out []string
	var b strings.Builder
	in := false
	rs := []rune(line)
	for i := 0; i < len(rs); i++ {
		switch c := rs[i]; {
		case in && c == '"' && i+1 < len(rs) && rs[i+1] == '"':
			b.WriteRune('"')
			i++
		case c == '"' && (in || strings.TrimSpace(b.String()) == ""):
			in = !in
		case c == sep && !in:
			out = append(out, strings.TrimSpace(b.String()))
			b.Reset()
		default:
			b.WriteRune(c)
		}
	}
	return append(out, strings.TrimSpace(b.String()))
}

// Missing says that a text stands for nothing: it is empty, or a word for it.
func Missing(s string) bool {
	switch strings.ToLower(strings.TrimSpace(s)) {
	case "", "-", "--", "---", "–", "—", ".", "?", "na", "n/a", "n.a.", "nan", "null", "k.a.", "k. a.", "#n/a", "#value!", "#ref!", "#div/0!", "#name?", "#null!", "#num!":
		return true
	}
	return false
}
