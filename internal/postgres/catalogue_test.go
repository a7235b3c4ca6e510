package postgres_test

import (
	"context"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"testing"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/airworthiness"
	"tiedown/internal/hangar"
	"tiedown/internal/notice"
	"tiedown/internal/people"
	"tiedown/internal/postgres"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/pgtest"
	"tiedown/internal/walkaround"
)

// connect opens a connection as a person at psql would.
func connect(t testing.TB, url string) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = conn.Close(context.Background()) })
	return conn
}

// column reads a query of one column.
func column[T any](t testing.TB, conn *pgx.Conn, sql string, args ...any) []T {
	t.Helper()
	rows, err := conn.Query(t.Context(), sql, args...)
	if err != nil {
		t.Fatal(err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowTo[T])
	if err != nil {
		t.Fatalf("%s: %v", sql, err)
	}
	return list
}

// ours are the tables of the schema. The bookkeeping of the migrations holds a number and nothing of anybody's. River's tables
// are in a schema of their own, and have no row-level security, as they hold nothing that a person entered: what they name of an
// organization are identifiers, by which only that organization's own transactions find anything (TestKnocksTellNothing).
const ours = `c.relnamespace = current_schema()::regnamespace AND c.relkind IN ('r', 'p') AND c.relname <> 'schema_migrations'`

func TestRowLevelSecurityIsForcedOnEveryTable(t *testing.T) {
	t.Parallel()
	conn := connect(t, pgtest.New(t))
	known := slices.Sorted(slices.Values(postgres.Tables))
	if tables := column[string](t, conn, `SELECT relname::text FROM pg_class c WHERE `+ours+` ORDER BY relname COLLATE "C"`); !slices.Equal(tables, known) {
		t.Errorf("the tables are %v, the program looks at %v", tables, known)
	}
	if bare := column[string](t, conn, `SELECT relname::text FROM pg_class c WHERE `+ours+`
		AND NOT (c.relrowsecurity AND c.relforcerowsecurity AND EXISTS (SELECT FROM pg_policy p WHERE p.polrelid = c.oid))`); len(bare) > 0 {
		t.Errorf("tables without forced row-level security and a policy: %v", bare)
	}
	// A policy without a condition, or one that only reads, would let somebody write for another.
	if open := column[string](t, conn, `SELECT polname::text FROM pg_policy p JOIN pg_class c ON c.oid = p.polrelid WHERE `+ours+`
		AND (NOT polpermissive OR polcmd IN ('*', 'r', 'w', 'd') AND polqual IS NULL OR polcmd IN ('*', 'a', 'w') AND polwithcheck IS NULL)`); len(open) > 0 {
		t.Errorf("policies that leave something open: %v", open)
	}
}

func TestEveryKeyLeadsWithTheOrganization(t *testing.T) {
	t.Parallel()
	conn := connect(t, pgtest.New(t))
	others := column[string](t, conn, `
		SELECT i.indexrelid::regclass::text FROM pg_index i JOIN pg_class c ON c.oid = i.indrelid
		JOIN pg_attribute a ON a.attrelid = i.indrelid AND a.attnum = i.indkey[0]
		WHERE `+ours+` AND a.attname <> 'organization' ORDER BY 1`)
	// An organization is its own key; a token's digest, and a calendar's, is what tells the organization. What is a person's own belongs to
	// no organization, and is found by the person or by the digest of what the person presents. Lanes that are due are looked
	// for by the program itself, in all organizations.
	want := []string{
		"account_email_key", "account_pkey", "attempt_pkey", "calendar_feed_digest_key", "challenge_pkey", "challenge_ticket_key", "delivery_lane_due", "linked_identity_of_person",
		"linked_identity_pkey", "membership_of_person", "organization_pkey", "passkey_handle_key", "passkey_pkey", "password_link_of_person",
		"password_link_pkey", "password_pkey", "recovery_code_pkey", "security_event_of_person", "security_event_pkey", "session_digest_key",
		"session_pkey", "stop_link_pkey", "token_digest_key",
	}
	if !slices.Equal(others, want) {
		t.Errorf("keys that lead with something else: %v, want %v", others, want)
	}
}

// TestEveryConstraintHasAMeaning reads every name under which the database can refuse a record.
func TestEveryConstraintHasAMeaning(t *testing.T) {
	t.Parallel()
	conn := connect(t, pgtest.New(t))
	names := column[string](t, conn, `
		SELECT k.conname::text FROM pg_constraint k LEFT JOIN pg_class c ON c.oid = k.conrelid
		WHERE k.connamespace = current_schema()::regnamespace AND k.contype <> 'n' AND c.relname IS DISTINCT FROM 'schema_migrations'
		UNION
		SELECT x.relname::text FROM pg_index i JOIN pg_class x ON x.oid = i.indexrelid JOIN pg_class c ON c.oid = i.indrelid
		WHERE `+ours+` AND i.indisunique
		UNION
		SELECT g.tgname::text FROM pg_trigger g JOIN pg_class c ON c.oid = g.tgrelid WHERE `+ours+` AND NOT g.tgisinternal
		ORDER BY 1`)
	if len(names) < 50 {
		t.Errorf("%d constraints only", len(names))
	}
	meanings := postgres.Meanings()
	for _, name := range names {
		if !slices.Contains(meanings, name) {
			t.Errorf("the failure of %s has no meaning", name)
		}
	}
	for _, name := range meanings {
		if !slices.Contains(names, name) {
			t.Errorf("there is no constraint %s", name)
		}
	}
}

func TestWhatIsOnRecordIsKept(t *testing.T) {
	t.Parallel()
	conn := connect(t, pgtest.New(t))
	const onDelete, onUpdate, onTruncate = 8, 16, 32 // bits of pg_trigger.tgtype
	refused := `
		SELECT c.relname::text FROM pg_class c WHERE ` + ours + ` AND $1::int = (
			SELECT coalesce(bit_or(g.tgtype::int), 0) & $1 FROM pg_trigger g
			WHERE g.tgrelid = c.oid AND NOT g.tgisinternal AND g.tgenabled = 'O' AND g.tgfoid = 'refuse'::regproc AND g.tgqual IS NULL
				AND g.tgattr = '')
		ORDER BY 1`
	appendOnly := []string{
		"account", "aircraft_configuration", "airframe_checklist", "calendar_feed", "calendar_feed_revocation", "certificate", "checklist", "checklist_template", "company_rules",
		"deferral", "determination", "event", "flight_shown", "linked_identity", "log_checkpoint", "log_entry", "membership_history", "meter_entry",
		"photo", "security_event", "signature", "squawk_history", "standing", "stop_link", "token", "token_revocation",
		"walkaround_report", "walkaround_squawk", "warning", "warning_leads",
	}
	if got := column[string](t, conn, refused, onDelete|onUpdate|onTruncate); !slices.Equal(got, appendOnly) {
		t.Errorf("only added to: %v, want %v", got, appendOnly)
	}
	kept := append([]string{
		"aircraft", "airport", "base", "block", "flight", "log_head", "membership", "note", "note_cursor", "notice_preference", "passkey", "password", "password_link", "recovery_code",
		"squawk", "walkaround",
		"delivery", "delivery_lane", "webhook", "webhook_relay", "webhook_secret",
	}, appendOnly...)
	slices.Sort(kept)
	if got := column[string](t, conn, refused, onDelete|onTruncate); !slices.Equal(got, kept) {
		t.Errorf("never deleted from: %v, want %v", got, kept)
	}
}

// TestClosedSets compares the words that the database takes with those that the program has.
func TestClosedSets(t *testing.T) {
	t.Parallel()
	conn := connect(t, pgtest.New(t))
	want := map[string][]string{
		"role":            words(techlog.Roles()),
		"squawk_state":    words(techlog.SquawkStates()),
		"squawk_step":     words(techlog.SquawkSteps()),
		"flight_state":    constants(t, "FlightState"),
		"verdict":         verdicts(),
		"block_kind":      words(techlog.BlockKinds()),
		"squawk_kind":     {"condition", "inoperative"},
		"deferral_method": {"deactivated", "removed"},
		"flight_rules":    {"", "ifr", "vfr"},

		"security_event_kind": words(techlog.SecurityEventKinds()),
		"challenge_purpose":   words(people.Purposes()),
		"certificate_kind":    words(techlog.CertificateKinds()),
		"standing_kind":       words(techlog.StandingKinds()),
		"signed_action":       words(append(techlog.SignedSteps(), "inspect")),
		"proof":               words([]hangar.Proven{hangar.ByPassword, hangar.ByPasskey}),
		"meter":               words(walkaround.Meters()),
		"walkaround_state":    words(walkaround.States()),
		"photo_type":          words(techlog.PhotoTypes()),
		"webhook_state":       words(techlog.WebhookStates()),
		"delivery_state":      words(techlog.DeliveryStates()),
		"note_kind":           words(notice.Kinds()),
		"note_state":          words(notice.States()),
	}
	got := map[string][]string{}
	quoted := regexp.MustCompile(`'([^']*)'`)
	for _, domain := range column[string](t, conn, `SELECT typname::text FROM pg_type WHERE typtype = 'd' AND typnamespace = current_schema()::regnamespace`) {
		for _, check := range column[string](t, conn, `SELECT pg_get_constraintdef(oid) FROM pg_constraint WHERE contypid = $1::regtype`, domain) {
			for _, word := range quoted.FindAllStringSubmatch(check, -1) {
				got[domain] = append(got[domain], word[1])
			}
		}
		slices.Sort(got[domain])
		if !slices.Equal(got[domain], want[domain]) {
			t.Errorf("%s: the database takes %q, the program has %q", domain, got[domain], want[domain])
		}
	}
	if len(got) != len(want) {
		t.Errorf("%d closed sets in the database, %d expected", len(got), len(want))
	}
}

func words[T ~string](list []T) []string {
	var s []string
	for _, word := range list {
		s = append(s, string(word))
	}
	slices.Sort(s)
	return s
}

func verdicts() []string {
	var s []string
	for _, v := range airworthiness.Verdicts() {
		s = append(s, v.String())
	}
	slices.Sort(s)
	return s
}

// constants reads the values of a type's constants out of the source of techlog, for a type that has no list of them.
func constants(t *testing.T, typeName string) []string {
	t.Helper()
	files, err := filepath.Glob("../techlog/*.go")
	if err != nil || len(files) == 0 {
		t.Fatalf("no source: %v", err)
	}
	var values []string
	for _, path := range files {
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			spec, ok := n.(*ast.ValueSpec)
			if !ok {
				return true
			}
			if id, ok := spec.Type.(*ast.Ident); !ok || id.Name != typeName {
				return true
			}
			for _, v := range spec.Values {
				if literal, ok := v.(*ast.BasicLit); ok {
					value, err := strconv.Unquote(literal.Value)
					if err != nil {
						t.Fatal(err)
					}
					values = append(values, value)
				}
			}
			return true
		})
	}
	slices.Sort(values)
	return values
}
