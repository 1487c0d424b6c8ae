// Package openmetrics reads the text format of OpenMetrics, the open standard of lines that
// programs and small devices write: Hartmann2020.
//
//	# TYPE air_celsius gauge
//	# UNIT air_celsius celsius
//	air_celsius{sensor="rack-2/air"} 21.4 1795614000
//	# EOF
//
// A sample becomes a reading of the sensor that its label "sensor" names; without one, of
// the sensor that is called like the metric and the values of its labels, in the order of
// their names, parted by "/". The unit is that of the metadata, or of the end of the
// name. Metrics of many samples (histograms, summaries, state sets, infos) are left out and
// counted. What a device sends need not end with "# EOF", but nothing follows it.
//
// # Sources
//
//   - Hartmann2020: R. Hartmann, B. Kochie, B. Brazil, R. Skillington (2020), OpenMetrics
//     1.0, sections on the text format: grammar, escaping, timestamps.
package openmetrics

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// Limits of what is sent at once.
const (
	MaxBytes   = 4 << 20
	MaxSamples = 100_000
)

// A Sample is one reading.
type Sample struct {
	Name  string // of the sensor
	Unit  string // as written; empty if none was said
	At    time.Time
	Value float64
}

// An Exposition is what was sent at once.
type Exposition struct {
	Samples []Sample
	Skipped int // samples of metrics that are no single number, and those that are not a number
}

// many are the types whose samples are parts of something.
var many = []string{"histogram", "gaugehistogram", "summary", "stateset", "info"}

// units are the ends of names that tell a unit where no metadata does; the standard asks
// for them.
var units = []string{"celsius", "ratio", "percent", "watts", "joules", "volts", "pascals", "ppm", "lux", "meters", "seconds"}

// family is what the metadata say of a metric.
type family struct{ kind, unit string }

// Read reads what arrived at an instant, whole or not at all.
func Read(data []byte, now time.Time) (*Exposition, error) {
	if len(data) > MaxBytes {
		return nil, fmt.Errorf("what was sent is larger than %d MiB", MaxBytes>>20)
	}
	if !utf8.Valid(data) {
		return nil, errors.New("it is no UTF-8")
	}
	out := &Exposition{}
	families := map[string]family{}
	ended := false
	for n, line := range strings.Split(strings.TrimSuffix(string(data), "\n"), "\n") {
		wrong := func(err error) error { return fmt.Errorf("line %d: %w", n+1, err) }
		line = strings.TrimSuffix(line, "\r")
		switch {
		case ended:
			return nil, wrong(errors.New("something follows # EOF"))
		case line == "# EOF":
			ended = true
		case line == "":
		case strings.HasPrefix(line, "#"):
			if word := strings.SplitN(line, " ", 4); len(word) == 4 && word[0] == "#" {
				f := families[word[2]]
				switch word[1] {
				case "TYPE":
					f.kind = word[3]
				case "UNIT":
					f.unit = word[3]
				}
				families[word[2]] = f
			}
		default:
			metric, labels, s, err := sample(line, now)
			if err != nil {
				return nil, wrong(err)
			}
			f, known := families[metric]
			if !known {
				f = families[base(metric, families)]
			}
			if slices.Contains(many, f.kind) || math.IsNaN(s.Value) || math.IsInf(s.Value, 0) || strings.HasSuffix(metric, "_created") {
				out.Skipped++
				continue
			}
			if s.Name, err = sensor(metric, labels); err != nil {
				return nil, wrong(err)
			}
			if s.Unit = f.unit; s.Unit == "" {
				s.Unit = ending(metric)
			}
			if len(out.Samples) == MaxSamples {
				return nil, wrong(fmt.Errorf("there are more than %d samples", MaxSamples))
			}
			out.Samples = append(out.Samples, s)
		}
	}
	return out, nil
}

// base is the metric of a sample whose name has an ending of its type: a counter is
// written as NAME_total.
func base(metric string, families map[string]family) string {
	for _, end := range []string{"_total", "_created", "_bucket", "_count", "_sum", "_gcount", "_gsum", "_info"} {
		if name, ok := strings.CutSuffix(metric, end); ok {
			if _, known := families[name]; known {
				return name
			}
		}
	}
	return metric
}

// ending is the unit that a name ends in.
func ending(metric string) string {
	metric = strings.TrimSuffix(metric, "_total")
	for _, u := range units {
		if strings.HasSuffix(metric, "_"+u) {
			if u == "ratio" {
				return "/"
			}
			return u
		}
	}
	return ""
}

