package hangar_test

import (
	"context"
	"crypto/sha256"
	"errors"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/regulation"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/camera"
)

// crooked is a place for content that gives back something else.
type crooked struct {
	hangar.Files
	as map[[32]byte][]byte // nil: as if it had never been put
}

func (c crooked) Get(ctx context.Context, org techlog.ID, digest [32]byte) ([]byte, error) {
	content, changed := c.as[digest]
	switch {
	case changed && content == nil:
		return nil, techlog.Errorf(techlog.KindNotFound, "there is no such content")
	case changed:
		return content, nil
	}
	return c.Files.Get(ctx, org, digest)
}

// cutOff is a store that fails when a change is to be written.
type cutOff struct{ hangar.Store }

var errCutOff = errors.New("cut off")

func (s cutOff) Change(ctx context.Context, scope hangar.Scope, f func(context.Context, hangar.Tx) ([]byte, error)) ([]byte, error) {
	return s.Store.Change(ctx, scope, func(ctx context.Context, tx hangar.Tx) ([]byte, error) {
		if answer, err := f(ctx, tx); err != nil {
			return answer, err
		}
		return nil, errCutOff
	})
}

// over makes a service over another store and another place for content.
func (c *club) over(store hangar.Store, files hangar.Files) *hangar.Service {
	c.t.Helper()
	book, err := regulation.Current()
	if err != nil {
		c.t.Fatal(err)
	}
	return hangar.New(hangar.Settings{
		Store: store, Files: files, Book: hangar.Book{Rules: book.Ruleset, Upkeep: book.Upkeep, Digest: book.Digest}, Now: c.clock, NewID: newID,
	})
}

func (c *club) photo(of techlog.PhotoOf, raw []byte) techlog.Photo {
	c.t.Helper()
	var p techlog.Photo
	c.must(c.service.AddPhoto(c.t.Context(), c.who, hangar.Upload{Of: of, Raw: raw}, nil, keep(&p)))
	return p
}

// content is how many pieces are kept.
func (c *club) content() int {
	c.t.Helper()
	old, err := c.store.PutBefore(c.t.Context(), c.who.Organization, c.clock().Add(time.Hour), [32]byte{})
	if err != nil {
		c.t.Fatal(err)
	}
	return len(old)
}

// TestWhatWasCutOffIsSwept holds that a photo whose record was not written leaves content and no record, that content is
// taken away after a day and not before, and that what a photo has is never taken away.
func TestWhatWasCutOffIsSwept(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	ctx := t.Context()
	of := techlog.PhotoOf{Squawk: c.squawk("inoperative", "landing-light", "").Squawk.ID}
	kept := c.photo(of, camera.JPEG(40, 30, 1))
	broken := c.over(cutOff{c.store}, c.store)
	var p techlog.Photo
	if _, err := broken.AddPhoto(ctx, c.who, hangar.Upload{Of: of, Raw: camera.JPEG(50, 30, 1)}, nil, keep(&p)); !errors.Is(err, errCutOff) {
		t.Fatal(err)
	}
	again := camera.JPEG(60, 30, 1)
	if _, err := broken.AddPhoto(ctx, c.who, hangar.Upload{Of: of, Raw: again}, nil, keep(&p)); !errors.Is(err, errCutOff) {
		t.Fatal(err)
	}
	if photos, err := c.service.Photos(ctx, c.who, hangar.PhotoFilter{Squawk: of.Squawk}, hangar.Page{Limit: 9}); err != nil || len(photos) != 1 || photos[0].ID != kept.ID {
		t.Errorf("%v, %v", photos, err)
	}
	sweep := func(want, left int) {
		t.Helper()
		if n, err := c.service.SweepFiles(ctx, c.store); err != nil || n != want || c.content() != left {
			t.Errorf("%d pieces were swept, want %d; %d are left, want %d; %v", n, want, c.content(), left, err)
		}
	}
	sweep(0, 6)
	c.wait(23 * time.Hour)
	sweep(0, 6)
	saved := c.photo(of, again) // sent again: its content is young again, and then has a photo
	c.wait(2 * time.Hour)
	sweep(2, 4)
	c.wait(100 * 24 * time.Hour)
	sweep(0, 4)
	for _, p := range []techlog.Photo{kept, saved} {
		if _, err := c.service.Content(ctx, c.who, p.Digest); err != nil {
			t.Error(err)
		}
		if _, err := c.service.Content(ctx, c.who, p.Thumbnail); err != nil {
			t.Error(err)
		}
	}
}

