package pages_test

import (
	"net/url"
	"time"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"tiedown/internal/techlog"
)

// everyRole is somebody with every role, a mechanic with an inspection authorization besides.
const everyRole = "everything@three-willows.example"

// signingSights are the pages of what is signed, printed and hung up.
func (c *club) signingSights(byMark map[string]techlog.Aircraft) [][2]string {
	c.t.Helper()
	ends := c.clock().AddDate(1, 0, 0).Format(time.DateOnly)
	c.certify(everyRole, "Every Role", techlog.Maintains, bothRatings,
		techlog.Certificate{Kind: techlog.InspectionAuthorization, Number: "0000001 (invented)", Until: ends})
	electric, aircraft := byMark["N056TW"].ID, "/aircraft/"+byMark["N056TW"].ID.String()
	v, until := c.signIn(everyRole), c.clock().AddDate(0, 0, 10).Format(time.DateOnly)
	open, works := c.confirmed(electric, "landing-light", "Landing light flickers in the climb."), c.confirmed(electric, "com-nav", "Radio hisses on every channel.")
	path, worked := "/squawks/"+open.String(), "/squawks/"+works.String()
	v.signs(path+"/sign/out-of-use", and(declared, deferredWork))
	v.signs(worked+"/sign/work", and(declared, url.Values{"work": {"replace"}, "done": {"Removed for the bench."}, "parts_awaited": {"Connector, 2031-05-17"}}))
	v.signs(worked+"/sign/work", and(declared, url.Values{
		"work": {"replace"}, "result": {"repaired"}, "found": {"Connector corroded."}, "done": {"Connector replaced."}, "data": {"Manual, chapter 23"}, "parts_used": {"Connector, CN-4"},
	}))
	dome := ""
	for _, q := range c.squawks(electric) {
		if q.Unit == "dome-light" {
			dome = "/squawks/" + q.ID.String()
		}
	}
	form := move(c.t, v.get(dome), "expect", url.Values{"expected": {until}, "words": {"Lamp on order."}})
	moved := v.post(dome+"/moves", form).header.Get("Location")
	return [][2]string{
		{"sign out of use", worked + "/sign/out-of-use"},
		{"sign a deferral", path + "/sign/defer"},
		{"sign work", path + "/sign/work"},
		{"sign a return", worked + "/sign/return-to-service"},
		{"sign not yet", path + "/sign/return-to-service"},
		{"sign carry on", dome + "/sign/carry-on"},
		{"squawk signed", worked},
		{"squawk to be undone", moved},
		{"inspections", aircraft + "/inspections"},
		{"sign an annual inspection", aircraft + "/sign/annual-inspection"},
		{"sign a VOR check", aircraft + "/sign/vor-check"},
		{"deferred", "/aircraft/" + byMark["N034TW"].ID.String() + "/deferred"},
		{"deferred nothing", "/aircraft/" + byMark["N078TW"].ID.String() + "/deferred"},
		{"deferred in the fleet", "/deferred"},
		{"card", aircraft + "/code"},
	}
}

// onEveryPage runs a script at the beginning of every page of a tab.
func (b *tab) onEveryPage(source string) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: source})
	b.must(err)
}
