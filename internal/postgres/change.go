package postgres

import (
	"bytes"
	"context"
	"errors"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// A change that met a deadlock, a flight that was moved meanwhile, or a twin of its own request is run again at once:
// each of them has let somebody else through. attempts bounds that.
const attempts = 5

// rollbackLimit bounds the wait for a rollback, which goes on when whoever asked has gone.
const rollbackLimit = 5 * time.Second

// Change runs f in one transaction: see hangar.Store.
func (s *Store) Change(ctx context.Context, scope hangar.Scope, f func(context.Context, hangar.Tx) ([]byte, error)) ([]byte, error) {
	var err error
	for range attempts {
		var answer []byte
		if answer, err = s.try(ctx, scope, f); !errors.Is(err, errAgain) {
			return answer, err
		}
	}
	return nil, &techlog.Error{
		Kind: techlog.KindUnavailable, Says: "the database was busy; nothing was written; send the request again", Cause: err,
	}
}

func (s *Store) try(ctx context.Context, scope hangar.Scope, f func(context.Context, hangar.Tx) ([]byte, error)) ([]byte, error) {
	conn, err := s.pool.Acquire(ctx)
	if err != nil {
		return nil, translate(err)
	}
	defer conn.Release()
	c := &change{
		conn: conn.Conn(), scope: scope, org: uuid(scope.Organization), snapshots: make([]hangar.Snapshot, len(scope.Lock)),
		leaves: leaves{organization: scope.Organization, at: scope.At, by: scope.By},
	}
	answer, err := c.run(ctx, f)
	if err == nil && c.tidings.any() {
		s.bell.ring(scope.Organization)
	}
	return answer, err
}

// change is a transaction under way: it implements hangar.Tx.
type change struct {
	conn      *pgx.Conn
	scope     hangar.Scope
	org       [16]byte
	snapshots []hangar.Snapshot       // in the order of scope.Lock
	walked    hangar.WalkaroundRecord // of scope.Walkaround

	writes  pgx.Batch
	leaves  leaves
	tidings tidings
	counted []counters
	err     error // of a record that cannot be written
}

// run takes the change from its begin to its commit. Whatever ends it earlier, a panic of f as well, rolls it back.
func (c *change) run(ctx context.Context, f func(context.Context, hangar.Tx) ([]byte, error)) (answer []byte, err error) {
	defer func() {
		if failure := c.rollBack(ctx); failure != nil {
			err = errors.Join(err, failure)
		}
	}()
	earlier, err := c.begin(ctx)
	if err != nil {
		return nil, err
	}
	if earlier != nil {
		return earlier.replay(c.scope.Once)
	}
	if answer, err = f(ctx, c); err != nil {
		return nil, err
	}
	if err = c.commit(ctx, answer); err != nil {
		return nil, err
	}
	return answer, nil
}

// begin locks and reads everything the scope names in one round trip. The earlier answer is looked for last, when the
// locks are held: a twin of this request that held them has then committed it. It is nil if there is none.
func (c *change) begin(ctx context.Context) (*earlierAnswer, error) {
	order := c.lockOrder()
	var batch pgx.Batch
	batch.Queue(beginChange)
	organization(c.scope.Organization).queueOn(&batch)
	for _, i := range order {
		queueSnapshot(&batch, lockAircraftRow, c.scope.Organization, c.scope.Lock[i])
	}
	if !c.scope.Walkaround.IsZero() {
		queueRecord(&batch, lockWalkaround, c.scope.Organization, c.scope.Walkaround)
	}
	if c.scope.Once != nil {
		batch.Queue(selectAnswer, c.org, uuid(c.scope.Once.Token), c.scope.Once.Key)
	}
	results := c.conn.SendBatch(ctx, &batch)
	_, _ = results.Exec() // an error stays with the results
	_, _ = results.Exec()
	earlier, err := c.readBegin(results, order)
	if err = finish(results, err); err != nil {
		return nil, absent(err, "aircraft")
	}
	return earlier, c.fetchConfigurations(ctx)
}

// lockOrder is the order in which every change takes its locks, so that no two wait for each other.
func (c *change) lockOrder() []int {
	order := make([]int, len(c.scope.Lock))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int {
		return bytes.Compare(c.scope.Lock[i].Aircraft[:], c.scope.Lock[j].Aircraft[:])
	})
	return order
}