// TestAnExchangedPictureIsFound holds that content which is not what was entered, or is gone, is given to nobody and found
// when it is looked for.
func TestAnExchangedPictureIsFound(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	ctx := t.Context()
	of := techlog.PhotoOf{Squawk: c.squawk("inoperative", "landing-light", "").Squawk.ID}
	first, second, third := c.photo(of, camera.JPEG(40, 30, 1)), c.photo(of, camera.JPEG(50, 30, 1)), c.photo(of, []byte("%PDF-1.7\n%%EOF"))
	files := crooked{c.store, map[[32]byte][]byte{}}
	verify := func(want map[techlog.ID]int) {
		t.Helper()
		found := map[techlog.ID]int{}
		n, err := hangar.VerifyFiles(ctx, c.store, files, c.who.Organization, func(photo techlog.ID, _ string) { found[photo]++ })
		if err != nil || n != 5 || len(found) != len(want) {
			t.Errorf("%d pieces, %v, want %v; %v", n, found, want, err)
		}
		for photo, times := range want {
			if found[photo] != times {
				t.Errorf("photo %s: %d faults, want %d", photo, found[photo], times)
			}
		}
	}
	verify(nil)
	files.as[first.Digest] = camera.JPEG(40, 30, 2)
	files.as[first.Thumbnail] = nil
	files.as[second.Thumbnail] = camera.JPEG(40, 30, 3)
	verify(map[techlog.ID]int{first.ID: 2, second.ID: 1})
	crookedService := c.over(c.store, files)
	for _, digest := range [][32]byte{first.Digest, first.Thumbnail, second.Thumbnail} {
		if content, err := crookedService.Content(ctx, c.who, digest); err == nil || content != nil || techlog.KindOf(err) != "" {
			t.Errorf("what was exchanged is given out: %d bytes, %v", len(content), err)
		}
	}
	if content, err := crookedService.Content(ctx, c.who, third.Digest); err != nil || sha256.Sum256(content) != third.Digest {
		t.Errorf("%q, %v", content, err)
	}
}

// TestAnUploadThatWasAnsweredIsNotWorkedOn holds that a request that is sent again takes no work and writes nothing.
func TestAnUploadThatWasAnsweredIsNotWorkedOn(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	of := techlog.PhotoOf{Squawk: c.squawk("inoperative", "landing-light", "").Squawk.ID}
	once := &hangar.Once{Token: c.who.Token, Key: "photo", Digest: [32]byte{1}}
	render := func(p techlog.Photo) ([]byte, error) { return []byte(p.ID.String()), nil }
	first, err := c.service.AddPhoto(t.Context(), c.who, hangar.Upload{Of: of, Raw: camera.JPEG(40, 30, 1)}, once, render)
	if err != nil {
		t.Fatal(err)
	}
	// Another picture under the same request would not be taken: that it is not even looked at shows that nothing is.
	second, err := c.service.AddPhoto(t.Context(), c.who, hangar.Upload{Of: of, Raw: []byte("no picture")}, once, render)
	if err != nil || string(second) != string(first) || c.content() != 2 {
		t.Errorf("%s, then %s, %v; %d pieces of content", first, second, err, c.content())
	}
	if _, err := c.service.AddPhoto(t.Context(), c.who, hangar.Upload{Of: of}, &hangar.Once{Token: c.who.Token, Key: "photo", Digest: [32]byte{2}}, render); techlog.KindOf(err) != techlog.KindReused {
		t.Errorf("the key for another request: %v", err)
	}
}
