// Command underlamp settles how bright, from how high and for how long to light
// leafy greens under lamps. This file is the only place that knows everything: it
// hands the command line the page server and the streams of the process.
package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"underlamp/cli"
	"underlamp/intake"
	"underlamp/intake/httpintake"
	"underlamp/store"
	"underlamp/store/postgres"
	"underlamp/store/sqlite"
	"underlamp/web"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := cli.Run(ctx, cli.World{
		In: os.Stdin, Out: os.Stdout, Err: os.Stderr, Serve: serve, OpenStore: openStore,
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
		in := intake.New(kept, intake.Options{Log: log})
		defer in.Close()
		stop, err := lines(ctx, o, kept, in, os.DirFS(o.Folder), log)
		if err != nil {
			listener.Close()
			return err
		}
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
