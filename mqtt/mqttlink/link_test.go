package mqttlink_test

import (
	"context"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"underlamp/internal/mqtttest"
	"underlamp/mqtt"
	"underlamp/mqtt/mqttlink"
)

func TestAddress(t *testing.T) {
	for text, want := range map[string]string{
		"mqtt://broker":        "mqtt://broker:1883",
		"mqtt://10.0.0.7:1884": "mqtt://10.0.0.7:1884",
		"mqtts://broker/":      "mqtts://broker:8883",
		"mqtt://[::1]":         "mqtt://[::1]:1883",
	} {
		a, err := mqttlink.ParseAddress(text)
		if err != nil || a.String() != want {
			t.Errorf("%s: %v, %v", text, a, err)
		}
	}
	for text, says := range map[string]string{
		"broker:1883":            "no address",
		"http://broker":          "no address",
		"mqtt://":                "no address",
		"mqtt://broker/path":     "no address",
		"mqtt://me:pwd%zz@x":     "cannot be read",
		"mqtt://me:secret@x:1":   "UNDERLAMP_MQTT_USER",
		"mqtt://broker?ca=x.pem": "no address",
	} {
		_, err := mqttlink.ParseAddress(text)
		if err == nil || !strings.Contains(err.Error(), says) || strings.Contains(err.Error(), "secret") || strings.Contains(err.Error(), "pwd") {
			t.Errorf("%s: %v, want %q", text, err, says)
		}
	}
}

