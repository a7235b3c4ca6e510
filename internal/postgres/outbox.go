package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/notice/webhook"
	"tiedown/internal/techlog"
)

// nobodyCame is for how long a lane that nobody holds may be due before it is taken that nobody was told, or whoever was told
// has been killed.
const nobodyCame = 10 * time.Second

// atOnceRelayed bounds the events that one transaction turns into deliveries, atOnceLoaded the deliveries that a courier
// takes along.
const (
	atOnceRelayed = 500
	atOnceLoaded  = 8
)

const (
	noAircraft  = `'00000000-0000-0000-0000-000000000000'`
	laneOfEvent = `coalesce(e.aircraft, ` + noAircraft + `)`
	// A webhook wants what it names. The event that tests it is for it alone.
	webhookWants = `
		CASE WHEN e.kind = '` + techlog.PingKind + `' THEN e.subject = w.id
			ELSE (w.kinds = '{}' OR e.kind = ANY (w.kinds) OR split_part(e.kind, '.', 1) = ANY (w.kinds))
				AND (w.aircraft IS NULL OR w.aircraft = e.aircraft) END`

	selectRelays    = `SELECT organization, place FROM webhook_relay ORDER BY organization`
	lockRelayIfFree = lockRelay + ` SKIP LOCKED`
	// A lane in which something waits already has somebody who comes. Its row is locked in either case: whoever is about to
	// find it empty finds what was added.
	relayEvents = `
		WITH fresh AS (
			SELECT e.place, e.kind, e.aircraft, e.subject FROM event e
			WHERE e.organization = $1 AND e.place > $2 ORDER BY e.place LIMIT $4),
		added AS (
			INSERT INTO delivery (organization, webhook, place, lane, state, attempts, queued_at, answer)
			SELECT $1::uuid, w.id, e.place, ` + laneOfEvent + `, 'pending', 0, $3::timestamptz, ''
			FROM fresh e JOIN webhook w ON w.organization = $1 AND w.state = 'on' AND ` + webhookWants + `
			ON CONFLICT ON CONSTRAINT delivery_pkey DO NOTHING
			RETURNING webhook, lane),
		woken AS (
			INSERT INTO delivery_lane AS l (organization, webhook, lane, due)
			SELECT DISTINCT $1::uuid, webhook, lane, $3::timestamptz FROM added ORDER BY webhook, lane
			ON CONFLICT ON CONSTRAINT delivery_lane_pkey DO UPDATE SET due = excluded.due WHERE l.due IS NULL
			RETURNING webhook, lane),
		moved AS (
			UPDATE webhook_relay SET place = (SELECT max(place) FROM fresh)
			WHERE organization = $1 AND EXISTS (SELECT FROM fresh))
		SELECT (SELECT count(*) FROM fresh), woken.webhook, woken.lane FROM (SELECT 1) one LEFT JOIN woken ON true`

	overdue       = `due <= $1 AND (holder IS NOT NULL OR due <= $2)`
	selectOverdue = `SELECT DISTINCT organization FROM delivery_lane WHERE ` + overdue
	remindOverdue = `
		UPDATE delivery_lane SET due = $1, holder = NULL WHERE organization = $3 AND ` + overdue + ` RETURNING webhook, lane`

	theLane  = `webhook = $2 AND lane = $3`
	takeLane = `
		UPDATE delivery_lane SET holder = $4, due = $6 WHERE organization = $1 AND ` + theLane + ` AND (holder = $4 OR due <= $5) RETURNING 1`
	selectLaneDue   = `SELECT due FROM delivery_lane WHERE organization = $1 AND ` + theLane + ` AND holder IS NULL AND due IS NOT NULL`
	selectLoad      = `SELECT ` + deliveryColumns + `, e.subject, e.by, e.at, e.changes` + deliveriesOf + ` AND d.lane = $3 AND d.state = 'pending' ORDER BY d.place LIMIT $4`
	giveBackIfEmpty = `
		UPDATE delivery_lane SET holder = NULL, due = NULL WHERE organization = $1 AND ` + theLane + ` AND holder = $4 AND NOT EXISTS (
			SELECT FROM delivery d WHERE d.organization = $1 AND d.webhook = $2 AND d.lane = $3 AND d.state = 'pending')`
	tellAttempt = `
		WITH held AS (
			UPDATE delivery_lane SET due = $5, holder = CASE WHEN $6 THEN holder END WHERE organization = $1 AND ` + theLane + ` AND holder = $4 RETURNING 1),
		told AS (
			UPDATE delivery SET state = $8, attempts = $9, tried_at = $10, next_at = $11, status = $12, answer = $13
			WHERE organization = $1 AND webhook = $2 AND place = $7 AND EXISTS (SELECT FROM held) RETURNING 1)
		SELECT w.version FROM webhook w WHERE w.organization = $1 AND w.id = $2 AND EXISTS (SELECT FROM held)`
	giveBack = `UPDATE delivery_lane SET holder = NULL, due = $5 WHERE organization = $1 AND ` + theLane + ` AND holder = $4`
	// The webhook is locked first: who turns it on meanwhile finds the lane parked, or it is not parked.
	parkLane = `
		WITH w AS (SELECT state FROM webhook WHERE organization = $1 AND id = $2 FOR SHARE)
		UPDATE delivery_lane SET holder = NULL, due = NULL FROM w WHERE organization = $1 AND ` + theLane + ` AND holder = $4 AND w.state <> 'on'`
)

