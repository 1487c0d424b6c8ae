package mail_test

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"errors"
	"io"
	"math/big"
	"mime"
	"mime/quotedprintable"
	"net"
	netmail "net/mail"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"

	"underlamp"
	"underlamp/notify"
	"underlamp/notify/mail"
	"underlamp/store"
)

// A box is a mail server of the library emersion/go-smtp on this machine.
type box struct {
	mu   sync.Mutex
	got  []letter
	full bool
	user string // that must log in; empty: nobody
}

type letter struct {
	from string
	to   []string
	text string
	tls  bool
	auth bool
}

type session struct {
	b    *box
	conn *smtp.Conn
	l    letter
}

func (b *box) NewSession(c *smtp.Conn) (smtp.Session, error) { return &session{b: b, conn: c}, nil }

func (s *session) AuthMechanisms() []string { return []string{sasl.Plain} }

func (s *session) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		if user != s.b.user || password != "walnut-lantern" {
			return errors.New("wrong user or password")
		}
		s.l.auth = true
		return nil
	}), nil
}

func (s *session) Mail(from string, _ *smtp.MailOptions) error {
	if s.b.user != "" && !s.l.auth {
		return smtp.ErrAuthRequired
	}
	_, s.l.tls = s.conn.TLSConnectionState()
	s.l.from = from
	return nil
}

func (s *session) Rcpt(to string, _ *smtp.RcptOptions) error {
	if strings.HasPrefix(to, "nobody") {
		return &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "no such mailbox"}
	}
	s.l.to = append(s.l.to, to)
	return nil
}

func (s *session) Data(r io.Reader) error {
	b, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	if s.b.full {
		return &smtp.SMTPError{Code: 452, EnhancedCode: smtp.EnhancedCode{4, 2, 2}, Message: "mailbox full"}
	}
	s.l.text = string(b)
	s.b.mu.Lock()
	s.b.got = append(s.b.got, s.l)
	s.b.mu.Unlock()
	return nil
}

func (s *session) Reset()        { auth := s.l.auth; s.l = letter{auth: auth} }
func (s *session) Logout() error { return nil }

// certificate is one for 127.0.0.1, and the pool that trusts it.
func certificate(t *testing.T) (tls.Certificate, *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	about := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "box"}, NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign, IsCA: true, BasicConstraintsValid: true}
	der, err := x509.CreateCertificate(rand.Reader, about, about, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	pool.AddCert(cert)
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, pool
}

// serve starts a box and returns its address.
func serve(t *testing.T, b *box, cert *tls.Certificate, implicit bool) string {
	t.Helper()
	s := smtp.NewServer(b)
	s.Domain = "box.example"
	s.AllowInsecureAuth = cert == nil
	s.ReadTimeout, s.WriteTimeout = 5*time.Second, 5*time.Second
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	if cert != nil {
		s.TLSConfig = &tls.Config{Certificates: []tls.Certificate{*cert}}
		if implicit {
			l = tls.NewListener(l, s.TLSConfig)
		}
	}
	address := l.Addr().String()
	go s.Serve(l)
	t.Cleanup(func() { s.Close() })
	return address
}

func notice() notify.Notice {
	return notify.Notice{Event: notify.EventOpen, Message: store.Message{ID: 12, Bench: "Gemüsekeller, oben", Rule: "VPD low", Text: "The deficit is low (0.3 kPa).", Mend: "Move the air.\n.\nQUIT", Since: 1795614000 * store.Second, Opened: 1795614060 * store.Second}}
}

