package postgres

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
)

// appRole is the role that the program works as when its own login is exempt from row-level security.
const appRole = "tiedown_app"

const selectExempt = `SELECT rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = current_user`

// isExempt reports whether row-level security passes over this login.
func isExempt(ctx context.Context, conn *pgx.Conn) (bool, error) {
	var exempt bool
	err := conn.QueryRow(ctx, selectExempt).Scan(&exempt)
	return exempt, err
}

// writesNothing reports whether every transaction of this connection is read-only.
func writesNothing(ctx context.Context, conn *pgx.Conn) (bool, error) {
	var readOnly bool
	err := conn.QueryRow(ctx, "SELECT current_setting('transaction_read_only')::bool").Scan(&readOnly)
	return readOnly, err
}

// Roles belong to the whole cluster, where the programs of several databases may make this one at the same moment: who
// comes second finds it made. Grants belong to the database: the lock keeps two programs of one from each other.
const createAppRole = `
DO $$
BEGIN
	IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = '` + appRole + `') THEN
		CREATE ROLE ` + appRole + ` NOLOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION NOBYPASSRLS;
	END IF;
EXCEPTION WHEN duplicate_object OR unique_violation THEN
	NULL;
END $$;
DO $$
BEGIN
	IF NOT (SELECT rolsuper FROM pg_roles WHERE rolname = current_user) THEN
		GRANT ` + appRole + ` TO current_user;
	END IF;
EXCEPTION WHEN unique_violation OR insufficient_privilege THEN
	NULL; -- granted already, by another program or by hand: if not, taking the role fails
END $$`

// tables are those with records. The database may hold others, which are nobody's business here.
var tables = []string{
	"organization", "token", "base", "aircraft", "aircraft_configuration", "squawk", "squawk_history", "deferral", "flight", "event",
	"idempotency", "company_rules", "determination", "log_entry", "log_head", "log_checkpoint", "certificate", "standing", "signature",
	"token_revocation", "account", "membership", "membership_history", "password", "password_link", "session", "attempt", "passkey", "recovery_code", "challenge",
	"linked_identity", "security_event",
	"checklist_template", "airframe_checklist", "checklist", "walkaround", "walkaround_report", "walkaround_squawk",
	"meter_entry", "content", "photo", "calendar_feed", "calendar_feed_revocation", "block", "flight_shown", "airport",
	"webhook", "webhook_secret", "webhook_relay", "delivery", "delivery_lane",
	"warning_leads", "warning", "notice_preference", "note_cursor", "note", "stop_link",
}

// The role may do what the store does and no more: it deletes nothing but content that no photo has, what has ended long
// ago and what River has done, and what is only added to it cannot change.
var grantToAppRole = `
SELECT pg_advisory_xact_lock(hashtext('` + appRole + `'));
GRANT SELECT ON schema_migrations TO ` + appRole + `;
GRANT SELECT, INSERT ON ` + strings.Join(tables, ", ") + ` TO ` + appRole + `;
GRANT UPDATE ON airport, block, base, aircraft, squawk, flight, log_head, walkaround, membership, password, attempt, passkey,
	notice_preference, note_cursor, webhook, webhook_relay, delivery, delivery_lane TO ` + appRole + `;
GRANT UPDATE (used_at) ON password_link, recovery_code, challenge TO ` + appRole + `;
GRANT UPDATE (seen, ended_at) ON session TO ` + appRole + `;
GRANT UPDATE (state, due_at, next_at, attempts, sent_at, trace) ON note TO ` + appRole + `;
GRANT UPDATE (until) ON webhook_secret TO ` + appRole + `;
GRANT DELETE ON session, challenge, attempt, idempotency TO ` + appRole + `;
GRANT UPDATE (at), DELETE ON content TO ` + appRole + `;
GRANT USAGE ON SCHEMA ` + riverSchema + ` TO ` + appRole + `;
GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA ` + riverSchema + ` TO ` + appRole + `;
GRANT USAGE ON ALL SEQUENCES IN SCHEMA ` + riverSchema + ` TO ` + appRole

// makeAppRole makes the role if it is missing and lets it use this database. Doing it again changes nothing.
func makeAppRole(ctx context.Context, conn *pgx.Conn) error {
	for _, sql := range []string{createAppRole, grantToAppRole} {
		// Without arguments several statements are sent at once, and are one transaction.
		if _, err := conn.PgConn().Exec(ctx, sql).ReadAll(); err != nil {
			return fmt.Errorf("make the role %s: %w", appRole, err)
		}
	}
	return nil
}

const countUnguarded = `
SELECT count(*) FILTER (WHERE NOT row_security_active(c.oid)), count(*)
FROM pg_class c
WHERE c.relnamespace = current_schema()::regnamespace AND c.relname = ANY ($1)`

// refuseBypass fails unless row-level security binds the program on every table.
func refuseBypass(ctx context.Context, pool *pgxpool.Pool) error {
	var unguarded, found int
	if err := pool.QueryRow(ctx, countUnguarded, tables).Scan(&unguarded, &found); err != nil {
		return err
	}
	if unguarded > 0 || found != len(tables) {
		return fmt.Errorf("row-level security does not bind this login on %d of %d tables: one organization could see another's records",
			unguarded+len(tables)-found, len(tables))
	}
	return nil
}

const selectSchemaVersion = `SELECT version, dirty FROM schema_migrations`

// refuseOtherSchema fails unless the database has exactly this program's schema.
func refuseOtherSchema(ctx context.Context, conn *pgx.Conn) error {
	latest, err := latestStep()
	if err != nil {
		return err
	}
	var version uint
	var dirty bool
	err = conn.QueryRow(ctx, selectSchemaVersion).Scan(&version, &dirty)
	switch {
	case isCode(err, undefinedTable) || errors.Is(err, pgx.ErrNoRows):
		return errors.New("the database has no schema yet: migrate it first")
	case err != nil:
		return err
	case dirty:
		return cutShort(version)
	case version > latest:
		return newerSchema(version, latest)
	case version < latest:
		return fmt.Errorf("the database's schema is at step %d, this program's at %d: migrate it first", version, latest)
	default:
		return nil
	}
}