// Behind implements webhook.Outbox.
func (s *Store) Behind(ctx context.Context) ([]techlog.ID, error) {
	type relay struct {
		organization techlog.ID
		place        int64
	}
	relays, err := list(ctx, s, keeper(), ask(selectRelays), func(row pgx.Row) (relay, error) {
		var r relay
		err := row.Scan(into(&r.organization), &r.place)
		return r, err
	})
	if err != nil || len(relays) == 0 {
		return nil, err
	}
	var batch pgx.Batch
	for _, r := range relays {
		organization(r.organization).queueOn(&batch)
		batch.Queue(selectLastEvent, uuid(r.organization))
	}
	results := s.pool.SendBatch(ctx, &batch)
	var behind []techlog.ID
	for _, r := range relays {
		organization(r.organization).skipOver(results)
		var last int64
		if err = results.QueryRow().Scan(&last); err != nil {
			break
		}
		if last > r.place {
			behind = append(behind, r.organization)
		}
	}
	return behind, translate(finish(results, err))
}

// Relay implements webhook.Outbox.
func (s *Store) Relay(ctx context.Context, org techlog.ID, at time.Time) (bool, error) {
	var moved int
	err := pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		var batch pgx.Batch
		organization(org).queueOn(&batch)
		batch.Queue(lockRelayIfFree, uuid(org))
		results := tx.SendBatch(ctx, &batch)
		organization(org).skipOver(results)
		places, err := collect(results, func(row pgx.Row) (int64, error) {
			var place int64
			err := row.Scan(&place)
			return place, err
		})
		if err = finish(results, err); err != nil || len(places) == 0 {
			return err
		}
		rows, err := tx.Query(ctx, relayEvents, uuid(org), places[0], instant(at), atOnceRelayed)
		if err != nil {
			return err
		}
		lanes, err := collectRows(rows, func(row pgx.Row) (*webhook.Lane, error) {
			var hook, lane *[16]byte
			if err := row.Scan(&moved, &hook, &lane); err != nil || hook == nil {
				return nil, err
			}
			return &webhook.Lane{Organization: org, Webhook: *hook, Aircraft: *lane}, nil
		})
		if err != nil {
			return err
		}
		return s.knock(ctx, tx, lanes)
	})
	return moved == atOnceRelayed, translate(err)
}

// Remind implements webhook.Outbox.
func (s *Store) Remind(ctx context.Context, at time.Time) error {
	organizations, err := list(ctx, s, keeper(), ask(selectOverdue, instant(at), instant(at.Add(-nobodyCame))), func(row pgx.Row) (techlog.ID, error) {
		var id techlog.ID
		err := row.Scan(into(&id))
		return id, err
	})
	for _, org := range organizations {
		if err == nil {
			err = s.remind(ctx, org, at)
		}
	}
	return err
}

