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
	insertCalendarFeed = `
		INSERT INTO calendar_feed (organization, id, digest, name, aircraft, maker, at) VALUES ($1, $2, $3, $4, $5, $6, $7)`
	revokeCalendarFeed = `INSERT INTO calendar_feed_revocation (organization, feed, at, by) VALUES ($1, $2, $3, $4)`

	// Whoever presents a calendar's secret asks for its organization from then on.
	becomeReaderOfFeed = `SELECT set_config('tiedown.organization', coalesce((SELECT organization::text FROM calendar_feed WHERE digest = $1), ''), true)`

	calendarFeedColumns = `
		SELECT f.organization, f.id, f.name, f.aircraft, f.maker, f.at,
			(SELECT r.at FROM calendar_feed_revocation r WHERE r.organization = f.organization AND r.feed = f.id)
		FROM calendar_feed f`
	selectLiveFeed = calendarFeedColumns + `
		WHERE f.digest = $1
			AND NOT EXISTS (SELECT FROM calendar_feed_revocation r WHERE r.organization = f.organization AND r.feed = f.id)
			AND EXISTS (SELECT FROM membership m WHERE m.organization = f.organization AND m.person = f.maker AND m.until IS NULL)`
	selectCalendarFeed  = calendarFeedColumns + ` WHERE f.organization = $1 AND f.id = $2`
	selectCalendarFeeds = calendarFeedColumns + `
		WHERE f.organization = $1 AND ($2::uuid IS NULL OR f.maker = $2) AND ($3::uuid IS NULL OR f.id > $3) ORDER BY f.id LIMIT $4`
)

// foundFeed is a calendar with the organization that it belongs to.
type foundFeed struct {
	organization techlog.ID
	feed         techlog.CalendarFeed
}

// CalendarFeed implements hangar.Store. Until the calendar is found nobody's organization is asked for, as with a token.
func (s *Store) CalendarFeed(ctx context.Context, digest [32]byte) (techlog.ID, techlog.CalendarFeed, error) {
	asks := bearer(digest).and(asking{ask(becomeReaderOfFeed, digest[:])})
	found, err := one(ctx, s, asks, ask(selectLiveFeed, digest[:]), scanFoundFeed)
	if errors.Is(err, pgx.ErrNoRows) {
		return techlog.ID{}, techlog.CalendarFeed{}, techlog.Errorf(techlog.KindNotFound, "there is no such calendar")
	}
	return found.organization, found.feed, translate(err)
}

// CalendarFeeds implements hangar.Store.
func (s *Store) CalendarFeeds(ctx context.Context, org, maker techlog.ID, page hangar.Page) ([]techlog.CalendarFeed, error) {
	asked := ask(selectCalendarFeeds, uuid(org), uuidOrNull(maker), uuidOrNull(page.After), page.Limit)
	return list(ctx, s, organization(org), asked, scanCalendarFeed)
}

func scanFoundFeed(row pgx.Row) (foundFeed, error) {
	var found foundFeed
	var aircraft *[16]byte
	var revoked *time.Time
	f := &found.feed
	err := row.Scan(into(&found.organization), into(&f.ID), &f.Name, &aircraft, into(&f.Maker), &f.MadeAt, &revoked)
	if aircraft != nil {
		f.Aircraft = *aircraft
	}
	f.Revoked = given(revoked)
	return found, err
}

func scanCalendarFeed(row pgx.Row) (techlog.CalendarFeed, error) {
	found, err := scanFoundFeed(row)
	return found.feed, err
}

// CalendarFeed implements hangar.Tx.
func (c *change) CalendarFeed(ctx context.Context, id techlog.ID) (techlog.CalendarFeed, error) {
	f, err := scanCalendarFeed(c.conn.QueryRow(ctx, selectCalendarFeed, c.org, uuid(id)))
	return f, absent(err, "calendar")
}

// AddCalendarFeed implements hangar.Tx.
func (c *change) AddCalendarFeed(f techlog.CalendarFeed, digest [32]byte) {
	c.write(feeds, insertCalendarFeed, c.org, uuid(f.ID), digest[:], f.Name, uuidOrNull(f.Aircraft), uuid(f.Maker), instant(f.MadeAt))
}

// RevokeCalendarFeed implements hangar.Tx.
func (c *change) RevokeCalendarFeed(id techlog.ID, at time.Time) {
	c.write(feedRevocations, revokeCalendarFeed, c.org, uuid(id), instant(at), c.scope.By)
}
