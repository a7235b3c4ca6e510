package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

const (
	selectSignaturesWhere = `
		SELECT id, aircraft, squawk, action, person, name, certificate, certificate_version, certificate_kind, certificate_number, ratings,
			authority, digest, text, proven, day, at, corrects
		FROM signature WHERE organization = $1`
	selectSignaturesOfSquawk   = selectSignaturesWhere + ` AND squawk = $2 ORDER BY id`
	selectSignaturesOfAircraft = selectSignaturesWhere + ` AND aircraft = $2 AND squawk IS NULL ORDER BY id`
	insertSignature            = `
		INSERT INTO signature (organization, id, aircraft, squawk, action, person, name, certificate, certificate_version, certificate_kind,
			certificate_number, ratings, authority, digest, text, proven, day, at, corrects)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19)`
)

func signaturesOf(org [16]byte, aircraft, squawk techlog.ID) query {
	if squawk.IsZero() {
		return ask(selectSignaturesOfAircraft, org, uuid(aircraft))
	}
	return ask(selectSignaturesOfSquawk, org, uuid(squawk))
}

// Signatures lists what was signed about a squawk, or about an aircraft itself, oldest first.
func (s *Store) Signatures(ctx context.Context, org, aircraft, squawk techlog.ID) ([]techlog.Signature, error) {
	return list(ctx, s, organization(org), signaturesOf(uuid(org), aircraft, squawk), scanSignature)
}

func (c *change) Signatures(ctx context.Context, aircraft, squawk techlog.ID) ([]techlog.Signature, error) {
	q := signaturesOf(c.org, aircraft, squawk)
	return listed(ctx, c, scanSignature, q.sql, q.args...)
}

// Answered reads the first answer to a request. Kind key-reused if its key stands for another one.
func (s *Store) Answered(ctx context.Context, org techlog.ID, once hangar.Once) ([]byte, error) {
	earlier, err := one(ctx, s, organization(org), ask(selectAnswer, uuid(org), uuid(once.Token), once.Key), scanEarlierAnswer)
	if err != nil || earlier == nil {
		return nil, translate(err)
	}
	return earlier.replay(&once)
}

func scanSignature(row pgx.Row) (techlog.Signature, error) {
	var s techlog.Signature
	var squawk, corrects *[16]byte
	var digest []byte
	var day time.Time
	err := row.Scan(into(&s.ID), into(&s.Aircraft), &squawk, &s.Action, into(&s.Person), &s.Name, into(&s.Certificate), &s.CertificateVersion,
		&s.CertificateKind, &s.CertificateNumber, &s.Ratings, &s.Authority, &digest, &s.Text, &s.Proven, &day, &s.At, &corrects)
	s.Squawk, s.Corrects, s.Day = idOrZero(squawk), idOrZero(corrects), writtenDate(&day)
	copy(s.Digest[:], digest)
	return s, err
}

func (c *change) AddSignature(s techlog.Signature) {
	day, err := dateOrNull("day", s.Day)
	if err != nil {
		c.fail(err)
		return
	}
	c.write(signatures, insertSignature, c.org, uuid(s.ID), uuid(s.Aircraft), uuidOrNull(s.Squawk), s.Action, uuid(s.Person), s.Name,
		uuid(s.Certificate), s.CertificateVersion, string(s.CertificateKind), s.CertificateNumber, filled(s.Ratings), filled(s.Authority),
		s.Digest[:], s.Text, s.Proven, day, instant(s.At), uuidOrNull(s.Corrects))
}
