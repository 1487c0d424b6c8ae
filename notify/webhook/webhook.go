// Package webhook takes notices to an address over HTTP: a POST of JSON, signed if the
// receiver has a secret.
//
//	POST /path
//	Content-Type: application/json
//	Underlamp-Time: 1795614000
//	Underlamp-Signature: sha256=HEX
//
// The signature is the HMAC (Krawczyk1997, RFC 2104, with SHA-256) of the time, a full
// stop and the body, under the secret. Any answer of 2xx says that it arrived. Redirects
// are not followed: a notice goes where the person said and nowhere else.
package webhook

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"underlamp"
	"underlamp/notify"
)

// Names of the headers.
const (
	HeaderTime      = "Underlamp-Time"      // seconds since 1970
	HeaderSignature = "Underlamp-Signature" // sha256= and hexadecimal digits
)

// Sign is the signature of a body sent at a time.
func Sign(secret, seconds string, body []byte) string {
	mac := hmac.New(sha256.New, []byte(secret))
	mac.Write([]byte(seconds + "."))
	mac.Write(body)
	return "sha256=" + hex.EncodeToString(mac.Sum(nil))
}

// New is a way to webhooks. A nil transport is the usual one.
func New(transport http.RoundTripper) notify.Send {
	client := &http.Client{
		Transport:     transport,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
	return func(ctx context.Context, r *underlamp.Receiver, n notify.Notice) error {
		secret, err := notify.Reveal(r.Webhook.Secret)
		if err != nil {
			return err
		}
		body := n.JSON()
		req, err := http.NewRequestWithContext(ctx, http.MethodPost, r.Webhook.URL, bytes.NewReader(body))
		if err != nil {
			return errors.New("the address of the webhook cannot be used")
		}
		req.Header.Set("Content-Type", "application/json")
		req.Header.Set("User-Agent", "underlamp")
		seconds := strconv.FormatInt(time.Now().Unix(), 10)
		req.Header.Set(HeaderTime, seconds)
		if secret != "" {
			req.Header.Set(HeaderSignature, Sign(secret, seconds, body))
		}
		res, err := client.Do(req)
		if err != nil {
			var at *url.Error
			if errors.As(err, &at) { // without the address, which may hold a token
				err = at.Err
			}
			return fmt.Errorf("%s does not answer: %w", req.URL.Host, err)
		}
		defer res.Body.Close()
		io.Copy(io.Discard, io.LimitReader(res.Body, 64<<10)) // so that the connection can be used again
		switch {
		case res.StatusCode >= 300 && res.StatusCode < 400:
			return fmt.Errorf("%s answers %d and points elsewhere; enter the address that it points to", req.URL.Host, res.StatusCode)
		case res.StatusCode < 200 || res.StatusCode >= 300:
			return fmt.Errorf("%s answers %d (%s)", req.URL.Host, res.StatusCode, http.StatusText(res.StatusCode))
		}
		return nil
	}
}
