package postgres_test

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/golang-migrate/migrate/v4"

	"tiedown/internal/postgres"
	"tiedown/internal/testrig/pgtest"
	"tiedown/migrations"
)

// migrator takes a database through single steps.
func migrator(t *testing.T, url string) *migrate.Migrate {
	t.Helper()
	m, err := postgres.Migrator(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if source, database := m.Close(); source != nil || database != nil {
			t.Error(source, database)
		}
	})
	return m
}

// TestUpDownUp takes every step down and up again, each time with the same schema as before.
func TestUpDownUp(t *testing.T) {
	t.Parallel()
	url := pgtest.New(t)
	conn := connect(t, url)
	m := migrator(t, url)
	latest, err := postgres.LatestStep()
	if err != nil {
		t.Fatal(err)
	}
	schemas := []string{schema(t, conn)}
	for range latest {
		if err := m.Steps(-1); err != nil {
			t.Fatal(err)
		}
		schemas = append(schemas, schema(t, conn))
	}
	if left := schemas[latest]; strings.Contains(left, "CREATE") {
		t.Errorf("all the way down, something is left:\n%s", left)
	}
	for i := int(latest) - 1; i >= 0; i-- {
		if err := m.Steps(1); err != nil {
			t.Fatal(err)
		}
		if got := schema(t, conn); got != schemas[i] {
			t.Errorf("down and up again leads to another schema:\n%s", difference(got, schemas[i]))
		}
	}
}

// TestStepsAreWellFormed: numbered without gaps, each with a way back, and the reason above the SQL.
func TestStepsAreWellFormed(t *testing.T) {
	t.Parallel()
	names, err := fs.Glob(migrations.Files, "*")
	if err != nil {
		t.Fatal(err)
	}
	form := regexp.MustCompile(`^(\d{4})_[a-z]+_[a-z_]+\.(up|down)\.sql$`)
	found := map[string]int{}
	for _, name := range names {
		m := form.FindStringSubmatch(name)
		if m == nil {
			t.Errorf("%s is not called NNNN_verb_noun.up.sql or .down.sql", name)
			continue
		}
		found[m[1]]++
		raw, err := migrations.Files.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if m[2] == "up" && !strings.HasPrefix(string(raw), "-- ") {
			t.Errorf("%s does not say why", name)
		}
	}
	latest, err := postgres.LatestStep()
	if err != nil {
		t.Fatal(err)
	}
	for i := 1; i <= int(latest); i++ {
		if found[fmt.Sprintf("%04d", i)] != 2 {
			t.Errorf("step %d has %d files, want an up and a down", i, found[fmt.Sprintf("%04d", i)])
		}
	}
	if len(found) != int(latest) {
		t.Errorf("%d numbers, the last step is %d", len(found), latest)
	}
}

func TestMigratingAgainChangesNothing(t *testing.T) {
	t.Parallel()
	url := pgtest.New(t)
	conn := connect(t, url)
	before := schema(t, conn)
	for range 2 {
		if err := postgres.Migrate(t.Context(), url); err != nil {
			t.Fatal(err)
		}
	}
	if got := schema(t, conn); got != before {
		t.Errorf("the schema changed:\n%s", difference(got, before))
	}
}

// TestProgramsMigrateTogether starts several at once on a database that has no schema.
func TestProgramsMigrateTogether(t *testing.T) {
	t.Parallel()
	url := pgtest.New(t)
	conn := connect(t, url)
	want := schema(t, conn)
	if err := migrator(t, url).Down(); err != nil {
		t.Fatal(err)
	}
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			if err := postgres.Migrate(t.Context(), url); err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	if got := schema(t, conn); got != want {
		t.Errorf("together they lead to another schema:\n%s", difference(got, want))
	}
}

