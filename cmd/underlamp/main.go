// Command underlamp settles how bright, from how high and for how long to light
// leafy greens under lamps. This file is the only place that knows everything: it
// hands the command line the page server and the streams of the process.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	_ "time/tzdata" // zones of days and clocks, whatever the machine has

	"golang.org/x/term"

	"underlamp/cli"
	"underlamp/draw/terminal"
	"underlamp/store"
	"underlamp/store/postgres"
	"underlamp/store/sqlite"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // the second Ctrl-C ends the process whatever it does
	code := cli.Run(ctx, world(), os.Args[1:])
	stop()
	os.Exit(code)
}

// world is the streams of this process, what their terminals show, and the parts that
// the command line does not know.
func world() cli.World {
	w := cli.World{In: os.Stdin, Out: os.Stdout, Err: os.Stderr, Serve: serve, OpenStore: openStore, Tell: tell}
	w.Terminal = showsCodes(os.Stdout)
	colours := terminal.ColoursOf(environment)
	w.Follows = showsCodes(os.Stderr) && os.Getenv("TERM") != "dumb"
	w.Colour = w.Follows && colours > terminal.NoColours
	if w.Terminal {
		w.Colours = colours
		w.ASCII = terminal.StyleOf(colours, environment).ASCII
	}
	for _, f := range []*os.File{os.Stdout, os.Stderr} {
		if columns, _, err := term.GetSize(int(f.Fd())); err == nil && w.Width == 0 {
			w.Width = columns
		}
	}
	return w
}

// openStore opens a PostgreSQL database by its address, else a file.
func openStore(ctx context.Context, address string) (store.Store, error) {
	if isDatabase(address) {
		return postgres.Open(ctx, address)
	}
	return sqlite.Open(ctx, address)
}
