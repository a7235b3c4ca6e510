package httpapi_test

import (
	"bytes"
	"image/jpeg"
	"maps"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"

	"tiedown/api/client"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/camera"
)

const pdfFile = "%PDF-1.7\n1 0 obj << /OpenAction << /S /JavaScript >> >>\ntrailer\n%%EOF\n"

func photosOf(t *testing.T, r *rig, path string) []client.Photo {
	t.Helper()
	return answerTo[client.Photos](t, r, asked{method: "GET", path: path}, http.StatusOK).Photos
}

// TestTheStoryOfAPhoto sends photos of a squawk, a result and a signature, in each form, and looks at what is given out.
func TestTheStoryOfAPhoto(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	squawk := "/v1/squawks/" + x.squawk(t).Squawk.Id.String()
	finding := strings.TrimSuffix(x.found(t), "/squawk")
	walk, _, _ := strings.Cut(finding, "/results/")
	for _, add := range []struct{ path, list, media, body string }{
		{squawk, squawk, "image/jpeg", string(camera.JPEG(640, 480, 6))},
		{squawk, squawk, "image/png", string(camera.JPEG(640, 480, 6))}, // its content says what it is
		{squawk, squawk, "image/png", string(camera.PNG(640, 480, 8))},
		{finding, walk, "image/webp", string(camera.WebP(640, 480, 5))},
		{x.signed(t), "", "image/jpeg; charset=binary", string(camera.JPEG(640, 480, 7))},
	} {
		q := asked{method: "POST", path: add.path + "/photos", body: add.body, header: map[string]string{"Content-Type": add.media}}
		made := created[client.Photo](t, x.rig, q)
		if made.Type != "image/jpeg" || made.Width == nil || *made.Width != 480 || *made.Height != 640 || made.By != "test administrator" {
			t.Errorf("%s: %+v", add.media, made)
		}
		if add.list == "" {
			add.list = add.path
		}
		if listed := photosOf(t, x.rig, add.list+"/photos"); marshal(t, listed[len(listed)-1]) != marshal(t, made) {
			t.Errorf("listed as %+v, made as %+v", listed, made)
		}
		path := "/v1/photos/" + made.Id.String()
		full := x.rig.givenOut(t, path, `inline; filename="`+made.Id.String()+`.jpg"`, "image/jpeg")
		small := x.rig.givenOut(t, path+"/thumbnail", `inline; filename="`+made.Id.String()+`.jpg"`, "image/jpeg")
		if len(full) != made.Size {
			t.Errorf("%d bytes, said to be %d", len(full), made.Size)
		}
		for what, raw := range map[string][]byte{"the photo": full, "the thumbnail": small} {
			if _, err := jpeg.Decode(bytes.NewReader(raw)); err != nil {
				t.Errorf("%s: %v", what, err)
			}
			for _, secret := range camera.Secrets() {
				if bytes.Contains(raw, []byte(secret)) {
					t.Errorf("%s still has %q", what, secret)
				}
			}
		}
	}
	story := answerTo[client.SquawkStory](t, x.rig, asked{method: "GET", path: squawk}, http.StatusOK)
	review := answerTo[client.WalkaroundReview](t, x.rig, asked{method: "GET", path: walk}, http.StatusOK)
	if story.Photos != 3 || review.Photos != 1 {
		t.Errorf("the squawk counts %d photos, the walkaround %d", story.Photos, review.Photos)
	}
	if page := x.rig.pages(t, squawk+"/photos?limit=2", "photos"); len(page) != 3 {
		t.Errorf("%d photos on all pages", len(page))
	}
}

// givenOut asks for content, holds what a browser is told of it, and asks for it again.
func (r *rig) givenOut(t *testing.T, path, disposition, media string) []byte {
	t.Helper()
	got := r.ask(t, asked{method: "GET", path: path})
	if got.status != http.StatusOK {
		t.Fatalf("%s: %d %s", path, got.status, got.body)
	}
	tag := got.header.Get("ETag")
	for name, want := range map[string]string{
		"Content-Type": media, "Content-Disposition": disposition, "X-Content-Type-Options": "nosniff",
		"Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'; sandbox", "Cache-Control": "private, max-age=31536000, immutable",
		"Cross-Origin-Resource-Policy": "same-origin",
	} {
		if got.header.Get(name) != want {
			t.Errorf("%s: %s is %q, want %q", path, name, got.header.Get(name), want)
		}
	}
	again := r.ask(t, asked{method: "GET", path: path, header: map[string]string{"If-None-Match": tag}})
	if len(tag) != 66 || again.status != http.StatusNotModified || len(again.body) != 0 || again.header.Get("ETag") != tag {
		t.Errorf("%s: ETag %s, asked again: %d with %d bytes", path, tag, again.status, len(again.body))
	}
	return got.body
}