// TestOtherSchemasAreRefused: neither migrating nor opening works on what the program does not know.
func TestOtherSchemasAreRefused(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		change        string
		migrate, open string // what the errors say; empty: no error
	}{
		"newer":     {`UPDATE schema_migrations SET version = version + 1`, "newer than this program's", "newer than this program's"},
		"cut short": {`UPDATE schema_migrations SET dirty = true`, "was cut short", "was cut short"},
		"older":     {lastStepBack(t) + fmt.Sprintf(`; UPDATE schema_migrations SET version = %d`, stepBefore(t)), "", "migrate it first"},
		"none":      {`DROP TABLE schema_migrations`, "already exists", "migrate it first"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			url := pgtest.New(t)
			do(t, connect(t, url), c.change)
			says(t, "open", openError(t, url), c.open)
			says(t, "migrate", postgres.Migrate(t.Context(), url), c.migrate)
		})
	}
}

// lastStepBack is the SQL that undoes the last migration.
func lastStepBack(t *testing.T) string {
	t.Helper()
	latest, err := postgres.LatestStep()
	if err != nil {
		t.Fatal(err)
	}
	names, err := fs.Glob(migrations.Files, fmt.Sprintf("%04d_*.down.sql", latest))
	if err != nil || len(names) != 1 {
		t.Fatalf("the way back from step %d: %v, %v", latest, names, err)
	}
	sql, err := fs.ReadFile(migrations.Files, names[0])
	if err != nil {
		t.Fatal(err)
	}
	return string(sql)
}

// stepBefore is the number of the migration before the last.
func stepBefore(t *testing.T) int {
	t.Helper()
	names, err := fs.Glob(migrations.Files, "*.up.sql")
	if err != nil || len(names) < 2 {
		t.Fatalf("%v, %v", names, err)
	}
	slices.Sort(names)
	number, _, _ := strings.Cut(names[len(names)-2], "_")
	n, err := strconv.Atoi(number)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func openError(t *testing.T, url string) error {
	t.Helper()
	store, err := postgres.Open(t.Context(), postgres.Config{URL: url})
	if err == nil {
		store.Close()
	}
	return err
}

func says(t *testing.T, what string, err error, want string) {
	t.Helper()
	switch {
	case want == "" && err != nil:
		t.Errorf("%s: %v", what, err)
	case want != "" && (err == nil || !strings.Contains(err.Error(), want)):
		t.Errorf("%s: %v, want an error that says %q", what, err, want)
	}
}

func TestMigrateCanBeInterrupted(t *testing.T) {
	t.Parallel()
	url := pgtest.New(t)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := postgres.Migrate(ctx, url); !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want it interrupted", err)
	}
}

// TestMeasurementsMoveIntoTheirReports takes what was measured down to its own table, and up again into the reports.
func TestMeasurementsMoveIntoTheirReports(t *testing.T) {
	t.Parallel()
	conn := hand(t)
	m := migrator(t, conn.Config().ConnString())
	const beside, together = 22, 23
	inReports := `SELECT concat_ws(' ', measured_ids, measured, measured_at, measured_values) FROM walkaround_report WHERE organization = @org`
	before := map[int][]string{}
	for _, club := range []int{1, 2} {
		do(t, conn, ask(club))
		before[club] = column[string](t, conn, spell(inReports, club))
	}
	if err := m.Migrate(beside); err != nil {
		t.Fatal(err)
	}
	for _, club := range []int{1, 2} {
		do(t, conn, ask(club))
		rows := column[string](t, conn, spell(`SELECT concat_ws(' ', checked, made_at AT TIME ZONE 'UTC', outcome, value) FROM walkaround_measurement
			WHERE (organization, aircraft, walkaround, id) = (@org, @aircraft, @walkaround, '00000000-0000-7000-8000-000000000077')`, club))
		if want := []string{"oil 2031-05-04 12:00:00 finding 4.5"}; !slices.Equal(rows, want) {
			t.Errorf("club %d, beside the report: %q, want %q", club, rows, want)
		}
	}
	if err := m.Migrate(together); err != nil {
		t.Fatal(err)
	}
	for _, club := range []int{1, 2} {
		do(t, conn, ask(club))
		if again := column[string](t, conn, spell(inReports, club)); len(again) == 0 || !slices.Equal(again, before[club]) {
			t.Errorf("club %d, in the report again: %q, want %q", club, again, before[club])
		}
	}
}
