package internal_test

import (
	"encoding/json"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

const root = ".."

// rooms says for every package which other packages of ours it may import. Arrows point one way.
var rooms = map[string][]string{
	"internal/airworthiness": {},
	"internal/daylight":      {},
	"internal/upkeep":        {"internal/airworthiness"},
	"internal/trend":         {},
	"internal/chart":         {},
	"internal/regulation":    {"internal/airworthiness", "internal/upkeep"},
	"internal/casefile":      {"internal/airworthiness", "internal/daylight", "internal/upkeep"},
	"internal/inquiry":       {"internal/casefile", "internal/airworthiness", "internal/daylight"},
	"internal/dispatch":      {"internal/casefile", "internal/airworthiness", "internal/daylight"},
	"internal/audit":         {},
	"internal/techlog":       {"internal/casefile"},
	"internal/walkaround":    {"internal/techlog", "internal/casefile", "internal/trend"},
	"internal/picture":       {},
	"internal/notice":        {"internal/techlog", "internal/casefile"},
	"internal/mail":          {"internal/notice"},
	"internal/messenger":     {"internal/hangar", "internal/notice", "internal/techlog", "internal/casefile", "internal/airworthiness"},
	"internal/hangar": {
		"internal/walkaround", "internal/picture", "internal/notice",
		"internal/techlog", "internal/audit", "internal/inquiry", "internal/dispatch", "internal/casefile", "internal/upkeep", "internal/daylight",
		"internal/airworthiness",
	},
	"internal/files/folder":      {"internal/hangar", "internal/techlog"},
	"internal/files/objects":     {"internal/hangar", "internal/techlog"},
	"internal/notice/cloudevent": {"internal/techlog"},
	"internal/notice/live":       {"internal/techlog"},
	"internal/notice/webhook":    {"internal/hangar", "internal/notice/cloudevent", "internal/techlog", "internal/casefile"},
	"internal/papers":            {},
	"internal/papers/calendar":   {},
	"internal/people":            {"internal/hangar", "internal/techlog", "internal/casefile"},
	"internal/identity":          {"internal/people", "internal/techlog"},
	"internal/postgres":          {"internal/hangar", "internal/messenger", "internal/notice", "internal/notice/webhook", "internal/people", "internal/walkaround", "internal/techlog", "internal/audit", "internal/casefile", "migrations"},
	"internal/contract":          {"api", "internal/casefile"},
	"internal/httpapi": {
		"api", "api/server", "internal/contract", "internal/hangar", "internal/walkaround", "internal/techlog", "internal/inquiry", "internal/casefile", "internal/airworthiness",
		"internal/papers", "internal/papers/calendar", "internal/people", "internal/messenger", "internal/notice", "internal/notice/cloudevent", "internal/notice/live",
		"internal/daylight",
	},
	"internal/pages": {
		"internal/regulation", "internal/messenger", "internal/notice", "internal/chart",
		"internal/hangar", "internal/walkaround", "internal/techlog", "internal/casefile", "internal/airworthiness", "internal/people", "internal/papers",
		"internal/dispatch",
	},
	"internal/demo":                  {"internal/hangar", "internal/walkaround", "internal/techlog", "internal/casefile"},
	"internal/localpg":               {},
	"internal/config":                {},
	"internal/testrig/authenticator": {},
	"internal/testrig/camera":        {},
	"internal/testrig/provider":      {},
	"internal/testrig/follower":      {},
	"internal/testrig/filestest":     {"internal/hangar", "internal/techlog"},
	"internal/testrig/oracle":        {"internal/casefile", "internal/daylight"},
	"internal/testrig/pgtest":        {"internal/localpg"},
	"internal/testrig/postbox":       {},
	"internal/testrig/printed":       {},
	"internal/testrig/proving":       {"internal/hangar", "internal/techlog"},
	"internal/testrig/scenario":      {"internal/airworthiness", "internal/casefile", "internal/demo", "internal/regulation"},
	"internal/testrig/storetest": {
		"internal/hangar", "internal/walkaround", "internal/techlog", "internal/casefile", "internal/airworthiness", "internal/testrig/pgtest",
		"internal/daylight", "internal/regulation",
	},
	"api":         {"internal/casefile"},
	"api/server":  {"internal/casefile", "internal/inquiry", "internal/dispatch", "internal/papers", "internal/walkaround"},
	"api/client":  {"internal/casefile", "internal/inquiry", "internal/dispatch", "internal/walkaround"},
	"migrations":  {},
	"cmd/tiedown": nil, // sees everything
}

// onlyIn says where a library may be imported.
var onlyIn = map[string][]string{
	"github.com/jackc/pgx":            {"internal/postgres", "internal/testrig/"},
	"github.com/golang-migrate":       {"internal/postgres"},
	"github.com/riverqueue":           {"internal/postgres"}, // it works on pgx's connections, and knocks within the store's transactions
	"github.com/standard-webhooks":    {"internal/notice/webhook"},
	"github.com/labstack/echo":        {"internal/httpapi", "internal/pages", "api/"},
	"github.com/getkin/kin-openapi":   {"internal/contract", "internal/httpapi", "api"},
	"github.com/caarlos0/env":         {"internal/config"},
	"github.com/testcontainers":       {"internal/testrig/"},
	"github.com/hashicorp/golang-lru": {"internal/hangar"},
	"github.com/go-json-experiment":   {"internal/httpapi"},
	"golang.org/x/mod":                {"internal/audit"},
	"golang.org/x/image":              {"internal/picture"},
	"github.com/minio":                {"internal/files/objects"},
	"github.com/chromedp":             {},
	"github.com/coreos/go-oidc":       {"internal/identity"},
	"golang.org/x/oauth2":             {"internal/identity"},
	"github.com/go-webauthn":          {"internal/identity"},
	"golang.org/x/crypto":             {"internal/identity"},
	"codeberg.org/go-pdf/fpdf":        {"internal/papers"},
	"github.com/wneessen/go-mail":     {"internal/mail"},
	"github.com/emersion/go-smtp":     {"internal/testrig/postbox"},
	"github.com/emersion/go-sasl":     {"internal/testrig/postbox"},
	"github.com/boombuler/barcode":    {"internal/papers"},
	"github.com/arran4/golang-ical":   {"internal/papers/calendar"},
	"database/sql":                    {"internal/postgres"},
	"testing":                         {"internal/testrig/"},
	"pgregory.net/rapid":              {"internal/testrig/"},
	"net/http":                        {"internal/httpapi", "internal/pages", "internal/contract", "internal/identity", "internal/files/objects", "internal/notice/webhook", "internal/testrig/follower", "internal/testrig/provider", "cmd/tiedown", "api/"},
	"log/slog":                        {"internal/httpapi", "internal/postgres", "internal/pages", "internal/notice/webhook", "cmd/tiedown"},
}

// pure rooms may import nothing of the standard library that does input or output.
var (
	pure = []string{
		"internal/airworthiness", "internal/daylight", "internal/techlog", "internal/casefile", "internal/inquiry", "internal/dispatch", "internal/audit",
		"internal/upkeep", "internal/trend", "internal/walkaround", "internal/chart",
		"internal/picture", "internal/notice",
	}
	forbidden = []string{"os", "net", "context", "database/sql", "log", "log/slog", "io/fs", "embed", "math/rand", "math/rand/v2", "sync", "unsafe", "reflect"}
)

type goPackage struct {
	ImportPath string
	Imports    []string
	GoFiles    []string
	Dir        string
}

func packages(t *testing.T) []goPackage {
	t.Helper()
	cmd := exec.Command("go", "list", "-json=ImportPath,Imports,GoFiles,Dir", "./...")
	cmd.Dir = root
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var all []goPackage
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p goPackage
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		p.ImportPath = strings.TrimPrefix(p.ImportPath, "tiedown/")
		all = append(all, p)
	}
	if len(all) < 5 {
		t.Fatalf("go list found %d packages only", len(all))
	}
	return all
}

