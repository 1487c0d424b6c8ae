package main

import (
	"context"
	"log/slog"
	"strings"
	"time"

	"underlamp/store"
	"underlamp/store/retention"
	"underlamp/work"
	"underlamp/work/riverwork"
)

// isDatabase tells the address of a PostgreSQL database from the name of a file.
func isDatabase(address string) bool {
	return strings.HasPrefix(address, "postgres://") || strings.HasPrefix(address, "postgresql://")
}

// openQueue opens the work of a server beside answering: shared among the servers of a
// database, else its own. It has what every server does; Start begins.
func openQueue(ctx context.Context, address string, kept store.Store, log *slog.Logger) (work.Queue, error) {
	var q work.Queue = work.NewLocal(kept, log)
	if isDatabase(address) {
		shared, err := riverwork.Open(ctx, address, log)
		if err != nil {
			return nil, err
		}
		q = shared
	}
	// What a server that was killed left is packed by another.
	q.Every("fold", time.Minute, func(ctx context.Context) error {
		for {
			if n, err := kept.Fold(ctx); n == 0 || err != nil {
				return err
			}
		}
	})
	q.Every("retention", time.Hour, func(ctx context.Context) error { return retention.Apply(ctx, kept, time.Now()) })
	return q, nil
}
