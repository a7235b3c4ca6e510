// Command webhook measures how long after a squawk was filed a receiver elsewhere has heard of it: server, PostgreSQL and
// receiver are processes of their own, squawks come at a steady rate, and a bare insert into an outbox is timed between them.
//
// It owns the load, the receiver and the bare insert. It does not own what is measured: Tiedown is built from the tree and
// run as its users run it.
package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/bench/process"
	"tiedown/internal/demo"
	"tiedown/internal/localpg"
)

// bar is by when 99 of 100 events are to have arrived.
const bar = 250 * time.Millisecond

func main() {
	if len(os.Args) > 1 && os.Args[1] == "receive" {
		if err := receive(); err != nil {
			log.Fatal(err)
		}
		return
	}
	rate := flag.Int("rate", 50, "squawks a second")
	lasts := flag.Duration("for", time.Minute, "how long")
	aircraft := flag.Int("aircraft", 100, "aircraft that they are about")
	flag.Parse()
	if err := run(context.Background(), *rate, *lasts, *aircraft); err != nil {
		log.Fatal(err)
	}
}

// receive answers every event, and tells when each came, by the record that it is about.
func receive() error {
	var lock sync.Mutex
	came := map[string]int64{}
	http.HandleFunc("POST /", func(w http.ResponseWriter, r *http.Request) {
		at := time.Now().UnixNano()
		var event struct {
			Subject string `json:"subject"`
		}
		if err := json.NewDecoder(r.Body).Decode(&event); err != nil {
			w.WriteHeader(http.StatusBadRequest)
			return
		}
		lock.Lock()
		defer lock.Unlock()
		if _, again := came[event.Subject]; !again {
			came[event.Subject] = at
		}
	})
	http.HandleFunc("GET /", func(w http.ResponseWriter, _ *http.Request) {
		lock.Lock()
		defer lock.Unlock()
		_ = json.NewEncoder(w).Encode(came) //nolint:errcheck // who asks has gone
	})
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	fmt.Printf("listens on http://%s\n", listener.Addr())
	return http.Serve(listener, nil)
}