// sample reads NAME{LABELS} VALUE [TIME] [# exemplar]; the name of the sensor is left open.
func sample(line string, now time.Time) (metric string, labels [][2]string, s Sample, err error) {
	i := strings.IndexAny(line, "{ ")
	if i < 0 {
		return "", nil, s, errors.New("the value is missing: air_celsius 21.4")
	}
	metric, rest := line[:i], line[i:]
	if !isName(metric, true) {
		return "", nil, s, fmt.Errorf("%q is no name of a metric: letters, digits, _ and :, not a digit first", cut(metric))
	}
	if rest[0] == '{' {
		if labels, rest, err = readLabels(rest[1:]); err != nil {
			return "", nil, s, err
		}
	}
	rest, _, _ = strings.Cut(rest, " # ") // an exemplar
	words := strings.Fields(rest)
	if len(words) < 1 || len(words) > 2 || rest[0] != ' ' {
		return "", nil, s, errors.New("a value follows the name, and after it at most a time in seconds since 1970")
	}
	if s.Value, err = number(words[0]); err != nil {
		return "", nil, s, fmt.Errorf("%q is no number", cut(words[0]))
	}
	s.At = now.UTC()
	if len(words) == 2 {
		t, err := number(words[1])
		if err != nil || math.IsNaN(t) || math.Abs(t) > 253402300799 {
			return "", nil, s, fmt.Errorf("%q is no time in seconds since 1970", cut(words[1]))
		}
		whole, part := math.Modf(t)
		s.At = time.Unix(int64(whole), 0).Add(time.Duration(math.Round(part*1e6)) * time.Microsecond).UTC()
	}
	return metric, labels, s, nil
}

// number reads a number of the standard: no hexadecimal, no underlines.
func number(text string) (float64, error) {
	if strings.ContainsAny(text, "xXpP_") {
		return 0, strconv.ErrSyntax
	}
	v, err := strconv.ParseFloat(text, 64)
	if errors.Is(err, strconv.ErrRange) {
		err = nil // ±Inf, which is left out
	}
	return v, err
}

// readLabels reads NAME="VALUE",… up to the closing brace, and returns what follows it.
func readLabels(text string) (labels [][2]string, rest string, err error) {
	for {
		if rest, ok := strings.CutPrefix(text, "}"); ok {
			return labels, rest, nil
		}
		name, after, ok := strings.Cut(text, `="`)
		if !ok || !isName(name, false) {
			return nil, "", errors.New(`labels are written so: {sensor="rack-2/air",room="attic"}`)
		}
		var value strings.Builder
		i := 0
		for ; i < len(after) && after[i] != '"'; i++ {
			c := after[i]
			if c == '\\' {
				if i++; i == len(after) {
					break
				}
				switch after[i] {
				case 'n':
					c = '\n'
				case '\\', '"':
					c = after[i]
				default:
					value.WriteByte('\\')
					c = after[i]
				}
			}
			value.WriteByte(c)
		}
		if i >= len(after) {
			return nil, "", errors.New("a label does not end")
		}
		for _, l := range labels {
			if l[0] == name {
				return nil, "", fmt.Errorf("the label %q stands twice", name)
			}
		}
		labels = append(labels, [2]string{name, value.String()})
		text = after[i+1:]
		if comma, ok := strings.CutPrefix(text, ","); ok {
			text = comma
		} else if !strings.HasPrefix(text, "}") {
			return nil, "", errors.New("labels are parted by commas")
		}
	}
}

// sensor is what a sample is a reading of.
func sensor(metric string, labels [][2]string) (string, error) {
	slices.SortFunc(labels, func(a, b [2]string) int { return strings.Compare(a[0], b[0]) })
	name := metric
	for _, l := range labels {
		if l[0] == "sensor" {
			return l[1], named(l[1])
		}
		name += "/" + l[1]
	}
	return name, named(name)
}

// named holds the name of a sensor to the characters that all ways in know.
func named(name string) error {
	if name == "" || len(name) > 200 {
		return errors.New("the name of a sensor has 1 to 200 characters")
	}
	for i, c := range []byte(name) {
		letter := c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' || c >= '0' && c <= '9'
		if !letter && (i == 0 || !strings.ContainsRune("-:./_", rune(c))) {
			return fmt.Errorf("the sensor %q has characters besides A to Z, a to z, 0 to 9 and -:./_, or does not begin with one of the first", cut(name))
		}
	}
	return nil
}

// isName says that a name is one of a metric, which may hold colons, or of a label.
func isName(name string, metric bool) bool {
	for i, c := range []byte(name) {
		letter := c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' || c == '_' || metric && c == ':'
		if !letter && (i == 0 || c < '0' || c > '9') {
			return false
		}
	}
	return name != ""
}

// cut keeps what is shown of a text short.
func cut(text string) string {
	if r := []rune(text); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return text
}
