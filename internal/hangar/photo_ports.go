package hangar

import (
	"context"
	"time"

	"tiedown/internal/techlog"
)

// Files keeps content: bytes under their SHA-256 digest, each organization's apart. What is there under a digest never
// changes; content that nobody has put is of kind not-found, a place that does not answer of kind unavailable.
type Files interface {
	// Put keeps content. Putting the same again makes it as young as if it were new.
	Put(ctx context.Context, org techlog.ID, digest [32]byte, content []byte, at time.Time) error
	Get(ctx context.Context, org techlog.ID, digest [32]byte) ([]byte, error)
	// PutBefore lists content that was last put before an instant, in the order of the digests from the one after `after`:
	// the first of it, if it is much.
	PutBefore(ctx context.Context, org techlog.ID, at time.Time, after [32]byte) ([][32]byte, error)
	// Drop takes content away unless it was put again since an instant. What is not there is dropped already.
	Drop(ctx context.Context, org techlog.ID, digest [32]byte, before time.Time) error
}

// PhotoStore is what the store reads of photos.
type PhotoStore interface {
	// Photos lists photos, oldest first.
	Photos(ctx context.Context, org techlog.ID, filter PhotoFilter, page Page) ([]techlog.Photo, error)
	Photo(ctx context.Context, org, id techlog.ID) (techlog.Photo, error)
	CountPhotos(ctx context.Context, org techlog.ID, filter PhotoFilter) (int, error)
	// PhotoSubject finds the aircraft of what a photo is to belong to. Kind not-found if there is no such thing.
	PhotoSubject(ctx context.Context, org techlog.ID, of techlog.PhotoOf) (techlog.ID, error)
	// ContentInUse picks those digests that a photo has.
	ContentInUse(ctx context.Context, org techlog.ID, digests [][32]byte) ([][32]byte, error)
}

// PhotoTx is what a transaction writes of photos.
type PhotoTx interface {
	AddPhoto(p techlog.Photo)
}

// PhotoFilter picks photos by what they belong to. Zero fields pick all.
type PhotoFilter struct {
	Squawk     techlog.ID // its own, and those of the finding that it was filed of
	Walkaround techlog.ID // of all of its results
	Signature  techlog.ID
}
