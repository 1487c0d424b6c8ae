// Package mail takes notices to a mailbox over SMTP (Klensin2008, RFC 5321).
//
// The messages and the talk with the server are those of the library wneessen/go-mail:
// it encodes names and texts that are not ASCII, refuses line breaks in headers, and
// insists on STARTTLS where it is asked for; net/smtp, which takes no new features,
// leaves all of it to the caller.
package mail

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"strconv"
	"time"

	gomail "github.com/wneessen/go-mail"

	"underlamp"
	"underlamp/notify"
)

// Options of mail; zero values are the usual ones.
type Options struct {
	Roots *x509.CertPool // who may vouch for mail servers; nil: whom this machine trusts
	Zone  *time.Location // of the times in the text; nil: that of this machine
}

// New is a way to mailboxes.
func New(o Options) notify.Send {
	if o.Zone == nil {
		o.Zone = time.Local
	}
	return func(ctx context.Context, r *underlamp.Receiver, n notify.Notice) error {
		m := r.Mail
		host, portText, err := net.SplitHostPort(m.Server)
		if err != nil {
			return fmt.Errorf("the mail server %q has no port, such as %s:587", m.Server, m.Server)
		}
		port, err := strconv.Atoi(portText)
		if err != nil {
			return fmt.Errorf("%q is no port", portText)
		}
		password, err := notify.Reveal(m.Password)
		if err != nil {
			return err
		}
		msg := gomail.NewMsg()
		if err := msg.From(m.From); err != nil {
			return fmt.Errorf("the sender %q is no address of mail", m.From)
		}
		if err := msg.To(m.To...); err != nil {
			return errors.New("one of the receivers is no address of mail")
		}
		msg.Subject(n.Subject())
		msg.SetMessageIDWithValue(n.ID() + "." + strconv.FormatInt(n.Message.Opened, 36) + "@underlamp")
		msg.SetDate()
		if n.Message.Urgent {
			msg.SetImportance(gomail.ImportanceUrgent)
		}
		msg.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834: no holiday replies
		msg.SetBodyString(gomail.TypeTextPlain, n.Body(o.Zone))

		opts := []gomail.Option{gomail.WithPort(port), gomail.WithTimeout(20 * time.Second),
			gomail.WithTLSConfig(&tls.Config{ServerName: host, RootCAs: o.Roots, MinVersion: tls.VersionTLS12})}
		switch m.Security {
		case underlamp.MailTLS:
			opts = append(opts, gomail.WithSSL())
		case underlamp.MailOpen:
			opts = append(opts, gomail.WithTLSPolicy(gomail.NoTLS))
		default:
			opts = append(opts, gomail.WithTLSPolicy(gomail.TLSMandatory))
		}
		if m.User != "" {
			auth := gomail.SMTPAuthAutoDiscover
			if m.Security == underlamp.MailOpen {
				auth = gomail.SMTPAuthPlainNoEnc // on this machine alone
			}
			opts = append(opts, gomail.WithSMTPAuth(auth), gomail.WithUsername(m.User), gomail.WithPassword(password))
		}
		client, err := gomail.NewClient(host, opts...)
		if err != nil {
			return fmt.Errorf("the mail server %s cannot be used: %w", m.Server, err)
		}
		if err := client.DialAndSendWithContext(ctx, msg); err != nil {
			return fmt.Errorf("the mail server %s did not take it: %w", m.Server, err)
		}
		return nil
	}
}
