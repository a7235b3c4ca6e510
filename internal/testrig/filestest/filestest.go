// Package filestest is the suite that every place where content is kept must pass.
//
// It owns what the port promises, as tests over the port alone. It does not own what only one of the places has, such as
// folders or rows.
package filestest

import (
	"bytes"
	"crypto/sha256"
	"slices"
	"sync"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// Place is somewhere empty to keep content.
type Place struct {
	Files hangar.Files
	Orgs  [2]techlog.ID // two organizations that may keep content there
	// Later gives an instant after everything that was put before it was called, and before what is put afterwards. A place
	// that says itself how old content is gives it by its own clock.
	Later func() time.Time
}

// Open gives a test a place of its own.
type Open = func(t *testing.T) Place

// Run holds a place against the suite.
func Run(t *testing.T, open Open) {
	for name, test := range map[string]func(*testing.T, Place){
		"Kept": testKept, "Apart": testApart, "Again": testAgain, "Listed": testListed, "Dropped": testDropped, "AtOnce": testAtOnce,
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			test(t, open(t))
		})
	}
}

func (p Place) put(t *testing.T, org techlog.ID, content []byte) [32]byte {
	t.Helper()
	digest := sha256.Sum256(content)
	if err := p.Files.Put(t.Context(), org, digest, content, p.Later()); err != nil {
		t.Fatal(err)
	}
	return digest
}

func (p Place) want(t *testing.T, org techlog.ID, content []byte) {
	t.Helper()
	got, err := p.Files.Get(t.Context(), org, sha256.Sum256(content))
	if err != nil || !bytes.Equal(got, content) {
		t.Errorf("%d bytes came back as %d: %v", len(content), len(got), err)
	}
}

func (p Place) wantNone(t *testing.T, org techlog.ID, digest [32]byte) {
	t.Helper()
	if got, err := p.Files.Get(t.Context(), org, digest); techlog.KindOf(err) != techlog.KindNotFound || got != nil {
		t.Errorf("of what is not there: %q, %v", got, err)
	}
}

func testKept(t *testing.T, p Place) {
	p.wantNone(t, p.Orgs[0], sha256.Sum256([]byte("nothing")))
	large := bytes.Repeat([]byte("0123456789abcde\n"), 10<<16)
	for _, content := range [][]byte{{0}, []byte("\x00\xff\n\r\n"), large} {
		p.put(t, p.Orgs[0], content)
		p.want(t, p.Orgs[0], content)
	}
}

func testApart(t *testing.T, p Place) {
	content := []byte("of the first")
	digest := p.put(t, p.Orgs[0], content)
	p.wantNone(t, p.Orgs[1], digest)
	if old := p.old(t, p.Orgs[1], p.Later()); len(old) != 0 {
		t.Errorf("the other's content is listed: %x", old)
	}
	if err := p.Files.Drop(t.Context(), p.Orgs[1], digest, p.Later()); err != nil {
		t.Error(err)
	}
	p.want(t, p.Orgs[0], content)
}

func testAgain(t *testing.T, p Place) {
	content := []byte("again and again")
	digest := p.put(t, p.Orgs[0], content)
	between := p.Later()
	p.put(t, p.Orgs[0], content)
	p.want(t, p.Orgs[0], content)
	if old := p.old(t, p.Orgs[0], between); len(old) != 0 {
		t.Errorf("what was put again is as old as before")
	}
	if err := p.Files.Drop(t.Context(), p.Orgs[0], digest, between); err != nil {
		t.Error(err)
	}
	p.want(t, p.Orgs[0], content)
}

// old lists everything, however much comes at once.
func (p Place) old(t *testing.T, org techlog.ID, before time.Time) (all [][32]byte) {
	t.Helper()
	for after := ([32]byte{}); ; after = all[len(all)-1] {
		some, err := p.Files.PutBefore(t.Context(), org, before, after)
		if err != nil {
			t.Fatal(err)
		}
		if len(some) == 0 {
			return all
		}
		all = append(all, some...)
	}
}

func testListed(t *testing.T, p Place) {
	var want [][32]byte
	for i := range byte(20) {
		want = append(want, p.put(t, p.Orgs[0], []byte{i}))
	}
	slices.SortFunc(want, func(a, b [32]byte) int { return bytes.Compare(a[:], b[:]) })
	before := p.Later()
	p.put(t, p.Orgs[0], []byte("young"))
	if got := p.old(t, p.Orgs[0], before); !slices.Equal(got, want) {
		t.Errorf("%x, want %x", got, want)
	}
}

func testDropped(t *testing.T, p Place) {
	digest := p.put(t, p.Orgs[0], []byte("left"))
	p.put(t, p.Orgs[0], []byte("right"))
	for range 2 { // what is not there is dropped already
		if err := p.Files.Drop(t.Context(), p.Orgs[0], digest, p.Later()); err != nil {
			t.Fatal(err)
		}
		p.wantNone(t, p.Orgs[0], digest)
	}
	p.want(t, p.Orgs[0], []byte("right"))
	p.put(t, p.Orgs[0], []byte("left"))
	p.want(t, p.Orgs[0], []byte("left"))
}

// testAtOnce lets many put the same at once, while others read: nobody sees half of it.
func testAtOnce(t *testing.T, p Place) {
	content := bytes.Repeat([]byte("whole"), 50_000)
	digest := sha256.Sum256(content)
	at := p.Later()
	var group sync.WaitGroup
	for range 8 {
		group.Go(func() {
			if err := p.Files.Put(t.Context(), p.Orgs[0], digest, content, at); err != nil {
				t.Error(err)
			}
		})
		group.Go(func() {
			got, err := p.Files.Get(t.Context(), p.Orgs[0], digest)
			if techlog.KindOf(err) != techlog.KindNotFound && (err != nil || !bytes.Equal(got, content)) {
				t.Errorf("%d bytes, %v", len(got), err)
			}
		})
	}
	group.Wait()
	p.want(t, p.Orgs[0], content)
}

// Ticks is a clock that goes on by a second whenever it is asked.
func Ticks(from time.Time) func() time.Time {
	var mu sync.Mutex
	return func() time.Time {
		mu.Lock()
		defer mu.Unlock()
		from = from.Add(time.Second)
		return from
	}
}