// A notice arrives at a real server on every way that is offered, whole, with its
// umlauts and with a lone full stop in its text.
func TestSend(t *testing.T) {
	cert, pool := certificate(t)
	t.Setenv("UL_TEST_PASSWORD", "walnut-lantern")
	for _, c := range []struct {
		name     string
		security underlamp.MailSecurity
		cert     *tls.Certificate
		user     string
	}{
		{"starttls with a password", underlamp.MailStartTLS, &cert, "rack"},
		{"tls with a password", underlamp.MailTLS, &cert, "rack"},
		{"starttls", underlamp.MailStartTLS, &cert, ""},
		{"open", underlamp.MailOpen, nil, ""},
		{"open with a password", underlamp.MailOpen, nil, "rack"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := &box{user: c.user}
			address := serve(t, b, c.cert, c.security == underlamp.MailTLS)
			r := &underlamp.Receiver{Name: "mail", Mail: &underlamp.Mail{To: []string{"Ines <ines@example.org>", "paul@example.org"}, From: "underlamp@example.org", Server: address, Security: c.security, User: c.user, Password: underlamp.Secret{Env: "UL_TEST_PASSWORD"}}}
			send := mail.New(mail.Options{Roots: pool, Zone: time.UTC})
			if err := send(context.Background(), r, notice()); err != nil {
				t.Fatal(err)
			}
			if len(b.got) != 1 {
				t.Fatalf("%d letters", len(b.got))
			}
			l := b.got[0]
			if l.from != "underlamp@example.org" || len(l.to) != 2 || l.tls != (c.cert != nil) || l.auth != (c.user != "") {
				t.Errorf("%+v", l)
			}
			m, err := netmail.ReadMessage(strings.NewReader(l.text))
			if err != nil {
				t.Fatal(err)
			}
			subject, err := new(mime.WordDecoder).DecodeHeader(m.Header.Get("Subject"))
			if err != nil || subject != "Gemüsekeller, oben: VPD low" {
				t.Errorf("subject %q, %v", subject, err)
			}
			body := m.Body
			if m.Header.Get("Content-Transfer-Encoding") == "quoted-printable" {
				body = quotedprintable.NewReader(body)
			}
			text, err := io.ReadAll(body)
			if err != nil || !strings.Contains(string(text), "Move the air.\r\n.\r\nQUIT") && !strings.Contains(string(text), "Move the air.\n.\nQUIT") || !strings.Contains(string(text), "Since: 2026-11-25 13:40 UTC") {
				t.Errorf("%q, %v", text, err)
			}
			if m.Header.Get("Message-Id") == "" || m.Header.Get("Auto-Submitted") != "auto-generated" {
				t.Errorf("%v", m.Header)
			}
		})
	}
}

// What cannot be sent says why, and never the password; nothing is sent in the clear
// where STARTTLS was asked for.
func TestRefused(t *testing.T) {
	cert, pool := certificate(t)
	t.Setenv("UL_TEST_PASSWORD", "walnut-lantern")
	t.Setenv("UL_TEST_OTHER", "rhubarb-candle")
	plain, kept, full := &box{}, &box{user: "rack"}, &box{full: true}
	plainAt, keptAt, fullAt := serve(t, plain, nil, false), serve(t, kept, &cert, false), serve(t, full, nil, false)
	for name, c := range map[string]struct {
		m    underlamp.Mail
		want string
		root *x509.CertPool
	}{
		"no STARTTLS at the server": {underlamp.Mail{Server: plainAt, Security: underlamp.MailStartTLS}, "did not take it", pool},
		"a certificate of nobody":   {underlamp.Mail{Server: keptAt, Security: underlamp.MailStartTLS}, "did not take it", x509.NewCertPool()},
		"a wrong password":          {underlamp.Mail{Server: keptAt, Security: underlamp.MailStartTLS, User: "rack", Password: underlamp.Secret{Env: "UL_TEST_OTHER"}}, "did not take it", pool},
		"no password":               {underlamp.Mail{Server: keptAt, User: "rack", Password: underlamp.Secret{Env: "UL_TEST_NONE"}}, "UL_TEST_NONE of the environment is not set", pool},
		"a full box":                {underlamp.Mail{Server: fullAt, Security: underlamp.MailOpen}, "mailbox full", pool},
		"nobody there":              {underlamp.Mail{Server: plainAt, Security: underlamp.MailOpen, To: []string{"nobody@example.org"}}, "no such mailbox", pool},
		"no port":                   {underlamp.Mail{Server: "mail.example.org"}, "has no port", pool},
		"no address":                {underlamp.Mail{Server: plainAt, Security: underlamp.MailOpen, To: []string{"ines"}}, "no address of mail", pool},
		"a header in an address":    {underlamp.Mail{Server: plainAt, Security: underlamp.MailOpen, From: "a@example.org\r\nBcc: b@example.org"}, "no address of mail", pool},
	} {
		t.Run(name, func(t *testing.T) {
			if c.m.From == "" {
				c.m.From = "underlamp@example.org"
			}
			if c.m.To == nil {
				c.m.To = []string{"ines@example.org"}
			}
			err := mail.New(mail.Options{Roots: c.root})(context.Background(), &underlamp.Receiver{Mail: &c.m}, notice())
			if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "candle") || strings.Contains(err.Error(), "lantern") {
				t.Errorf("%v, want %q", err, c.want)
			}
		})
	}
	if len(plain.got)+len(kept.got)+len(full.got) != 0 {
		t.Errorf("letters arrived: %+v %+v %+v", plain.got, kept.got, full.got)
	}
}
