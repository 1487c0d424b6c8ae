package notifyfile

import (
	"bytes"
	"errors"
	"io"
	"net"
	"net/mail"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"underlamp"
	"underlamp/formats/handwritten"
)

// Version is the version of the format that this package reads.
const Version = 1

const (
	mostReceivers = 50
	mostAddresses = 20
	mostBenches   = 1000
	maxText       = 500 // characters of an address
)

var grammar = handwritten.Grammar{
	Package: "notifyfile",
	File:    "who is told",
	Begin:   "who is told, beginning with underlamp notify: 1",
	One:     "one list of receivers in a file",
	Sections: []handwritten.Section{
		{Name: "", Keys: []string{"underlamp notify", "receivers"}},
		{Name: "receivers[]", Keys: []string{"name", "benches", "only", "webhook", "mail", "mqtt"}},
		{Name: "receivers[].webhook", Keys: []string{"url", "secret"}},
		{Name: "receivers[].mail", Keys: []string{"to", "from", "server", "security", "user", "password"}},
		{Name: "secret", Keys: []string{"env", "file"}},
	},
	Also: map[string]string{
		"underlamp": "underlamp notify", "version": "underlamp notify", "people": "receivers", "send to": "receivers", "bench": "benches", "email": "mail", "e mail": "mail", "smtp": "mail", "hook": "webhook", "topic": "mqtt",
		"address": "url", "key": "secret", "host": "server", "port": "server", "tls": "security", "username": "user", "pass": "password", "variable": "env", "path": "file", "severity": "only",
	},
}

