package postgres

import (
	"context"
	"time"

	"tiedown/internal/techlog"
)

// A row that is younger by the database's own clock is not seen by these, and so is left, whatever is asked for.
const (
	forgetSessions   = `WITH gone AS (DELETE FROM session WHERE least(until, ended_at) < $1 RETURNING 1) SELECT count(*) FROM gone`
	forgetChallenges = `WITH gone AS (DELETE FROM challenge WHERE until < $1 RETURNING 1) SELECT count(*) FROM gone`
	forgetAttempts   = `WITH gone AS (DELETE FROM attempt WHERE greatest(at, until) < $1 RETURNING 1) SELECT count(*) FROM gone`
	forgetAnswers    = `
		WITH gone AS (DELETE FROM idempotency WHERE organization = $1 AND at < least($2, now() - interval '30 days') RETURNING 1)
		SELECT count(*) FROM gone`
)

// ForgetEnded implements hangar.Keeper.
func (s *Store) ForgetEnded(ctx context.Context, before time.Time) (int, error) {
	n := 0
	for _, sql := range []string{forgetSessions, forgetChallenges, forgetAttempts} {
		gone, err := one(ctx, s, keeper(), ask(sql, instant(before)), scanCount)
		if err != nil {
			return n, translate(err)
		}
		n += gone
	}
	return n, nil
}

// ForgetAnswers implements hangar.Keeper.
func (s *Store) ForgetAnswers(ctx context.Context, org techlog.ID, before time.Time) (int, error) {
	n, err := one(ctx, s, organization(org), ask(forgetAnswers, uuid(org), instant(before)), scanCount)
	return n, translate(err)
}
