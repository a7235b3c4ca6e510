package pages_test

import (
	"encoding/json"
	"fmt"
	"image/png"
	"net/http"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// TestThePagesInstall holds what a browser asks of an app that is to be installed, as the W3C's Web Application Manifest names
// it: name, start, scope, display, and icons that there are, of the sizes that they are said to have, one of them to be cut
// to any shape. The worker is served under its own name at the root, and never kept for good.
func TestThePagesInstall(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	v := c.visitor()
	first := v.get("/sign-in")
	if !strings.Contains(first.body, `<link rel="manifest" href="/manifest.webmanifest">`) {
		t.Error("no page leads to the manifest")
	}
	if policy := first.header.Get("Content-Security-Policy"); !strings.Contains(policy, "manifest-src 'self'") || !strings.Contains(policy, "worker-src 'self'") {
		t.Errorf("policy: %s", policy)
	}
	got := v.get("/manifest.webmanifest")
	var m struct {
		Name, ID, Scope, Display, Lang string
		StartURL                       string `json:"start_url"`
		Background                     string `json:"background_color"`
		Theme                          string `json:"theme_color"`
		Icons                          []struct{ Src, Sizes, Type, Purpose string }
	}
	if err := json.Unmarshal([]byte(got.body), &m); err != nil || got.header.Get("Content-Type") != "application/manifest+json" {
		t.Fatalf("%v, %s", err, got.header.Get("Content-Type"))
	}
	if m.Name != "Tiedown" || m.StartURL != "/" || m.Scope != "/" || m.ID != "/" || m.Display != "standalone" || m.Background == "" || m.Theme == "" {
		t.Errorf("%+v", m)
	}
	maskable, large := false, false
	for _, icon := range m.Icons {
		file := v.get(icon.Src)
		if file.status != http.StatusOK || file.header.Get("Content-Type") != icon.Type {
			t.Errorf("%s: %d %s", icon.Src, file.status, file.header.Get("Content-Type"))
		}
		maskable = maskable || icon.Purpose == "maskable"
		if icon.Type != "image/png" {
			continue
		}
		picture, err := png.DecodeConfig(strings.NewReader(file.body))
		if err != nil || icon.Sizes != size(picture.Width, picture.Height) {
			t.Errorf("%s is said to be %s: %d by %d, %v", icon.Src, icon.Sizes, picture.Width, picture.Height, err)
		}
		large = large || picture.Width >= 512
	}
	if !maskable || !large {
		t.Errorf("icons: %+v", m.Icons)
	}
	worker := v.get("/worker.js")
	if worker.status != http.StatusOK || worker.header.Get("Cache-Control") != "no-cache" || !strings.HasPrefix(worker.header.Get("Content-Type"), "text/javascript") {
		t.Errorf("the worker: %d %v", worker.status, worker.header)
	}
	if lost := v.get("/no-network"); lost.status != http.StatusOK || strings.Contains(lost.body, "data-person") || !strings.Contains(lost.body, "No network") {
		t.Errorf("the page for want of network: %d", lost.status)
	}
	b := c.tab(t, look{390, 844, "light", true})
	b.open("/sign-in")
	b.isWatched()
	if failures := b.installErrors(); failures != "" {
		t.Errorf("the browser says that it cannot be installed: %s", failures)
	}
}

func size(width, height int) string { return fmt.Sprintf("%dx%d", width, height) }

// installErrors is what Chromium has against installing the page, but that this is a window that forgets.
func (b *tab) installErrors() string {
	b.t.Helper()
	var all []string
	read, err := chromedp.Call(b.ctx, page.GetAppManifest, page.GetAppManifestParams{})
	b.must(err)
	for _, e := range read.Errors {
		all = append(all, e.Message)
	}
	if !strings.HasSuffix(read.URL, "/manifest.webmanifest") {
		all = append(all, "it reads "+read.URL)
	}
	found, err := chromedp.Call(b.ctx, page.GetInstallabilityErrors, cdp.Empty{})
	b.must(err)
	for _, e := range found.InstallabilityErrors {
		if e.ErrorID != "in-incognito" {
			all = append(all, e.ErrorID)
		}
	}
	return strings.Join(all, ", ")
}
