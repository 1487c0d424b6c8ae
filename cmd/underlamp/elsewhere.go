package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"time"

	"underlamp/access"
	"underlamp/api"
	"underlamp/cli"
	"underlamp/localca"
	"underlamp/store"
	"underlamp/store/archive"
	"underlamp/web"
	"underlamp/web/door"
)

// An elsewhere is what answers other machines of the network.
type elsewhere struct {
	door      *access.Door
	plain     net.Listener
	secure    net.Listener // nil without TLS
	authority *localca.Authority
	names     []string
	at        access.Addresses
	invite    *access.Invite
	asked     *slog.Logger
	ends      []func() error
}

// openElsewhere opens the ports for other machines, and says what of it the pages show. What
// it opened before an error is among the ends too.
func openElsewhere(ctx context.Context, o cli.ServeOptions, s store.Store, log *slog.Logger) (*elsewhere, error) {
	e := &elsewhere{door: access.New(s, nil), names: ownNames(o.Names)}
	var err error
	if e.plain, err = e.listen(o.LAN, "--lan"); err != nil {
		return e, err
	}
	e.at.Plain = addresses("http", e.plain, e.names)
	if o.HTTPS != "" {
		dir := o.Certificates
		if dir == "" {
			own, err := os.UserConfigDir()
			if err != nil {
				return e, fmt.Errorf("this user has no folder for the certificate authority: %w; --certificates names one", err)
			}
			dir = filepath.Join(own, "underlamp", "certificates")
		}
		if err := apart(o.Folder, dir, "--certificates"); err != nil {
			return e, err
		}
		if e.authority, err = localca.Open(dir, e.names, nil); err != nil {
			return e, err
		}
		if e.secure, err = e.listen(o.HTTPS, "--https"); err != nil {
			return e, err
		}
		var vouched []string
		for _, n := range e.names {
			if e.authority.May(n) {
				vouched = append(vouched, n)
			} else {
				log.Warn("the authority cannot vouch for this name, which it was not made for", "name", n, "folder", dir)
			}
		}
		e.at.Secure = addresses("https", e.secure, vouched)
	}
	if o.AccessLog != "" {
		if err := apart(o.Folder, filepath.Dir(o.AccessLog), "--access-log"); err != nil {
			return e, err
		}
		f, err := os.OpenFile(o.AccessLog, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o600)
		if err != nil {
			return e, fmt.Errorf("what is asked cannot be written down: %w", err)
		}
		e.ends = append(e.ends, f.Close)
		e.asked = slog.New(slog.NewJSONHandler(f, nil))
	}
	machine, err := os.Hostname()
	if err != nil {
		machine = "this machine"
	}
	ways := e.at
	if o.HTTPSOnly {
		ways.Plain = nil // nobody comes in there
	}
	if err := access.PutAddresses(ctx, s, machine, ways, time.Now()); err != nil {
		return e, err
	}
	return e, e.first(ctx, o)
}

// apart refuses a folder in that of the benches, whose files go into the store and its copies:
// a key must not, and a log would with each line.
func apart(benches, dir, flag string) error {
	if benches == "" {
		return nil
	}
	inside, err := filepath.Abs(dir)
	if err != nil {
		return err
	}
	outside, err := filepath.Abs(benches)
	if err != nil {
		return err
	}
	if rel, err := filepath.Rel(outside, inside); err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
		return fmt.Errorf("%s names a place in %s, whose files go into the store and its copies; name one elsewhere", flag, benches)
	}
	return nil
}

// first invites the first owner, where a person reads it.
func (e *elsewhere) first(ctx context.Context, o cli.ServeOptions) error {
	if !o.Terminal {
		return nil
	}
	all, _, err := e.door.Sessions(ctx)
	if err != nil {
		return err
	}
	for _, s := range all {
		if s.Role == access.Owner {
			return nil
		}
	}
	i, err := e.door.Invite(ctx, "Owner", access.Owner)
	var wrong *access.Wrong
	if errors.As(err, &wrong) { // too many starts: their codes can be used
		return nil
	}
	if err == nil {
		e.invite = &i
	}
	return err
}

