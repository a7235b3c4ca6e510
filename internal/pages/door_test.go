package pages_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"tiedown/internal/pages"
)

// TestEveryPageIsBehindTheDoor holds that a stranger is shown nothing of any page there is, and that nothing a stranger sends
// is taken, whichever page comes next.
func TestEveryPageIsBehindTheDoor(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	id := newID().String()
	behind := pages.Behind()
	if len(behind) < 100 {
		t.Errorf("there are only %d pages", len(behind))
	}
	wild := regexp.MustCompile(`\{[a-z]+\}`)
	for _, pattern := range behind {
		method, path, _ := strings.Cut(pattern, " ")
		path = wild.ReplaceAllString(strings.TrimSuffix(path, "{$}"), id)
		switch method {
		case http.MethodGet:
			got := c.visitor().get(path)
			if want := "/sign-in?next=" + url.QueryEscape(path); got.status != http.StatusSeeOther || got.header.Get("Location") != want {
				t.Errorf("%s: %d, to %s", pattern, got.status, got.header.Get("Location"))
			}
		case http.MethodPost:
			if got := c.visitor().post(path, url.Values{"once": {"x"}}); got.status != http.StatusUnauthorized {
				t.Errorf("%s: %d", pattern, got.status)
			}
		default:
			t.Errorf("%s is neither read nor sent", pattern)
		}
	}
}

// TestWhatIsNotJudgedIsNotPermitted holds that a flight of which nothing is known yet is none that may be made.
func TestWhatIsNotJudgedIsNotPermitted(t *testing.T) {
	t.Parallel()
	if pages.MayUnjudged() {
		t.Error("silence reads as permission")
	}
}
