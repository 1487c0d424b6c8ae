// Package work is what a server does beside answering: packing, forgetting, looking after
// rules, sending messages. Of several servers on one database one does each piece.
//
// A [Local] does it within one server, and keeps its jobs in the store; package riverwork
// shares it among the servers on a PostgreSQL database.
package work

import (
	"context"
	"time"
)

// A Queue hands out work. Every and Do are called before Start.
type Queue interface {
	// Every has something done once in each period, whatever the number of servers: at the
	// start in the period that runs, then at the begin of each. A period that was slept
	// through is not made up for. It is at least a second and at most a day.
	Every(name string, period time.Duration, do func(ctx context.Context) error)

	// Do says how jobs of a kind are done. A job that fails, or whose server was killed, is
	// done again after a while, so doing it twice must do no harm.
	Do(kind string, do func(ctx context.Context, data []byte) error)

	// Add enters a job and returns when it is kept. One of the same kind and key that is
	// not done yet stays in its place.
	Add(ctx context.Context, kind, key string, data []byte) error

	// Waiting is how many jobs are not done yet, and how many were given up.
	Waiting(ctx context.Context) (waiting, given int, err error)

	// Start begins. Work goes on until Close.
	Start(ctx context.Context) error

	// Close lets what runs end, for a few seconds, and stops. What was not done stays.
	Close() error
}

// Attempts is how often a job is tried before it is given up. At the pauses of [Pause]
// that is after about a day and a half.
const Attempts = 40

// Longest is how long a piece of work may take.
const Longest = 5 * time.Minute

// ending is how long Close waits.
const ending = 5 * time.Second

// Pause is how long a job waits after it has failed so many times: n⁴ seconds, an hour at
// most.
func Pause(failed int) time.Duration {
	n := time.Duration(min(failed, 10))
	return min(n*n*n*n*time.Second, time.Hour)
}