func run(ctx context.Context, rate int, lasts time.Duration, aircraft int) error {
	dir, err := os.MkdirTemp("", "tiedown-bench-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir) //nolint:errcheck // a folder of temporary files
	if err := os.Chmod(dir, 0o755); err != nil {
		return err
	}
	cluster, err := localpg.Start(ctx, localpg.Options{Dir: filepath.Join(dir, "state")})
	if err != nil {
		return err
	}
	return errors.Join(measure(ctx, dir, cluster.URL(localpg.Database), rate, lasts, aircraft), cluster.Stop(ctx))
}

func measure(ctx context.Context, dir, url string, rate int, lasts time.Duration, aircraft int) error {
	tiedown, token, err := process.Tiedown(ctx, dir, url, "TIEDOWN_WEBHOOK_ALLOW=127.0.0.1")
	if err != nil {
		return err
	}
	defer tiedown.Stop()
	receiver, err := process.Again("receive")
	if err != nil {
		return err
	}
	defer receiver.Stop()
	c := client{tiedown.Addr, token}
	ids, err := c.enter(ctx, aircraft)
	if err != nil {
		return err
	}
	if _, err := c.post(ctx, "/v1/webhooks", map[string]any{"url": "http://" + receiver.Addr + "/in", "kinds": []string{"squawk.filed"}}); err != nil {
		return err
	}
	outbox, err := newOutbox(ctx, url)
	if err != nil {
		return err
	}
	defer outbox.conn.Close(ctx) //nolint:errcheck // the measurement is over

	var lock sync.Mutex
	var under sync.WaitGroup
	filed, answered := map[string]time.Time{}, []time.Duration{}
	var failed error
	var bare []time.Duration
	ticks := time.NewTicker(time.Second / time.Duration(rate))
	defer ticks.Stop()
	for n := range rate * int(lasts/time.Second) {
		<-ticks.C
		under.Go(func() {
			begun := time.Now()
			id, err := c.post(ctx, "/v1/aircraft/"+ids[n%len(ids)]+"/squawks", map[string]any{
				"kind": "inoperative", "unit": "taxi-light", "words": "Taxi light dark on the evening walkaround.",
			})
			lock.Lock()
			defer lock.Unlock()
			failed = errors.Join(failed, err)
			filed[id], answered = begun, append(answered, time.Since(begun))
		})
		took, err := outbox.insert(ctx)
		if err != nil {
			return err
		}
		bare = append(bare, took)
	}
	under.Wait()
	if failed != nil {
		return failed
	}
	return report(ctx, receiver.Addr, filed, answered, bare, rate, lasts)
}

// report waits until everything has come, and prints what was measured.
func report(ctx context.Context, receiver string, filed map[string]time.Time, answered, bare []time.Duration, rate int, lasts time.Duration) error {
	var came map[string]int64
	for end := time.Now().Add(time.Minute); len(came) < len(filed); time.Sleep(100 * time.Millisecond) {
		request, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+receiver, nil)
		if err != nil {
			return err
		}
		response, err := http.DefaultClient.Do(request)
		if err != nil {
			return err
		}
		raw, err := io.ReadAll(response.Body)
		_ = response.Body.Close() //nolint:errcheck // read to the end
		if err == nil {
			err = json.Unmarshal(raw, &came)
		}
		if err != nil {
			return err
		}
		if time.Now().After(end) {
			return fmt.Errorf("%d of %d events came", len(came), len(filed))
		}
	}
	var took []time.Duration
	for id, begun := range filed {
		at, ok := came[id]
		if !ok {
			return fmt.Errorf("of squawk %s nothing came", id)
		}
		took = append(took, time.Duration(at-begun.UnixNano()))
	}
	p50, p99 := of(took, 50), of(took, 99)
	fmt.Printf("%d squawks, %d/s for %s, all of them received\n", len(filed), rate, lasts)
	fmt.Printf("POST to its answer    p50 %s  p99 %s\n", of(answered, 50), of(answered, 99))
	fmt.Printf("POST to the webhook   p50 %s  p99 %s  longest %s (bar: p99 below %s)\n", p50, p99, of(took, 100), bar)
	fmt.Printf("bare outbox insert    p50 %s  p99 %s\n", of(bare, 50), of(bare, 99))
	fmt.Printf("ratio                 p50 %.1f  p99 %.1f\n", float64(p50)/float64(of(bare, 50)), float64(p99)/float64(of(bare, 99)))
	return nil
}

// of is a percentile.
func of(took []time.Duration, percent int) time.Duration {
	sorted := slices.Sorted(slices.Values(took))
	return sorted[min(len(sorted)*percent/100, len(sorted)-1)].Round(10 * time.Microsecond)
}

// outbox is a table as bare as an outbox can be, on a connection of its own.
type outbox struct{ conn *pgx.Conn }

func newOutbox(ctx context.Context, url string) (outbox, error) {
	conn, err := pgx.Connect(ctx, url)
	if err != nil {
		return outbox{}, err
	}
	_, err = conn.Exec(ctx, `CREATE TABLE bare_outbox (id uuid PRIMARY KEY DEFAULT gen_random_uuid(), kind text NOT NULL, body text NOT NULL, at timestamptz NOT NULL DEFAULT now())`)
	return outbox{conn}, err
}

func (o outbox) insert(ctx context.Context) (time.Duration, error) {
	begun := time.Now()
	_, err := o.conn.Exec(ctx, `INSERT INTO bare_outbox (kind, body) VALUES ($1, $2)`, "squawk.filed", "Taxi light dark on the evening walkaround.")
	return time.Since(begun), err
}

// enter adds a base and aircraft through the interface.
func (c client) enter(ctx context.Context, aircraft int) ([]string, error) {
	base, err := c.post(ctx, "/v1/bases", map[string]any{"code": "HOME", "name": "Home", "lat": 41.2, "lon": -95.5, "zone": "America/Chicago"})
	if err != nil {
		return nil, err
	}
	written, err := demo.Aircraft("trainer")
	if err != nil {
		return nil, err
	}
	demo.Inspect(&written.Facts, time.Now())
	var ids []string
	for n := range aircraft {
		id, err := c.post(ctx, "/v1/aircraft", map[string]any{
			"registration": fmt.Sprintf("N0%04d", n), "type": "Measured", "base": base, "facts": written.Facts, "configuration": written.Configuration,
		})
		if err != nil {
			return nil, err
		}
		ids = append(ids, id)
	}
	return ids, nil
}
