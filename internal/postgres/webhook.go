package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

const (
	selectWebhook = `
		SELECT w.id, w.url, w.kinds, w.aircraft, w.state, w.by, w.at, w.version,
			(SELECT max(s.until) FROM webhook_secret s WHERE s.organization = w.organization AND s.webhook = w.id)
		FROM webhook w WHERE w.organization = $1`
	selectWebhooks   = selectWebhook + ` AND w.id > $2 ORDER BY w.id LIMIT $3`
	selectOneWebhook = selectWebhook + ` AND w.id = $2`
	// A change that reads a webhook is alone with it.
	selectWebhookHeld = selectOneWebhook + ` FOR UPDATE`

	insertWebhook = `
		INSERT INTO webhook (organization, id, url, kinds, aircraft, state, by, at, version)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`
	updateWebhook = `
		WITH changed AS (
			UPDATE webhook SET url = $3, kinds = $4, aircraft = $5, state = $6, version = $9
			WHERE organization = $1 AND id = $2 AND by = $7 AND at = $8 AND version = $9 - 1
			RETURNING 1)
		SELECT expect(count(*), 1, '` + changedMeanwhile + `') FROM changed`
	// What happened before there was a webhook is not sent.
	beginRelay = `
		INSERT INTO webhook_relay (organization, place)
		SELECT $1, coalesce(max(place), 0) FROM event WHERE organization = $1
		ON CONFLICT ON CONSTRAINT webhook_relay_pkey DO NOTHING`
	// A lane that is long overdue is knocked for with the next look.
	wakeLanes = `
		UPDATE delivery_lane l SET due = $3
		WHERE organization = $1 AND webhook = $2 AND holder IS NULL AND EXISTS (
			SELECT FROM delivery d WHERE d.organization = $1 AND d.webhook = $2 AND d.lane = l.lane AND d.state = 'pending')`

	insertWebhookSecret = `INSERT INTO webhook_secret (organization, webhook, id, sealed, at) VALUES ($1, $2, $3, $4, $5)`
	retireSecrets       = `UPDATE webhook_secret SET until = $3 WHERE organization = $1 AND webhook = $2 AND until IS NULL`
	endOldSecrets       = `UPDATE webhook_secret SET until = $3 WHERE organization = $1 AND webhook = $2 AND until > $3`
	selectGoodSecrets   = `
		SELECT id, sealed, at, until FROM webhook_secret
		WHERE organization = $1 AND webhook = $2 AND (until IS NULL OR until > $3) ORDER BY id DESC`

	deliveryColumns  = `d.place, e.id, e.kind, e.aircraft, d.state, d.attempts, d.queued_at, d.tried_at, d.next_at, d.status, d.answer`
	deliveriesOf     = ` FROM delivery d JOIN event e ON e.organization = d.organization AND e.place = d.place WHERE d.organization = $1 AND d.webhook = $2`
	selectDeliveries = `SELECT ` + deliveryColumns + deliveriesOf + `
		AND ($3::text = '' OR d.state = $3) AND ($4::bigint = 0 OR d.place < $4) ORDER BY d.place DESC LIMIT $5`

	lockLanes = `SELECT 1 FROM delivery_lane WHERE organization = $1 AND webhook = $2 ORDER BY lane FOR UPDATE`
	lockRelay = `SELECT place FROM webhook_relay WHERE organization = $1 FOR UPDATE`
	requeued  = `
		, woken AS (
			INSERT INTO delivery_lane AS l (organization, webhook, lane, due)
			SELECT DISTINCT $1::uuid, $2::uuid, lane, $4::timestamptz FROM again
			ON CONFLICT ON CONSTRAINT delivery_lane_pkey DO UPDATE SET due = excluded.due WHERE l.due IS NULL)
		SELECT count(*) FROM again`
	requeueDead = `
		WITH again AS (UPDATE delivery SET state = 'pending', attempts = 0, queued_at = $3, next_at = NULL WHERE organization = $1 AND webhook = $2 AND state = 'dead' RETURNING lane)` + requeued
	requeueOne = `
		WITH again AS (UPDATE delivery SET state = 'pending', attempts = 0, queued_at = $3, next_at = NULL WHERE organization = $1 AND webhook = $2 AND place = $5 AND state <> 'pending' RETURNING lane)` + requeued
	requeueFrom = `
		WITH again AS (
			INSERT INTO delivery AS d (organization, webhook, place, lane, state, attempts, queued_at, answer)
			SELECT $1::uuid, $2::uuid, e.place, ` + laneOfEvent + `, 'pending', 0, $3::timestamptz, ''
			FROM event e JOIN webhook w ON w.organization = $1 AND w.id = $2 AND ` + webhookWants + `
			WHERE e.organization = $1 AND e.place >= $5 AND e.place <= $6
			ON CONFLICT ON CONSTRAINT delivery_pkey DO UPDATE SET state = 'pending', attempts = 0, queued_at = $3, next_at = NULL WHERE d.state <> 'pending'
			RETURNING lane)` + requeued
)

func (s *Store) Webhooks(ctx context.Context, org techlog.ID, page hangar.Page) ([]techlog.Webhook, error) {
	return list(ctx, s, organization(org), ask(selectWebhooks, uuid(org), uuid(page.After), page.Limit), scanWebhook)
}