func (c *change) readBegin(results pgx.BatchResults, order []int) (*earlierAnswer, error) {
	for _, i := range order {
		var err error
		if c.snapshots[i], err = readSnapshot(results, c.scope.Lock[i]); err != nil {
			return nil, err
		}
	}
	if !c.scope.Walkaround.IsZero() {
		var err error
		if c.walked, err = readRecord(results); err != nil {
			return nil, absent(err, "walkaround")
		}
	}
	if c.scope.Once == nil {
		return nil, nil
	}
	return scanEarlierAnswer(results.QueryRow())
}

// fetchConfigurations reads what was left out because a plan was known that has changed since.
func (c *change) fetchConfigurations(ctx context.Context) error {
	for i, want := range c.scope.Lock {
		if want.KnownPlan == 0 || c.snapshots[i].PlanKnown {
			continue
		}
		var err error
		c.snapshots[i].Aircraft.Configuration, err = scanConfiguration(c.conn.QueryRow(ctx, selectConfiguration, c.org, uuid(want.Aircraft)))
		if err != nil {
			return absent(err, "configuration")
		}
		if c.snapshots[i].Company, err = c.CompanyRules(ctx); err != nil {
			return err
		}
		if c.snapshots[i].InService, err = c.inService(ctx, want.Aircraft); err != nil {
			return err
		}
	}
	return nil
}

// commit sends everything that was queued, the entries in the log and the commit, in one round trip. A statement that
// fails keeps those after it from running, the commit among them.
func (c *change) commit(ctx context.Context, answer []byte) error {
	if c.err != nil {
		return translate(c.err)
	}
	for _, n := range c.counted {
		c.queue(countUpAircraft, c.org, uuid(n.aircraft), n.touched, n.squawked, n.replanned)
	}
	if once := c.scope.Once; once != nil {
		c.queue(insertAnswer, c.org, uuid(once.Token), once.Key, once.Digest[:], filled(answer), instant(c.scope.At))
	}
	c.queueAnnals()
	c.queue(commit)
	err := translate(c.conn.SendBatch(ctx, &c.writes).Close())
	if techlog.KindOf(err) == techlog.KindUnavailable {
		return &techlog.Error{
			Kind:  techlog.KindUnavailable,
			Says:  "the database stopped answering while the change was written: see whether it is there, or send the request again with the same Idempotency-Key",
			Cause: err,
		}
	}
	return err
}

// rollBack ends the transaction if it is still open.
func (c *change) rollBack(ctx context.Context) error {
	const idle = 'I'
	if c.conn.IsClosed() || c.conn.PgConn().TxStatus() == idle {
		return nil
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), rollbackLimit)
	defer cancel()
	_, err := c.conn.Exec(ctx, rollback)
	return translate(err)
}

// queue keeps a statement for the commit.
func (c *change) queue(sql string, args ...any) { c.writes.Queue(sql, args...) }

// fail keeps the first reason why the change cannot be written.
func (c *change) fail(err error) {
	if c.err == nil {
		c.err = err
	}
}

func (c *change) Snapshot(n int) *hangar.Snapshot { return &c.snapshots[n] }

func (c *change) Base(ctx context.Context, id techlog.ID) (techlog.Base, error) {
	base, err := scanBase(c.conn.QueryRow(ctx, selectBaseHeld, c.org, uuid(id)))
	return base, absent(err, "base")
}

func (c *change) Squawk(ctx context.Context, id techlog.ID) (techlog.Squawk, error) {
	squawk, err := scanSquawk(c.conn.QueryRow(ctx, selectSquawk, c.org, uuid(id)))
	return squawk, absent(err, "squawk")
}

func (c *change) Flight(ctx context.Context, id techlog.ID) (techlog.Flight, error) {
	flight, err := scanFlight(c.conn.QueryRow(ctx, selectFlight, c.org, uuid(id)))
	return flight, absent(err, "flight")
}

// FlightsAt first keeps every other change from reading the base, and waits for those that have: a flight that they
// plan there is then among those listed.
func (c *change) FlightsAt(ctx context.Context, base techlog.ID, from time.Time) ([]techlog.Flight, error) {
	var batch pgx.Batch
	batch.Queue(lockBase, c.org, uuid(base))
	batch.Queue(selectFlightsAt, c.org, uuid(base), from)
	results := c.conn.SendBatch(ctx, &batch)
	_, _ = results.Exec() // an error stays with the results
	flights, err := collect(results, scanFlight)
	return flights, translate(finish(results, err))
}
