package postgres

import (
	"context"
	"encoding/hex"
	"errors"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

const (
	templateColumns = `id, version, type, checks, at, by`

	selectTemplates = `
		SELECT DISTINCT ON (id) ` + templateColumns + ` FROM checklist_template
		WHERE organization = $1 AND id > $2 ORDER BY id, version DESC LIMIT $3`
	selectTemplateVersions = `
		SELECT ` + templateColumns + ` FROM checklist_template
		WHERE organization = $1 AND id = $2 AND ($3 = 0 OR version < $3) ORDER BY version DESC LIMIT $4`
	selectTemplate = `
		SELECT ` + templateColumns + ` FROM checklist_template
		WHERE organization = $1 AND id = $2 ORDER BY version DESC LIMIT 1`
	insertTemplate = `
		INSERT INTO checklist_template (organization, id, version, type, checks, at, by) VALUES ($1, $2, $3, $4, $5, $6, $7)`

	selectAirframeChecklist = `
		SELECT aircraft, version, template, template_version, serial, changes, at, by FROM airframe_checklist
		WHERE organization = $1 AND aircraft = $2 ORDER BY version DESC LIMIT 1`
	insertAirframeChecklist = `
		INSERT INTO airframe_checklist (organization, aircraft, version, template, template_version, serial, changes, at, by)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`

	selectChecklist = `SELECT document FROM checklist WHERE organization = $1 AND digest = $2`
	// The same checklist is kept once. Whoever was first has kept the same document: the digest is of it.
	insertChecklist = `
		INSERT INTO checklist (organization, digest, document) VALUES ($1, $2, $3) ON CONFLICT (organization, digest) DO NOTHING`
)

// ChecklistTemplates lists templates in the order of their identifiers, each in its latest version.
func (s *Store) ChecklistTemplates(ctx context.Context, org techlog.ID, page hangar.Page) ([]walkaround.Template, error) {
	return list(ctx, s, organization(org), ask(selectTemplates, uuid(org), uuid(page.After), page.Limit), scanTemplate)
}

// ChecklistTemplate reads the latest version of a template. Kind not-found if there is none.
func (s *Store) ChecklistTemplate(ctx context.Context, org, id techlog.ID) (walkaround.Template, error) {
	t, err := one(ctx, s, organization(org), ask(selectTemplate, uuid(org), uuid(id)), scanTemplate)
	return t, absent(err, "checklist")
}

// ChecklistTemplateVersions lists the versions of a template, newest first.
func (s *Store) ChecklistTemplateVersions(ctx context.Context, org, id techlog.ID, page hangar.Page) ([]walkaround.Template, error) {
	return list(ctx, s, organization(org), ask(selectTemplateVersions, uuid(org), uuid(id), page.AfterRevision, page.Limit), scanTemplate)
}

// AirframeChecklist reads how an aircraft's checklist is made: version 0 if nobody has said.
func (s *Store) AirframeChecklist(ctx context.Context, org, aircraft techlog.ID) (walkaround.AirframeChecklist, error) {
	a, err := one(ctx, s, organization(org), ask(selectAirframeChecklist, uuid(org), uuid(aircraft)), scanAirframeChecklist)
	a.Aircraft = aircraft
	return a, translate(err)
}

// Checklist reads a checklist as it was walked. Kind not-found if there is none of this digest.
func (s *Store) Checklist(ctx context.Context, org techlog.ID, digest [32]byte) (walkaround.Composed, error) {
	c, err := one(ctx, s, organization(org), ask(selectChecklist, uuid(org), hexed(digest)), scanChecklist)
	return c, absent(err, "checklist")
}

func scanTemplate(row pgx.Row) (walkaround.Template, error) {
	var t walkaround.Template
	err := row.Scan(into(&t.ID), &t.Version, &t.Type, &t.Checklist.Checks, &t.At, &t.By)
	return t, err
}

// scanAirframeChecklist reads how a checklist is made; no row is version 0.
func scanAirframeChecklist(row pgx.Row) (walkaround.AirframeChecklist, error) {
	var a walkaround.AirframeChecklist
	err := row.Scan(into(&a.Aircraft), &a.Version, into(&a.Template), &a.TemplateVersion, &a.Serial, &a.Changes, &a.At, &a.By)
	if errors.Is(err, pgx.ErrNoRows) {
		return a, nil
	}
	return a, err
}

func scanChecklist(row pgx.Row) (walkaround.Composed, error) {
	var c walkaround.Composed
	err := row.Scan(&c)
	return c, err
}

func (c *change) ChecklistTemplate(ctx context.Context, id techlog.ID) (walkaround.Template, error) {
	t, err := scanTemplate(c.conn.QueryRow(ctx, selectTemplate, c.org, uuid(id)))
	return t, absent(err, "checklist")
}

func (c *change) AirframeChecklist(ctx context.Context, aircraft techlog.ID) (walkaround.AirframeChecklist, error) {
	a, err := scanAirframeChecklist(c.conn.QueryRow(ctx, selectAirframeChecklist, c.org, uuid(aircraft)))
	a.Aircraft = aircraft
	return a, translate(err)
}

func (c *change) Checklist(ctx context.Context, digest [32]byte) (walkaround.Composed, error) {
	composed, err := scanChecklist(c.conn.QueryRow(ctx, selectChecklist, c.org, hexed(digest)))
	return composed, absent(err, "checklist")
}

func (c *change) AddChecklistTemplate(t walkaround.Template) {
	c.write(templates, insertTemplate, c.org, uuid(t.ID), t.Version, t.Type, filled(t.Checklist.Checks), instant(t.At), t.By)
}

func (c *change) AddAirframeChecklist(a walkaround.AirframeChecklist) {
	c.write(airframeChecklists, insertAirframeChecklist, c.org, uuid(a.Aircraft), a.Version, uuid(a.Template), a.TemplateVersion, a.Serial, a.Changes,
		instant(a.At), a.By)
}

// hexed is a digest as the database keeps it.
func hexed(digest [32]byte) string { return hex.EncodeToString(digest[:]) }