// TestAFileIsToBeSaved: what is in a file nobody has looked at, so no browser is to show it.
func TestAFileIsToBeSaved(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	q := x.good["addSquawkPhoto"]()
	q.body, q.header = pdfFile, map[string]string{"Content-Type": "application/pdf"}
	made := created[client.Photo](t, x.rig, q)
	if made.Type != "application/pdf" || made.Width != nil || made.Size != len(pdfFile) {
		t.Errorf("%+v", made)
	}
	path := "/v1/photos/" + made.Id.String()
	if got := x.rig.givenOut(t, path, `attachment; filename="`+made.Id.String()+`.pdf"`, "application/pdf"); string(got) != pdfFile {
		t.Errorf("%q", got)
	}
	if got := x.rig.ask(t, asked{method: "GET", path: path + "/thumbnail"}); got.status != http.StatusNotFound {
		t.Errorf("the thumbnail of a file: %d", got.status)
	}
}

// TestWhatIsNoPhotoIsRefused sends what is not taken, and looks whether anything was kept.
func TestWhatIsNoPhotoIsRefused(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	good := x.good["addSquawkPhoto"]()
	for what, c := range map[string]struct {
		media, body string
		cutOff      bool
		status      int
		faults      []string
	}{
		"a page that says it is a picture": {media: "image/jpeg", body: "<html><script>alert(1)</script></html>", status: 422, faults: []string{"known-type body"}},
		"a page":                           {media: "text/html", body: "<html>", status: 415},
		"no type":                          {media: "", body: snapshot, status: 415},
		"a form":                           {media: "multipart/form-data; boundary=x", body: "--x--", status: 415},
		"JSON":                             {media: "application/json", body: "{}", status: 415},
		"nothing":                          {media: "image/jpeg", status: 422, faults: []string{"known-type body"}},
		"half a photo":                     {media: "image/jpeg", body: snapshot[:len(snapshot)/2], status: 422, faults: []string{"readable body"}},
		"half a photo, cut off":            {media: "image/jpeg", body: snapshot[:len(snapshot)/2], cutOff: true, status: 400},
		"a byte too many":                  {media: "image/jpeg", body: snapshot + strings.Repeat("x", 10<<20-len(snapshot)+1), status: 413},
	} {
		q := good
		q.body, q.cutOff, q.header = c.body, c.cutOff, map[string]string{"Content-Type": c.media}
		got := x.rig.ask(t, q)
		if got.status != c.status || c.faults != nil && !slices.Equal(got.faults(t), c.faults) {
			t.Errorf("%s: %d %s, want %d %v", what, got.status, got.body, c.status, c.faults)
		}
	}
	q := good
	q.body += strings.Repeat("x", 10<<20-len(snapshot)) // as large as may be
	created[client.Photo](t, x.rig, q)
	if photos := photosOf(t, x.rig, strings.TrimSuffix(good.path, "/photos")+"/photos"); len(photos) != 1 {
		t.Errorf("%d photos are kept", len(photos))
	}
	club, err := x.rig.store.PutBefore(t.Context(), x.rig.club, noon.AddDate(1, 0, 0), [32]byte{})
	if err != nil || len(club) != 2 {
		t.Errorf("%d pieces of content, %v", len(club), err)
	}
}

// TestFiftyUploadsOfOnePhotoMakeOne sends one photo with one key fifty times at once.
func TestFiftyUploadsOfOnePhotoMakeOne(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	q := x.good["addSquawkPhoto"]()
	q.header = maps.Clone(q.header)
	q.header["Idempotency-Key"] = "one"
	x.rig.exchange.handler = patient(x.rig)
	answers := make([]answered, 50)
	var group sync.WaitGroup
	for i := range answers {
		group.Go(func() { answers[i] = x.rig.ask(t, q) })
	}
	group.Wait()
	fresh := 0
	for _, a := range answers {
		if a.status != http.StatusCreated || !bytes.Equal(a.body, answers[0].body) {
			t.Errorf("%d %s, want as the others", a.status, a.body)
		}
		if a.header.Get("Idempotency-Replayed") == "" {
			fresh++
		}
	}
	if photos := photosOf(t, x.rig, q.path); fresh != 1 || len(photos) != 1 {
		t.Errorf("%d answers are the first, %d photos", fresh, len(photos))
	}
}

// TestNobodyElseSeesAPhoto holds that a photo is not there for another organization, by content or otherwise, even if that
// has the same.
func TestNobodyElseSeesAPhoto(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	path := x.photo(t)
	tag := x.rig.ask(t, asked{method: "GET", path: path}).header.Get("ETag")
	for _, p := range []string{path, path + "/thumbnail"} {
		for _, header := range []map[string]string{nil, {"If-None-Match": tag}, {"If-None-Match": "*"}} {
			if got := x.rig.ask(t, asked{method: "GET", path: p, token: x.rig.other, header: header}); got.status != http.StatusNotFound || got.header.Get("ETag") != "" {
				t.Errorf("%s: %d %v", p, got.status, got.header)
			}
		}
	}
	if got := x.rig.ask(t, asked{method: "GET", path: path, token: x.rig.tokens[techlog.Scheduler]}); got.status != http.StatusOK {
		t.Errorf("of one's own: %d", got.status)
	}
}
