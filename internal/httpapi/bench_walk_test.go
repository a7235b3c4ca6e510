package httpapi_test

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/api/client"
)

// BenchmarkCompleteWalkaround is the whole way of a walkaround of ninety checks that is reported and completed in one
// request: reading it, judging every result, the record, its entry in the log, and the review. Beside it, in the same run,
// a row is inserted and committed on a bare connection to the same server: bare-inserts is how many of those it costs.
//
//	go test -run '^$' -bench CompleteWalkaround ./internal/httpapi
func BenchmarkCompleteWalkaround(b *testing.B) {
	w := newWalk(b)
	conn, err := pgx.Connect(b.Context(), w.url)
	if err != nil {
		b.Fatal(err)
	}
	defer func() { _ = conn.Close(b.Context()) }()
	if _, err := conn.Exec(b.Context(), `CREATE TABLE bare (organization uuid, id uuid, words text, at timestamptz, PRIMARY KEY (organization, id))`); err != nil {
		b.Fatal(err)
	}
	insert := func() {
		if _, err := conn.Exec(b.Context(), `INSERT INTO bare VALUES ($1, $2, $3, $4)`, [16]byte(newID()), [16]byte(newID()), "oil level", noon); err != nil {
			b.Fatal(err)
		}
	}
	for range 50 { // every connection has prepared its statements
		w.complete(b)
		insert()
	}
	var walked, bare []time.Duration
	for b.Loop() {
		walked = append(walked, w.complete(b))
		began := time.Now()
		insert()
		bare = append(bare, time.Since(began))
	}
	b.ReportMetric(float64(median(walked).Microseconds()), "µs/walkaround")
	b.ReportMetric(float64(median(bare).Microseconds()), "µs/bare-insert")
	b.ReportMetric(float64(median(walked))/float64(median(bare)), "bare-inserts")
}

// median is of use on a machine that does other things as well.
func median(times []time.Duration) time.Duration {
	slices.Sort(times)
	return times[len(times)/2]
}

// complete starts a walkaround, and completes it with all of its results in one request, whose time it gives.
func (w *walk) complete(b *testing.B) time.Duration {
	b.Helper()
	post := func(path, body string) (*httptest.ResponseRecorder, time.Duration) {
		request := httptest.NewRequestWithContext(b.Context(), http.MethodPost, path, strings.NewReader(body))
		request.Header.Set("Content-Type", "application/json")
		request.Header.Set("Authorization", "Bearer "+w.tokens["pilot"])
		recorder := httptest.NewRecorder()
		began := time.Now()
		w.handler.ServeHTTP(recorder, request)
		took := time.Since(began)
		if recorder.Code != http.StatusCreated {
			b.Fatalf("%s: %d %s", path, recorder.Code, recorder.Body)
		}
		return recorder, took
	}
	begun, _ := post("/v1/aircraft/"+w.aircraft.Id.String()+"/walkarounds", `{"id": "`+newID().String()+`"}`)
	var review client.WalkaroundReview
	if err := json.Unmarshal(begun.Body.Bytes(), &review); err != nil {
		b.Fatal(err)
	}
	results := goodResults(review)
	if len(results) != 90 {
		b.Fatalf("%d checks", len(results))
	}
	_, took := post("/v1/walkarounds/"+review.Walkaround.Id.String()+"/results", `{"results": [`+strings.Join(results, ",")+`], "complete": true}`)
	return took
}