func TestCredentials(t *testing.T) {
	file := filepath.Join(t.TempDir(), "password")
	if err := os.WriteFile(file, []byte("se cret\r\nnot this\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	env := func(m map[string]string) func(string) string { return func(k string) string { return m[k] } }
	for _, c := range []struct {
		env            map[string]string
		user, password string
		fails          bool
	}{
		{nil, "", "", false},
		{map[string]string{"UNDERLAMP_MQTT_USER": "me", "UNDERLAMP_MQTT_PASSWORD": "x"}, "me", "x", false},
		{map[string]string{"UNDERLAMP_MQTT_USER": "me", "UNDERLAMP_MQTT_PASSWORD_FILE": file}, "me", "se cret", false},
		{map[string]string{"UNDERLAMP_MQTT_PASSWORD_FILE": file + "x"}, "", "", true},
		{map[string]string{"UNDERLAMP_MQTT_PASSWORD_FILE": file, "UNDERLAMP_MQTT_PASSWORD": "x"}, "", "", true},
	} {
		user, password, err := mqttlink.Credentials(env(c.env))
		if user != c.user || password != c.password || (err != nil) != c.fails {
			t.Errorf("%v: %q, %q, %v", c.env, user, password, err)
		}
	}
}

func until(t testing.TB, what string, holds func() bool) {
	t.Helper()
	for begin := time.Now(); !holds(); time.Sleep(2 * time.Millisecond) {
		if time.Since(begin) > 2*time.Minute {
			t.Fatal("not in time: ", what)
		}
	}
}

func open(t testing.TB, address string, opt mqttlink.Options) *mqttlink.Link {
	t.Helper()
	opt.Address = mqttlink.Address{Host: address}
	if opt.Retry == 0 {
		opt.Retry = 20 * time.Millisecond
	}
	l, err := mqttlink.Open(opt)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(l.Close)
	return l
}

// A heard collects what is read.
type heard struct {
	mu  sync.Mutex
	all []mqtt.Message
	bad map[string]error // answers by payload
}

func (h *heard) receive(_ context.Context, m mqtt.Message) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.all = append(h.all, m)
	return h.bad[string(m.Payload)]
}

func (h *heard) texts() []string {
	h.mu.Lock()
	defer h.mu.Unlock()
	var out []string
	for _, m := range h.all {
		text := string(m.Payload)
		if m.Retained {
			text += " (retained)"
		}
		out = append(out, text)
	}
	return out
}

// With each broker and each version: what is published arrives, retained or not; the
// will comes when the line is cut and not when it is closed in order.
func TestBothVersions(t *testing.T) {
	for name, start := range mqtttest.Kinds(t) {
		for _, version := range []string{"5", "3.1.1"} {
			t.Run(name+" "+version, func(t *testing.T) {
				b := start(t)
				line := mqtttest.NewLine(t, b.Address)
				if version == "3.1.1" {
					line = mqtttest.NewOldLine(t, b.Address)
				}
				var h heard
				reader := open(t, line.Address, mqttlink.Options{Client: "reader", Filters: []string{"rack/#"}, Receive: h.receive})
				until(t, "the reader", reader.Connected)
				if reader.Version() != version {
					t.Errorf("version %s", reader.Version())
				}
				willLine := mqtttest.NewLine(t, b.Address)
				if version == "3.1.1" {
					willLine = mqtttest.NewOldLine(t, b.Address)
				}
				sender := open(t, willLine.Address, mqttlink.Options{Retry: time.Minute, Will: &mqttlink.Will{Topic: "rack/lamp", Payload: []byte("OFF")}})
				until(t, "the sender", sender.Connected)
				if err := sender.Publish(context.Background(), "rack/lamp", []byte("80"), true); err != nil {
					t.Fatal(err)
				}
				until(t, "the message", func() bool { return len(h.texts()) == 1 })
				willLine.Cut()
				until(t, "the will", func() bool { return len(h.texts()) == 2 })
				until(t, "the sender knows", func() bool { return !sender.Connected() })
				if err := sender.Publish(context.Background(), "rack/lamp", []byte("80"), true); !errors.Is(err, mqttlink.ErrDown) {
					t.Errorf("without a connection: %v", err)
				}
				willLine.Mend()
				orderly := open(t, willLine.Address, mqttlink.Options{Will: &mqttlink.Will{Topic: "rack/lamp", Payload: []byte("NEVER")}})
				until(t, "the orderly one", orderly.Connected)
				orderly.Close()
				var later heard
				second := open(t, line.Address, mqttlink.Options{Client: "second", Filters: []string{"rack/#"}, Receive: later.receive})
				until(t, "the retained message", func() bool { return len(later.texts()) == 1 })
				if got := later.texts()[0]; got != "OFF (retained)" {
					t.Errorf("%q", got)
				}
				second.Close()
				time.Sleep(50 * time.Millisecond)
				if got := strings.Join(h.texts(), ", "); got != "80, OFF" {
					t.Errorf("%s", got)
				}
			})
		}
	}
}

// A broker that is not there is waited for; a wrong password is said, once, and no
// password is in the log.
func TestNotThere(t *testing.T) {
	b := mqtttest.MochiFor(t, "me", "secret")
	log := &mqtttest.Log{}
	logger := slog.New(slog.NewTextHandler(log, nil))
	wrong := open(t, b.Address, mqttlink.Options{User: "me", Password: "wrongsecret", Log: logger})
	until(t, "the refusal", func() bool { return strings.Contains(log.String(), "wrong user or password") })
	wrong.Close()
	b.Stop()
	right := open(t, b.Address, mqttlink.Options{User: "me", Password: "secret", Log: logger})
	time.Sleep(100 * time.Millisecond)
	if right.Connected() || right.Version() != "" {
		t.Error("connected to nothing")
	}
	b.Start()
	until(t, "the broker is back", right.Connected)
	if strings.Contains(log.String(), "secret") {
		t.Errorf("a password is in the log: %s", log)
	}
	if n := strings.Count(log.String(), "refused"); n > 3 {
		t.Errorf("%d lines for one reason: %s", n, log)
	}
}

// What the receiver could not keep comes again, and what it refuses does not; nothing is
// acknowledged past what was not kept.
func TestComesAgain(t *testing.T) {
	for name, start := range mqtttest.Kinds(t) {
		for _, version := range []string{"5", "3.1.1"} {
			t.Run(name+" "+version, func(t *testing.T) {
				b := start(t)
				line := mqtttest.NewLine(t, b.Address)
				if version == "3.1.1" {
					line = mqtttest.NewOldLine(t, b.Address)
				}
				h := heard{bad: map[string]error{"never": mqtt.Refused("never"), "later": errors.New("no room on the disk")}}
				reader := open(t, line.Address, mqttlink.Options{Client: "reader", Filters: []string{"rack/#"}, Receive: h.receive})
				until(t, "the reader", reader.Connected)
				sender := open(t, b.Address, mqttlink.Options{})
				until(t, "the sender", sender.Connected)
				for _, text := range []string{"one", "never", "later", "two"} {
					if err := sender.Publish(context.Background(), "rack/air", []byte(text), false); err != nil {
						t.Fatal(err)
					}
				}
				count := func(text string) (n int) {
					for _, x := range h.texts() {
						if x == text {
							n++
						}
					}
					return n
				}
				until(t, "it comes a third time", func() bool { return count("later") >= 3 })
				h.mu.Lock()
				delete(h.bad, "later")
				h.mu.Unlock()
				before := count("later")
				until(t, "it comes and is kept", func() bool { return count("later") > before && count("two") >= 1 })
				time.Sleep(200 * time.Millisecond)
				sum := len(h.texts())
				line.Cut()
				line.Mend()
				until(t, "the line is back", reader.Connected)
				if err := sender.Publish(context.Background(), "rack/air", []byte("end"), false); err != nil {
					t.Fatal(err)
				}
				until(t, "the end", func() bool { return count("end") == 1 })
				if got := h.texts(); len(got) != sum+1 {
					t.Errorf("what was acknowledged came again: %v", got)
				}
			})
		}
	}
}

func TestNeeds(t *testing.T) {
	if _, err := mqttlink.Open(mqttlink.Options{Client: "x"}); err == nil {
		t.Error("a session for nothing")
	}
	if _, err := mqttlink.Open(mqttlink.Options{Address: mqttlink.Address{Host: "x:1", TLS: true}, CAFile: "none.pem"}); err == nil {
		t.Error("a missing file of certificates")
	}
	if a, b := mqttlink.NewClient(), mqttlink.NewClient(); a == b || len(a) > 23 {
		t.Errorf("%s, %s", a, b)
	}
}
