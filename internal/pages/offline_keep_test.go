package pages_test

import (
	"context"
	"fmt"
	"net/http"
	"testing"

	"github.com/chromedp/chromedp"
)

// TestWhatWaitsOutlivesTheBrowser holds that what waits on a phone is there when its browser was ended and is opened again.
func TestWhatWaitsOutlivesTheBrowser(t *testing.T) {
	t.Parallel()
	c := walkable(t)
	trainer := c.trainer()
	folder := t.TempDir()
	browser := func() (*tab, context.CancelFunc) {
		t.Helper()
		allocator, end := chromedp.NewExecAllocator(t.Context(), append(browserOptions(), chromedp.UserDataDir(folder))...)
		ctx, closeTab := chromedp.NewContext(allocator)
		ctx, stop := context.WithTimeout(ctx, patience)
		return &tab{t, c, ctx}, func() {
			if err := chromedp.Cancel(ctx); err != nil { // as somebody closes it
				t.Error(err)
			}
			stop()
			closeTab()
			end()
		}
	}
	b, end := browser()
	b.signIn(pilot)
	b.isWatched()
	form := "/aircraft/" + trainer.ID.String() + "/squawk"
	b.open("/aircraft/" + trainer.ID.String())
	b.hasKept(form, "/outbox")
	c.network(false)
	for i, words := range []string{"Main tire flat.", "Windshield cracked."} { // with one page that is kept
		b.open(form)
		b.fill("#words", words)
		b.click("input[value=condition] + span")
		b.press(".squawk-form button:not([type])")
		b.until(fmt.Sprintf(`document.querySelector(".waits").textContent === "%d to send"`, i+1))
	}
	end()
	again, end := browser()
	defer end()
	again.open("/outbox")
	again.soonSays(".outbox", "Waits to be sent", "Main tire flat.", "Windshield cracked.")
	c.network(true)
	eval[any](again, `dispatchEvent(new Event("online")); 0`)
	again.until(`phone.all().then(all => all.every(r => r.state === "sent"))`)
	if filed := c.squawks(trainer.ID); len(filed) != 2 || filed[0].Words != "Windshield cracked." || filed[1].Words != "Main tire flat." {
		t.Errorf("on record: %+v", filed)
	}
}

// TestASlowLineAndANewVersion holds that a page which the network does not bring in time is shown as it was kept, that the newer
// one is kept once it has come, and that a new worker drops what its forerunner had.
func TestASlowLineAndANewVersion(t *testing.T) {
	t.Parallel()
	c := walkable(t)
	trainer := c.trainer()
	b := c.tab(t, look{390, 844, "dark", true})
	b.signIn(pilot)
	b.isWatched()
	aircraft := "/aircraft/" + trainer.ID.String()
	b.open(aircraft)
	b.hasKept(aircraft)
	c.squawk(trainer.ID, "dome-light", "Dark.")
	brought := make(chan struct{})
	c.something(func(_ http.ResponseWriter, r *http.Request) bool {
		if r.URL.Path == aircraft {
			<-brought
		}
		return false
	})
	b.open(aircraft)
	b.soonSays("main", "The network is slow.", "as it was", "Do not decide by it")
	if eval[bool](b, `document.body.textContent.includes("Dark.")`) {
		t.Error("the newer page was there in time: nothing is proved")
	}
	close(brought)
	b.until(`phone.kept(location.href).then(page => page.text()).then(text => text.includes("Dark."))`)
	c.something(nil)
	eval[any](b, `caches.open("shell of before").then(() => navigator.serviceWorker.getRegistration()).then(r => r.unregister()).then(() => 0)`, chromedp.EvalAwaitPromise)
	b.open("/")
	b.until(`caches.keys().then(names => !names.includes("shell of before") && names.some(n => n.startsWith("shell ")))`)
}
