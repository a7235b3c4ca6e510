package messenger_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"sync"
	"testing"
	"time"

	"tiedown/internal/messenger"
	"tiedown/internal/notice"
	"tiedown/internal/techlog"
)

var errCrash = errors.New("the server was killed")

// brittle is a store that is cut off at random: before it does something, or after it has and before it says so.
type brittle struct {
	messenger.Store
	mu     sync.Mutex
	random *rand.Rand
	calm   bool
}

func (b *brittle) crash() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if !b.calm && b.random.IntN(4) == 0 {
		return errCrash
	}
	return nil
}

func (b *brittle) around(do func() error) error {
	if err := b.crash(); err != nil {
		return err
	}
	if err := do(); err != nil {
		return err
	}
	return b.crash()
}

func (b *brittle) WriteNotes(ctx context.Context, org techlog.ID, from, to int64, notes []notice.Note) error {
	return b.around(func() error { return b.Store.WriteNotes(ctx, org, from, to, notes) })
}

func (b *brittle) SettleNote(ctx context.Context, org, id techlog.ID, o notice.Outcome) error {
	return b.around(func() error { return b.Store.SettleNote(ctx, org, id, o) })
}

func (b *brittle) AddStopLinks(ctx context.Context, org techlog.ID, links ...notice.StopLink) error {
	return b.around(func() error { return b.Store.AddStopLinks(ctx, org, links...) })
}

func (b *brittle) ClaimNotes(ctx context.Context, org techlog.ID, at, until time.Time, limit int) (notes []notice.Note, err error) {
	err = b.around(func() error {
		notes, err = b.Store.ClaimNotes(ctx, org, at, until, limit)
		return err
	})
	return notes, err
}

// TestEachNoteIsWrittenOnceAndSentAtLeastOnce, by two servers that are killed again and again, through a server of mail
// that takes some letters and does not say so: no note is lost, none is written twice, and what is sent again is the same
// message.
func TestEachNoteIsWrittenOnceAndSentAtLeastOnce(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	rounds := 12
	if more, err := strconv.Atoi(os.Getenv("TIEDOWN_NOTE_ROUNDS")); err == nil {
		rounds = more
	}
	readers := []techlog.Principal{c.enroll("pat", techlog.Mechanic), c.enroll("sam", techlog.Mechanic, techlog.Scheduler)}
	random := rand.New(rand.NewPCG(7, uint64(time.Now().UnixNano())))
	stores := []*brittle{
		{Store: c.store, random: rand.New(rand.NewPCG(random.Uint64(), 1))}, {Store: c.store, random: rand.New(rand.NewPCG(random.Uint64(), 2))},
	}
	var mu sync.Mutex
	calm := false
	chance := func(notice.Mail) error {
		mu.Lock()
		defer mu.Unlock()
		if !calm && random.IntN(3) == 0 {
			return errors.New("the line broke")
		}
		return nil
	}
	c.box.fail, c.box.lose = chance, chance
	filed := map[string]bool{}
	work := func(b *brittle) {
		m := c.over(b)
		for range 3 {
			_, _ = m.Relay(t.Context()) // whatever it was cut off in, the next goes on
			_, _ = m.Send(t.Context())
		}
	}
	for range rounds {
		q := c.squawk("landing-light")
		filed[q.Label()] = true
		c.carryOver(q.ID, techlog.StepClose, nil)
		var both sync.WaitGroup
		for _, b := range stores {
			both.Go(func() { work(b) })
		}
		both.Wait()
		c.wait(3 * time.Minute)
	}
	mu.Lock()
	calm = true
	mu.Unlock()
	for _, b := range stores {
		b.mu.Lock()
		b.calm = true
		b.mu.Unlock()
	}
	for range 30 {
		work(stores[0])
		c.wait(time.Hour)
	}
	subjects, times := map[string]string{}, map[string]int{}
	for _, m := range c.box.take() {
		if was, ok := subjects[m.ID]; ok && was != m.Subject+m.To {
			t.Errorf("the message %s was %q, then %q", m.ID, was, m.Subject+m.To)
		}
		subjects[m.ID] = m.Subject + m.To
		times[m.ID]++
	}
	perText := map[string]int{}
	for _, text := range subjects {
		perText[text]++
	}
	for label := range filed {
		for _, r := range readers {
			text := fmt.Sprintf("N012TW: squawk %s, Dead since the last landing.%s@club.example", label, r.Name)
			if perText[text] != 1 {
				t.Errorf("%d messages %q", perText[text], text)
			}
		}
	}
	if len(subjects) != len(filed)*len(readers) {
		t.Errorf("%d messages of %d squawks to %d readers", len(subjects), len(filed), len(readers))
	}
	t.Logf("%d messages, sent %d times", len(subjects), func() (n int) {
		for _, k := range times {
			n += k
		}
		return n
	}())
	for _, r := range readers {
		all, err := c.store.NotesTo(t.Context(), c.who.Organization, r.Person, 1000)
		if err != nil || len(all) != len(filed) {
			t.Errorf("%d notes of %d squawks, %v", len(all), len(filed), err)
		}
		for _, n := range all {
			if n.State != notice.Sent {
				t.Errorf("%+v", n)
			}
		}
	}
}
