package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"underlamp"
	"underlamp/access"
	"underlamp/app/kept"
	"underlamp/app/live"
	"underlamp/app/settings"
	"underlamp/app/trouble"
	"underlamp/cli"
	"underlamp/formats/benchfolder"
	"underlamp/formats/evidencefile"
	"underlamp/formats/notifyfile"
	"underlamp/formats/watchfile"
	"underlamp/intake"
	"underlamp/intake/httpintake"
	"underlamp/monitor"
	"underlamp/notify"
	"underlamp/notify/mail"
	"underlamp/notify/webhook"
	"underlamp/safefolder"
	"underlamp/science/diagnosis"
	"underlamp/store"
	"underlamp/web"
)

// serve shows benches until ctx is done, then lets running answers end.
func serve(ctx context.Context, o cli.ServeOptions, ready func(cli.Serving)) (err error) {
	ctx, cancel := context.WithCancel(ctx)
	var ends []func() error // in the order of opening
	defer func() {
		cancel()
		for i := len(ends) - 1; i >= 0; i-- {
			err = errors.Join(err, ends[i]())
		}
	}()
	log := slog.New(slog.NewTextHandler(os.Stderr, nil))
	listener, err := net.Listen("tcp", o.Listen)
	if err != nil {
		return fmt.Errorf("the address %s cannot be listened on: %w; --listen takes another", o.Listen, err)
	}
	ends = append(ends, func() error { return closed(listener) })
	host, port, err := net.SplitHostPort(listener.Addr().String())
	if err != nil {
		return err
	}
	if ip := net.ParseIP(host); ip == nil || !ip.IsLoopback() {
		return fmt.Errorf("underlamp shows its pages there on this machine alone: --listen must name 127.0.0.1 or [::1], not %s; --lan lets other machines in, --intake and --mqtt take what devices send from elsewhere", host)
	}
	at := cli.Serving{Pages: "http://" + net.JoinHostPort(host, port) + "/", Store: o.Store}
	site := web.Options{Hosts: []string{"127.0.0.1", "::1", "localhost"}, Log: log, Version: cli.Version(), ReadWatch: readWatch}
	var dir *safefolder.Folder
	if o.Folder != "" {
		if dir, err = safefolder.Open(o.Folder); err != nil {
			return err
		}
		site.Folder, site.Trials = os.DirFS(o.Folder), dir
	}
	mux := http.NewServeMux()
	var other *elsewhere
	if o.Store == "" {
		watch := monitor.New(monitor.Options{Log: log, Version: cli.Version()})
		mux.Handle("/health", web.OnHosts(site.Hosts, watch.Health()))
		if dir != nil {
			site.Desk = kept.NewDesk(nil, dir, time.Now)
		}
	} else {
		k, err := keep(ctx, o, log, &site, dir)
		ends = append(ends, k.ends...)
		if err != nil {
			return err
		}
		mux.Handle("/health", web.OnHosts(site.Hosts, k.watch.Health()))
		mux.Handle("/metrics", web.OnHosts(site.Hosts, k.watch.Metrics()))
		mux.Handle("/intake", k.intake)
		at.Intake, at.MQTT = k.intakeAt, k.brokerAt
		other = k.other
	}
	pages := web.New(site)
	mux.Handle("/", pages.Handler())
	ends = append(ends, answer(listener, mux, log))
	if other != nil {
		ends = append(ends, other.handlers(o, pages, log)...)
		at.Elsewhere, at.Invite = other.at, other.invite
		if other.authority != nil {
			at.Fingerprint = other.authority.Fingerprint()
		}
	}
	measured := make(chan struct{})
	go func() { defer close(measured); pages.MeasurePhotos(ctx) }()
	ends = append(ends, pages.Close) // before the addresses close: streams let go
	ready(at)
	<-ctx.Done()
	<-measured // a photo that is being measured is finished before the store closes
	return nil
}

// closed closes a listener that its server may have closed already.
func closed(l net.Listener) error {
	if err := l.Close(); err != nil && !errors.Is(err, net.ErrClosed) {
		return err
	}
	return nil
}

// answer serves until what it returns is called.
func answer(l net.Listener, h http.Handler, log *slog.Logger) func() error {
	return answerTLS(l, h, nil, log)
}

