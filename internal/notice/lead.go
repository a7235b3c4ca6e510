package notice

import (
	"slices"

	"tiedown/internal/casefile"
)

// Leads is how many days ahead an organization's people are told, the most first. Empty: nobody is told ahead.
type Leads []int

// Usually is how many days ahead people are told where the organization has not said otherwise.
func Usually() Leads { return Leads{30, 7, 1} }

const (
	maxLead  = 365
	maxLeads = 10
)

// Check finds what is wrong with leads.
func (l Leads) Check() error {
	var bad casefile.Faults
	for _, days := range l {
		if days < 0 || days > maxLead {
			bad.Add("days_ahead", "range", "it is no number of days from 0 to 365", "give whole days, such as 30, 7 and 1")
			break
		}
	}
	if len(l) > maxLeads {
		bad.Add("days_ahead", "length", "more than 10 numbers", "tell people less often")
	}
	return bad.Err()
}

// Sorted is the leads in their order, each once.
func (l Leads) Sorted() Leads {
	sorted := slices.Clone(l)
	slices.Sort(sorted)
	sorted = slices.Compact(sorted)
	slices.Reverse(sorted)
	return sorted
}

// Strictest is the lead that a thing has come to which falls due in some days: the least that is not less. There is none
// when it is further off than every lead, or overdue.
func (l Leads) Strictest(days int) (int, bool) {
	strictest, ok := 0, false
	for _, lead := range l {
		if days >= 0 && days <= lead && (!ok || lead < strictest) {
			strictest, ok = lead, true
		}
	}
	return strictest, ok
}
