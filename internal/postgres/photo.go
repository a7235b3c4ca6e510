package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

const (
	selectPhotosWhere = `
		SELECT id, squawk, walkaround, result, signature, type, digest, thumbnail, size, width, height, at, by
		FROM photo WHERE organization = $1`
	selectPhoto             = selectPhotosWhere + ` AND id = $2`
	countPhotosWhere        = `SELECT count(*) FROM photo WHERE organization = $1`
	countPhotosOfWalkaround = countPhotosWhere + ` AND walkaround = $2`
	// Those of a squawk, and of the finding that it was filed of. Each is found by an index of its own. The squawk is the
	// second argument.
	ofSquawk = `id IN (
		SELECT p.id FROM walkaround_squawk f JOIN photo p ON p.organization = f.organization AND p.walkaround = f.walkaround AND p.result = f.result
		WHERE f.organization = $1 AND f.squawk = $2
		UNION ALL SELECT p.id FROM photo p WHERE p.organization = $1 AND p.squawk = `
	insertPhoto = `
		INSERT INTO photo (organization, id, squawk, walkaround, result, signature, type, digest, thumbnail, size, width, height, at, by)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)`

	selectAircraftOfSquawk    = `SELECT aircraft FROM squawk WHERE organization = $1 AND id = $2`
	selectAircraftOfSignature = `SELECT aircraft FROM signature WHERE organization = $1 AND id = $2`
	selectAircraftOfResult    = `
		SELECT w.aircraft FROM walkaround_report r JOIN walkaround w ON w.organization = r.organization AND w.id = r.walkaround
		WHERE r.organization = $1 AND r.walkaround = $2 AND $3 = ANY (r.ids)`

	selectContentInUse = `
		SELECT d.digest FROM unnest($2::bytea[]) AS d (digest) CROSS JOIN LATERAL (
			SELECT FROM photo p WHERE p.organization = $1 AND p.digest = d.digest
			UNION ALL SELECT FROM photo p WHERE p.organization = $1 AND p.thumbnail = d.digest
			LIMIT 1) AS used` // the limit keeps it from reading every photo for a list of digests

	putContent = `
		INSERT INTO content (organization, digest, bytes, at) VALUES ($1, $2, $3, $4)
		ON CONFLICT (organization, digest) DO UPDATE SET at = greatest(content.at, excluded.at)`
	selectContent       = `SELECT bytes FROM content WHERE organization = $1 AND digest = $2`
	selectContentBefore = `SELECT digest FROM content WHERE organization = $1 AND digest > $2 AND at < $3 ORDER BY digest LIMIT $4`
	// Whoever puts it again at the same moment is waited for, and its age is looked at again.
	dropContent = `DELETE FROM content WHERE organization = $1 AND digest = $2 AND at < $3`
)

// sweptAtOnce bounds how much content is listed to be swept.
const sweptAtOnce = 1000

// Photos lists photos, oldest first.
func (s *Store) Photos(ctx context.Context, org techlog.ID, f hangar.PhotoFilter, page hangar.Page) ([]techlog.Photo, error) {
	q := photosOf(selectPhotosWhere, org, f)
	q.and(`id > `, uuid(page.After))
	return list(ctx, s, organization(org), q.first(page.Limit, `id`), scanPhoto)
}

// CountPhotos counts those of a filter.
func (s *Store) CountPhotos(ctx context.Context, org techlog.ID, f hangar.PhotoFilter) (int, error) {
	n, err := one(ctx, s, organization(org), photosOf(countPhotosWhere, org, f).all(), scanInto[int])
	return n, translate(err)
}

func photosOf(sql string, org techlog.ID, f hangar.PhotoFilter) *filter {
	q := filtered(sql, uuid(org))
	if !f.Squawk.IsZero() {
		q.and(ofSquawk, uuid(f.Squawk))
		q.close()
	}
	if !f.Walkaround.IsZero() {
		q.and(`walkaround = `, uuid(f.Walkaround))
	}
	if !f.Signature.IsZero() {
		q.and(`signature = `, uuid(f.Signature))
	}
	return q
}

