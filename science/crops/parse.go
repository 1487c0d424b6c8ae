package crops

import (
	"encoding/csv"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

var columns = []string{"fact", "status", "value", "unit", "spread", "enters", "sources", "text"}

// parse reads one file. Its errors name the row or the line at the top.
func parse(text string) (Crop, error) {
	var c Crop
	top := map[string]string{}
	var body strings.Builder
	for line := range strings.Lines(text) {
		rest, ok := strings.CutPrefix(line, "#")
		if !ok {
			body.WriteString(line)
			continue
		}
		key, value, ok := strings.Cut(rest, ":")
		if !ok {
			return c, fmt.Errorf("the line %q is not of the form # key: value", strings.TrimSpace(line))
		}
		top[strings.TrimSpace(key)] = strings.TrimSpace(value)
	}
	c.Name, c.Species, c.HeadType, c.Botanical = top["name"], top["species"], top["type"], top["botanical"]
	if c.Name == "" || c.Species == "" || c.Botanical == "" {
		return c, fmt.Errorf("name, species or botanical name is missing at the top")
	}
	if (c.Species == Lettuce) != (c.HeadType != "") {
		return c, fmt.Errorf("a lettuce has a type and no other species has")
	}
	c.Also = split(top["also"], ",")
	var err error
	if c.Growth, err = verdict(top["growth"]); err != nil {
		return c, fmt.Errorf("growth: %w", err)
	}
	if c.Burn, err = verdict(top["burn"]); err != nil {
		return c, fmt.Errorf("burn: %w", err)
	}
	rows, err := csv.NewReader(strings.NewReader(body.String())).ReadAll()
	if err != nil {
		return c, err
	}
	if len(rows) < 2 || !slices.Equal(rows[0], columns) {
		return c, fmt.Errorf("wanted the columns %s and rows under them", strings.Join(columns, ","))
	}
	for _, row := range rows[1:] {
		f, err := fact(row)
		if err != nil {
			return c, fmt.Errorf("%s: %w", row[0], err)
		}
		if _, twice := c.Fact(f.Name); twice {
			return c, fmt.Errorf("%s stands twice", f.Name)
		}
		if f.Enters != "" && !c.Supported() {
			return c, fmt.Errorf("%s enters a forecast that is refused", f.Name)
		}
		c.Facts = append(c.Facts, f)
	}
	return c, nil
}

// verdict reads "supported | Key; Key | text" or "refused | Key | text".
func verdict(s string) (Verdict, error) {
	parts := strings.SplitN(s, "|", 3)
	if len(parts) != 3 || strings.TrimSpace(parts[2]) == "" {
		return Verdict{}, fmt.Errorf("wanted supported or refused, sources, and a text, parted by |")
	}
	v := Verdict{Text: strings.TrimSpace(parts[2])}
	v.Sources = split(parts[1], ";")
	switch strings.TrimSpace(parts[0]) {
	case "supported":
		v.Supported = true
		if len(v.Sources) == 0 {
			return v, fmt.Errorf("what is supported has sources")
		}
	case "refused":
	default:
		return v, fmt.Errorf("%q is neither supported nor refused", parts[0])
	}
	return v, nil
}

func fact(row []string) (Fact, error) {
	f := Fact{Name: row[0], Status: Status(row[1]), Unit: row[3], Enters: row[5], Text: row[7]}
	f.Sources = split(row[6], ";")
	if f.Name == "" || f.Text == "" {
		return f, fmt.Errorf("a name or a text is missing")
	}
	switch f.Status {
	case Number:
		var err error
		if f.Value, err = positive(row[2]); err != nil || f.Value == 0 {
			return f, fmt.Errorf("the value %q is no number above 0", row[2])
		}
		if f.Spread, err = positive(row[4]); err != nil {
			return f, fmt.Errorf("the spread %q is no number from 0", row[4])
		}
		if f.Unit == "" || len(f.Sources) == 0 {
			return f, fmt.Errorf("a number has a unit and a source")
		}
		if f.Enters != "" && (f.Unit != "×" || f.Spread == 0) {
			return f, fmt.Errorf("what enters a forecast is a factor (×) with a spread")
		}
	case Reference, Unsupported:
		if row[2] != "" || row[3] != "" || row[4] != "" || row[5] != "" {
			return f, fmt.Errorf("only a number has value, unit, spread and what it enters")
		}
		if f.Status == Reference && len(f.Sources) == 0 {
			return f, fmt.Errorf("a reference has a source")
		}
	default:
		return f, fmt.Errorf("the status %q is none of %s, %s and %s", row[1], Number, Reference, Unsupported)
	}
	return f, nil
}

func positive(s string) (float64, error) {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return 0, err
	}
	if !(v >= 0) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%g is out of range", v)
	}
	return v, nil
}

// split cuts a list and drops what is empty.
func split(s, sep string) []string {
	var out []string
	for part := range strings.SplitSeq(s, sep) {
		if part = strings.TrimSpace(part); part != "" {
			out = append(out, part)
		}
	}
	return out
}
