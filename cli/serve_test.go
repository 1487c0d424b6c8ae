package cli

import (
	"bytes"
	"context"
	"strings"
	"testing"
)

// Options of serve that need each other are asked for together, and reach the server.
func TestServeOptions(t *testing.T) {
	var got ServeOptions
	run := func(args ...string) (int, string) {
		var out, errs bytes.Buffer
		w := World{Out: &out, Err: &errs, Serve: func(_ context.Context, o ServeOptions, ready func(string)) error {
			got = o
			ready("http://127.0.0.1:1/")
			return nil
		}}
		code := Run(context.Background(), w, append([]string{"serve", t.TempDir()}, args...))
		return code, out.String() + errs.String()
	}
	for says, args := range map[string][]string{
		"give --store":              {"--mqtt", "127.0.0.1:1883"},
		"give both":                 {"--store", "r.db", "--mqtt", "127.0.0.1:1883", "--mqtt-cert", "c.pem"},
		"give --mqtt, its address":  {"--store", "r.db", "--mqtt-cert", "c.pem", "--mqtt-key", "k.pem"},
		"give --broker":             {"--store", "r.db", "--topic", "rack/#"},
		"give --tables, their fold": {"--store", "r.db", "--zone", "Europe/Berlin"},
	} {
		if code, text := run(args...); code != 2 || !strings.Contains(text, says) {
			t.Errorf("%v: %d, %s, want %q", args, code, text, says)
		}
	}
	code, text := run("--store", "r.db", "--mqtt", "127.0.0.1:1883", "--broker", "mqtt://host", "--topic", "a/#", "--topic", "b/#", "--tables", "t", "--zone", "Europe/Berlin")
	if code != 0 || got.MQTT != "127.0.0.1:1883" || len(got.Topics) != 2 || got.Tables != "t" || got.Zone != "Europe/Berlin" {
		t.Errorf("%d, %+v, %s", code, got, text)
	}
	for _, says := range []string{"the broker at 127.0.0.1:1883", "mqtt://host is read from: a/#, b/#", "taken from t"} {
		if !strings.Contains(text, says) {
			t.Errorf("%s, want %q", text, says)
		}
	}
}
