// Command http measures Tiedown beside a bare server on the same machine, in one run: the same web framework, the same
// database driver, the same PostgreSQL, one row read by key and one row inserted.
//
// It owns the bare server and the load. It does not own what is measured: Tiedown is built from the tree and run as
// its users run it.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"log"
	"os"
	"os/signal"
	"path/filepath"
	"syscall"
	"time"

	"tiedown/internal/localpg"
)

// scale is how much is on record while something is measured.
type scale struct {
	aircraft, squawks int
}

type plan struct {
	small, large scale
	readFor      time.Duration // each read measurement
	writes       int           // each write measurement, in requests
	rounds       int
	clients      int
	connections  int // of each server to the database
	flightsEach  int // future flights of each aircraft
}

func main() {
	if len(os.Args) > 1 && os.Args[1] == "bare" {
		if err := serveBare(os.Args[2]); err != nil {
			log.Fatal(err)
		}
		return
	}
	p := plan{
		small: scale{100, 1000}, readFor: 5 * time.Second, writes: 2000, rounds: 3, clients: 16, connections: 12, flightsEach: 3,
	}
	flag.IntVar(&p.large.aircraft, "aircraft", 10_000, "aircraft of the large fleet; 0 leaves it out")
	flag.IntVar(&p.large.squawks, "squawks", 1_000_000, "squawks on record of the large fleet")
	flag.IntVar(&p.clients, "clients", p.clients, "clients that send at once")
	flag.IntVar(&p.connections, "connections", p.connections, "connections of each server to the database")
	flag.IntVar(&p.writes, "writes", p.writes, "writes of each kind a round")
	flag.DurationVar(&p.readFor, "read", p.readFor, "how long each read measurement lasts")
	flag.IntVar(&p.rounds, "rounds", p.rounds, "rounds; the median is reported")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	err := run(ctx, p)
	stop()
	if err != nil {
		log.Fatal(err)
	}
}

func run(ctx context.Context, p plan) error {
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
	err = measure(ctx, p, dir, cluster.URL(localpg.Database))
	return errors.Join(err, cluster.Stop(context.WithoutCancel(ctx)))
}

func measure(ctx context.Context, p plan, dir, url string) error {
	ours, err := startTiedown(ctx, dir, url, p.connections)
	if err != nil {
		return err
	}
	defer ours.Stop()
	bare, err := startBare(fmt.Sprintf("%s&pool_max_conns=%d", url, p.connections))
	if err != nil {
		return err
	}
	defer bare.Stop()
	fleet, err := newFleet(ctx, url, ours, p.flightsEach)
	if err != nil {
		return err
	}
	defer fleet.close()
	small, err := measureScale(ctx, p, p.small, fleet, ours, bare)
	if err != nil || p.large.aircraft == 0 {
		return err
	}
	large, err := measureScale(ctx, p, p.large, fleet, ours, bare)
	if err != nil {
		return err
	}
	fmt.Printf("growth of p99, %d to %d aircraft, %d to %d squawks: status %.2f times, filing %.2f times (bar: at most 1.30)\n",
		p.small.aircraft, p.large.aircraft, p.small.squawks, p.large.squawks,
		float64(large.read.p99)/float64(small.read.p99), float64(large.write.p99)/float64(small.write.p99))
	fmt.Printf("the same growth of the bare server: read %.2f times, insert %.2f times\n",
		float64(large.bareRead.p99)/float64(small.bareRead.p99), float64(large.bareWrite.p99)/float64(small.bareWrite.p99))
	return nil
}

// figures are the medians of one scale.
type figures struct {
	read, bareRead, write, bareWrite result
}

func measureScale(ctx context.Context, p plan, s scale, fleet *fleet, ours, bare *server) (figures, error) {
	if err := fleet.grow(ctx, s); err != nil {
		return figures{}, err
	}
	var reads, bareReads, writes, bareWrites []result
	step := func(into *[]result, l load) error {
		r, err := l.run(ctx)
		*into = append(*into, r)
		return err
	}
	for round := range p.rounds + 1 { // the first warms up
		if round == 1 {
			reads, bareReads, writes, bareWrites = nil, nil, nil, nil
		}
		for _, err := range []error{
			step(&bareReads, load{server: bare, clients: p.clients, lasts: p.readFor, request: fleet.bareRead}),
			step(&reads, load{server: ours, clients: p.clients, lasts: p.readFor, request: fleet.read}),
			fleet.writeInBatches(ctx, p, ours, bare, &writes, &bareWrites),
		} {
			if err != nil {
				return figures{}, err
			}
		}
	}
	f := figures{median(reads), median(bareReads), median(writes), median(bareWrites)}
	fmt.Printf("%d aircraft, %d squawks on record, %d future flights each, %d clients, %d bytes a status\n",
		s.aircraft, s.squawks, fleet.flightsEach, p.clients, fleet.statusBytes)
	fmt.Printf("  read a status:  %s   bare read:   %s   ratio %.2f (bar: 0.70)\n", f.read, f.bareRead, f.read.rate/f.bareRead.rate)
	fmt.Printf("  file a squawk:  %s   bare insert: %s   ratio %.2f (bar: 0.40)\n", f.write, f.bareWrite, f.write.rate/f.bareWrite.rate)
	return f, nil
}
