package pages_test

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// patience bounds what a browser is waited for; it is no measurement.
const patience = 4 * time.Minute

// chromium is the browser that all tests share. A test that has none fails: Debian's package is chromium.
var chromium = sync.OnceValues(func() (context.Context, error) {
	allocator, _ := chromedp.NewExecAllocator(context.Background(), browserOptions()...) // it ends with the program
	ctx, _ := chromedp.NewContext(allocator)
	return ctx, chromedp.Do(ctx)
})

func browserOptions() []chromedp.ExecAllocatorOption {
	return append(chromedp.DefaultExecAllocatorOptions[:], chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		chromedp.Flag("disable-quic", true))
}

// look is how a tab shows pages.
type look struct {
	width, height int64
	scheme        string // light or dark
	script        bool
}

func (l look) String() string {
	name := fmt.Sprintf("%d %s", l.width, l.scheme)
	if !l.script {
		name += " without script"
	}
	return name
}

// walks are those in which a whole job is walked: both widths, both schemes, and without script.
func walks() []look {
	return []look{{390, 844, "light", true}, {1280, 800, "dark", true}, {390, 844, "dark", false}}
}

// tab is a tab of a browser that nobody has used before.
type tab struct {
	t    *testing.T
	club *club
	ctx  context.Context
}

func (c *club) tab(t *testing.T, l look) *tab {
	t.Helper()
	browser, err := chromium()
	if err != nil {
		t.Fatalf("there is no browser (make browser installs it): %v", err)
	}
	ctx, closeTab := chromedp.NewContext(browser, chromedp.WithNewBrowserContext())
	t.Cleanup(closeTab)
	ctx, stop := context.WithTimeout(ctx, patience)
	t.Cleanup(stop)
	b := &tab{t, c, ctx}
	b.do(chromedp.EmulateViewport(l.width, l.height))
	b.wears(l.scheme)
	_, err = chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: !l.script})
	b.must(err)
	return b
}

// wears shows pages in the colors of the day or of the night: light or dark.
func (b *tab) wears(scheme string) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}, {Name: "prefers-reduced-motion", Value: "reduce"}},
	})
	b.must(err)
}

func (b *tab) must(err error) {
	b.t.Helper()
	if err != nil {
		b.t.Fatal(err)
	}
}

func (b *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	b.must(chromedp.Do(b.ctx, steps...))
}

// open goes to a page of the club.
func (b *tab) open(path string) {
	b.t.Helper()
	b.do(chromedp.Navigate(b.club.server.URL + path))
}

// reach brings something to the middle of the window, where neither the menu nor a note at the bottom lies over it.
func (b *tab) reach(selector string) {
	b.t.Helper()
	quoted, _ := json.Marshal(selector) // a string always
	err := chromedp.Do(b.ctx, chromedp.WaitVisible(selector), chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Run(ctx, chromedp.Evaluate[any](fmt.Sprintf(`document.querySelector(%s).scrollIntoView({block: "center", behavior: "instant"}); 0`, quoted)))
		return err
	}))
	if err != nil {
		b.t.Fatalf("reach %s: %v", selector, err)
	}
}

// press clicks what leads to another page, and waits for it.
func (b *tab) press(selector string) {
	b.t.Helper()
	b.reach(selector)
	if _, err := chromedp.RunResponse(b.ctx, chromedp.Click(selector)); err != nil {
		b.t.Fatalf("press %s: %v", selector, err)
	}
}

func (b *tab) click(selector string) {
	b.t.Helper()
	b.reach(selector)
	if err := chromedp.Do(b.ctx, chromedp.Click(selector)); err != nil {
		b.t.Fatalf("click %s: %v", selector, err)
	}
}

func (b *tab) fill(selector, text string) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, chromedp.SendKeys(selector, text)); err != nil {
		b.t.Fatalf("fill in %s: %v", selector, err)
	}
}

// text is what stands there for people to read.
func (b *tab) text(selector string) string {
	b.t.Helper()
	text, err := chromedp.Run(b.ctx, chromedp.Text(selector))
	if err != nil {
		b.t.Fatalf("read %s: %v", selector, err)
	}
	return strings.Join(strings.Fields(text), " ")
}

// says holds that a text stands somewhere.
func (b *tab) says(selector string, wants ...string) {
	b.t.Helper()
	text := b.text(selector)
	for _, want := range wants {
		if !strings.Contains(text, want) {
			b.t.Errorf("%s does not say %q: %s", selector, want, text)
		}
	}
}

func eval[T any](b *tab, expression string, options ...chromedp.EvaluateOption) T {
	b.t.Helper()
	value, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression, options...))
	b.must(err)
	return value
}

// signIn signs in by the form.
func (b *tab) signIn(email string) {
	b.t.Helper()
	b.open("/sign-in")
	b.fill("#email", email)
	b.fill("#password", password)
	b.press("form button")
}

// axe is the text of axe-core, which make axe fetches.
var axe = sync.OnceValues(func() (string, error) {
	raw, err := os.ReadFile(filepath.Join("..", "..", "bin", "axe", "node_modules", "axe-core", "axe.min.js"))
	return string(raw), err
})

// violation is what axe-core finds.
type violation struct {
	ID    string `json:"id"`
	Help  string `json:"help"`
	Nodes []struct {
		HTML    string `json:"html"`
		Summary string `json:"failureSummary"`
	} `json:"nodes"`
}

