package storetest

import (
	"context"
	"testing"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

func newPhoto(of techlog.PhotoOf) techlog.Photo {
	id := newID()
	return techlog.Photo{
		ID: id, Of: of, Type: techlog.JPEG, Digest: [32]byte{1, id[15]}, Thumbnail: [32]byte{2, id[15]}, Size: 12345, Width: 640, Height: 480,
		At: noon, By: "P. Lot",
	}
}

// photographed is a squawk, a result of a walkaround and a signature: what photos are of.
func (c *club) photographed(t *testing.T) (aircraft techlog.ID, squawk, result, signature techlog.PhotoOf) {
	t.Helper()
	a := c.addAircraft(t)
	s := c.addSquawk(t, newSquawk(a.ID, 1))
	composed := newComposed(newTemplate())
	w := newWalkaround(t, a.ID, techlog.ID{}, composed)
	results := newResults()
	k := newCertificate(newID())
	inspect := c.newSignature(t, k, a, nil, casefile.Act{Action: "inspect", Inspection: "annual-inspection"})
	c.must(t, func(tx hangar.Tx) {
		tx.AddWalkaround(w, composed)
		tx.AddReport(walkaround.Report{Walkaround: w.ID, Number: 1, At: noon, By: "P. Lot", Results: results})
		tx.AddCertificate(k)
		tx.AddSignature(inspect)
	})
	return a.ID, techlog.PhotoOf{Squawk: s.ID}, techlog.PhotoOf{Walkaround: w.ID, Result: results[0].ID}, techlog.PhotoOf{Signature: inspect.ID}
}

func testPhotos(t *testing.T, c *club) {
	ctx := t.Context()
	other := c.neighbor(t)
	aircraft, ofSquawk, ofResult, ofSignature := c.photographed(t)
	for what, of := range map[string]techlog.PhotoOf{"squawk": ofSquawk, "result": ofResult, "signature": ofSignature} {
		same(t, "the aircraft of the "+what, get[techlog.ID](t)(c.store.PhotoSubject(ctx, c.org, of)), aircraft)
		_, err := c.store.PhotoSubject(ctx, other.org, of)
		wantKind(t, "the other's "+what, err, techlog.KindNotFound)
	}
	_, err := c.store.PhotoSubject(ctx, c.org, techlog.PhotoOf{Walkaround: newID(), Result: ofResult.Result})
	wantKind(t, "a result of another walkaround", err, techlog.KindNotFound)

	first, second, seen, signed := newPhoto(ofSquawk), newPhoto(ofSquawk), newPhoto(ofResult), newPhoto(ofSignature)
	second.Type, second.Thumbnail, second.Width, second.Height = techlog.PDF, [32]byte{}, 0, 0
	for _, p := range []techlog.Photo{first, second, seen, signed} {
		c.must(t, func(tx hangar.Tx) { tx.AddPhoto(p) })
		same(t, "as added", get[techlog.Photo](t)(c.store.Photo(ctx, c.org, p.ID)), p)
		_, err := c.store.Photo(ctx, other.org, p.ID)
		wantKind(t, "the other's", err, techlog.KindNotFound)
	}
	for what, l := range map[string]struct {
		filter hangar.PhotoFilter
		want   []techlog.Photo
	}{
		"of the squawk":    {hangar.PhotoFilter{Squawk: ofSquawk.Squawk}, []techlog.Photo{first, second}},
		"of the results":   {hangar.PhotoFilter{Walkaround: ofResult.Walkaround}, []techlog.Photo{seen}},
		"of the signature": {hangar.PhotoFilter{Signature: ofSignature.Signature}, []techlog.Photo{signed}},
		"of nothing":       {hangar.PhotoFilter{Squawk: newID()}, nil},
		"all":              {hangar.PhotoFilter{}, []techlog.Photo{first, second, seen, signed}},
	} {
		got := get[[]techlog.Photo](t)(c.store.Photos(ctx, c.org, l.filter, hangar.Page{Limit: 9}))
		same(t, what, got, append([]techlog.Photo{}, l.want...))
		if n := get[int](t)(c.store.CountPhotos(ctx, c.org, l.filter)); n != len(l.want) {
			t.Errorf("%s: %d are counted, there are %d", what, n, len(l.want))
		}
		if n := get[int](t)(c.store.CountPhotos(ctx, other.org, l.filter)); n != 0 {
			t.Errorf("%s: the other counts %d", what, n)
		}
		same(t, "the other's", len(get[[]techlog.Photo](t)(c.store.Photos(ctx, other.org, l.filter, hangar.Page{Limit: 9}))), 0)
	}
	same(t, "the second page", get[[]techlog.Photo](t)(c.store.Photos(ctx, c.org, hangar.PhotoFilter{}, hangar.Page{Limit: 2, After: first.ID})), []techlog.Photo{second, seen})
	if n := get[hangar.WalkaroundRecord](t)(c.store.Walkaround(ctx, c.org, ofResult.Walkaround)).Photos; n != 1 {
		t.Errorf("the walkaround counts %d photos", n)
	}
	err = c.within(ctx, func(ctx context.Context, tx hangar.Tx) error {
		w, err := tx.Walkaround(ctx, ofResult.Walkaround)
		if w.Photos != 1 {
			t.Errorf("within a change the walkaround counts %d photos", w.Photos)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}

	asked := [][32]byte{first.Digest, first.Thumbnail, second.Digest, {9}}
	same(t, "in use", get[[][32]byte](t)(c.store.ContentInUse(ctx, c.org, asked)), asked[:3])
	same(t, "in use of the other", len(get[[][32]byte](t)(c.store.ContentInUse(ctx, other.org, asked))), 0)

	wantKind(t, "the same again", c.change(t, func(tx hangar.Tx) { tx.AddPhoto(first) }), techlog.KindConflict)
	for what, of := range map[string]techlog.PhotoOf{
		"a squawk": {Squawk: newID()}, "a result": {Walkaround: ofResult.Walkaround, Result: newID()}, "a signature": {Signature: newID()},
	} {
		wantKind(t, what+" that is none", c.change(t, func(tx hangar.Tx) { tx.AddPhoto(newPhoto(of)) }), techlog.KindNotFound)
	}
	wantKind(t, "of two things", c.change(t, func(tx hangar.Tx) {
		tx.AddPhoto(newPhoto(techlog.PhotoOf{Squawk: ofSquawk.Squawk, Signature: ofSignature.Signature}))
	}), techlog.KindConflict)
}
