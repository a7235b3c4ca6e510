package postgres

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

	"tiedown/internal/notice/webhook"
	"tiedown/internal/techlog"
)

// River brings couriers to lanes: it tells one of the programs on the database at once, waits before a retry, and bounds how
// many lanes a program works on. A knock at a lane is worth nothing by itself. What is to be delivered, and who is at it,
// stands in our own tables; a knock too many finds nothing to do, and one that is lost is made again. So none of River's
// rows is a record, and they name an organization by its identifier alone. A lane is not a unique job of River's: a job whose
// program was killed counts as running for an hour, and would keep its lane shut.

// riverSchema is where River's tables are.
const riverSchema = "river"

// How River works. Its own defaults are for fewer, longer jobs.
const (
	workers       = 64
	fetchCooldown = 10 * time.Millisecond
	// A knock that comes while the last fetch is under way is found by the next poll.
	fetchPoll   = 100 * time.Millisecond
	keepKnocks  = 10 * time.Minute // that have been answered
	endless     = -1               // a courier stays as long as a lane has deliveries; each attempt is bounded
	softStop    = 15 * time.Second
	migrateLock = `SELECT pg_advisory_xact_lock(hashtext('tiedown river'))`
)

// knockArgs names a lane.
type knockArgs struct {
	Organization string `json:"organization"`
	Webhook      string `json:"webhook"`
	Aircraft     string `json:"aircraft"`
}

// Kind implements river.JobArgs.
func (knockArgs) Kind() string { return "knock" }

func argsOf(l webhook.Lane) knockArgs {
	return knockArgs{l.Organization.String(), l.Webhook.String(), l.Aircraft.String()}
}

func (a knockArgs) lane() (webhook.Lane, error) {
	organization, one := techlog.ParseID(a.Organization)
	hook, two := techlog.ParseID(a.Webhook)
	aircraft, three := techlog.ParseID(a.Aircraft)
	if !one || !two || !three {
		return webhook.Lane{}, errors.New("a knock names no lane")
	}
	return webhook.Lane{Organization: organization, Webhook: hook, Aircraft: aircraft}, nil
}

// newKnocker makes what knocks, and works nothing.
func newKnocker() (*river.Client[pgx.Tx], error) {
	return river.NewClient(riverpgxv5.New(nil), &river.Config{
		Schema: riverSchema, Logger: slog.New(slog.DiscardHandler), FetchCooldown: fetchCooldown,
	})
}

// knock has a courier come to each lane, once the transaction has committed.
func (s *Store) knock(ctx context.Context, tx pgx.Tx, lanes []*webhook.Lane) error {
	var jobs []river.InsertManyParams
	for _, lane := range lanes {
		if lane != nil {
			jobs = append(jobs, river.InsertManyParams{Args: argsOf(*lane)})
		}
	}
	if len(jobs) == 0 {
		return nil
	}
	_, err := s.knocker.InsertManyFastTx(ctx, tx, jobs)
	return err
}

// Deliverer delivers what waits in a lane; webhook.Courier is one.
type Deliverer interface {
	Deliver(ctx context.Context, lane webhook.Lane) (again bool, after time.Duration, err error)
}

// Rounds are couriers under way.
type Rounds struct {
	client *river.Client[pgx.Tx]
}

// StartRounds has lanes worked on until Stop. The store's connections are used for nothing else: give it a few of its own.
func (s *Store) StartRounds(ctx context.Context, d Deliverer, log *slog.Logger) (*Rounds, error) {
	all := river.NewWorkers()
	river.AddWorker(all, river.WorkFunc(func(ctx context.Context, job *river.Job[knockArgs]) error {
		lane, err := job.Args.lane()
		if err != nil {
			return river.JobCancel(err)
		}
		again, after, err := d.Deliver(ctx, lane)
		if err == nil && again {
			return river.JobSnooze(max(after, 0))
		}
		return err
	}))
	client, err := river.NewClient(riverpgxv5.New(s.pool), &river.Config{
		Schema: riverSchema, Workers: all, Logger: log,
		Queues:        map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: workers}},
		FetchCooldown: fetchCooldown, FetchPollInterval: fetchPoll,
		JobTimeout: endless, SoftStopTimeout: softStop,
		CompletedJobRetentionPeriod: keepKnocks, CancelledJobRetentionPeriod: keepKnocks, DiscardedJobRetentionPeriod: keepKnocks,
	})
	if err != nil {
		return nil, fmt.Errorf("start deliveries: %w", opaque(err))
	}
	// It ends by Stop, whatever becomes of the context that it was started with.
	if err := client.Start(context.WithoutCancel(ctx)); err != nil {
		return nil, fmt.Errorf("start deliveries: %w", opaque(err))
	}
	return &Rounds{client}, nil
}

// Stop lets the attempts that are under way finish, until the context ends.
func (r *Rounds) Stop(ctx context.Context) error {
	if err := r.client.Stop(ctx); err != nil {
		return fmt.Errorf("stop deliveries: %w", opaque(err))
	}
	return nil
}

// migrateRiver brings River's tables to what the library needs. Several programs may call it at once: one works, the
// others wait.
func migrateRiver(ctx context.Context, url string) error {
	config, err := pgxpool.ParseConfig(url)
	if err != nil {
		return err
	}
	config.MaxConns = 2 // one for the lock
	pool, err := pgxpool.NewWithConfig(ctx, config)
	if err != nil {
		return err
	}
	defer pool.Close()
	return pgx.BeginFunc(ctx, pool, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, migrateLock); err != nil {
			return err
		}
		if _, err := pool.Exec(ctx, `CREATE SCHEMA IF NOT EXISTS `+riverSchema); err != nil {
			return err
		}
		m, err := rivermigrate.New(riverpgxv5.New(pool), &rivermigrate.Config{Schema: riverSchema, Logger: slog.New(slog.DiscardHandler)})
		if err != nil {
			return err
		}
		_, err = m.Migrate(ctx, rivermigrate.DirectionUp, nil)
		return err
	})
}