// Keys lists every key of the format once.
func Keys() []string {
	var all []string
	for _, s := range grammar.Sections {
		all = append(all, s.Keys...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// Parse reads the text of a notify file; its first error is the error.
func Parse(text []byte) ([]underlamp.Receiver, error) {
	got, problems, err := Read(bytes.NewReader(text))
	for _, p := range problems {
		if err == nil && p.Severity == handwritten.Error {
			err = errors.New(p.String())
		}
	}
	return got, err
}

type reader struct{ *handwritten.Reader }

// list is what a file gives: a nil list is one that could not be read.
type list struct{ receivers []underlamp.Receiver }

// Read reads who is told. The receivers are nil where the problems hold an error. The
// error is for what is no matter of the text: a failing reader, or
// [handwritten.ErrTooLarge].
func Read(in io.Reader) ([]underlamp.Receiver, handwritten.Problems, error) {
	r := &reader{&handwritten.Reader{Grammar: grammar}}
	got, problems, err := handwritten.Read(r.Reader, in, r.all)
	if got == nil {
		return nil, problems, err
	}
	return got.receivers, problems, err
}

func (r *reader) all(v handwritten.Value) *list {
	f, ok := r.Mapping(v, "")
	if !ok {
		return nil
	}
	r.Version(f.Get("underlamp notify"), Version)
	out := &list{receivers: []underlamp.Receiver{}}
	at := f.Get("receivers")
	const want = "a list of receivers: - {name: phone, webhook: {url: https://…}}"
	if !at.Written() {
		r.Missing(at, want, "the list of receivers")
		return out
	}
	items, ok := r.List(at, want, mostReceivers, "receivers")
	if !ok {
		return out
	}
	names := map[string]bool{}
	for _, v := range items {
		out.receivers = append(out.receivers, r.receiver(v, names))
	}
	return out
}

func (r *reader) receiver(v handwritten.Value, names map[string]bool) underlamp.Receiver {
	var x underlamp.Receiver
	f, ok := r.Part(v, "receivers[]", "{name: phone, webhook: {url: https://…}}", "a receiver")
	if !ok {
		return x
	}
	name := f.Get("name")
	if x.Name, ok = r.need(name, v, handwritten.MaxName, "name: phone", "the name of the receiver"); ok && names[x.Name] {
		r.Errorf(name, "a name of its own", "another receiver is called %q too", x.Name)
	}
	names[x.Name] = true
	if b := f.Get("benches"); b.Written() {
		items, _ := r.List(b, "a list of names of benches", mostBenches, "benches")
		for _, i := range items {
			if word, ok := r.Words(i, handwritten.MaxName); ok {
				x.Benches = append(x.Benches, word)
			}
		}
		if len(x.Benches) == 0 {
			r.Errorf(b, "a list of names of benches; left out for all", "no bench is named")
		}
	}
	if o := f.Get("only"); o.Written() {
		_, x.Urgent = r.OneOf(o, []string{"urgent"}, nil)
	}
	ways := 0
	if h := f.Get("webhook"); h.Written() {
		ways++
		x.Webhook = r.webhook(h)
	}
	if m := f.Get("mail"); m.Written() {
		ways++
		x.Mail = r.mail(m)
	}
	if t := f.Get("mqtt"); t.Written() {
		ways++
		x.Topic = r.topic(t)
	}
	if ways != 1 {
		r.Errorf(v, "one of webhook, mail, mqtt", "the receiver has %d ways, and needs one", ways)
	}
	return x
}

func (r *reader) webhook(v handwritten.Value) *underlamp.Webhook {
	out := &underlamp.Webhook{}
	f, ok := r.Part(v, "receivers[].webhook", "{url: https://…}", "a webhook")
	if !ok {
		return out
	}
	const want = "an address such as https://example.org/hook"
	at := f.Get("url")
	if out.URL, ok = r.need(at, v, maxText, "url: https://example.org/hook", "the address of the webhook"); !ok {
	} else if u, err := url.Parse(out.URL); err != nil || u.Scheme != "https" && u.Scheme != "http" || u.Hostname() == "" {
		r.Errorf(at, want, "this is no address of the web")
	} else if u.User != nil {
		r.Errorf(at, want, "a password stands in the address; use secret, or a receiver that needs none")
	} else if u.Scheme == "http" && !loopback(u.Hostname()) {
		r.Warnf(at, "https", "messages to %s can be read on their way", u.Host)
	}
	out.Secret = r.secret(f.Get("secret"))
	return out
}

// need reads a text that must be there, and reports it in the part that lacks it.
func (r *reader) need(v, part handwritten.Value, most int, want, what string) (string, bool) {
	before := len(r.Problems)
	text, ok := r.Words(v, most)
	if !ok && len(r.Problems) == before {
		r.Missing(part, want, what)
	}
	return text, ok
}

// loopback says that a host is this machine.
func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// secret reads where a secret lies.
func (r *reader) secret(v handwritten.Value) underlamp.Secret {
	var s underlamp.Secret
	if !v.Written() {
		return s
	}
	const want = "{env: NAME_OF_A_VARIABLE} or {file: /path/to/it}"
	if !v.IsMapping() {
		r.Errorf(v, want, "a secret does not stand in this file; say where it lies, and change the one that stood here")
		return s
	}
	f, ok := r.Mapping(v, "secret")
	if !ok {
		return s
	}
	s.Env, _ = r.Words(f.Get("env"), handwritten.MaxName)
	s.File, _ = r.Words(f.Get("file"), maxText)
	if (s.Env == "") == (s.File == "") {
		r.Errorf(v, want, "one of env and file must be said")
	}
	return s
}

func (r *reader) mail(v handwritten.Value) *underlamp.Mail {
	out := &underlamp.Mail{Security: underlamp.MailStartTLS}
	f, ok := r.Part(v, "receivers[].mail", "{to: [ines@example.org], from: underlamp@example.org, server: smtp.example.org:587}", "a mailbox")
	if !ok {
		return out
	}
	const want = "an address such as ines@example.org"
	if to := f.Get("to"); !to.Written() {
		r.Missing(v, "to: [ines@example.org]", "who gets the mail")
	} else if items, ok := r.List(to, "a list of addresses", mostAddresses, "addresses"); ok {
		for _, i := range items {
			out.To = append(out.To, r.mailbox(i, want))
		}
		if len(items) == 0 {
			r.Errorf(to, "a list of addresses", "nobody is named")
		}
	}
	if from := f.Get("from"); !from.Written() {
		r.Missing(v, "from: underlamp@example.org", "the sender")
	} else {
		out.From = r.mailbox(from, want)
	}
	server := f.Get("server")
	const wantServer = "host and port, such as smtp.example.org:587"
	if out.Server, ok = r.need(server, v, maxText, "server: smtp.example.org:587", "the mail server"); !ok {
	} else if host, port, err := net.SplitHostPort(out.Server); err != nil || host == "" {
		r.Errorf(server, wantServer, "the port is missing")
	} else if n, err := strconv.Atoi(port); err != nil || n < 1 || n > 65535 {
		r.Errorf(server, wantServer, "%q is no port", handwritten.Shortened(port))
	}
	security := f.Get("security")
	out.Security = handwritten.Choice(r.Reader, security, []underlamp.MailSecurity{underlamp.MailStartTLS, underlamp.MailTLS, underlamp.MailOpen}, map[string]string{"ssl": "tls", "no": "none", "off": "none"}, underlamp.MailStartTLS)
	if host, _, err := net.SplitHostPort(out.Server); err == nil && out.Security == underlamp.MailOpen && !loopback(host) {
		r.Errorf(security, "starttls or tls", "mail to another machine is never sent in the clear")
	}
	out.User, _ = r.Words(f.Get("user"), handwritten.MaxName)
	out.Password = r.secret(f.Get("password"))
	if (out.User == "") != out.Password.None() {
		r.Errorf(v, "user and password, or neither", "user and password go together")
	}
	return out
}

func (r *reader) mailbox(v handwritten.Value, want string) string {
	text, ok := r.need(v, v, maxText, want, "the address")
	if !ok {
		return ""
	}
	if _, err := mail.ParseAddress(text); err != nil {
		r.Errorf(v, want, "%q is no address of mail", handwritten.Shortened(text))
	}
	return text
}

func (r *reader) topic(v handwritten.Value) string {
	text, ok := r.need(v, v, maxText, "a topic such as underlamp/messages", "the topic")
	if ok && strings.ContainsAny(text, "#+\n\t") {
		r.Errorf(v, "a topic such as underlamp/messages", "a topic to send to has no # or +")
	}
	return text
}
