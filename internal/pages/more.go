package pages

import (
	"slices"

	"tiedown/internal/techlog"
)

// further is a page that the menu has no place for.
type further struct {
	group string // heading under which it stands
	Path  string
	Name  string
	Words string         // what it is for
	needs techlog.Action // what somebody has to be allowed to, to have any use of it; empty: everybody
}

// furtherPages are the pages behind "More", group by group, in the order in which they are shown.
var furtherPages = []further{
	{"The fleet", "/due", "What comes due", "Inspections, directives, parts: the most pressing first, with the flight on which each runs out.", ""},
	{"The fleet", "/availability", "Availability", "How free each aircraft is on the coming days, and what takes the rest.", ""},
	{"The fleet", "/deferred", "Deferred and placarded", "What is out of use in the fleet, until when, and which parts are awaited.", ""},
	{"You", "/organization", "You and where you act", "Change to another club or school, or sign out.", ""},
	{"You", "/you/notices", "Notices by mail", "What you hear of, and when: quiet hours and a digest.", ""},
	{"You", "/you/security", "Signing in and security", "Sessions, password, passkeys, and what happened to your account.", ""},
	{"You", "/outbox", "Kept on this phone", "What waits to be sent, what can be read without network, and how to delete it.", ""},
	{"Rules", "/rules", "The book of rules", "Every clause that answers rest on, with its paragraph and the stories that hold it.", ""},
	{"Rules", "/settings/rules", "The organization's own rules", "What your manual asks beyond the regulation.", ""},
	{"People", "/people", "People", "Who is in the organization, and as what.", ""},
	{"People", "/certificates", "Certificates", "What everybody holds, that first which runs out soonest.", ""},
	{"Organization", "/settings/fleet", "Keeping the fleet", "Enter an aircraft, its base and its checklist.", ""},
	{"Organization", "/settings/bases", "Bases", "Where aircraft stand, and which clock goes there.", ""},
	{"Organization", "/settings/warnings", "Warnings ahead", "How many days before something runs out people are told.", ""},
	{"Organization", "/settings/calendars", "Calendars", "Addresses for calendar programs.", techlog.KeepTokens},
	{"Organization", "/settings/tokens", "Tokens for programs", "What other programs present to read and write here.", techlog.KeepTokens},
	{"Organization", "/settings/webhooks", "Webhooks", "Programs elsewhere that are told of what happens.", techlog.KeepWebhooks},
}

// furtherGroup is a heading with what stands under it.
type furtherGroup struct {
	Name  string
	Pages []further
}

// furtherFor is what somebody may open.
func furtherFor(who techlog.Principal) []furtherGroup {
	var groups []furtherGroup
	for _, f := range furtherPages {
		if f.needs != "" && !who.May(f.needs) {
			continue
		}
		i := slices.IndexFunc(groups, func(g furtherGroup) bool { return g.Name == f.group })
		if i < 0 {
			i, groups = len(groups), append(groups, furtherGroup{Name: f.group})
		}
		groups[i].Pages = append(groups[i].Pages, f)
	}
	return groups
}

func (p *pages) showMore(v *visit) error {
	return p.showIn(v, ok, "more", frame{Title: "More", Here: "more", Page: furtherFor(v.who)})
}