func (s *Store) Webhook(ctx context.Context, org, id techlog.ID) (techlog.Webhook, error) {
	w, err := one(ctx, s, organization(org), ask(selectOneWebhook, uuid(org), uuid(id)), scanWebhook)
	return w, absent(err, "webhook")
}

func scanWebhook(row pgx.Row) (techlog.Webhook, error) {
	var w techlog.Webhook
	var aircraft *[16]byte
	var old *time.Time
	err := row.Scan(into(&w.ID), &w.URL, &w.Kinds, &aircraft, &w.State, &w.By, &w.At, &w.Version, &old)
	w.Aircraft, w.OldSecretsUntil = idOrZero(aircraft), given(old)
	return w, err
}

// Deliveries lists the newest first.
func (s *Store) Deliveries(ctx context.Context, org, webhook techlog.ID, filter hangar.DeliveryFilter) ([]techlog.Delivery, error) {
	q := ask(selectDeliveries, uuid(org), uuid(webhook), string(filter.State), filter.Before, filter.Limit)
	return list(ctx, s, organization(org), q, scanDelivery)
}

func scanDelivery(row pgx.Row) (techlog.Delivery, error) {
	var d deliveryRow
	err := row.Scan(d.columns()...)
	return d.delivery(), err
}

// deliveryRow is what the columns of a delivery are read into.
type deliveryRow struct {
	techlog.Delivery
	aircraft    *[16]byte
	tried, next *time.Time
	status      *int
}

func (d *deliveryRow) columns() []any {
	return []any{&d.Place, into(&d.Event), &d.Kind, &d.aircraft, &d.State, &d.Attempts, &d.Queued, &d.tried, &d.next, &d.status, &d.Answer}
}

func (d *deliveryRow) delivery() techlog.Delivery {
	d.Aircraft, d.Tried, d.Next, d.Status = idOrZero(d.aircraft), given(d.tried), given(d.next), given(d.status)
	return d.Delivery
}

func (c *change) Webhook(ctx context.Context, id techlog.ID) (techlog.Webhook, error) {
	w, err := scanWebhook(c.conn.QueryRow(ctx, selectWebhookHeld, c.org, uuid(id)))
	return w, absent(err, "webhook")
}

func (c *change) AddWebhook(w techlog.Webhook) {
	c.write(webhooks, insertWebhook, c.webhookRow(w)...)
	c.queue(beginRelay, c.org)
}

func (c *change) UpdateWebhook(w techlog.Webhook) {
	c.write(webhooks, updateWebhook, c.webhookRow(w)...)
	if w.State == techlog.WebhookOn {
		c.queue(wakeLanes, c.org, uuid(w.ID), instant(c.scope.At.Add(-nobodyCame)))
	}
}

func (c *change) webhookRow(w techlog.Webhook) []any {
	return []any{c.org, uuid(w.ID), w.URL, filled(w.Kinds), uuidOrNull(w.Aircraft), string(w.State), w.By, instant(w.At), w.Version}
}

func (c *change) WebhookSecrets(ctx context.Context, webhook techlog.ID) ([]techlog.WebhookSecret, error) {
	rows, err := c.conn.Query(ctx, selectGoodSecrets, c.org, uuid(webhook), instant(c.scope.At))
	if err != nil {
		return nil, translate(err)
	}
	secrets, err := collectRows(rows, scanWebhookSecret)
	return secrets, translate(err)
}

func scanWebhookSecret(row pgx.Row) (techlog.WebhookSecret, error) {
	var s techlog.WebhookSecret
	var until *time.Time
	err := row.Scan(into(&s.ID), &s.Sealed, &s.At, &until)
	s.Until = given(until)
	return s, err
}

func (c *change) AddWebhookSecret(webhook techlog.ID, s techlog.WebhookSecret, oldUntil time.Time) {
	c.queue(retireSecrets, c.org, uuid(webhook), instant(oldUntil))
	c.queue(insertWebhookSecret, c.org, uuid(webhook), uuid(s.ID), s.Sealed, instant(s.At))
}

func (c *change) EndOldWebhookSecrets(webhook techlog.ID) {
	c.queue(endOldSecrets, c.org, uuid(webhook), instant(c.scope.At))
}

// Requeue takes the lanes first, as couriers do, so that no two wait for each other.
func (c *change) Requeue(ctx context.Context, webhook techlog.ID, which hangar.Replay) (int, error) {
	at, overdue := instant(c.scope.At), instant(c.scope.At.Add(-nobodyCame))
	if _, err := c.conn.Exec(ctx, lockLanes, c.org, uuid(webhook)); err != nil {
		return 0, translate(err)
	}
	q := ask(requeueDead, c.org, uuid(webhook), at, overdue)
	switch {
	case which.Place != 0:
		q = ask(requeueOne, c.org, uuid(webhook), at, overdue, which.Place)
	case which.From != 0:
		var relayed int64 // what is behind it becomes deliveries by itself
		if err := c.conn.QueryRow(ctx, lockRelay, c.org).Scan(&relayed); err != nil {
			return 0, translate(err)
		}
		q = ask(requeueFrom, c.org, uuid(webhook), at, overdue, which.From, relayed)
	}
	n, err := scanCount(c.conn.QueryRow(ctx, q.sql, q.args...))
	return n, translate(err)
}
