package webhook_test

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"underlamp"
	"underlamp/notify"
	"underlamp/notify/webhook"
	"underlamp/store"
)

func notice() notify.Notice {
	return notify.Notice{Event: notify.EventOpen, Message: store.Message{ID: 12, Bench: "a shelf", Rule: "dew", Text: "Dew is near.", Mend: "Move the air.", Urgent: true, Since: 1795614000 * store.Second, Opened: 1795614060 * store.Second}}
}

// The code of a signature is that of Nystrom2005 (RFC 4231), test case 2: key "Jefe", data
// "what do ya want for nothing?". Sign puts time and full stop before the body.
func TestSign(t *testing.T) {
	mac := hmac.New(sha256.New, []byte("Jefe"))
	mac.Write([]byte("what do ya want for nothing?"))
	if got := hex.EncodeToString(mac.Sum(nil)); got != "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843" {
		t.Errorf("HMAC is %s", got)
	}
	if a := webhook.Sign("Jefe", "what do ya want for nothing?", nil); a == webhook.Sign("Jefe", "", []byte("what do ya want for nothing?")) || !strings.HasPrefix(a, "sha256=") {
		t.Error(a)
	}
}

// A notice arrives over a real connection, signed, and is read back by the receiver.
func TestSend(t *testing.T) {
	const secret = "walnut-lantern"
	file := filepath.Join(t.TempDir(), "secret")
	if err := os.WriteFile(file, []byte(secret+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	var got map[string]any
	status, elsewhere := http.StatusNoContent, 0
	other := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { elsewhere++ }))
	defer other.Close()
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		if err != nil || r.Method != http.MethodPost || r.Header.Get("Content-Type") != "application/json" {
			t.Errorf("%s %v %v", r.Method, r.Header, err)
		}
		mac := hmac.New(sha256.New, []byte(secret))
		io.WriteString(mac, r.Header.Get("Underlamp-Time")+"."+string(body))
		if want := "sha256=" + hex.EncodeToString(mac.Sum(nil)); r.Header.Get("Underlamp-Signature") != want {
			t.Errorf("signed %q, want %q", r.Header.Get("Underlamp-Signature"), want)
		}
		if err := json.Unmarshal(body, &got); err != nil {
			t.Error(err)
		}
		if status == http.StatusTemporaryRedirect {
			w.Header().Set("Location", other.URL)
		}
		w.WriteHeader(status)
		io.WriteString(w, "the server says "+secret)
	}))
	defer server.Close()
	send := webhook.New(nil)
	r := &underlamp.Receiver{Name: "hook", Webhook: &underlamp.Webhook{URL: server.URL + "/path?token=sesame", Secret: underlamp.Secret{File: file}}}
	if err := send(context.Background(), r, notice()); err != nil {
		t.Fatal(err)
	}
	if got["id"] != "12-open" || got["bench"] != "a shelf" || got["urgent"] != true || got["since"] != "2026-11-25T13:40:00Z" || got["closed"] != nil || got["what_to_do"] != "Move the air." {
		t.Errorf("%v", got)
	}
	for code, want := range map[int]string{500: "answers 500", 404: "answers 404", 307: "points elsewhere", 429: "answers 429"} {
		status = code
		err := send(context.Background(), r, notice())
		if err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), secret) || strings.Contains(err.Error(), "sesame") {
			t.Errorf("%d: %v", code, err)
		}
	}
	if elsewhere != 0 {
		t.Error("it went where nobody sent it")
	}
	server.Close()
	if err := send(context.Background(), r, notice()); err == nil || !strings.Contains(err.Error(), "does not answer") || strings.Contains(err.Error(), "sesame") {
		t.Errorf("a server that is gone: %v", err)
	}
	r.Webhook.Secret.File = file + ".not"
	if err := send(context.Background(), r, notice()); err == nil || !strings.Contains(err.Error(), "secret cannot be read") {
		t.Errorf("a secret that is gone: %v", err)
	}
}

// A receiver that does not answer holds nobody up for longer than the caller waits.
func TestSlow(t *testing.T) {
	over := make(chan struct{})
	server := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		select {
		case <-over:
		case <-r.Context().Done():
		}
	}))
	defer server.Close()
	defer close(over)
	ctx, cancel := context.WithTimeout(context.Background(), 50*time.Millisecond)
	defer cancel()
	if err := webhook.New(nil)(ctx, &underlamp.Receiver{Webhook: &underlamp.Webhook{URL: server.URL}}, notice()); err == nil {
		t.Error("it arrived")
	}
}