func TestArrowsPointOneWay(t *testing.T) {
	t.Parallel()
	for _, p := range packages(t) {
		if p.ImportPath == "internal" {
			continue // this test
		}
		allowed, known := rooms[p.ImportPath]
		if !known {
			t.Errorf("%s is in no room: say in this test what it may import", p.ImportPath)
			continue
		}
		for _, imported := range p.Imports {
			own, ours := strings.CutPrefix(imported, "tiedown/")
			if ours && allowed != nil && !slices.Contains(allowed, own) {
				t.Errorf("%s imports %s: the arrow points the wrong way", p.ImportPath, own)
			}
		}
	}
}

func TestLibrariesStayInTheirRooms(t *testing.T) {
	t.Parallel()
	for _, p := range packages(t) {
		for _, imported := range p.Imports {
			for library, places := range onlyIn {
				if imported != library && !strings.HasPrefix(imported, library+"/") {
					continue
				}
				if library == "testing" && imported != "testing" {
					continue
				}
				in := slices.ContainsFunc(places, func(place string) bool {
					return p.ImportPath == place || strings.HasSuffix(place, "/") && strings.HasPrefix(p.ImportPath, place)
				})
				if !in {
					t.Errorf("%s imports %s, which belongs in %v", p.ImportPath, imported, places)
				}
			}
		}
	}
}

func TestPureRoomsDoNoInputOrOutput(t *testing.T) {
	t.Parallel()
	for _, p := range packages(t) {
		if !slices.Contains(pure, p.ImportPath) {
			continue
		}
		for _, imported := range p.Imports {
			if slices.Contains(forbidden, imported) {
				t.Errorf("%s imports %s", p.ImportPath, imported)
			}
			if p.ImportPath == "internal/airworthiness" && strings.Contains(imported, ".") {
				t.Errorf("%s imports %s: it knows nothing but the standard library", p.ImportPath, imported)
			}
		}
	}
}