// isAccessible holds that axe-core finds nothing on a page: rules of WCAG 2.0 to 2.2, A and AA, and its best practices. By
// night a page differs in its colors alone, so only these are looked at then.
func (b *tab) isAccessible(name string, l look) {
	b.t.Helper()
	source, err := axe()
	if err != nil {
		b.t.Fatalf("axe-core is not there (make axe fetches it): %v", err)
	}
	if !eval[bool](b, `"axe" in window`) {
		eval[any](b, source+";0")
	}
	rules := "{}"
	if l.scheme == "dark" {
		rules = `{runOnly: ["color-contrast"]}`
	}
	found := eval[string](b, `axe.run(document, Object.assign({resultTypes: ["violations"], preload: false}, `+rules+`)).then(r => JSON.stringify(r.violations))`, chromedp.EvalAwaitPromise)
	var violations []violation
	b.must(json.Unmarshal([]byte(found), &violations))
	for _, v := range violations {
		for _, n := range v.Nodes {
			b.t.Errorf("%s: %s (%s)\n%s\n%s", name, v.Help, v.ID, n.HTML, n.Summary)
		}
	}
}

// watchShifts adds up how far a page moves while it is loaded, from its beginning, and what moves.
func (b *tab) watchShifts() {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{
		Source: `window.shifted = 0; window.moved = []; new PerformanceObserver(list => list.getEntries().forEach(e => {
			window.shifted += e.value;
			e.sources.forEach(s => window.moved.push(s.node?.outerHTML?.slice(0, 120) + " from " + JSON.stringify(s.previousRect) + " to " + JSON.stringify(s.currentRect)));
		})).observe({type: "layout-shift", buffered: true});`,
	})
	b.must(err)
}

// Bars of a page: what it and all it loads weigh at a first visit, in bytes, and how far it may move, as cumulative layout
// shift. Up to 0.1 is commonly called good; our pages are not to move at all.
const (
	maxBytes = 100_000
	maxShift = 0.001
)

// isLight holds the bars of a page that has just been opened.
func (b *tab) isLight(name string) {
	b.t.Helper()
	files := eval[int](b, `performance.getEntriesByType("resource").length`)
	// What comes by way of the worker is told without its coding: there the length that the server has given it counts.
	bytes := eval[float64](b, `(async () => {
		let n = performance.getEntriesByType("navigation").reduce((n, e) => n + (e.transferSize || e.encodedBodySize), 0);
		for (const e of performance.getEntriesByType("resource")) {
			n += e.transferSize || +(await fetch(e.name, {method: "HEAD"})).headers.get("Content-Length");
		}
		return n;
	})()`, chromedp.EvalAwaitPromise)
	b.t.Logf("%s: %.0f bytes in %d requests", name, bytes, files+1)
	if bytes == 0 || bytes > maxBytes {
		b.t.Errorf("%s weighs %.0f bytes, %d are allowed", name, bytes, maxBytes)
	}
	if shift := eval[float64](b, "window.shifted"); shift > maxShift {
		b.t.Errorf("%s moves by %.4f while it is loaded:\n%s", name, shift, eval[string](b, `window.moved.join("\n")`))
	}
}

// fits holds that a page is not wider than its window, and that whatever is pressed is large enough for a thumb.
func (b *tab) fits(name string) {
	b.t.Helper()
	if over := eval[float64](b, "document.documentElement.scrollWidth - document.documentElement.clientWidth"); over > 0 {
		wide := eval[string](b, `[...document.querySelectorAll("main *")].filter(e => e.getBoundingClientRect().right > document.documentElement.clientWidth + 1).slice(0, 3).map(e => e.outerHTML.slice(0, 200)).join("\n")`)
		b.t.Errorf("%s is wider than its window by %.0f px: %s", name, over, wide)
	}
	small := eval[string](b, `[...document.querySelectorAll("main button, main .button, main input:not([type=hidden]), main select, main textarea, main summary, nav a")]
		.filter(e => e.checkVisibility() && (e.closest("label") || e).getBoundingClientRect().height < 43.5).map(e => e.outerHTML.slice(0, 160)).join("\n")`)
	if small != "" {
		b.t.Errorf("%s: smaller than 44 px: %s", name, small)
	}
}

// shoot keeps a picture of a page, to be looked at.
func (b *tab) shoot(name string) {
	b.t.Helper()
	picture, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(85))
	b.must(err)
	b.keep(name, picture)
}

// keep keeps a picture, under its name.
func (b *tab) keep(name string, picture []byte) {
	b.t.Helper()
	folder := filepath.Join("..", "..", "bin", "screenshots")
	b.must(os.MkdirAll(folder, 0o755))
	b.must(os.WriteFile(filepath.Join(folder, strings.ReplaceAll(name, " ", "-")+".jpg"), picture, 0o644))
}

// setSelect chooses an entry of a list, as a browser without script does for its user.
func setSelect(selector, value string) chromedp.Action[chromedp.Void] {
	return chromedp.SetValue(selector, value)
}

// setSelectTo chooses an entry that the list does not have, as somebody with other tools does.
func setSelectTo(selector, value string) chromedp.Action[chromedp.Void] {
	quoted, _ := json.Marshal(value) // a string always
	return chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Run(ctx, chromedp.Evaluate[any](fmt.Sprintf(
			`{ const o = document.createElement("option"); o.value = %s; const s = document.querySelector(%q); s.append(o); s.value = o.value; } 0`, quoted, selector)))
		return err
	})
}

func removeRequired(selector string) chromedp.Action[chromedp.Void] {
	return chromedp.RemoveAttribute(selector, "required")
}

func setFile(selector, path string) chromedp.Action[chromedp.Void] {
	return chromedp.SetUploadFiles(selector, []string{path})
}

// openDetails shows everything that a page has folded away.
func openDetails() chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Run(ctx, chromedp.Evaluate[any](`document.querySelectorAll("details").forEach(d => { d.open = true; }); 0`))
		return err
	})
}
