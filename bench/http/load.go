package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"slices"
	"sync"
	"sync/atomic"
	"time"
)

// load is one measurement: so many clients, for so long or so many requests.
type load struct {
	server  *server
	clients int
	lasts   time.Duration // or:
	count   int
	request func(*rand.Rand) []byte // the bytes of one request
}

// result is what came of it.
type result struct {
	rate float64 // requests a second
	p50  time.Duration
	p99  time.Duration
}

func (r result) String() string {
	return fmt.Sprintf("%7.0f/s p50 %5.2f ms p99 %6.2f ms", r.rate, r.p50.Seconds()*1e3, r.p99.Seconds()*1e3)
}

// median takes the middle of each figure.
func median(results []result) result {
	var m result
	pick := func(less func(a, b result) int) result {
		sorted := slices.Clone(results)
		slices.SortFunc(sorted, less)
		return sorted[len(sorted)/2]
	}
	m.rate = pick(func(a, b result) int { return int(a.rate - b.rate) }).rate
	m.p50 = pick(func(a, b result) int { return int(a.p50 - b.p50) }).p50
	m.p99 = pick(func(a, b result) int { return int(a.p99 - b.p99) }).p99
	return m
}

// run sends the load. A refused request ends it: what is measured must be work done.
func (l load) run(ctx context.Context) (result, error) {
	if l.lasts > 0 {
		limited, cancel := context.WithTimeout(ctx, l.lasts)
		defer cancel()
		ctx = limited
	}
	var (
		left   atomic.Int64
		wg     sync.WaitGroup
		mu     sync.Mutex
		took   []time.Duration
		failed error
	)
	left.Store(int64(l.count))
	start := time.Now()
	for client := range l.clients {
		wg.Go(func() {
			mine, err := l.client(ctx, uint64(client), &left)
			mu.Lock()
			defer mu.Unlock()
			took = append(took, mine...)
			if err != nil {
				failed = err
			}
		})
	}
	wg.Wait()
	elapsed := time.Since(start)
	if failed != nil {
		return result{}, failed
	}
	if len(took) == 0 {
		return result{}, fmt.Errorf("no request was answered")
	}
	slices.Sort(took)
	return result{
		rate: float64(len(took)) / elapsed.Seconds(), p50: took[len(took)/2], p99: took[len(took)*99/100],
	}, nil
}

// client sends one request after another over one connection.
func (l load) client(ctx context.Context, seed uint64, left *atomic.Int64) ([]time.Duration, error) {
	conn, err := net.Dial("tcp", l.server.Addr)
	if err != nil {
		return nil, err
	}
	defer conn.Close() //nolint:errcheck // nothing is waiting
	answers := bufio.NewReaderSize(conn, 64<<10)
	random := rand.New(rand.NewPCG(seed, uint64(time.Now().UnixNano())))
	var took []time.Duration
	for ctx.Err() == nil && (l.count == 0 || left.Add(-1) >= 0) {
		request := l.request(random)
		start := time.Now()
		if _, err := conn.Write(request); err != nil {
			return took, err
		}
		response, err := http.ReadResponse(answers, nil)
		if err != nil {
			return took, err
		}
		if response.StatusCode >= 300 {
			body, _ := io.ReadAll(response.Body)
			return took, fmt.Errorf("%s: %s", response.Status, body)
		}
		if _, err := io.Copy(io.Discard, response.Body); err != nil {
			return took, err
		}
		took = append(took, time.Since(start))
	}
	return took, nil
}
