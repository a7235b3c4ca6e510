package hangar

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"slices"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/picture"
	"tiedown/internal/techlog"
)

// Upload is a photo or a file that somebody adds.
type Upload struct {
	Of  techlog.PhotoOf
	Raw []byte // as it was sent
}

// darkroom is how many pictures are worked on at once: each takes some hundred megabytes at most.
const darkroom = 2

// mayAdd is who may add photos to what: whoever may add what they are of. To what was signed everybody adds, as its text
// does not change by it.
func mayAdd(of techlog.PhotoOf) techlog.Action {
	if !of.Result.IsZero() {
		return techlog.WalkAround
	}
	return techlog.AddNote
}

// AddPhoto takes in a photo or a file and keeps it. The content is kept first, then its record: whoever is cut off between
// the two leaves content that is swept, and never a record without content. Kinds forbidden, not-found (what it is of),
// invalid (it is no picture, or too large), key-reused.
func (s *Service) AddPhoto(ctx context.Context, who techlog.Principal, u Upload, once *Once, render Render[techlog.Photo]) ([]byte, error) {
	if err := who.Require(mayAdd(u.Of)); err != nil {
		return nil, err
	}
	if once != nil { // nothing is worked on that has been answered
		if answer, err := s.store.Answered(ctx, who.Organization, *once); err != nil || answer != nil {
			return answer, err
		}
	}
	aircraft, err := s.store.PhotoSubject(ctx, who.Organization, u.Of)
	if err != nil {
		return nil, err
	}
	taken, err := s.develop(ctx, u.Raw)
	if err != nil {
		return nil, err
	}
	at := s.now()
	photo := describe(taken)
	photo.ID, photo.Of, photo.At, photo.By = s.newID(), u.Of, at, who.Name
	if err := s.putContent(ctx, who.Organization, photo, taken); err != nil {
		return nil, err
	}
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once}
	return s.store.Change(ctx, scope, func(_ context.Context, tx Tx) ([]byte, error) {
		tx.AddPhoto(photo)
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "photo.added", Aircraft: aircraft, Subject: photo.ID, At: at})
		return render(photo)
	})
}

// develop takes in a picture, a few at a time.
func (s *Service) develop(ctx context.Context, raw []byte) (picture.Taken, error) {
	select {
	case s.darkroom <- struct{}{}:
		defer func() { <-s.darkroom }()
	case <-ctx.Done():
		return picture.Taken{}, ctx.Err()
	}
	taken, err := picture.Take(raw)
	return taken, photoFault(err)
}

// photoFault says why something is not taken.
func photoFault(err error) error {
	var bad casefile.Faults
	switch {
	case err == nil:
		return nil
	case errors.Is(err, picture.ErrTooLarge):
		bad.Add("body", "size", picture.ErrTooLarge.Error(), "send a smaller picture")
	case errors.Is(err, picture.ErrUnknown):
		bad.Add("body", "known-type", picture.ErrUnknown.Error(), "send JPEG, PNG, WebP or PDF")
	case errors.Is(err, picture.ErrTooManyPixels):
		bad.Add("body", "pixels", picture.ErrTooManyPixels.Error(), "make it smaller, and send it again")
	case errors.Is(err, picture.ErrBroken):
		bad.Add("body", "readable", "the picture cannot be read: it is incomplete or broken", "send it again; if it is as before, save it anew first")
	default:
		return err
	}
	return bad.Err()
}

// describe says what is to be kept.
func describe(t picture.Taken) techlog.Photo {
	p := techlog.Photo{Type: techlog.PDF, Digest: sha256.Sum256(t.Content), Size: len(t.Content), Width: t.Width, Height: t.Height}
	if !t.IsFile() {
		p.Type, p.Thumbnail = techlog.JPEG, sha256.Sum256(t.Thumbnail)
	}
	return p
}

func (s *Service) putContent(ctx context.Context, org techlog.ID, p techlog.Photo, t picture.Taken) error {
	err := s.files.Put(ctx, org, p.Digest, t.Content, p.At)
	if err == nil && p.HasThumbnail() {
		err = s.files.Put(ctx, org, p.Thumbnail, t.Thumbnail, p.At)
	}
	return err
}

