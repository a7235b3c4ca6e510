package pages

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"mime/multipart"
	"net/http"
	"net/url"
	"runtime/debug"
	"slices"
	"strings"

	"tiedown/internal/hangar"
	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

// visit is one request for a page.
type visit struct {
	context.Context
	*http.Request
	w       http.ResponseWriter
	id      string // of the request, for the log
	session people.Session
	secret  string // of the session
	who     techlog.Principal
	form    url.Values
	since   int64    // place of the newest event when the visit began: whatever the page shows is no older
	says    []string // what whoever sent a form out of the queue ought to hear
}

// page answers one visit. An error that it returns is shown as a page.
type page func(v *visit) error

// How large a form may be, in bytes: one with a photo, and any other.
const (
	maxPhotoForm = 12 << 20
	maxForm      = 64 << 10
)

// Headers of every page. Scripts, styles and pictures are our own files; nothing stands inline.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; manifest-src 'self'; worker-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

func (p *pages) visit(w http.ResponseWriter, r *http.Request) *visit {
	h := w.Header()
	h.Set("Content-Security-Policy", policy)
	h.Set("Cache-Control", "no-store")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "same-origin")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	var id [9]byte
	_, _ = rand.Read(id[:]) // never fails
	v := &visit{Request: r, w: w, id: hex.EncodeToString(id[:])}
	h.Set("X-Request-Id", v.id)
	return v
}

// open is a page for everybody.
func (p *pages) open(pattern string, show page) {
	p.mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
		p.answer(p.visit(w, r), func(v *visit) error {
			if isWrite(v.Request) {
				if err := p.Door.FromOurPages(v.Request); err != nil {
					return err
				}
				if err := v.readForm(); err != nil {
					return err
				}
			}
			return bounded(v, show)
		})
	})
}

// signed is a page for whoever has signed in.
func (p *pages) signed(pattern string, show page) {
	p.behind = append(p.behind, pattern)
	p.open(pattern, func(v *visit) error {
		var err error
		if v.session, v.secret, err = p.Door.Resume(v, v.Request); err != nil {
			if techlog.KindOf(err) == techlog.KindUnauthorized {
				return p.askToSignIn(v)
			}
			return err
		}
		v.who = v.session.Principal()
		if isWrite(v.Request) && !people.IsFormToken(v.secret, v.form.Get("form_token")) {
			return techlog.Errorf(kindCrossSite, "the form was not made for this session")
		}
		return show(v)
	})
}

// acting is a page for whoever acts in an organization.
func (p *pages) acting(pattern string, show page) {
	p.signed(pattern, func(v *visit) error {
		if v.who.Organization.IsZero() {
			if v.queued() {
				return techlog.Errorf(techlog.KindUnauthorized, "the session acts in no organization")
			}
			return v.goTo("/organization")
		}
		var err error
		if v.since, err = p.Service.LastEvent(v, v.who); err != nil {
			return err
		}
		return show(v)
	})
}

// bounded bounds the time for a page. How long it took to send a form does not count: lines on a ramp are slow.
func bounded(v *visit, show page) error {
	patience := limit
	if v.MultipartForm != nil {
		patience = photoLimit
	}
	ctx, cancel := context.WithTimeout(v.Request.Context(), patience)
	defer cancel()
	v.Context = ctx
	return show(v)
}

func isWrite(r *http.Request) bool {
	return r.Method != http.MethodGet && r.Method != http.MethodHead
}

// answer shows a page, or the error that it came to.
func (p *pages) answer(v *visit, show page) {
	v.Context = v.Request.Context()
	defer func() {
		switch problem := recover(); problem {
		case nil:
		case http.ErrAbortHandler:
			panic(problem)
		default:
			p.refuse(v, fmt.Errorf("panic: %v\n%s", problem, debug.Stack()))
		}
	}()
	if err := show(v); err != nil {
		p.refuse(v, err)
	}
}