// answerTLS serves over TLS, if config says how.
func answerTLS(l net.Listener, h http.Handler, config *tls.Config, log *slog.Logger) func() error {
	server := &http.Server{Handler: h, TLSConfig: config, ReadHeaderTimeout: 5 * time.Second, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 1 << 16, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelDebug)}
	serve := func() error { return server.Serve(l) }
	if config != nil {
		serve = func() error { return server.ServeTLS(l, "", "") }
	}
	go func() {
		if err := serve(); err != nil && !errors.Is(err, http.ErrServerClosed) {
			log.Error("the server ended", "err", err)
		}
	}()
	return func() error {
		ending, cancel := context.WithTimeout(context.Background(), 3*time.Second)
		defer cancel()
		if err := server.Shutdown(ending); err != nil && !errors.Is(err, context.DeadlineExceeded) {
			return err
		}
		return nil
	}
}

// A keeper is what a server with a store has.
type keeper struct {
	intake   http.Handler
	intakeAt string // address besides that of the pages
	brokerAt string
	watch    *monitor.Monitor
	other    *elsewhere // nil: the pages are for this machine alone
	ends     []func() error
}

// keep opens the store, and starts what takes readings and looks after them. What it
// opened before an error is among the ends too.
func keep(ctx context.Context, o cli.ServeOptions, log *slog.Logger, site *web.Options, dir *safefolder.Folder) (*keeper, error) {
	k := &keeper{}
	zone, err := zoneOf(o.Zone)
	if err != nil {
		return k, err
	}
	s, err := openStore(ctx, o.Store)
	if err != nil {
		return k, err
	}
	k.ends = append(k.ends, s.Close)

	site.Desk = kept.NewDesk(s, dir, time.Now)
	queue, err := openQueue(ctx, o.Store, s, log)
	if err != nil {
		return k, err
	}
	k.ends = append(k.ends, queue.Close)

	if site.Folder == nil {
		place := kept.NewPlace(ctx, s, time.Now)
		site.Folder, site.Trials = place, place
	} else {
		k.watched(ctx, s, site.Folder, log)
	}
	site.Settings = settings.New(s)
	var engine *live.Engine
	benches := benchesIn(site.Folder, s, site.Settings)
	engine = live.New(s, func(ctx context.Context) ([]live.Bench, error) {
		if o.Zone == "" { // else what was said at the start holds
			// What cannot be read is told on the page of settings.
			set, _ := site.Settings.Now(ctx)
			if z := set.Location(); z != nil {
				engine.SetZone(z)
			} else {
				engine.SetZone(zone)
			}
		}
		return benches(ctx)
	}, live.Options{Log: log, Zone: zone, Shared: isDatabase(o.Store), ReadWatch: readWatch})
	site.Live, site.Zone = engine, zone
	site.Here = web.Here{Where: whereKept(o.Store), Zone: o.Zone, Backup: backup(s)}
	site.People = access.New(s, nil)
	if o.LAN != "" {
		other, err := openElsewhere(ctx, o, s, log)
		k.ends = append(k.ends, other.ends...)
		if err != nil {
			return k, err
		}
		k.other, site.People = other, other.door
		site.Here.Plain, site.Here.Secure = other.at.Plain, other.at.Secure
		if o.HTTPSOnly {
			site.Here.Plain = nil // nobody comes in there
		}
		if other.authority != nil {
			site.Here.Authority = other.authority
		}
	}
	site.Rounds, site.Cases, site.Keep = s, s, s

	in := intake.New(s, intake.Options{Log: log, Kept: engine.Taken})
	k.ends = append(k.ends, func() error { in.Close(); return nil })
	k.watch = monitor.New(monitor.Options{Store: s, Queue: queue, Version: cli.Version(), Log: log})
	taker := counted{in, k.watch.Taker(in)}
	k.intake = k.watch.Requests("intake", httpintake.Handler(taker, s, log))

	if err := queue.Start(ctx); err != nil {
		return k, err
	}
	k.run(ctx, engine.Run)
	model, err := diagnosis.New(evidencefile.Builtin())
	if err != nil {
		return k, err
	}
	k.run(ctx, (&trouble.Watches{Keep: s, Benches: benches, ReadWatch: readWatch, Model: model, Zone: zone, Log: log}).Run)
	if o.Beside != nil {
		k.run(ctx, func(ctx context.Context) {
			o.Beside(ctx, func(ctx context.Context, sensor, unit string, at time.Time, value float64) error {
				return in.Take(ctx, []intake.Reading{{Sensor: sensor, Unit: unit, At: at, Value: value}})
			})
		})
	}
	if o.Intake != "" {
		if err := k.listen(o, log); err != nil {
			return k, err
		}
	}
	at, stop, err := lines(ctx, o, s, taker, site.Folder, zone, log)
	if err != nil {
		return k, err
	}
	k.ends, k.brokerAt = append(k.ends, func() error { stop(); return nil }), at.broker
	tell := notify.Options{Log: log, Quiet: engine.Quiet, Webhook: webhook.New(nil), Mail: mail.New(mail.Options{})}
	if at.publish != nil {
		tell.MQTT = func(topic string, payload []byte) error { return at.publish.Publish(ctx, topic, payload, false) }
	}
	k.run(ctx, notify.New(s, notify.FromStore(s, notifyfile.Parse), tell).Run)
	return k, nil
}

