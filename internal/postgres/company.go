package postgres

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

const (
	selectCompanyRules = `
		SELECT version, rules, policy, at, by FROM company_rules WHERE organization = $1 ORDER BY version DESC LIMIT 1`
	insertCompanyRules = `
		INSERT INTO company_rules (organization, version, rules, policy, at, by) VALUES ($1, $2, $3, $4, $5, $6)`
	// Every aircraft is judged by these rules: what is known of each is out of date. They are locked in the order in
	// which every change takes its locks.
	outdateFleet = `
		WITH fleet AS (SELECT id FROM aircraft WHERE organization = $1 ORDER BY id FOR NO KEY UPDATE)
		UPDATE aircraft a SET plan_version = plan_version + 1, state_version = state_version + 1
		FROM fleet WHERE a.organization = $1 AND a.id = fleet.id`

	selectDetermination  = `SELECT id, flight, at, by, verdict, record FROM determination WHERE organization = $1 AND id = $2`
	selectDeterminations = `
		SELECT id, flight, at, by, verdict, record FROM determination
		WHERE organization = $1 AND flight = $2 AND id > $3 ORDER BY id LIMIT $4`
	insertDetermination = `
		INSERT INTO determination (organization, id, flight, at, by, verdict, record) VALUES ($1, $2, $3, $4, $5, $6, $7)`
)

// CompanyRules reads an organization's current rules: version 0 if it has written none.
func (s *Store) CompanyRules(ctx context.Context, org techlog.ID) (techlog.CompanyRules, error) {
	rules, err := one(ctx, s, organization(org), ask(selectCompanyRules, uuid(org)), scanCompanyRules)
	return rules, translate(err)
}

// Determinations lists what was kept of a flight's determinations, oldest first.
func (s *Store) Determinations(ctx context.Context, org, flight techlog.ID, page hangar.Page) ([]techlog.KeptDetermination, error) {
	return list(ctx, s, organization(org),
		ask(selectDeterminations, uuid(org), uuid(flight), uuid(page.After), page.Limit), scanDetermination)
}

// Determination reads one that was kept. Kind not-found if there is none.
func (s *Store) Determination(ctx context.Context, org, id techlog.ID) (techlog.KeptDetermination, error) {
	d, err := one(ctx, s, organization(org), ask(selectDetermination, uuid(org), uuid(id)), scanDetermination)
	return d, absent(err, "determination")
}

// scanCompanyRules reads the rules; no row is version 0.
func scanCompanyRules(row pgx.Row) (techlog.CompanyRules, error) {
	var r techlog.CompanyRules
	err := row.Scan(&r.Version, &r.Rules, &r.Policy, &r.At, &r.By)
	if errors.Is(err, pgx.ErrNoRows) {
		return r, nil
	}
	return r, err
}

func scanDetermination(row pgx.Row) (techlog.KeptDetermination, error) {
	var d techlog.KeptDetermination
	err := row.Scan(into(&d.ID), into(&d.Flight), &d.At, &d.By, &d.Verdict, &d.Record)
	return d, err
}

func (c *change) CompanyRules(ctx context.Context) (techlog.CompanyRules, error) {
	rules, err := scanCompanyRules(c.conn.QueryRow(ctx, selectCompanyRules, c.org))
	return rules, translate(err)
}

func (c *change) AddCompanyRules(r techlog.CompanyRules) {
	c.write(rulebooks, insertCompanyRules, c.org, r.Version, filled(r.Rules), r.Policy, instant(r.At), r.By)
	c.queue(outdateFleet, c.org)
}

func (c *change) AddDetermination(d techlog.KeptDetermination) {
	c.write(determinations, insertDetermination, c.org, uuid(d.ID), uuid(d.Flight), instant(d.At), d.By, d.Verdict, d.Record)
}
