package walkaround

import "strings"

// Proposal is the squawk that a finding is proposed as.
type Proposal struct {
	Class Class
	Kind  string // inoperative or condition
	Unit  string
	Item  string
	Words string
}

// Propose makes a squawk of a finding: what is wrong is said with station, check, measurement and limit, and with the
// walker's own words.
func (c *Check) Propose(r *Result) Proposal {
	p := Proposal{Class: r.Class, Kind: r.Class.SquawkKind(), Unit: c.Unit}
	if c.Unit == "" {
		p.Item = c.Item
	}
	parts := []string{c.Station.Name() + ", " + strings.TrimRight(c.Words, ".") + "."}
	for _, said := range []string{r.Shows, strings.TrimSpace(r.Said.Note)} {
		if said != "" {
			parts = append(parts, sentence(said))
		}
	}
	p.Words = strings.Join(parts, " ")
	return p
}

// sentence begins with a capital and ends in a period.
func sentence(s string) string {
	if c := s[0]; c >= 'a' && c <= 'z' {
		s = string(c-'a'+'A') + s[1:]
	}
	if !strings.ContainsRune(".!?", rune(s[len(s)-1])) {
		s += "."
	}
	return s
}
