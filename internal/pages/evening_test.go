package pages_test

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// TestTheDemosMechanicMaySignAtAnyHour loads the club when the day of its bases is another than that of Greenwich: whoever
// tries the program then finds a mechanic who may sign, and what her page offers her.
func TestTheDemosMechanicMaySignAtAnyHour(t *testing.T) {
	t.Parallel()
	for name, at := range map[string]time.Time{"noon": today, "the evening before": today.Truncate(24 * time.Hour).Add(2 * time.Hour)} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c := loadedAt(t, at)
			works, err := c.service.WorkList(t.Context(), c.who, techlog.ID{})
			if err != nil {
				t.Fatal(err)
			}
			i := slices.IndexFunc(works, func(w hangar.Work) bool { return w.Squawk.Unit != "" && w.Squawk.State == techlog.Reported })
			if i < 0 {
				t.Fatal("the club has nothing installed that does not work")
			}
			squawk := works[i].Squawk
			v := c.signIn(mechanic)
			page := v.get("/squawks/" + squawk.ID.String())
			said := url.Values{"about": {"unit:" + squawk.Unit}, "kind": {squawk.Kind}, "words": {"The lamp is dead."}}
			if got := v.post("/squawks/"+squawk.ID.String()+"/moves", move(t, page, "confirm", said)); got.status != http.StatusSeeOther {
				t.Fatalf("confirmed: %d %s", got.status, got.body)
			}
			offered := v.get("/squawks/" + squawk.ID.String()).body
			if !strings.Contains(offered, `href="/squawks/`+squawk.ID.String()+`/sign/work"`) || strings.Contains(offered, "No certificate of yours serves") {
				t.Errorf("at %v she is not offered to sign her work", at)
			}
			if own := c.signIn(scheduler).get("/squawks/" + squawk.ID.String()).body; !strings.Contains(own, "No certificate of yours serves for it today.") {
				t.Error("somebody without a certificate is not told so")
			}
		})
	}
}
