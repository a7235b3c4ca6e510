package httpapi

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/labstack/echo/v4"

	"tiedown/api"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// ownKinds reads the kinds of problem out of the source, so that none is forgotten below.
func ownKinds(t *testing.T) []techlog.Kind {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), "problem.go", nil, parser.SkipObjectResolution)
	if err != nil {
		t.Fatal(err)
	}
	var kinds []techlog.Kind
	ast.Inspect(file, func(n ast.Node) bool {
		spec, ok := n.(*ast.ValueSpec)
		if ok && len(spec.Values) == 1 && strings.HasPrefix(spec.Names[0].Name, "kind") {
			if lit, ok := spec.Values[0].(*ast.BasicLit); ok {
				value, err := strconv.Unquote(lit.Value)
				if err != nil {
					t.Fatal(err)
				}
				kinds = append(kinds, techlog.Kind(value))
			}
		}
		return true
	})
	if len(kinds) < 7 {
		t.Fatalf("only %d kinds found in the source", len(kinds))
	}
	return kinds
}

// TestEveryKindHasItsAnswer walks every kind of error through the table, and holds the contract to name each.
func TestEveryKindHasItsAnswer(t *testing.T) {
	t.Parallel()
	kinds := append(techlog.Kinds(), ownKinds(t)...)
	if len(problems) != len(kinds) {
		t.Errorf("%d answers for %d kinds", len(problems), len(kinds))
	}
	titles, contract := map[string]bool{}, string(api.Document)
	for _, kind := range kinds {
		p := problemOf(fmt.Errorf("wrapped: %w", techlog.Errorf(kind, "what happened")))
		if p.kind != kind || p.title == "" || p.remedy == "" || p.status < 400 || p.status > 599 {
			t.Errorf("%s: %+v", kind, p)
		}
		if (p.status == http.StatusInternalServerError) != (kind == kindInternal) {
			t.Errorf("%s is answered %d", kind, p.status)
		}
		if kind != kindInternal && p.detail != "what happened" {
			t.Errorf("%s: detail %q", kind, p.detail)
		}
		if titles[p.title] {
			t.Errorf("the title %q stands for two kinds", p.title)
		}
		titles[p.title] = true
		if !strings.Contains(contract, "`"+string(kind)+"`") {
			t.Errorf("the contract does not name the kind %s", kind)
		}
		w := httptest.NewRecorder()
		p.write(w, "7")
		var doc map[string]any
		if err := json.Unmarshal(w.Body.Bytes(), &doc); err != nil || doc["type"] != "urn:tiedown:problem:"+string(kind) || w.Code != p.status {
			t.Errorf("%s is written as %d %s", kind, w.Code, w.Body)
		}
	}
}

func TestErrorsFindTheirKind(t *testing.T) {
	t.Parallel()
	for what, c := range map[string]struct {
		err  error
		kind techlog.Kind
	}{
		"faults":               {casefile.Faults{{Field: "a", Rule: "range"}}, techlog.KindInvalid},
		"faults, wrapped":      {fmt.Errorf("x: %w", casefile.Faults{{Field: "a", Rule: "range"}, {Field: "b", Rule: "range"}}), techlog.KindInvalid},
		"a fault of syntax":    {casefile.Faults{{Field: "document", Rule: "syntax"}}, kindSyntax},
		"routing: path":        {echo.ErrNotFound, kindNoSuchPath},
		"routing: method":      {echo.ErrMethodNotAllowed, kindNoSuchMethod},
		"another echo error":   {echo.ErrTeapot, kindInternal},
		"a deadline":           {fmt.Errorf("x: %w", context.DeadlineExceeded), techlog.KindUnavailable},
		"an interruption":      {context.Canceled, techlog.KindUnavailable},
		"a deadline of a kind": {&techlog.Error{Kind: techlog.KindNotFound, Cause: context.DeadlineExceeded}, techlog.KindNotFound},
		"anything else":        {errors.New("secret"), kindInternal},
		"a kind of nobody":     {techlog.Errorf("new-kind", "secret"), kindInternal},
	} {
		p := problemOf(c.err)
		if p.kind != c.kind || strings.Contains(p.detail, "secret") || p.detail == "" {
			t.Errorf("%s: %s %q, want %s", what, p.kind, p.detail, c.kind)
		}
	}
}

func TestVersions(t *testing.T) {
	t.Parallel()
	if n, err := versionOf(` "12" `); n != 12 || err != nil {
		t.Errorf("%d, %v", n, err)
	}
	for _, bad := range []string{``, `1`, `"`, `""`, `"-0"`, `"00"`, `"-1"`, `"01"`, `"+1"`, `"1`, `W/"1"`, `*`, `"1", "2"`, `"9999999999999999999"`, `"1-abc"`} {
		if n, err := versionOf(bad); err == nil || techlog.KindOf(err) != techlog.KindStale {
			t.Errorf("%s: %d, %v, want kind stale", bad, n, err)
		}
	}
}

func TestKeptAnswersReadBack(t *testing.T) {
	t.Parallel()
	made, err := shown{3, "/v1/bases/1", map[string]string{"name": "a\n\nb"}}.frame(http.StatusCreated)
	if err != nil {
		t.Fatal(err)
	}
	if want := "201\nEtag: \"3\"\nLocation: /v1/bases/1\n\n{\"name\":\"a\\n\\nb\"}"; string(made) != want {
		t.Errorf("%q, want %q", made, want)
	}
	for _, c := range []struct {
		made     []byte
		replayed bool
	}{{made, false}, {nil, true}} {
		k, err := replay(made, c.made, nil)
		if err != nil {
			t.Fatal(err)
		}
		w := httptest.NewRecorder()
		if err := k.write(w); err != nil {
			t.Fatal(err)
		}
		if w.Code != 201 || w.Header().Get("ETag") != `"3"` || w.Header().Get("Location") != "/v1/bases/1" || w.Body.String() != `{"name":"a\n\nb"}` ||
			(w.Header().Get("Idempotency-Replayed") == "true") != c.replayed {
			t.Errorf("%d %v %s", w.Code, w.Header(), w.Body)
		}
	}
	for _, bad := range []string{"", "201", "x\n\n{}"} {
		if _, err := replay([]byte(bad), nil, nil); err == nil {
			t.Errorf("%q was read", bad)
		}
	}
}

// TestHalfAnAnswerIsCutOff holds that an answer which fails after it has begun ends the connection: nobody may take half
// of it for the whole.
func TestHalfAnAnswerIsCutOff(t *testing.T) {
	t.Parallel()
	s := Settings{Log: slog.New(slog.DiscardHandler), Now: func() time.Time { return time.Time{} }}
	d := newDesk(s, newAdmission(s))
	e := echo.New()
	for what, next := range map[string]echo.HandlerFunc{
		"an error": func(c echo.Context) error {
			return errors.Join(c.String(http.StatusOK, "half"), errors.New("the other half is lost"))
		},
		"a panic": func(c echo.Context) error {
			_ = c.String(http.StatusOK, "half")
			panic("the other half is lost")
		},
	} {
		func() {
			defer func() {
				if v := recover(); v != any(http.ErrAbortHandler) {
					t.Errorf("%s: ended by %v", what, v)
				}
			}()
			_ = d.receive(next)(e.NewContext(httptest.NewRequest(http.MethodGet, "/", nil), httptest.NewRecorder()))
			t.Errorf("%s: the connection was not cut", what)
		}()
	}
}
