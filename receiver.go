package underlamp

// A Receiver is who is told of a message, and on which way: exactly one of Webhook, Mail
// and Topic is set.
type Receiver struct {
	Name    string
	Benches []string // names of the benches; empty: all
	Urgent  bool     // only what is urgent

	Webhook *Webhook
	Mail    *Mail
	Topic   string // of MQTT
}

// A Webhook is an address that takes messages over HTTP.
type Webhook struct {
	URL    string
	Secret Secret // that signs what is sent; none: it is not signed
}

// Mail is a mailbox, with the server that takes mail for it.
type Mail struct {
	To       []string
	From     string
	Server   string // host:port
	Security MailSecurity
	User     string // empty: the server asks for none
	Password Secret
}

// MailSecurity is how a connection to a mail server is kept from others.
type MailSecurity string

// The ways.
const (
	MailStartTLS MailSecurity = "starttls" // in the clear first, then encrypted, or not at all
	MailTLS      MailSecurity = "tls"      // encrypted from the begin
	MailOpen     MailSecurity = "none"     // a server on this machine only
)

// A Secret is where a secret lies. The secret itself is read when it is used, and is in
// no file that this program writes.
type Secret struct {
	Env  string // name of a variable of the environment
	File string // name of a file
}

// None says that there is no secret.
func (s Secret) None() bool { return s.Env == "" && s.File == "" }

// Takes says whether the receiver wants messages of a bench.
func (r *Receiver) Takes(bench string, urgent bool) bool {
	if r.Urgent && !urgent {
		return false
	}
	for _, b := range r.Benches {
		if b == bench {
			return true
		}
	}
	return len(r.Benches) == 0
}
