package notifyfile_test

import (
	"strings"
	"testing"

	"underlamp"
	"underlamp/formats/notifyfile"
	"underlamp/internal/marked"
)

// document lays the format down.
const document = "../../docs/formats/notify.md"

func TestKeysAreDocumented(t *testing.T) { marked.Documented(t, document, notifyfile.Keys()) }

func TestExample(t *testing.T) {
	got, problems, err := notifyfile.Read(strings.NewReader(marked.Example(t, document)))
	if err != nil || len(problems) > 0 || len(got) != 3 {
		t.Fatal(err, problems, got)
	}
	if p := got[0]; !p.Urgent || p.Webhook.URL != "https://example.org/hook" || p.Webhook.Secret.Env != "UNDERLAMP_HOOK_SECRET" || p.Takes("any", false) || !p.Takes("any", true) {
		t.Errorf("%+v", p)
	}
	if i := got[1]; i.Mail.Server != "smtp.example.org:587" || i.Mail.Security != underlamp.MailStartTLS || i.Mail.Password.File != "/run/secrets/mail" || i.Takes("another", true) || !i.Takes("Cellar rack, top tier", false) {
		t.Errorf("%+v", i)
	}
	if got[2].Topic != "underlamp/messages" {
		t.Errorf("%+v", got[2])
	}
}

// Each text is wrong where the mark stands.
func TestProblems(t *testing.T) {
	one := func(way string) string { return "underlamp notify: 1\nreceivers:\n  - {name: a, " + way + "}\n" }
	mail := func(rest string) string {
		return one("mail: {to: [a@example.org], from: b@example.org, " + rest + "}")
	}
	for name, c := range map[string]struct {
		text string
		want []string
	}{
		"no version":              {"«receivers: [{name: a, mqtt: t}]\n", []string{"version of the format is missing"}},
		"nobody":                  {"«underlamp notify: 1\n", []string{"list of receivers is missing"}},
		"no name":                 {"underlamp notify: 1\nreceivers:\n  - «{mqtt: t}\n", []string{"name of the receiver is missing"}},
		"twice":                   {"underlamp notify: 1\nreceivers:\n  - {name: a, mqtt: t}\n  - {name: «a, mqtt: t}\n", []string{`is called "a" too`}},
		"no way":                  {"underlamp notify: 1\nreceivers:\n  - «{name: a}\n", []string{"has 0 ways"}},
		"two ways":                {"underlamp notify: 1\nreceivers:\n  - «{name: a, mqtt: t, webhook: {url: https://example.org}}\n", []string{"has 2 ways"}},
		"unknown key":             {one("«email: {}, mqtt: t"), []string{`did you mean "mail"`}},
		"no address":              {one("webhook: {url: «example.org/hook}"), []string{"no address of the web"}},
		"a password in it":        {one("webhook: {url: «https://a:b@example.org/}"), []string{"a password stands in the address"}},
		"a secret in it":          {one("webhook: {url: https://example.org, secret: «walnut}"), []string{"does not stand in this file"}},
		"a secret nowhere":        {one("webhook: {url: https://example.org, secret: «{env: A, file: b}}"), []string{"one of env and file"}},
		"another file":            {one("webhook: {url: «file:///etc/passwd}"), []string{"no address of the web"}},
		"no port":                 {mail("server: «smtp.example.org"), []string{"the port is missing"}},
		"a port too high":         {mail("server: «smtp.example.org:99999"), []string{"is no port"}},
		"in the clear":            {mail("server: smtp.example.org:25, security: «none"), []string{"never sent in the clear"}},
		"security unknown":        {mail("server: smtp.example.org:25, security: «perhaps"), []string{"not known"}},
		"a user alone":            {one("mail: «{to: [a@example.org], from: b@example.org, server: smtp.example.org:587, user: c}"), []string{"go together"}},
		"no mailbox":              {one("mail: {to: [«ines], from: b@example.org, server: smtp.example.org:587}"), []string{"is no address of mail"}},
		"a topic of many":         {one("mqtt: «underlamp/#"), []string{"has no # or +"}},
		"only what":               {one("only: «some, mqtt: t"), []string{"not known"}},
		"no benches":              {one("benches: «[], mqtt: t"), []string{"no bench is named"}},
		"receivers that are none": {"underlamp notify: 1\nreceivers: «x\n", []string{"belongs"}},
	} {
		t.Run(name, func(t *testing.T) {
			text, places := marked.Unmark(c.text)
			got, problems, err := notifyfile.Read(strings.NewReader(text))
			if err != nil || got != nil {
				t.Fatalf("read %+v, %v", got, err)
			}
			marked.Problems(t, problems, places, c.want)
		})
	}
	got, problems, err := notifyfile.Read(strings.NewReader(one("webhook: {url: http://example.org}")))
	if err != nil || len(got) != 1 || len(problems) != 1 || !strings.Contains(problems[0].String(), "can be read on their way") {
		t.Errorf("in the clear: %v %v %v", got, problems, err)
	}
}

// No text ends the program or is reported outside itself, and what is read can be sent to.
func FuzzRead(f *testing.F) {
	f.Add(marked.Example(f, document))
	f.Add("underlamp notify: 1\r\nreceivers:\n  - {name: \"a\\nb\", mqtt: 1}")
	f.Add("underlamp notify: 1\nreceivers: [{name: a, webhook: {url: http://[::1]:8080/x}, only: urgent}]\n")
	f.Fuzz(func(t *testing.T, text string) {
		got, problems, err := notifyfile.Read(strings.NewReader(text))
		if err != nil {
			return
		}
		marked.Sane(t, []byte(text), got != nil, problems)
		for _, r := range got {
			ways := 0
			for _, has := range []bool{r.Webhook != nil, r.Mail != nil, r.Topic != ""} {
				if has {
					ways++
				}
			}
			if ways != 1 || r.Name == "" {
				t.Errorf("%+v", r)
			}
		}
	})
}
