package httpapi_test

import (
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/labstack/echo/v4"

	"tiedown/api/client"
	"tiedown/internal/hangar"
	"tiedown/internal/httpapi"
	"tiedown/internal/techlog"
)

// instantStore has one aircraft and answers without a database: what is measured is the way through the house.
type instantStore struct {
	hangar.Store
	aircraft techlog.Aircraft
}

func (s *instantStore) Stamp(context.Context, techlog.ID, techlog.ID) (hangar.Stamp, error) {
	return hangar.Stamp{Version: 1}, nil
}

func (s *instantStore) Measured(context.Context, techlog.ID, techlog.ID, int, int) (hangar.Measured, error) {
	return hangar.Measured{}, nil
}

func (s *instantStore) Snapshot(context.Context, techlog.ID, hangar.Want) (hangar.Snapshot, error) {
	return hangar.Snapshot{Aircraft: s.aircraft}, nil
}

func (s *instantStore) Change(ctx context.Context, _ hangar.Scope, f func(context.Context, hangar.Tx) ([]byte, error)) ([]byte, error) {
	return f(ctx, &instantTx{snapshot: hangar.Snapshot{Aircraft: s.aircraft}})
}

type instantTx struct {
	hangar.Tx
	snapshot hangar.Snapshot
}

func (t *instantTx) Snapshot(int) *hangar.Snapshot   { return &t.snapshot }
func (t *instantTx) AddSquawk(techlog.Squawk)        {}
func (t *instantTx) AddHistory(techlog.HistoryEntry) {}
func (t *instantTx) Touch(techlog.ID)                {}
func (t *instantTx) Emit(techlog.Event)              {}

func benchRig(b *testing.B) (http.Handler, techlog.Aircraft) {
	b.Helper()
	entry := trainer(client.ID{1})
	aircraft := techlog.Aircraft{
		ID: newID(), Registration: entry.Registration, Facts: entry.Facts, Configuration: *entry.Configuration, PlanVersion: 1, StateVersion: 1,
	}
	r := &rig{}
	store := &instantStore{aircraft: aircraft}
	r.start(b, store, anybody{}, persons{})
	return httpapi.New(httpapi.Settings{Service: r.service, Store: anybody{}, Log: slog.New(slog.DiscardHandler), Now: r.clock.now}), aircraft
}

// sink is an answer that is thrown away.
type sink struct {
	header http.Header
	status int
	bytes  int
}

func (s *sink) Header() http.Header         { return s.header }
func (s *sink) WriteHeader(status int)      { s.status = status }
func (s *sink) Write(p []byte) (int, error) { s.bytes += len(p); return len(p), nil }

func serve(b *testing.B, h http.Handler, method, path, body string, want int) {
	b.Helper()
	request := httptest.NewRequest(method, path, nil)
	request.Header.Set("Authorization", "Bearer "+anyToken)
	request.Header.Set("Content-Type", "application/json")
	w := &sink{}
	b.ReportAllocs()
	for b.Loop() {
		w.header = http.Header{}
		w.bytes = 0
		if body != "" {
			request.Body = io.NopCloser(strings.NewReader(body))
			request.ContentLength = int64(len(body))
		}
		h.ServeHTTP(w, request)
		if w.status != want {
			b.Fatalf("%d, want %d", w.status, want)
		}
	}
	b.ReportMetric(float64(w.bytes), "bytes-answered")
}

func BenchmarkStatus(b *testing.B) {
	h, a := benchRig(b)
	serve(b, h, "GET", "/v1/aircraft/"+a.ID.String()+"/status", "", 200)
}

// BenchmarkBareRead is what a bare echo handler costs that answers as many bytes.
func BenchmarkBareRead(b *testing.B) {
	h, a := benchRig(b)
	recorder := httptest.NewRecorder()
	request := httptest.NewRequest(http.MethodGet, "/v1/aircraft/"+a.ID.String()+"/status", nil)
	request.Header.Set("Authorization", "Bearer "+anyToken)
	h.ServeHTTP(recorder, request)
	body := recorder.Body.Bytes()
	e := echo.New()
	e.GET("/v1/aircraft/:aircraft/status", func(c echo.Context) error { return c.Blob(200, "application/json", body) })
	serve(b, e, "GET", "/v1/aircraft/"+a.ID.String()+"/status", "", 200)
}

const filed = `{"kind": "inoperative", "unit": "ldg", "words": "landing light stays dark, bulb looks whole"}`

func BenchmarkFileSquawk(b *testing.B) {
	h, a := benchRig(b)
	serve(b, h, "POST", "/v1/aircraft/"+a.ID.String()+"/squawks", filed, 201)
}

// BenchmarkBareWrite is what a bare echo handler costs that decodes the same body and answers it.
func BenchmarkBareWrite(b *testing.B) {
	e := echo.New()
	e.POST("/v1/aircraft/:aircraft/squawks", func(c echo.Context) error {
		var report client.SquawkReport
		if err := json.NewDecoder(c.Request().Body).Decode(&report); err != nil {
			return err
		}
		return c.JSON(201, report)
	})
	serve(b, e, "POST", "/v1/aircraft/"+newID().String()+"/squawks", filed, 201)
}

func BenchmarkEvaluate(b *testing.B) {
	h, _ := benchRig(b)
	serve(b, h, "POST", "/v1/evaluations", sampleCase, 200)
}