func TestNoVagueRooms(t *testing.T) {
	t.Parallel()
	for _, p := range packages(t) {
		switch filepath.Base(p.ImportPath) {
		case "util", "utils", "common", "models", "types", "helpers", "misc":
			t.Errorf("%s: name the package after its part of the domain", p.ImportPath)
		}
	}
}

// TestOnlyTheCommandReadsTheClock holds that no shipped code but the command asks what time it is.
func TestOnlyTheCommandReadsTheClock(t *testing.T) {
	t.Parallel()
	clock := regexp.MustCompile(`\btime\.(Now|Since|Until)\(`)
	for _, p := range packages(t) {
		if p.ImportPath == "cmd/tiedown" || strings.HasPrefix(p.ImportPath, "internal/testrig/") || p.ImportPath == "internal/localpg" {
			continue // localpg waits for a process: it needs to know how long it has waited
		}
		for _, name := range p.GoFiles {
			if raw := read(t, filepath.Join(p.Dir, name)); clock.MatchString(raw) {
				t.Errorf("%s/%s reads the clock", p.ImportPath, name)
			}
		}
	}
}

func read(t *testing.T, path string) string {
	t.Helper()
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

// sources calls f for every file of the project that people write.
func sources(t *testing.T, f func(path, content string)) {
	t.Helper()
	n := 0
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if name := d.Name(); name == ".git" || name == "bin" || name == "node_modules" || name == "fuzz" || name == "rapid" {
				return fs.SkipDir
			}
			return nil
		}
		switch filepath.Ext(path) {
		case ".go", ".sql", ".md", ".yaml", ".sh", ".csv", ".json", ".scenario", "":
			if filepath.Base(path) != "go.sum" {
				n++
				f(path, read(t, path))
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if n < 50 {
		t.Fatalf("only %d files looked at", n)
	}
}

func TestNoFileOutgrowsItsReader(t *testing.T) {
	t.Parallel()
	sources(t, func(path, content string) {
		switch ext := filepath.Ext(path); {
		case strings.HasSuffix(path, ".gen.go"), filepath.ToSlash(path) == "../testdata/schema.sql", ext == ".csv", ext == ".json", ext == ".yaml":
			return // generated, written by a test, or data
		}
		if n := strings.Count(content, "\n"); n > 500 {
			t.Errorf("%s has %d lines", path, n)
		}
	})
}

// TestFilesSpeakOfTheProjectAlone holds that nothing names the machine or the registry it was made with.
func TestFilesSpeakOfTheProjectAlone(t *testing.T) {
	t.Parallel()
	strange := regexp.MustCompile(`/work/|proxy\.golang` + `\.org|registry\.npmjs` + `|deb\.debian` + `\.org|/root/go`)
	sources(t, func(path, content string) {
		if filepath.Base(path) == "architecture_test.go" {
			return
		}
		if found := strange.FindString(content); found != "" {
			t.Errorf("%s names %q", path, found)
		}
	})
}

// TestEveryConventionNamesItsTest holds that the tests which DEVELOPERS.md names exist.
func TestEveryConventionNamesItsTest(t *testing.T) {
	t.Parallel()
	named := regexp.MustCompile("`((?:Test|Fuzz|Benchmark)[A-Za-z0-9_]+)`").FindAllStringSubmatch(read(t, filepath.Join(root, "DEVELOPERS.md")), -1)
	if len(named) < 10 {
		t.Fatalf("DEVELOPERS.md names %d tests only", len(named))
	}
	exists := map[string]bool{}
	sources(t, func(path, _ string) {
		if !strings.HasSuffix(path, "_test.go") {
			return
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Errorf("%s: %v", path, err)
			return
		}
		for _, d := range file.Decls {
			if fn, ok := d.(*ast.FuncDecl); ok {
				exists[fn.Name.Name] = true
			}
		}
	})
	for _, name := range named {
		if !exists[name[1]] {
			t.Errorf("DEVELOPERS.md names %s, which does not exist", name[1])
		}
	}
}

// TestEveryPackageSaysWhatItOwns holds that each package's comment says what it owns and what not.
func TestEveryPackageSaysWhatItOwns(t *testing.T) {
	t.Parallel()
	for _, p := range packages(t) {
		if p.ImportPath == "cmd/tiedown" || p.ImportPath == "internal" || strings.HasPrefix(p.ImportPath, "api/") {
			continue
		}
		owns := false
		for _, name := range p.GoFiles {
			file, err := parser.ParseFile(token.NewFileSet(), filepath.Join(p.Dir, name), nil, parser.PackageClauseOnly|parser.ParseComments)
			if err != nil {
				t.Fatal(err)
			}
			if doc := file.Doc.Text(); strings.Contains(doc, "owns") && strings.Contains(doc, "not own") {
				owns = true
			}
		}
		if !owns {
			t.Errorf("%s: its comment does not say what it owns and what it does not own", p.ImportPath)
		}
	}
}
