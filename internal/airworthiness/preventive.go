package airworthiness

import (
	"errors"
	"fmt"
	"slices"
)

// preventiveParagraphs is how many paragraphs of preventive maintenance 43 appendix A(c) lists, and no more.
const preventiveParagraphs = 31

// PreventiveRow is one paragraph of 14 CFR part 43 appendix A(c).
type PreventiveRow struct {
	Origin
	Number   int
	Items    []string // what it covers; none where it speaks of a process and not of a thing
	Excludes []string // what it does not cover, though one might think so
	Part     string   // airframe, powerplant: which mechanic's rating covers it
	When     string   // on which aircraft
}

type preventive struct {
	PreventiveRow
	when occasionClause
}

// listed says whether work is among the listed preventive maintenance, and which paragraphs say so.
func (r *Ruleset) listed(o *Occasion) (Truth, []Origin) {
	if o.Work.Number == 0 && o.Work.Item == "" {
		return Unknown, nil
	}
	answer := No
	var covering, excluding []Origin
	for i := range r.preventive {
		row := &r.preventive[i]
		if !row.inForce(o.On) || o.Work.Number != 0 && o.Work.Number != row.Number {
			continue
		}
		switch covers := row.covers(o); {
		case slices.Contains(row.Excludes, o.Work.Item):
			excluding = append(excluding, row.Origin)
		case covers != No:
			answer = answer.Or(covers)
			covering = append(covering, row.Origin)
		}
	}
	if answer == No {
		return No, excluding
	}
	return answer, covering
}

func (p *preventive) covers(o *Occasion) Truth {
	named := o.Work.Item == "" || slices.Contains(p.Items, o.Work.Item)
	if !named && (len(p.Items) > 0 || o.Work.Number == 0) {
		return No
	}
	return p.when.holds(o)
}

// preventiveFor lists the paragraphs that may cover work on an item of an aircraft, whoever does it.
func (r *Ruleset) preventiveFor(item string, o *Occasion) []*preventive {
	var rows []*preventive
	for i := range r.preventive {
		row := &r.preventive[i]
		if slices.Contains(row.Items, item) && row.inForce(o.On) && row.when.possible(o) {
			rows = append(rows, row)
		}
	}
	return rows
}

// part is what the work is on, where it says so or its paragraph of appendix A(c) does.
func (r *Ruleset) part(o *Occasion) string {
	if o.Work.Part != "" || o.Action != "preventive-maintenance" {
		return o.Work.Part
	}
	part := ""
	for i := range r.preventive {
		row := &r.preventive[i]
		if row.Number != o.Work.Number && (o.Work.Number != 0 || !slices.Contains(row.Items, o.Work.Item)) {
			continue
		}
		if part != "" && part != row.Part {
			return ""
		}
		part = row.Part
	}
	return part
}

func (r *Ruleset) compilePreventive(rows []PreventiveRow, collect func(string, error)) {
	numbers := map[int]bool{}
	for _, row := range rows {
		when, err := r.occasionClause(row.When)
		collect(row.ID, err)
		if row.Part != "airframe" && row.Part != "powerplant" {
			collect(row.ID, fmt.Errorf("part %q: want airframe or powerplant", row.Part))
		}
		for _, item := range slices.Concat(row.Items, row.Excludes) {
			if _, ok := r.itemIndex[item]; !ok {
				collect(row.ID, fmt.Errorf("item %q is not in the catalog", item))
			}
		}
		numbers[row.Number] = true
		r.preventive = append(r.preventive, preventive{row, when})
	}
	if len(rows) == 0 {
		return // a ruleset without the list, such as one made for a test: nothing is preventive maintenance
	}
	for n := range preventiveParagraphs {
		if !numbers[n+1] {
			collect(fmt.Sprintf("preventive maintenance (%d)", n+1), errors.New("the paragraph has no row"))
		}
	}
	if len(rows) != preventiveParagraphs {
		collect("preventive maintenance", fmt.Errorf("want the %d paragraphs of 43 appendix A(c), have %d rows", preventiveParagraphs, len(rows)))
	}
}
