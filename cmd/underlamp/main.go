// Command underlamp settles how bright, from how high and for how long to light
// leafy greens under lamps. This file is the only place that knows everything: it
// hands the command line the page server and the streams of the process.
package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/signal"
	"path"
	"strings"
	"sync"
	"syscall"
	"time"

	"underlamp"
	"underlamp/app/live"
	"underlamp/cli"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/formats/notifyfile"
	"underlamp/formats/watchfile"
	"underlamp/intake"
	"underlamp/intake/httpintake"
	"underlamp/notify"
	"underlamp/notify/mail"
	"underlamp/notify/webhook"
	"underlamp/store"
	"underlamp/store/postgres"
	"underlamp/store/sqlite"
	"underlamp/web"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := cli.Run(ctx, cli.World{
		In: os.Stdin, Out: os.Stdout, Err: os.Stderr, Serve: serve, OpenStore: openStore,
		Tell:   tell,
		Colour: os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb" && isTerminal(os.Stderr),
	}, os.Args[1:])
	stop()
	os.Exit(code)
}

func isTerminal(f *os.File) bool {
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

// openStore opens a PostgreSQL database by its address, else a file.
func openStore(ctx context.Context, address string) (store.Store, error) {
	if strings.HasPrefix(address, "postgres://") || strings.HasPrefix(address, "postgresql://") {
		return postgres.Open(ctx, address)
	}
	return sqlite.Open(ctx, address)
}

// tell takes a notice to a receiver, to try the way to it. There is no broker to send to
// but in a server that runs.
func tell(ctx context.Context, r *underlamp.Receiver, n notify.Notice) error {
	return notify.New(nil, nil, notify.Options{Webhook: webhook.New(nil), Mail: mail.New(mail.Options{})}).Send(ctx, r, n)
}

// liveBenches reads the benches of a folder as they are now; one that has errors is left
// out, as its page says.
func liveBenches(folder fs.FS) func(ctx context.Context) ([]live.Bench, error) {
	return func(context.Context) ([]live.Bench, error) {
		entries, err := fs.ReadDir(folder, ".")
		if err != nil {
			return nil, err
		}
		var out []live.Bench
		for _, e := range entries {
			if e.IsDir() || !benchfolder.IsYAML(e.Name()) || benchfolder.KindOf(folder, e.Name()) != benchfolder.BenchFile {
				continue
			}
			f, err := folder.Open(e.Name())
			if err != nil {
				return nil, err
			}
			b, _, err := benchfile.ReadWith(f, benchfolder.Files(folder))
			f.Close()
			if err == nil && b != nil {
				out = append(out, live.Bench{Key: strings.TrimSuffix(e.Name(), path.Ext(e.Name())), Bench: b})
			}
		}
		return out, nil
	}
}

// serve shows a folder until ctx is done, then lets running answers end.
func serve(ctx context.Context, o cli.ServeOptions, ready func(address string)) error {
	listener, err := net.Listen("tcp", o.Listen)
	if err != nil {
		return fmt.Errorf("the address %s cannot be listened on: %w; --listen takes another", o.Listen, err)
	}
	host, port, err := net.SplitHostPort(listener.Addr().String())
	if err != nil {
		return err
	}
	if ip := net.ParseIP(host); ip == nil || !ip.IsLoopback() {
		listener.Close()
		return fmt.Errorf("underlamp serves this machine alone so far: --listen must name 127.0.0.1 or [::1], not %s", host)
	}
	log := slog.New(slog.NewTextHandler(os.Stderr, nil))
	site := web.New(web.Options{
		Folder: os.DirFS(o.Folder),
		Hosts:  []string{"127.0.0.1", "::1", "localhost"},
		Log:    log,
	})
	handler := site.Handler()
	if o.Store != "" {
		kept, err := openStore(ctx, o.Store)
		if err != nil {
			listener.Close()
			return err
		}
		defer kept.Close()
		shared := strings.Contains(o.Store, "://")
		engine := live.New(kept, liveBenches(os.DirFS(o.Folder)), live.Options{Log: log, Shared: shared,
			ReadWatch: func(b *underlamp.Bench, text []byte) (*underlamp.Watch, error) { return watchfile.Parse(text, b.Units) }})
		notifier := notify.New(kept, notify.FromStore(kept, notifyfile.Parse), notify.Options{Log: log, Quiet: engine.Quiet, Webhook: webhook.New(nil), Mail: mail.New(mail.Options{})})
		in := intake.New(kept, intake.Options{Log: log, Kept: engine.Taken})
		defer in.Close()
		var beside sync.WaitGroup
		watching, stop := context.WithCancel(ctx)
		beside.Go(func() { engine.Run(watching) })
		beside.Go(func() { notifier.Run(watching) })
		defer beside.Wait()
		defer stop()
		mux := http.NewServeMux()
		mux.Handle("/intake", httpintake.Handler(in, kept, log))
		mux.Handle("/", handler)
		handler = mux
	}
	server := &http.Server{
		Handler:           handler,
		ReadHeaderTimeout: 5 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    1 << 16,
	}
	ready("http://" + net.JoinHostPort(host, port) + "/")
	done := make(chan error, 1)
	go func() { done <- server.Serve(listener) }()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
	}
	ending, cancel := context.WithTimeout(context.Background(), 3*time.Second)
	defer cancel()
	if err := server.Shutdown(ending); err != nil && !errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return nil
}