func (s *Store) remind(ctx context.Context, org techlog.ID, at time.Time) error {
	return translate(pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, askOrganization, org.String()); err != nil {
			return err
		}
		rows, err := tx.Query(ctx, remindOverdue, instant(at), instant(at.Add(-nobodyCame)), uuid(org))
		if err != nil {
			return err
		}
		lanes, err := collectRows(rows, func(row pgx.Row) (*webhook.Lane, error) {
			lane := &webhook.Lane{Organization: org}
			err := row.Scan(into(&lane.Webhook), into(&lane.Aircraft))
			return lane, err
		})
		if err != nil {
			return err
		}
		return s.knock(ctx, tx, lanes)
	}))
}

// Take implements webhook.Outbox.
func (s *Store) Take(ctx context.Context, lane webhook.Lane, holder techlog.ID, at, until time.Time) (webhook.Load, error) {
	org, hook, aircraft := uuid(lane.Organization), uuid(lane.Webhook), uuid(lane.Aircraft)
	who := organization(lane.Organization)
	var batch pgx.Batch
	who.queueOn(&batch)
	batch.Queue(takeLane, org, hook, aircraft, uuid(holder), instant(at), instant(until))
	batch.Queue(selectLaneDue, org, hook, aircraft)
	batch.Queue(selectOneWebhook, org, hook)
	batch.Queue(selectGoodSecrets, org, hook, instant(at))
	batch.Queue(selectLoad, org, hook, aircraft, atOnceLoaded)
	batch.Queue(giveBackIfEmpty, org, hook, aircraft, uuid(holder))
	results := s.pool.SendBatch(ctx, &batch)
	who.skipOver(results)
	load, err := readLoad(results)
	if err = finish(results, err); err != nil {
		return webhook.Load{}, translate(err)
	}
	return load, nil
}

func readLoad(results pgx.BatchResults) (webhook.Load, error) {
	var load webhook.Load
	held, err := collect(results, scanCount)
	if err != nil {
		return load, err
	}
	due, err := collect(results, scanInstant)
	if err != nil {
		return load, err
	}
	if load.Held = len(held) > 0; !load.Held && len(due) > 0 {
		load.Due = due[0]
	}
	if load.Webhook, err = scanWebhook(results.QueryRow()); err != nil {
		return load, err
	}
	if load.Secrets, err = collect(results, scanWebhookSecret); err != nil {
		return load, err
	}
	load.Parcels, err = collect(results, scanParcel)
	return load, err
}

func scanParcel(row pgx.Row) (webhook.Parcel, error) {
	var d deliveryRow
	var e techlog.Event
	if err := row.Scan(append(d.columns(), into(&e.Subject), &e.By, &e.At, &e.Changes)...); err != nil {
		return webhook.Parcel{}, err
	}
	p := webhook.Parcel{Delivery: d.delivery(), Event: e}
	p.Event.ID, p.Event.Place, p.Event.Kind, p.Event.Aircraft = p.Delivery.Event, p.Delivery.Place, p.Delivery.Kind, p.Delivery.Aircraft
	return p, nil
}

// Tell implements webhook.Outbox.
func (s *Store) Tell(ctx context.Context, lane webhook.Lane, holder techlog.ID, d techlog.Delivery, keep bool, due time.Time) (int, error) {
	var status *int
	if d.Status != 0 {
		status = &d.Status
	}
	versions, err := list(ctx, s, organization(lane.Organization), ask(tellAttempt,
		uuid(lane.Organization), uuid(lane.Webhook), uuid(lane.Aircraft), uuid(holder), instant(due), keep,
		d.Place, string(d.State), d.Attempts, instantOrNull(d.Tried), instantOrNull(d.Next), status, d.Answer), scanCount)
	if err != nil || len(versions) == 0 {
		return 0, err
	}
	return versions[0], nil
}

// GiveBack implements webhook.Outbox.
func (s *Store) GiveBack(ctx context.Context, lane webhook.Lane, holder techlog.ID, at time.Time) error {
	return s.tell(ctx, organization(lane.Organization),
		ask(giveBack, uuid(lane.Organization), uuid(lane.Webhook), uuid(lane.Aircraft), uuid(holder), instant(at)))
}

// Park implements webhook.Outbox.
func (s *Store) Park(ctx context.Context, lane webhook.Lane, holder techlog.ID) error {
	return s.tell(ctx, organization(lane.Organization),
		ask(parkLane, uuid(lane.Organization), uuid(lane.Webhook), uuid(lane.Aircraft), uuid(holder)))
}
