package main

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"sync"
	"syscall"
	"testing"

	"tiedown/internal/testrig/follower"
	"tiedown/internal/testrig/pgtest"
)

// filed is an event of a squawk that was filed, by its place.
type filed struct {
	place, subject string
}

// filings are the events of every squawk that was filed, as they are listed.
func (p *process) filings(t *testing.T) []filed {
	t.Helper()
	var told []filed
	for next := int64(0); ; {
		status, body := p.get("pilot", "/v1/events?kinds=squawk.filed&limit=200&since="+strconv.FormatInt(next, 10))
		var page struct {
			Events []struct {
				Subject string
				Data    struct{ Place int64 }
			}
			Next int64
			More bool
		}
		if err := json.Unmarshal([]byte(body), &page); err != nil || status != 200 {
			t.Fatalf("%d %s", status, body)
		}
		for _, e := range page.Events {
			told = append(told, filed{strconv.FormatInt(e.Data.Place, 10), e.Subject})
		}
		if next = page.Next; !page.More {
			return told
		}
	}
}

// TestWhoFollowsOneServerSeesWhatIsDoneOnAnother has a program follow one of two servers on one database, while squawks are filed
// on the other. The one that it follows is killed; it goes on at the other from the id that it has seen last. It has had every
// event once and in order.
func TestWhoFollowsOneServerSeesWhatIsDoneOnAnother(t *testing.T) {
	t.Parallel()
	settings := []string{"TIEDOWN_DATABASE_URL=" + pgtest.New(t), "TIEDOWN_STATE_DIR=" + stateDir(t)}
	one := start(t, "demo", settings...)
	two := start(t, "demo", settings...)
	aircraft := list(t, one, "aircraft")[0].ID
	ctx, cancel := context.WithTimeout(context.Background(), startLimit)
	defer cancel()
	before := len(one.filings(t))
	const events = "/v1/events?kinds=squawk.filed"
	f := &follower.Follower{Token: one.tokens["pilot"]}
	if err := f.Open(ctx, "http://"+one.addr+events); err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	file := func(p *process, n int) {
		status, body := p.post("mechanic", "/v1/aircraft/"+aircraft+"/squawks", fmt.Sprintf(`{"kind": "condition", "item": "tire", "words": "Cut no. %d."}`, n))
		if status != 201 {
			t.Errorf("%d %s", status, body)
		}
	}
	var seen []follower.Event
	read := func(what string) {
		t.Helper()
		e, ok := f.Next()
		if !ok {
			t.Fatalf("%s: the stream has ended", what)
		}
		seen = append(seen, e)
	}
	for n := range 3 {
		file(two, n)
		read("filed on the other")
	}
	const during = 20
	var filing sync.WaitGroup
	filing.Go(func() {
		for n := range during {
			file(two, 10+n)
		}
	})
	read("filed while the first is about to be killed")
	if err := one.stop(syscall.SIGKILL); err == nil {
		t.Fatal("a killed program ends well")
	}
	for e, ok := f.Next(); ok; e, ok = f.Next() { // what was on its way
		seen = append(seen, e)
	}
	if err := f.Open(ctx, "http://"+two.addr+events); err != nil {
		t.Fatal(err)
	}
	for len(seen) < 3+during {
		read("gone on at the other")
	}
	filing.Wait()
	var places []filed
	for _, e := range seen {
		var event struct{ Subject string }
		if err := json.Unmarshal([]byte(e.Data), &event); err != nil {
			t.Fatal(err)
		}
		places = append(places, filed{e.ID, event.Subject})
	}
	if told := two.filings(t); len(places) != 3+during || !slices.Equal(places, told[before:]) {
		t.Errorf("seen are\n%v\nthere are\n%v", places, told[before:])
	}
	// Who listens does not keep a server from ending.
	if err := two.stop(syscall.SIGTERM); err != nil {
		t.Errorf("the order to stop: %v\n%s", err, two.stderr)
	}
	if e, ok := f.Next(); ok {
		t.Errorf("a server that has ended tells of %+v", e)
	}
}
