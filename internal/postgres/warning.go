package postgres

import (
	"context"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

const (
	selectLeads = `SELECT version, days, at, by FROM warning_leads WHERE organization = $1 ORDER BY version DESC LIMIT 1`
	insertLeads = `INSERT INTO warning_leads (organization, version, days, at, by) VALUES ($1, $2, $3, $4, $5)`

	selectWarningsWhere = `
		SELECT w.id, w.aircraft, a.registration, w.thing, w.due, w.days, w.lead, w.what, w.says, w.squawk, w.flights, w.at
		FROM warning w JOIN aircraft a ON a.organization = w.organization AND a.id = w.aircraft WHERE w.organization = $1`
	selectWarning  = selectWarningsWhere + ` AND w.id = $2`
	selectWarnings = selectWarningsWhere + ` AND ($2::uuid IS NULL OR w.aircraft = $2) AND ($3::uuid IS NULL OR w.id < $3) ORDER BY w.id DESC LIMIT $4`
	selectWarned   = selectWarningsWhere + ` AND w.aircraft = $2 AND w.due >= $3`
	insertWarning  = `
		INSERT INTO warning (organization, id, aircraft, thing, due, days, lead, what, says, squawk, flights, at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)`
)

// WarningLeads implements hangar.WarningStore.
func (s *Store) WarningLeads(ctx context.Context, org techlog.ID) (techlog.WarningLeads, error) {
	leads, err := one(ctx, s, organization(org), ask(selectLeads, uuid(org)), scanLeads)
	return leads, translate(err)
}

// scanLeads reads them; no row is version 0.
func scanLeads(row pgx.Row) (techlog.WarningLeads, error) {
	var l techlog.WarningLeads
	err := row.Scan(&l.Version, &l.Days, &l.At, &l.By)
	if errors.Is(err, pgx.ErrNoRows) {
		return l, nil
	}
	return l, err
}

// Warnings implements hangar.WarningStore.
func (s *Store) Warnings(ctx context.Context, org, aircraft techlog.ID, page hangar.Page) ([]techlog.Warning, error) {
	return list(ctx, s, organization(org), ask(selectWarnings, uuid(org), uuidOrNull(aircraft), uuidOrNull(page.After), page.Limit), scanWarning)
}

// Warning implements hangar.WarningStore.
func (s *Store) Warning(ctx context.Context, org, id techlog.ID) (techlog.Warning, error) {
	w, err := one(ctx, s, organization(org), ask(selectWarning, uuid(org), uuid(id)), scanWarning)
	return w, absent(err, "warning")
}

// Warned implements hangar.WarningStore.
func (s *Store) Warned(ctx context.Context, org, aircraft techlog.ID, from string) ([]techlog.Warning, error) {
	day, err := dateOrNull("from", from)
	if err != nil {
		return nil, err
	}
	return list(ctx, s, organization(org), ask(selectWarned, uuid(org), uuid(aircraft), day), scanWarning)
}

func scanWarning(row pgx.Row) (techlog.Warning, error) {
	var w techlog.Warning
	var due time.Time
	var squawk *[16]byte
	var flights [][16]byte
	err := row.Scan(into(&w.ID), into(&w.Aircraft), &w.Registration, &w.Thing, &due, &w.Days, &w.Lead, &w.What, &w.Says, &squawk, &flights, &w.At)
	w.Due, w.Squawk = writtenDate(&due), idOrZero(squawk)
	for _, f := range flights {
		w.Flights = append(w.Flights, f)
	}
	return w, err
}

// WarningLeads implements hangar.Tx.
func (c *change) WarningLeads(ctx context.Context) (techlog.WarningLeads, error) {
	leads, err := scanLeads(c.conn.QueryRow(ctx, selectLeads, c.org))
	return leads, translate(err)
}

func (c *change) AddWarningLeads(l techlog.WarningLeads) {
	c.queue(insertLeads, c.org, l.Version, filled(l.Days), instant(l.At), l.By)
}

func (c *change) AddWarning(w techlog.Warning) {
	due, err := dateOrNull("due", w.Due)
	if err != nil {
		c.fail(err)
		return
	}
	flights := make([][16]byte, len(w.Flights))
	for i, f := range w.Flights {
		flights[i] = f
	}
	c.queue(insertWarning, c.org, uuid(w.ID), uuid(w.Aircraft), w.Thing, due, w.Days, w.Lead, w.What, w.Says, uuidOrNull(w.Squawk), flights, instant(w.At))
}
