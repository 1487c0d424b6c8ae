// Package riverwork is a queue of work in a PostgreSQL database, shared among servers,
// by the library River. Its tables have a schema of their own.
package riverwork

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/rivermigrate"
	"github.com/riverqueue/river/rivertype"

	"underlamp/work"
)

// schema holds the tables of the queue.
const schema = "underlamp_work"

// connections bound what one server takes of the database for its work; one listens.
const connections = 4

// atOnce is how many pieces of work one server does at once.
const atOnce = 4

// A piece of work as the library keeps it: a job, or a turn of what is done every so often.
type piece struct {
	Name string `json:"name" river:"unique"`
	Key  string `json:"key" river:"unique"` // empty for a turn
	Data []byte `json:"data"`
}

// Kind is what the library calls all pieces.
func (piece) Kind() string { return "underlamp" }

// A Queue is work in a database.
type Queue struct {
	pool     *pgxpool.Pool
	config   *river.Config
	enter    *river.Client[pgx.Tx] // enters jobs, also before the start
	client   *river.Client[pgx.Tx] // works
	periodic map[string]func(ctx context.Context) error
	do       map[string]func(ctx context.Context, data []byte) error
	wrong    error
}

var _ work.Queue = (*Queue)(nil)

// Open opens the queue in a database, and makes its tables or brings them up to date; log
// may be nil.
func Open(ctx context.Context, address string, log *slog.Logger) (*Queue, error) {
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	c, err := pgxpool.ParseConfig(address)
	if err != nil {
		return nil, errors.New("the address of the database cannot be read") // the error would show the password
	}
	c.MaxConns = connections
	pool, err := pgxpool.NewWithConfig(ctx, c)
	if err != nil {
		return nil, fmt.Errorf("the queue of work cannot be opened: %w", err)
	}
	if err := prepare(ctx, pool, log); err != nil {
		pool.Close()
		return nil, fmt.Errorf("the queue of work cannot be opened: %w", err)
	}
	enter, err := river.NewClient(riverpgxv5.New(pool), &river.Config{Logger: log, Schema: schema, MaxAttempts: work.Attempts})
	if err != nil {
		pool.Close()
		return nil, fmt.Errorf("the queue of work cannot be opened: %w", err)
	}
	q := &Queue{pool: pool, enter: enter, periodic: map[string]func(context.Context) error{}, do: map[string]func(context.Context, []byte) error{}}
	workers := river.NewWorkers()
	river.AddWorker(workers, &worker{q: q})
	q.config = &river.Config{
		Logger:  log,
		Schema:  schema,
		Workers: workers,
		Queues:  map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: atOnce}},
		// A piece of a server that was killed is taken by another one after this.
		JobTimeout: work.Longest, RescueStuckJobsAfter: work.Longest + time.Minute,
		MaxAttempts: work.Attempts,
		// Days without work do not let an index grow old: the tables are small.
		ReindexerSchedule: river.NeverSchedule(),
	}
	return q, nil
}

// prepare makes the tables; of servers that start at once one does.
func prepare(ctx context.Context, pool *pgxpool.Pool, log *slog.Logger) error {
	conn, err := pool.Acquire(ctx)
	if err != nil {
		return err
	}
	defer conn.Release()
	if _, err := conn.Exec(ctx, `select pg_advisory_lock(hashtextextended('underlamp work', 0))`); err != nil {
		return err
	}
	// It is let go also if ctx has ended.
	defer conn.Exec(context.WithoutCancel(ctx), `select pg_advisory_unlock(hashtextextended('underlamp work', 0))`)
	if _, err := conn.Exec(ctx, `create schema if not exists `+schema); err != nil {
		return err
	}
	m, err := rivermigrate.New(riverpgxv5.New(pool), &rivermigrate.Config{Schema: schema, Logger: log})
	if err != nil {
		return err
	}
	_, err = m.Migrate(ctx, rivermigrate.DirectionUp, nil)
	return err
}

// slots begin at whole multiples of a period, on all servers alike.
type slots time.Duration

func (s slots) Next(now time.Time) time.Time {
	return now.UTC().Truncate(time.Duration(s)).Add(time.Duration(s))
}

// Every has something done once in each period.
func (q *Queue) Every(name string, period time.Duration, do func(ctx context.Context) error) {
	if period < time.Second || period > 24*time.Hour {
		q.wrong = fmt.Errorf("%s is to be done every %s; a period is a second to a day", name, period)
		return
	}
	q.periodic[name] = do
	q.config.PeriodicJobs = append(q.config.PeriodicJobs, river.NewPeriodicJob(slots(period), func() (river.JobArgs, *river.InsertOpts) {
		// A period that has had its turn, done or not, has no second one, whoever enters it.
		return piece{Name: name}, &river.InsertOpts{MaxAttempts: 3, UniqueOpts: river.UniqueOpts{ByArgs: true, ByPeriod: period}}
	}, &river.PeriodicJobOpts{RunOnStart: true}))
}

// Do says how jobs of a kind are done.
func (q *Queue) Do(kind string, do func(ctx context.Context, data []byte) error) { q.do[kind] = do }

// waiting are the states of what is not done yet.
var waiting = []rivertype.JobState{rivertype.JobStateAvailable, rivertype.JobStatePending, rivertype.JobStateRunning, rivertype.JobStateRetryable, rivertype.JobStateScheduled}

// Add enters a job.
func (q *Queue) Add(ctx context.Context, kind, key string, data []byte) error {
	if kind == "" || key == "" {
		return errors.New("a job needs a kind and a key")
	}
	_, err := q.enter.Insert(ctx, piece{Name: kind, Key: key, Data: data}, &river.InsertOpts{UniqueOpts: river.UniqueOpts{ByArgs: true, ByState: waiting}})
	if err != nil {
		return fmt.Errorf("enter job %s %q: %w", kind, key, err)
	}
	return nil
}

// Waiting counts jobs.
func (q *Queue) Waiting(ctx context.Context) (waiting, given int, err error) {
	err = q.pool.QueryRow(ctx, `select count(*) filter (where state not in ('completed', 'cancelled', 'discarded')), count(*) filter (where state = 'discarded')
		from `+schema+`.river_job where args->>'key' <> ''`).Scan(&waiting, &given)
	return waiting, given, err
}

// Start begins.
func (q *Queue) Start(ctx context.Context) error {
	if q.wrong != nil {
		return q.wrong
	}
	client, err := river.NewClient(riverpgxv5.New(q.pool), q.config)
	if err != nil {
		return err
	}
	q.client = client
	return client.Start(context.WithoutCancel(ctx)) // until Close
}

// Close stops.
func (q *Queue) Close() error {
	defer q.pool.Close()
	if q.client == nil {
		return nil
	}
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	if err := q.client.Stop(ctx); err == nil {
		return nil
	}
	ctx, cancel = context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	return q.client.StopAndCancel(ctx)
}

// A worker does pieces.
type worker struct {
	river.WorkerDefaults[piece]
	q *Queue
}

// Work does one.
func (w *worker) Work(ctx context.Context, job *river.Job[piece]) error {
	if job.Args.Key == "" {
		if do := w.q.periodic[job.Args.Name]; do != nil {
			return do(ctx)
		}
	} else if do := w.q.do[job.Args.Name]; do != nil {
		return do(ctx, job.Args.Data)
	}
	return fmt.Errorf("this version does not know work of kind %q", job.Args.Name)
}

// NextRetry says when a piece that failed is done again.
func (w *worker) NextRetry(job *river.Job[piece]) time.Time {
	return time.Now().Add(work.Pause(job.Attempt))
}
