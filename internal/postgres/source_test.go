package postgres_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"tiedown/migrations"
)

// TestNoQueryTakesEveryColumn: a column that is added later must not change what a query reads or writes.
func TestNoQueryTakesEveryColumn(t *testing.T) {
	t.Parallel()
	all := regexp.MustCompile(`(?i)(select|returning)\s+(\w+\.)?\*|insert\s+into\s+\w+\s+(values|select)`)
	n := 0
	for _, sql := range statements(t) {
		n++
		if found := all.FindString(sql); found != "" {
			t.Errorf("%q in %s", found, sql)
		}
	}
	if n < 40 {
		t.Errorf("only %d statements were found", n)
	}
}

// TestEveryStatementAsksForOneOrganization: beside row-level security, and so that every statement starts at the front
// of an index.
func TestEveryStatementAsksForOneOrganization(t *testing.T) {
	t.Parallel()
	touches := regexp.MustCompile(`(?i)\b(from|join|update|into)\s+(base|aircraft|aircraft_configuration|squawk|squawk_history|deferral|flight|event|idempotency|company_rules|determination|log_entry|log_head|log_checkpoint|checklist_template|airframe_checklist|checklist|walkaround|walkaround_report|walkaround_squawk|meter_entry|content|photo|calendar_feed|calendar_feed_revocation|warning_leads|warning|notice_preference|note|note_cursor|stop_link|block|flight_shown|airport|webhook|webhook_secret|webhook_relay|delivery|delivery_lane)\b`)
	for _, sql := range statements(t) {
		if touches.MatchString(sql) && !strings.Contains(sql, "organization") {
			t.Errorf("no organization in %s", sql)
		}
	}
}

// statements are the texts of the package's source that are SQL, and the steps of the schema.
func statements(t *testing.T) []string {
	t.Helper()
	var list []string
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	isSQL := regexp.MustCompile(`(?i)^\s*(select|insert|update|with|delete|grant|do|begin|commit|set)\b`)
	for _, path := range files {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			literal, ok := n.(*ast.BasicLit)
			if !ok || literal.Kind != token.STRING {
				return true
			}
			if text, err := strconv.Unquote(literal.Value); err == nil && isSQL.MatchString(text) {
				list = append(list, text)
			}
			return true
		})
	}
	steps, err := fs.Glob(migrations.Files, "*.sql")
	if err != nil || len(steps) == 0 {
		t.Fatalf("no steps: %v", err)
	}
	for _, step := range steps {
		raw, err := migrations.Files.ReadFile(step)
		if err != nil {
			t.Fatal(err)
		}
		for statement := range strings.SplitSeq(string(raw), ";") {
			if statement = strings.TrimSpace(statement); isSQL.MatchString(statement) {
				list = append(list, statement)
			}
		}
	}
	return list
}