// readForm reads what a form sends, once.
func (v *visit) readForm() error {
	most := int64(maxForm)
	photo := strings.HasPrefix(v.Header.Get("Content-Type"), "multipart/form-data")
	if photo {
		most = maxPhotoForm
	}
	v.Body = http.MaxBytesReader(v.w, v.Body, most)
	var err error
	if photo {
		err = v.ParseMultipartForm(maxPhotoForm) //nolint:gosec // the body is bounded above
	} else {
		err = v.ParseForm()
	}
	var over *http.MaxBytesError
	switch {
	case errors.As(err, &over):
		return techlog.Errorf(kindTooLarge, "the form is larger than the %d MiB that a page takes", max(1, most>>20))
	case err != nil:
		return &techlog.Error{Kind: kindSyntax, Says: "the form cannot be read", Cause: err}
	}
	v.form = v.PostForm
	for _, said := range v.form {
		for i := range said {
			said[i] = legible(said[i])
		}
	}
	return nil
}

// legible leaves out the byte that no record can keep, and puts U+FFFD in place of those that are no text.
func legible(said string) string {
	return strings.ReplaceAll(strings.ToValidUTF8(said, "\uFFFD"), "\x00", "")
}

// upload is the file of a form, or nothing.
func (v *visit) upload(field string) (raw []byte, err error) {
	if v.MultipartForm == nil || len(v.MultipartForm.File[field]) == 0 {
		return nil, nil
	}
	var file multipart.File
	if file, err = v.MultipartForm.File[field][0].Open(); err != nil {
		return nil, err
	}
	defer file.Close() //nolint:errcheck // it is only read
	return io.ReadAll(file)
}

// once makes a form that is sent twice act once: nil for one that does not name itself, which none of ours is. step tells
// apart what one form does in several steps, and file is what goes along with that step.
func (v *visit) once(step string, file []byte) *hangar.Once {
	if !v.isOnce() {
		return nil
	}
	digest := sha256.New()
	fmt.Fprintf(digest, "%x\x00", sha256.Sum256(file))
	fmt.Fprintf(digest, "%s\x00%s\x00%s", v.Method, v.URL.Path, step)
	names := make([]string, 0, len(v.form))
	for name := range v.form {
		if name != "form_token" {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	for _, name := range names {
		fmt.Fprintf(digest, "\x00%s=%q", name, v.form[name])
	}
	return &hangar.Once{Token: v.who.Token, Key: "page " + v.form.Get("once") + step, Digest: [32]byte(digest.Sum(nil))}
}

// isOnce reports whether a form names itself, as ours do.
func (v *visit) isOnce() bool {
	key := v.form.Get("once")
	raw, err := base64.RawURLEncoding.DecodeString(key)
	return err == nil && len(raw) == 16
}

// newOnce names a form.
func newOnce() string {
	var key [16]byte
	_, _ = rand.Read(key[:]) // never fails
	return base64.RawURLEncoding.EncodeToString(key[:])
}

// text is a field as somebody wrote it, with the line ends of forms made plain.
func (v *visit) text(field string) string {
	return strings.ReplaceAll(v.form.Get(field), "\r\n", "\n")
}

// prose are the fields in which people write sentences.
var prose = []string{"words", "found", "done", "entry", "data", "extent", "ground_tests", "parts_used", "parts_awaited"}

// wrote is what somebody has written in a form, so that it is not lost where the form is refused.
func (v *visit) wrote() []string {
	var written []string
	for _, field := range slices.Sorted(maps.Keys(v.form)) {
		if said := strings.TrimSpace(v.form.Get(field)); said != "" && (slices.Contains(prose, field) || strings.HasSuffix(field, ".note")) {
			written = append(written, said)
		}
	}
	return written
}

// goTo sends the browser on, to a page of ours.
func (v *visit) goTo(path string) error {
	if v.queued() {
		return v.taken(path)
	}
	v.w.Header().Set("Location", path)
	v.w.WriteHeader(http.StatusSeeOther)
	return nil
}

// named is the record that the address names.
func (v *visit) named(name string) (techlog.ID, error) {
	id, ok := techlog.ParseID(v.PathValue(name))
	if !ok {
		return id, techlog.Errorf(techlog.KindNotFound, "the address names no record")
	}
	return id, nil
}

// keep makes the answer of a use case that is kept with it, so that a form that is sent again leads to the same page.
func keep[T, K any](what func(T) K) hangar.Render[T] {
	return func(result T) ([]byte, error) { return json.Marshal(what(result)) }
}

// kept reads it.
func kept[K any](answer []byte, err error) (K, error) {
	var k K
	if err != nil {
		return k, err
	}
	return k, json.Unmarshal(answer, &k)
}
