package air

import (
	"errors"
	"fmt"
	"strings"

	"underlamp/science/fanjet"
	"underlamp/science/quantity"
)

// mostReadings is how many readings of an anemometer are taken at once, and how long their text
// may be.
const (
	mostReadings     = 200
	longestReadings  = 8 << 10
	fastestReading   = 20 // m/s
	depthWithinCrop  = 0.5
	wordsWithinCrop  = "within"
	wordsAboveTheTop = "above"
)

// ParseReadings reads what somebody copied from an anemometer: amounts parted by semicolons or
// line ends, or by commas where there are neither, the last unit for all that have none: "0.2,
// 0.35, 0.1 m/s". A
// group may begin with "above:" (over the crop, which is also meant without a word) or
// "within:" (halfway down between the leaves). All or nothing: the error names the amount.
func ParseReadings(text string) ([]fanjet.Reading, error) {
	if len(text) > longestReadings {
		return nil, fmt.Errorf("the readings are longer than %d characters", longestReadings)
	}
	type item struct {
		text  string
		depth float64
	}
	var items []item
	depth := 1.0
	marks := ";\n\r"
	if !strings.ContainsAny(text, marks) { // then a comma is no decimal sign
		marks = ","
	}
	for part := range strings.FieldsFuncSeq(text, func(r rune) bool { return strings.ContainsRune(marks, r) }) {
		part = strings.TrimSpace(part)
		if head, rest, ok := strings.Cut(part, ":"); ok {
			switch strings.ToLower(strings.TrimSpace(head)) {
			case wordsAboveTheTop:
				depth = 1
			case wordsWithinCrop:
				depth = depthWithinCrop
			default:
				return nil, fmt.Errorf("%q is no place of a reading; \"above:\" and \"within:\" are known", short(head))
			}
			part = strings.TrimSpace(rest)
		}
		if part == "" {
			continue
		}
		if len(items) == mostReadings {
			return nil, fmt.Errorf("more than %d readings", mostReadings)
		}
		items = append(items, item{part, depth})
	}
	if len(items) == 0 {
		return nil, errors.New("no reading is written; write for example 0.2, 0.35, 0.1 m/s")
	}
	unit := ""
	for i := len(items) - 1; i >= 0; i-- { // the last unit written holds for those before it
		t := items[i].text
		if strings.Trim(t, "0123456789.,") == "" {
			items[i].text = t + " " + unit
			continue
		}
		if u := strings.TrimLeft(t, "0123456789.,+- "); len(u) < len(t) {
			unit = u
		}
	}
	out := make([]fanjet.Reading, len(items))
	for i, it := range items {
		v, err := quantity.AirSpeed.Parse(it.text)
		if err != nil {
			return nil, fmt.Errorf("reading %d: %w", i+1, err)
		}
		if !(v >= 0 && v <= fastestReading) {
			return nil, fmt.Errorf("reading %d: %s is no air speed over plants; 0 to 20 m/s", i+1, short(it.text))
		}
		out[i] = fanjet.Reading{Speed: v, Depth: it.depth}
	}
	return out, nil
}

func short(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}

// SurveySentences say what readings mean.
func SurveySentences(s fanjet.Survey, u quantity.System) []string {
	speed := func(v float64) string { return quantity.AirSpeed.Format(v, u, 2) }
	out := []string{fmt.Sprintf("Of %d readings: %s at the top of the crop on the mean (90 %%: %s to %s), from %s to %s. Write it as the speed of the air into the bench file.", s.N, speed(s.Mean), speed(s.Low), speed(s.High), speed(s.Least), speed(s.Most))}
	if s.N == 1 {
		out = []string{fmt.Sprintf("One reading: %s at the top of the crop (90 %%: %s to %s). Places differ by two fifths (common practice, no source): five or more readings over the bench say more.", speed(s.Mean), speed(s.Low), speed(s.High))}
	} else if s.Uneven > 0.5 {
		out = append(out, "The air is uneven: the plants with the least of it decide about burn.")
	}
	return append(out, "Hobby anemometers are off by about 5 % and 0.03 m/s, and many do not turn below 0.3 m/s (common practice, no source). A reading between the leaves is carried to their top by exp(2.5 (1 − z/h)) (CampbellNorman1998, from memory), which doubts it by a quarter.")
}
