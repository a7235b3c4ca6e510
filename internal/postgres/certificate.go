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
	certificateColumns = `
		SELECT c.id, c.version, c.person, c.name, c.kind, c.number, c.grade, c.ratings, c.trained, c.valid_from, c.valid_until,
			c.recent_from, c.recent_until, c.ended, c.entered_by, c.by, c.at
		FROM certificate c`
	// The newest version of each: none follows it.
	selectCertificatesWhere = certificateColumns + `
		WHERE c.organization = $1 AND NOT EXISTS (
			SELECT FROM certificate n WHERE n.organization = c.organization AND n.id = c.id AND n.version = c.version + 1)`
	selectCertificatesOf      = selectCertificatesWhere + ` AND c.person = $2 ORDER BY c.id`
	selectCertificateVersions = certificateColumns + ` WHERE c.organization = $1 AND c.id = $2 ORDER BY c.version`
	insertCertificate         = `
		INSERT INTO certificate (organization, id, version, person, name, kind, number, grade, ratings, trained, valid_from, valid_until,
			recent_from, recent_until, ended, entered_by, by, at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18)`

	standingColumns = `
		SELECT s.id, s.version, s.person, s.name, s.aircraft, s.kind, s.valid_from, s.valid_until, s.ended, s.entered_by, s.by, s.at
		FROM standing s`
	selectStandingsWhere = standingColumns + `
		WHERE s.organization = $1 AND NOT EXISTS (
			SELECT FROM standing n WHERE n.organization = s.organization AND n.id = s.id AND n.version = s.version + 1)`
	selectStandingVersions = standingColumns + ` WHERE s.organization = $1 AND s.id = $2 ORDER BY s.version`
	selectStandingsOf      = selectStandingsWhere + ` AND s.person = $2 ORDER BY s.id`
	insertStanding         = `
		INSERT INTO standing (organization, id, version, person, name, aircraft, kind, valid_from, valid_until, ended, entered_by, by, at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)`
)

// Certificates lists the newest version of each certificate, in the order of their identifiers.
func (s *Store) Certificates(ctx context.Context, org, person techlog.ID, page hangar.Page) ([]techlog.Certificate, error) {
	f := filtered(selectCertificatesWhere, uuid(org))
	if !person.IsZero() {
		f.and(`c.person = `, uuid(person))
	}
	f.and(`c.id > `, uuid(page.After))
	return list(ctx, s, organization(org), f.first(page.Limit, `c.id`), scanCertificate)
}

// CertificateVersions lists the versions of one certificate, oldest first.
func (s *Store) CertificateVersions(ctx context.Context, org, id techlog.ID) ([]techlog.Certificate, error) {
	return list(ctx, s, organization(org), ask(selectCertificateVersions, uuid(org), uuid(id)), scanCertificate)
}

// Standings lists the newest version of each standing, in the order of their identifiers.
func (s *Store) Standings(ctx context.Context, org, person techlog.ID, page hangar.Page) ([]techlog.Standing, error) {
	f := filtered(selectStandingsWhere, uuid(org))
	if !person.IsZero() {
		f.and(`s.person = `, uuid(person))
	}
	f.and(`s.id > `, uuid(page.After))
	return list(ctx, s, organization(org), f.first(page.Limit, `s.id`), scanStanding)
}

// StandingVersions lists the versions of one standing, oldest first.
func (s *Store) StandingVersions(ctx context.Context, org, id techlog.ID) ([]techlog.Standing, error) {
	return list(ctx, s, organization(org), ask(selectStandingVersions, uuid(org), uuid(id)), scanStanding)
}

func scanCertificate(row pgx.Row) (techlog.Certificate, error) {
	var c techlog.Certificate
	var from, until, recentFrom, recentUntil *time.Time
	err := row.Scan(into(&c.ID), &c.Version, into(&c.Person), &c.Name, &c.Kind, &c.Number, &c.Grade, &c.Ratings, &c.Trained,
		&from, &until, &recentFrom, &recentUntil, &c.Ended, into(&c.EnteredBy), &c.By, &c.At)
	c.From, c.Until = writtenDate(from), writtenDate(until)
	c.RecentFrom, c.RecentUntil = writtenDate(recentFrom), writtenDate(recentUntil)
	return c, err
}

func scanStanding(row pgx.Row) (techlog.Standing, error) {
	var s techlog.Standing
	var aircraft *[16]byte
	var from, until *time.Time
	err := row.Scan(into(&s.ID), &s.Version, into(&s.Person), &s.Name, &aircraft, &s.Kind, &from, &until, &s.Ended,
		into(&s.EnteredBy), &s.By, &s.At)
	s.Aircraft, s.From, s.Until = idOrZero(aircraft), writtenDate(from), writtenDate(until)
	return s, err
}

func (c *change) Certificates(ctx context.Context, person techlog.ID) ([]techlog.Certificate, error) {
	return listed(ctx, c, scanCertificate, selectCertificatesOf, c.org, uuid(person))
}

func (c *change) Standings(ctx context.Context, person techlog.ID) ([]techlog.Standing, error) {
	return listed(ctx, c, scanStanding, selectStandingsOf, c.org, uuid(person))
}

// listed reads every row within a change.
func listed[T any](ctx context.Context, c *change, scan scanner[T], sql string, args ...any) ([]T, error) {
	rows, err := c.conn.Query(ctx, sql, args...)
	if err != nil {
		return nil, translate(err)
	}
	records, err := collectRows(rows, scan)
	return records, translate(err)
}

func (c *change) AddCertificate(k techlog.Certificate) {
	from, wrong := dateOrNull("valid_from", k.From)
	until, wrong2 := dateOrNull("valid_until", k.Until)
	recentFrom, wrong3 := dateOrNull("recent_from", k.RecentFrom)
	recentUntil, wrong4 := dateOrNull("recent_until", k.RecentUntil)
	if err := errors.Join(wrong, wrong2, wrong3, wrong4); err != nil {
		c.fail(err)
		return
	}
	c.write(certificates, insertCertificate, c.org, uuid(k.ID), k.Version, uuid(k.Person), k.Name, string(k.Kind), k.Number, k.Grade,
		filled(k.Ratings), filled(k.Trained), from, until, recentFrom, recentUntil, k.Ended, uuid(k.EnteredBy), k.By, instant(k.At))
}

func (c *change) AddStanding(s techlog.Standing) {
	from, wrong := dateOrNull("valid_from", s.From)
	until, wrong2 := dateOrNull("valid_until", s.Until)
	if err := errors.Join(wrong, wrong2); err != nil {
		c.fail(err)
		return
	}
	c.write(standings, insertStanding, c.org, uuid(s.ID), s.Version, uuid(s.Person), s.Name, uuidOrNull(s.Aircraft), string(s.Kind), from, until,
		s.Ended, uuid(s.EnteredBy), s.By, instant(s.At))
}