// Photo reads one. Kind not-found if there is none.
func (s *Store) Photo(ctx context.Context, org, id techlog.ID) (techlog.Photo, error) {
	p, err := one(ctx, s, organization(org), ask(selectPhoto, uuid(org), uuid(id)), scanPhoto)
	return p, absent(err, "photo")
}

// PhotoSubject finds the aircraft of what a photo is to belong to.
func (s *Store) PhotoSubject(ctx context.Context, org techlog.ID, of techlog.PhotoOf) (techlog.ID, error) {
	q, what := ask(selectAircraftOfSquawk, uuid(org), uuid(of.Squawk)), "squawk"
	switch {
	case !of.Result.IsZero():
		q, what = ask(selectAircraftOfResult, uuid(org), uuid(of.Walkaround), uuid(of.Result)), "result"
	case !of.Signature.IsZero():
		q, what = ask(selectAircraftOfSignature, uuid(org), uuid(of.Signature)), "signature"
	}
	id, err := one(ctx, s, organization(org), q, scanInto[[16]byte])
	return id, absent(err, what)
}

// ContentInUse picks those digests that a photo has.
func (s *Store) ContentInUse(ctx context.Context, org techlog.ID, digests [][32]byte) ([][32]byte, error) {
	raw := make([][]byte, len(digests))
	for i := range digests {
		raw[i] = digests[i][:]
	}
	return list(ctx, s, organization(org), ask(selectContentInUse, uuid(org), raw), scanDigest)
}

// Put implements hangar.Files.
func (s *Store) Put(ctx context.Context, org techlog.ID, digest [32]byte, content []byte, at time.Time) error {
	return s.tell(ctx, organization(org), ask(putContent, uuid(org), digest[:], content, instant(at)))
}

// Get implements hangar.Files.
func (s *Store) Get(ctx context.Context, org techlog.ID, digest [32]byte) ([]byte, error) {
	content, err := one(ctx, s, organization(org), ask(selectContent, uuid(org), digest[:]), scanInto[[]byte])
	return content, absent(err, "content")
}

// PutBefore implements hangar.Files.
func (s *Store) PutBefore(ctx context.Context, org techlog.ID, at time.Time, after [32]byte) ([][32]byte, error) {
	return list(ctx, s, organization(org), ask(selectContentBefore, uuid(org), after[:], instant(at), sweptAtOnce), scanDigest)
}

// Drop implements hangar.Files.
func (s *Store) Drop(ctx context.Context, org techlog.ID, digest [32]byte, before time.Time) error {
	return s.tell(ctx, organization(org), ask(dropContent, uuid(org), digest[:], instant(before)))
}

// scanInto reads a row of one column.
func scanInto[T any](row pgx.Row) (T, error) {
	var v T
	err := row.Scan(&v)
	return v, err
}

func scanDigest(row pgx.Row) (d [32]byte, err error) {
	var raw []byte
	err = row.Scan(&raw)
	copy(d[:], raw)
	return d, err
}

func scanPhoto(row pgx.Row) (techlog.Photo, error) {
	var p techlog.Photo
	var squawk, walkaround, result, signature *[16]byte
	var digest, thumbnail []byte
	err := row.Scan(into(&p.ID), &squawk, &walkaround, &result, &signature, &p.Type, &digest, &thumbnail, &p.Size, &p.Width, &p.Height, &p.At, &p.By)
	p.Of = techlog.PhotoOf{
		Squawk: idOrZero(squawk), Walkaround: idOrZero(walkaround), Result: idOrZero(result), Signature: idOrZero(signature),
	}
	copy(p.Digest[:], digest)
	copy(p.Thumbnail[:], thumbnail)
	return p, err
}

func (c *change) AddPhoto(p techlog.Photo) {
	var thumbnail any // null
	if p.HasThumbnail() {
		thumbnail = p.Thumbnail[:]
	}
	c.write(photos, insertPhoto, c.org, uuid(p.ID), uuidOrNull(p.Of.Squawk), uuidOrNull(p.Of.Walkaround), uuidOrNull(p.Of.Result),
		uuidOrNull(p.Of.Signature), string(p.Type), p.Digest[:], thumbnail, p.Size, p.Width, p.Height, instant(p.At), p.By)
}
