package httpapi_test

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/labstack/echo/v4"

	"tiedown/api/client"
)

// BenchmarkCompleteWalkaround is the whole way of a walkaround of ninety checks that is reported and completed in one
// request: reading it, judging every result, the record, its entry in the log, and the review. Beside it, in the same run
// and against the same database, a bare echo server decodes a line and inserts one row: bare-inserts is how many of those
// requests it costs, bare-rows how many inserts without a server before them. All are medians.
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
	insert := func(words string) error {
		_, err := conn.Exec(b.Context(), `INSERT INTO bare VALUES ($1, $2, $3, $4)`, [16]byte(newID()), [16]byte(newID()), words, noon)
		return err
	}
	e := echo.New()
	e.POST("/rows", func(c echo.Context) error {
		var row struct{ Words string }
		if err := c.Bind(&row); err != nil {
			return err
		}
		if err := insert(row.Words); err != nil {
			return err
		}
		return c.JSON(http.StatusCreated, row)
	})
	ours, theirs := httptest.NewServer(w.handler), httptest.NewServer(e)
	defer ours.Close()
	defer theirs.Close()
	var walked, bare, rows []time.Duration
	measure := func() {
		walked = append(walked, w.complete(b, ours.URL))
		_, took := w.post(b, theirs.URL+"/rows", `{"words": "oil level"}`)
		bare = append(bare, took)
		began := time.Now()
		if err := insert("oil level"); err != nil {
			b.Fatal(err)
		}
		rows = append(rows, time.Since(began))
	}
	for range 50 { // every connection has prepared its statements
		measure()
	}
	walked, bare, rows = nil, nil, nil
	for b.Loop() {
		measure()
	}
	b.ReportMetric(float64(median(walked).Microseconds()), "µs/walkaround")
	b.ReportMetric(float64(median(bare).Microseconds()), "µs/bare-insert")
	b.ReportMetric(float64(median(walked))/float64(median(bare)), "bare-inserts")
	b.ReportMetric(float64(median(walked))/float64(median(rows)), "bare-rows")
}

// median is of use on a machine that does other things as well.
func median(times []time.Duration) time.Duration {
	slices.Sort(times)
	return times[len(times)/2]
}

// post sends a request that makes something, and gives its answer and how long it took.
func (w *walk) post(b *testing.B, url, body string) ([]byte, time.Duration) {
	b.Helper()
	request, err := http.NewRequestWithContext(b.Context(), http.MethodPost, url, strings.NewReader(body))
	if err != nil {
		b.Fatal(err)
	}
	request.Header.Set("Content-Type", "application/json")
	request.Header.Set("Authorization", "Bearer "+w.tokens["pilot"])
	began := time.Now()
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		b.Fatal(err)
	}
	defer response.Body.Close()
	answer, err := io.ReadAll(response.Body)
	took := time.Since(began)
	if err != nil || response.StatusCode != http.StatusCreated {
		b.Fatalf("%s: %d %s, %v", url, response.StatusCode, answer, err)
	}
	return answer, took
}

// complete starts a walkaround, and completes it with all of its results in one request, whose time it gives.
func (w *walk) complete(b *testing.B, server string) time.Duration {
	b.Helper()
	begun, _ := w.post(b, server+"/v1/aircraft/"+w.aircraft.Id.String()+"/walkarounds", `{"id": "`+newID().String()+`"}`)
	var review client.WalkaroundReview
	if err := json.Unmarshal(begun, &review); err != nil {
		b.Fatal(err)
	}
	results := goodResults(review)
	if len(results) != 90 {
		b.Fatalf("%d checks", len(results))
	}
	_, took := w.post(b, server+"/v1/walkarounds/"+review.Walkaround.Id.String()+"/results", `{"results": [`+strings.Join(results, ",")+`], "complete": true}`)
	return took
}
