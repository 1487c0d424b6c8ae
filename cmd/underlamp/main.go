// Command underlamp settles how bright, from how high and for how long to light
// leafy greens under lamps. This file is the only place that knows everything: it
// hands the command line the page server and the streams of the process.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"underlamp/cli"
	"underlamp/store"
	"underlamp/store/postgres"
	"underlamp/store/sqlite"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := cli.Run(ctx, cli.World{
		In: os.Stdin, Out: os.Stdout, Err: os.Stderr, Serve: serve, OpenStore: openStore, Tell: tell,
		Colour:   os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb" && isTerminal(os.Stderr),
		Terminal: isTerminal(os.Stdout),
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
	if isDatabase(address) {
		return postgres.Open(ctx, address)
	}
	return sqlite.Open(ctx, address)
}
