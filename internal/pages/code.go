package pages

import (
	"net/url"
	"strings"

	"tiedown/internal/papers"
	"tiedown/internal/techlog"
)

// codeView is the card of an aircraft, with the code that leads to its page.
type codeView struct {
	Aircraft techlog.Aircraft
	Address  string
	Code     papers.Code
}

func (p *pages) showCode(v *visit) error {
	a, err := p.aircraftNamed(v)
	if err != nil {
		return err
	}
	view := codeView{Aircraft: a, Address: strings.TrimSuffix(p.PublicURL, "/") + "/a/" + url.PathEscape(a.Registration)}
	if view.Code, err = papers.CodeOf(view.Address); err != nil {
		return err
	}
	return p.showIn(v, ok, "code", frame{Title: "Code, " + a.Registration, Here: "fleet", Page: &view})
}

// goToAircraft leads to the aircraft whose registration was typed.
func (p *pages) goToAircraft(v *visit) error {
	mark := strings.TrimSpace(v.URL.Query().Get("registration"))
	if mark == "" {
		return v.goTo("/")
	}
	v.SetPathValue("mark", mark)
	return p.fromCode(v)
}
