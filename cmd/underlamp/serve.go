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
	"os"
	"strings"
	"time"

	"underlamp"
	"underlamp/app/kept"
	"underlamp/app/live"
	"underlamp/cli"
	"underlamp/formats/benchfolder"
	"underlamp/formats/watchfile"
	"underlamp/intake"
	"underlamp/intake/httpintake"
	"underlamp/intake/mqttintake"
	"underlamp/monitor"
	"underlamp/mqtt/mqttbroker"
	"underlamp/mqtt/mqttlink"
	"underlamp/store"
	"underlamp/store/retention"
	"underlamp/web"
	"underlamp/work"
	"underlamp/work/riverwork"
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
		return fmt.Errorf("underlamp shows its pages on this machine alone so far: --listen must name 127.0.0.1 or [::1], not %s; --intake and --mqtt take what devices send from elsewhere", host)
	}
	at := cli.Serving{Pages: "http://" + net.JoinHostPort(host, port) + "/", Store: o.Store}
	site := web.Options{Hosts: []string{"127.0.0.1", "::1", "localhost"}, Log: log}
	if o.Folder != "" {
		site.Folder = os.DirFS(o.Folder)
	}
	mux := http.NewServeMux()
	if o.Store == "" {
		watch := monitor.New(monitor.Options{Log: log, Version: cli.Version()})
		mux.Handle("/health", watch.Health())
	} else {
		k, err := keep(ctx, o, log, &site)
		ends = append(ends, k.ends...)
		if err != nil {
			return err
		}
		mux.Handle("/health", k.watch.Health())
		mux.Handle("/metrics", k.watch.Metrics())
		mux.Handle("/intake", k.intake)
		at.Intake, at.MQTT, at.Broker = k.intakeAt, k.brokerAt, o.Broker
	}
	mux.Handle("/", web.New(site).Handler())
	ends = append(ends, answer(listener, mux, log))
	ready(at)
	<-ctx.Done()
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
	server := &http.Server{Handler: h, ReadHeaderTimeout: 5 * time.Second, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 1 << 16, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelDebug)}
	go func() {
		if err := server.Serve(l); err != nil && !errors.Is(err, http.ErrServerClosed) {
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
	ends     []func() error
}

// keep opens the store, and starts what takes readings and looks after them. What it
// opened before an error is among the ends too.
func keep(ctx context.Context, o cli.ServeOptions, log *slog.Logger, site *web.Options) (*keeper, error) {
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

	var queue work.Queue = work.NewLocal(s, log)
	if isDatabase(o.Store) {
		if queue, err = riverwork.Open(ctx, o.Store, log); err != nil {
			return k, err
		}
	}
	k.ends = append(k.ends, queue.Close)
	queue.Every("forget", time.Hour, func(ctx context.Context) error { return retention.Apply(ctx, s, time.Now()) })

	if site.Folder == nil {
		site.Folder = kept.Folder(ctx, s, time.Now)
	} else {
		watched(ctx, s, site.Folder, log, k)
	}
	engine := live.New(s, benchesIn(site.Folder), live.Options{Log: log, Zone: zone, Shared: isDatabase(o.Store), ReadWatch: readWatch})
	site.Live, site.Zone = engine, zone

	in := intake.New(s, intake.Options{Log: log, Kept: engine.Taken})
	k.ends = append(k.ends, func() error { in.Close(); return nil })
	k.watch = monitor.New(monitor.Options{Store: s, Queue: queue, Version: cli.Version(), Log: log})
	taker := k.watch.Taker(in)
	k.intake = k.watch.Requests("intake", httpintake.Handler(taker, s, log))

	if err := queue.Start(ctx); err != nil {
		return k, err
	}
	go engine.Run(ctx)
	if o.Beside != nil {
		ended := make(chan struct{})
		go func() {
			defer close(ended)
			o.Beside(ctx, func(ctx context.Context, sensor, unit string, at time.Time, value float64) error {
				return in.Take(ctx, []intake.Reading{{Sensor: sensor, Unit: unit, At: at, Value: value}})
			})
		}()
		k.ends = append(k.ends, func() error { <-ended; return nil })
	}
	if o.Intake != "" {
		if err := k.listen(o, log); err != nil {
			return k, err
		}
	}
	receiver := mqttintake.New(taker, mqttintake.Options{Log: log})
	if o.MQTT != "" {
		b, err := mqttbroker.Start(mqttbroker.Options{Listen: o.MQTT, CertFile: o.CertFile, KeyFile: o.KeyFile, Log: log}, s, receiver.Receive)
		if err != nil {
			return k, err
		}
		k.ends, k.brokerAt = append(k.ends, b.Close), b.Address()
	}
	if o.Broker != "" {
		address, err := mqttlink.ParseAddress(o.Broker)
		if err != nil {
			return k, err
		}
		user, password, err := mqttlink.Credentials(os.Getenv)
		if err != nil {
			return k, err
		}
		link, err := mqttlink.Open(mqttlink.Options{Address: address, User: user, Password: password, Client: linkName(ctx, s), Filters: o.Topics, Receive: receiver.Receive, Log: log})
		if err != nil {
			return k, err
		}
		k.ends = append(k.ends, func() error { link.Close(); return nil })
	}
	return k, nil
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

// linkName is the name of our session with an outside broker. It stays, so that the
// broker keeps what it could not deliver.
func linkName(ctx context.Context, s store.Documents) string {
	const kind, name = "mqtt", "session"
	if d, err := s.Document(ctx, kind, name); err == nil && len(d.Text) > 0 {
		return string(d.Text)
	}
	client := mqttlink.NewClient()
	if err := s.PutDocument(ctx, store.Document{Kind: kind, Name: name, Recorded: store.At(time.Now()), Text: []byte(client)}); err != nil {
		return "" // a new session then, which keeps nothing
	}
	return client
}

// watched keeps the versions of the benches of a folder as they change.
func watched(ctx context.Context, s store.Store, folder fs.FS, log *slog.Logger, k *keeper) {
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		kept.Watch(ctx, s, folder, 5*time.Second, time.Now, func(changes []kept.Change, skipped []string, err error) {
			for _, c := range changes {
				log.Info("kept", "file", c.Name, "version", c.Number)
			}
			for _, name := range skipped {
				log.Warn("not kept: too large, or one too many", "file", name)
			}
			if err != nil {
				log.Error("the folder was not kept; it is tried again", "err", err)
			}
		})
	}()
	k.ends = append(k.ends, func() error { <-ended; return nil })
}

// benchesIn reads the benches of a folder that have no errors, each anew only when it has
// changed.
func benchesIn(folder fs.FS) func(context.Context) ([]*underlamp.Bench, error) {
	shelf := benchfolder.NewShelf(folder)
	return func(context.Context) ([]*underlamp.Bench, error) { return shelf.Benches() }
}

func readWatch(b *underlamp.Bench, text []byte) (*underlamp.Watch, error) {
	w, problems, err := watchfile.Read(strings.NewReader(string(text)), b.Units)
	if err != nil {
		return nil, err
	}
	if w == nil {
		return nil, problems
	}
	return w, nil
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