// run has work go on until ctx is done, and waits for it at the end.
func (k *keeper) run(ctx context.Context, work func(context.Context)) {
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		work(ctx)
	}()
	k.ends = append(k.ends, func() error { <-ended; return nil })
}

// listen opens an address of its own for devices.
func (k *keeper) listen(o cli.ServeOptions, log *slog.Logger) error {
	l, err := net.Listen("tcp", o.Intake)
	if err != nil {
		return fmt.Errorf("the address %s cannot be listened on: %w; --intake takes another", o.Intake, err)
	}
	scheme := "http://"
	if o.CertFile != "" {
		pair, err := tls.LoadX509KeyPair(o.CertFile, o.KeyFile)
		if err != nil {
			l.Close()
			return fmt.Errorf("the certificate for devices cannot be used: %w", err)
		}
		l = tls.NewListener(l, &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12})
		scheme = "https://"
	}
	mux := http.NewServeMux()
	mux.Handle("/intake", k.intake)
	k.intakeAt = scheme + l.Addr().String() + "/intake"
	k.ends = append(k.ends, answer(l, mux, log))
	return nil
}

// watched keeps the versions of the benches of a folder as they change.
func (k *keeper) watched(ctx context.Context, s store.Store, folder fs.FS, log *slog.Logger) {
	k.run(ctx, func(ctx context.Context) {
		kept.Watch(ctx, s, folder, 5*time.Second, time.Now, func(changes []kept.Change, skipped []string, err error) {
			if len(changes) > 0 {
				log.Info("kept", "files", len(changes), "first", changes[0].Name)
			}
			for _, name := range skipped {
				log.Warn("not kept: too large, or one too many", "file", name)
			}
			if err != nil {
				log.Error("the folder was not kept; it is tried again", "err", err)
			}
		})
	})
}

// whereKept names a store without the password that its address may hold.
func whereKept(address string) string {
	if !isDatabase(address) {
		if whole, err := filepath.Abs(address); err == nil {
			return whole
		}
		return address
	}
	u, err := url.Parse(address)
	if err != nil {
		return "a PostgreSQL database"
	}
	return "the PostgreSQL database " + strings.TrimPrefix(u.Path, "/") + " on " + u.Host
}

// benchesIn reads the benches of a folder that have no errors, each anew only when it has
// changed, in the units that are set, with what they were before as the store has it.
func benchesIn(files fs.FS, s store.Benches, set *settings.Keeper) func(context.Context) ([]live.Bench, error) {
	shelf := benchfolder.NewShelf(files)
	before := kept.NewPast(s, files)
	return func(ctx context.Context) ([]live.Bench, error) {
		all, err := shelf.Benches()
		now, _ := set.Now(ctx)
		var out []live.Bench
		for _, b := range all {
			if u := now.System(b.Bench.Units); u != b.Bench.Units {
				other := *b.Bench // the shelf keeps its own
				other.Units = u
				b.Bench = &other
			}
			past, err := before.Since(ctx, b.Key, time.Now().Add(-live.Looks))
			if err != nil {
				return nil, err
			}
			x := live.Bench{Key: b.Key, Bench: b.Bench}
			for _, p := range past {
				x.Before = append(x.Before, live.Past(p))
			}
			out = append(out, x)
		}
		return out, err
	}
}

func readWatch(b *underlamp.Bench, text []byte) (*underlamp.Watch, error) {
	return watchfile.Parse(text, b.Units)
}

// tell takes a notice to a receiver, to try the way to it. There is no broker to send to
// but in a server that runs.
func tell(ctx context.Context, r *underlamp.Receiver, n notify.Notice) error {
	return notify.New(nil, nil, notify.Options{Webhook: webhook.New(nil), Mail: mail.New(mail.Options{})}).Send(ctx, r, n)
}

func zoneOf(name string) (*time.Location, error) {
	if name == "" {
		return time.Local, nil
	}
	z, err := time.LoadLocation(name)
	if err != nil {
		return nil, fmt.Errorf("the zone %q is not known; zones are called after places, such as Europe/Berlin or America/Chicago", name)
	}
	return z, nil
}
