package techlog

import (
	"slices"
	"strings"
)

// EventFamilies lists what the kinds of events begin with.
func EventFamilies() []string {
	return []string{
		"aircraft", "airport", "base", "block", "calendar", "certificate", "checklist", "checklist-template", "company-rules", "determination", "due", "flight", "member", "meters",
		"photo", "squawk", "standing", "token", "walkaround", "warning-leads", "webhook",
	}
}

// KnownKind reports whether a filter of kinds can name any event: a family, alone or with what happened after a dot.
func KnownKind(kind string) bool {
	family, what, found := strings.Cut(kind, ".")
	return slices.Contains(EventFamilies(), family) && (!found || what != "" && strings.Trim(what, "abcdefghijklmnopqrstuvwxyz-") == "")
}

// IsOf reports whether an event is of one of some kinds, each a kind or a family. No kinds are all.
func (e *Event) IsOf(kinds []string) bool {
	return len(kinds) == 0 || slices.ContainsFunc(kinds, func(kind string) bool {
		return e.Kind == kind || strings.HasPrefix(e.Kind, kind+".")
	})
}