// listen opens a port to the network at home.
func (e *elsewhere) listen(address, flag string) (net.Listener, error) {
	host, port, err := net.SplitHostPort(address)
	if err != nil {
		return nil, fmt.Errorf("%s=%s is no address and port: %w; %s=:8282 takes all addresses at home, %[1]s=192.168.1.10:8282 one", flag, address, err, flag)
	}
	network := "tcp"
	if host == "" {
		network, host = "tcp4", "0.0.0.0" // of IPv6 home networks have addresses of the internet
	} else if at, err := netip.ParseAddr(host); err != nil || !localca.AtHome(at) {
		return nil, fmt.Errorf("%s=%s is no address of a network at home, such as 192.168.1.10; underlamp does not show its pages to the internet", flag, address)
	}
	l, err := net.Listen(network, net.JoinHostPort(host, port))
	if err != nil {
		return nil, fmt.Errorf("the address %s cannot be listened on: %w; %s=:PORT takes another port", address, err, flag)
	}
	e.ends = append(e.ends, func() error { return closed(l) })
	return door.Listen(l), nil
}

// handlers begin to answer.
func (e *elsewhere) handlers(o cli.ServeOptions, site *web.Site, log *slog.Logger) []func() error {
	guard := door.New(door.Options{Door: e.door, Names: e.names, Log: log, Asked: e.asked})
	pages := site.Elsewhere(guard)
	plain := pages
	if o.HTTPSOnly {
		plain = secureOnly(pages)
	}
	ends := []func() error{answer(e.plain, plain, log)}
	if e.secure != nil {
		ends = append(ends, answerTLS(e.secure, pages, e.authority.Config(e.names), log))
	}
	return ends
}

// secureOnly leads to the page that tells how to come to encrypted pages, and shows nothing
// else.
func secureOnly(pages http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch p := r.URL.Path; {
		case p == "/secure", p == "/secure/authority.crt", strings.HasPrefix(p, "/static/"):
			pages.ServeHTTP(w, r)
		case strings.HasPrefix(p, api.Prefix+"/"): // a program that was led elsewhere would have sent its token in the clear
			http.Error(w, "Over plain HTTP this server answers no programs. Send this to its encrypted address, and make a new token: this one may have been read on its way.", http.StatusForbidden)
		case r.Method == http.MethodGet || r.Method == http.MethodHead:
			w.Header().Set("Cache-Control", "no-store")
			http.Redirect(w, r, "/secure", http.StatusSeeOther)
		default:
			http.Error(w, "Over plain HTTP this server tells only how to come to its encrypted pages: /secure.", http.StatusForbidden)
		}
	})
}

// ownNames are the names of this machine in the network, in lower case.
func ownNames(more []string) []string {
	var out []string
	if host, err := os.Hostname(); err == nil && host != "" {
		host = strings.ToLower(strings.TrimSuffix(host, "."))
		short, _, _ := strings.Cut(host, ".")
		out = append(out, short+".local", short)
		if short != host {
			out = append(out, host)
		}
	}
	for _, n := range more {
		out = append(out, strings.ToLower(strings.TrimSuffix(n, ".")))
	}
	return out
}

// addresses are where a listener is reached: by number first, which needs no service of
// names, then by the names that were given or that are announced (.local).
func addresses(scheme string, l net.Listener, names []string) []string {
	at, err := netip.ParseAddrPort(l.Addr().String())
	if err != nil {
		return nil
	}
	port := fmt.Sprint(at.Port())
	var out []string
	add := func(host string) { out = append(out, scheme+"://"+net.JoinHostPort(host, port)+"/") }
	if !at.Addr().IsUnspecified() {
		add(at.Addr().Unmap().WithZone("").String())
	} else if all, err := net.InterfaceAddrs(); err == nil {
		for _, a := range all {
			p, err := netip.ParsePrefix(a.String())
			if ip := p.Addr(); err == nil && ip.Is4() && !ip.IsLoopback() && localca.AtHome(ip) {
				add(ip.String())
			}
		}
	}
	for i, n := range names {
		if i != 1 { // the short name alone is known to few phones
			add(n)
		}
	}
	return out
}

// backup is an archive of a store.
func backup(s store.Store) func(ctx context.Context, to io.Writer) error {
	return func(ctx context.Context, to io.Writer) error {
		_, err := archive.Export(ctx, s, to, time.Now())
		return err
	}
}