// Photos lists the photos of a squawk, with those of the finding that it was filed of, of a walkaround or of what was signed, oldest first.
func (s *Service) Photos(ctx context.Context, who techlog.Principal, f PhotoFilter, p Page) ([]techlog.Photo, error) {
	photos, err := s.store.Photos(ctx, who.Organization, f, p)
	if err != nil || len(photos) > 0 {
		return photos, err
	}
	return photos, s.exists(ctx, who.Organization, f)
}

// exists returns an error of kind not-found unless there is what photos are asked of.
func (s *Service) exists(ctx context.Context, org techlog.ID, f PhotoFilter) (err error) {
	if !f.Walkaround.IsZero() {
		_, err = s.store.Walkaround(ctx, org, f.Walkaround)
		return err
	}
	_, err = s.store.PhotoSubject(ctx, org, techlog.PhotoOf{Squawk: f.Squawk, Signature: f.Signature})
	return err
}

// Photo shows what is on record of a photo.
func (s *Service) Photo(ctx context.Context, who techlog.Principal, id techlog.ID) (techlog.Photo, error) {
	return s.store.Photo(ctx, who.Organization, id)
}

// Content gives the bytes under a digest, of a photo that the organization has. What is not what was entered is given to
// nobody: that is an error without a kind.
func (s *Service) Content(ctx context.Context, who techlog.Principal, digest [32]byte) ([]byte, error) {
	return contentOf(ctx, s.files, who.Organization, digest)
}

func contentOf(ctx context.Context, files Files, org techlog.ID, digest [32]byte) ([]byte, error) {
	content, err := files.Get(ctx, org, digest)
	switch {
	case techlog.KindOf(err) == techlog.KindNotFound:
		return nil, fmt.Errorf("%w: %x", errContentMissing, digest)
	case err != nil:
		return nil, err
	case sha256.Sum256(content) != digest:
		return nil, fmt.Errorf("%w: %x", errContentAltered, digest)
	}
	return content, nil
}

var (
	errContentMissing = errors.New("the content is missing")
	errContentAltered = errors.New("the content is not what was entered")
)

// sweepAge is how old content is, at least, that no photo has when it is swept: much longer than any request takes.
const sweepAge = 24 * time.Hour

// SweepFiles takes away content that no photo has, left by requests that were cut off. It gives the number of pieces.
func (s *Service) SweepFiles(ctx context.Context, keeper Keeper) (int, error) {
	organizations, err := keeper.Organizations(ctx)
	if err != nil {
		return 0, err
	}
	n := 0
	for _, o := range organizations {
		swept, err := s.sweep(ctx, o.ID, s.now().Add(-sweepAge))
		n += swept
		if err != nil {
			return n, fmt.Errorf("sweep the files of %s: %w", o.Name, err)
		}
	}
	return n, nil
}

func (s *Service) sweep(ctx context.Context, org techlog.ID, before time.Time) (n int, err error) {
	for after := ([32]byte{}); ; {
		old, err := s.files.PutBefore(ctx, org, before, after)
		if err != nil || len(old) == 0 {
			return n, err
		}
		after = old[len(old)-1]
		used, err := s.store.ContentInUse(ctx, org, old)
		if err != nil {
			return n, err
		}
		for _, digest := range old {
			if slices.Contains(used, digest) {
				continue
			}
			if err := s.files.Drop(ctx, org, digest, before); err != nil {
				return n, err
			}
			n++
		}
	}
}

// VerifyFiles reads the content of every photo of an organization and reports what is missing or is not what was entered.
// It gives the number of pieces.
func VerifyFiles(ctx context.Context, store PhotoStore, files Files, org techlog.ID, report func(photo techlog.ID, says string)) (int, error) {
	const atOnce = 200
	n := 0
	for after := (techlog.ID{}); ; {
		photos, err := store.Photos(ctx, org, PhotoFilter{}, Page{Limit: atOnce, After: after})
		if err != nil {
			return n, err
		}
		for _, p := range photos {
			digests := [][32]byte{p.Digest}
			if p.HasThumbnail() {
				digests = append(digests, p.Thumbnail)
			}
			for _, digest := range digests {
				n++
				if _, err := contentOf(ctx, files, org, digest); errors.Is(err, errContentMissing) || errors.Is(err, errContentAltered) {
					report(p.ID, err.Error())
				} else if err != nil {
					return n, err
				}
			}
			after = p.ID
		}
		if len(photos) < atOnce {
			return n, nil
		}
	}
}
