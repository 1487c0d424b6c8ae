package mqttintake

import (
	"bytes"
	"encoding/json"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"underlamp/formats/senml"
	"underlamp/intake"
	"underlamp/mqtt"
)

// Limits of a payload.
const (
	maxKeys   = 1000
	maxNumber = 64 // characters of a plain number
)

// A payload is what a message said.
type payload struct {
	readings []intake.Reading
	timed    bool // every reading carries its time
	left     int  // values that are no numbers
}

// decode reads a payload that arrived at an instant. Its error is always a
// [*mqtt.RefusedError].
func decode(topic string, data []byte, arrived time.Time) (payload, error) {
	text := bytes.TrimSpace(data)
	switch {
	case len(text) == 0:
		return payload{}, mqtt.Refused("the message is empty")
	case text[0] == '[':
		return pack(text, arrived)
	}
	name := strings.Trim(topic, "/")
	if !mqtt.ValidTopic(name) {
		return payload{}, mqtt.Refused("a sensor cannot be called by the topic %q: use letters, digits and -:._ between the strokes", shortened(topic))
	}
	if text[0] == '{' {
		return object(name, text, arrived)
	}
	v, err := plainNumber(string(text[:min(len(text), maxNumber+1)]))
	if err != nil {
		return payload{}, err
	}
	return payload{readings: []intake.Reading{{Sensor: name, At: arrived, Value: v}}}, nil
}

// pack reads SenML.
func pack(text []byte, arrived time.Time) (payload, error) {
	p, err := senml.Read(text, arrived)
	if err != nil {
		return payload{}, mqtt.Refused("%v", err)
	}
	// A time that moves with now was not said.
	later, err := senml.Read(text, arrived.Add(time.Hour))
	if err != nil {
		return payload{}, mqtt.Refused("%v", err)
	}
	out := payload{timed: true, left: p.Skipped}
	for i, r := range p.Records {
		out.timed = out.timed && r.At.Equal(later.Records[i].At)
		out.readings = append(out.readings, intake.Reading{Sensor: r.Name, Unit: r.Unit, At: r.At, Value: r.Value})
	}
	return out, nil
}

// plainNumber reads a number in the form that JSON has, with a sign or a bare point
// forgiven.
func plainNumber(text string) (float64, error) {
	const want = "a message is a number such as 21.4, a JSON object of numbers, or a SenML pack"
	for _, c := range text {
		if !strings.ContainsRune("0123456789+-.eE", c) {
			if c == ',' {
				return 0, mqtt.Refused("%q has a comma: write the number with a point", text)
			}
			return 0, mqtt.Refused("%q is no number; %s", shortened(text), want)
		}
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || len(text) > maxNumber {
		return 0, mqtt.Refused("%q is no number; %s", shortened(text), want)
	}
	return v, nil
}

func shortened(s string) string {
	if len(s) > 40 {
		return strings.ToValidUTF8(s[:40], "") + "…"
	}
	return s
}

// object reads a flat JSON object of numbers.
func object(name string, text []byte, arrived time.Time) (payload, error) {
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.UseNumber()
	bad := func(err error) (payload, error) { return payload{}, mqtt.Refused("the message is no JSON: %v", err) }
	if _, err := dec.Token(); err != nil {
		return bad(err)
	}
	out := payload{}
	at := arrived
	seen := map[string]bool{}
	for dec.More() {
		key, err := dec.Token()
		if err != nil {
			return bad(err)
		}
		k := key.(string) // of an object, as the decoder holds it to
		if seen[k] {
			return payload{}, mqtt.Refused("the key %q is there twice", shortened(k))
		}
		if seen[k] = true; len(seen) > maxKeys {
			return payload{}, mqtt.Refused("there are more than %d keys", maxKeys)
		}
		var value any
		if err := dec.Decode(&value); err != nil {
			return bad(err)
		}
		if k == "time" {
			if at, err = instant(value); err != nil {
				return payload{}, err
			}
			out.timed = true
			continue
		}
		n, ok := value.(json.Number)
		if !ok {
			out.left++
			continue
		}
		sensor := name + "/" + k
		if k == "" || !mqtt.ValidTopic(sensor) {
			return payload{}, mqtt.Refused("a sensor cannot be called by the key %q: use letters, digits and -:._/", shortened(k))
		}
		v, err := n.Float64()
		if err != nil {
			return payload{}, mqtt.Refused("the value of %q is beyond all measure", k)
		}
		out.readings = append(out.readings, intake.Reading{Sensor: sensor, Value: v})
	}
	if _, err := dec.Token(); err != nil {
		return bad(err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return payload{}, mqtt.Refused("something follows the JSON object")
	}
	if len(out.readings) == 0 {
		return payload{}, mqtt.Refused("the JSON object has no numbers on its first level")
	}
	for i := range out.readings {
		out.readings[i].At = at
	}
	return out, nil
}

// instant reads the time of an object: seconds since 1970, or milliseconds, which are
// from 10^11 on, or a text of RFC 3339.
func instant(value any) (time.Time, error) {
	switch v := value.(type) {
	case json.Number:
		s, err := v.Float64()
		if err == nil && s >= 1e11 {
			s /= 1000
		}
		if err != nil || !(s >= 1<<28 && s < 253402300800) {
			return time.Time{}, mqtt.Refused("the time %s is none: write seconds since 1970, or a text such as 2026-11-25T13:40:00Z", shortened(v.String()))
		}
		whole, part := math.Modf(s)
		return time.Unix(int64(whole), int64(math.Round(part*1e6))*1000).UTC(), nil
	case string:
		if t, err := time.Parse(time.RFC3339, v); err == nil {
			return t.UTC().Truncate(time.Microsecond), nil
		}
		return time.Time{}, mqtt.Refused("the time %q is none: write it as 2026-11-25T13:40:00Z, with its offset", shortened(v))
	}
	return time.Time{}, mqtt.Refused("the time is neither a number nor a text")
}
