package engines

import (
	"slices"

	aw "tiedown/internal/airworthiness"
)

// celOther is another open squawk that is, or may be, about equipment.
type celOther struct {
	considered bool
	rows       []int32 // on the two of them
}

// lookBeside finds the squawks that each hazard determination has to consider, and the rows on any two.
func (c *CEL) lookBeside() {
	for i := range c.subjects {
		s := &c.subjects[i]
		s.others = s.others[:0]
		if s.equipment != aw.Yes || c.defects[i].Deferral == nil {
			continue
		}
		for j := range c.subjects {
			if i == j || c.subjects[j].equipment == aw.No {
				continue
			}
			o := celOther{considered: slices.Contains(c.defects[i].Deferral.HazardConsidered, c.defects[j].ID)}
			for row := range c.book.pairs {
				if c.onTwo(&c.book.pairs[row], i, j) {
					o.rows = append(o.rows, int32(row))
				}
			}
			s.others = append(s.others, o)
		}
	}
}

// onTwo says whether one squawk stands on one side of a row and the other on the other, each by a unit of its own.
func (c *CEL) onTwo(r *bookRow, i, j int) bool {
	for _, u := range c.out(i) {
		for _, v := range c.out(j) {
			if (u.unit != v.unit || u.unit < 0) &&
				(c.does(u, r.items) && c.does(v, r.second) || c.does(u, r.second) && c.does(v, r.items)) {
				return true
			}
		}
	}
	return false
}

// outOfUse is a unit that does not work, or an item of which no unit is on record.
type outOfUse struct {
	unit int32 // or -1
	item string
}

// out lists what a squawk leaves out of use.
func (c *CEL) out(i int) []outOfUse {
	u := c.subjects[i].unit
	if u < 0 {
		return []outOfUse{{-1, c.defects[i].Item}}
	}
	all := []outOfUse{{u, ""}}
	for _, v := range c.units[u].fells {
		all = append(all, outOfUse{v, ""})
	}
	return all
}

// does says whether something does the job of any of the items.
func (c *CEL) does(u outOfUse, items []string) bool {
	for _, item := range items {
		if u.unit >= 0 {
			if slices.Contains(c.byItem[c.index[item]], u.unit) {
				return true
			}
			continue
		}
		if at, ok := c.index[u.item]; ok && (u.item == item || slices.Contains(c.items[at].servesAs, item)) {
			return true
		}
	}
	return false
}

// celPair is a row on two squawks that is in play, of which the other was considered or not.
type celPair struct {
	row        int32
	considered bool
}

// putSet tells the programs whether a determination considers the set, and gives the rows on two squawks that are in play.
func (c *CEL) putSet(i int) []celPair {
	s, considered := &c.subjects[i], aw.TruthOf(c.defects[i].Deferral != nil)
	var paired []celPair
	for _, o := range s.others {
		told := false
		for _, row := range o.rows {
			if !c.book.pairs[row].inForce(c.flight.On) || c.ask(c.CELBook.pairs[row]) == isNo {
				continue
			}
			told = true
			if pair := (celPair{row, o.considered}); !slices.Contains(paired, pair) {
				paired = append(paired, pair)
			}
		}
		if !o.considered && !told {
			considered = aw.No
		}
	}
	if slot := c.deferral[slices.Index(deferralNames, "hazard-considered")]; slot > 0 {
		c.activation.put(slot, considered)
	}
	return paired
}

// judgePairs tells what comes of the rows on two squawks, and says whether any is more than a note.
func (c *CEL) judgePairs(i int16, paired []celPair) bool {
	if d := c.defects[i].Deferral; d == nil || d.HazardDetermined != aw.Yes {
		return false
	}
	binds := false
	for _, pair := range paired {
		f := celFinding{aw.StepHazard, aw.OutcomeUnknown, aw.Undetermined, celPairs, i, pair.row}
		answer := c.ask(c.CELBook.pairs[pair.row])
		switch {
		case !pair.considered:
			f.outcome, f.verdict = aw.OutcomeUndone, aw.DeferFirst
		case !c.book.pairs[pair.row].limits:
			f.outcome, f.verdict = aw.OutcomeNoted, aw.Clear
		case answer == isYes || c.flight.Envelope && answer == isAvoidable:
			f.outcome, f.verdict = aw.OutcomeLimited, aw.Limited
		}
		c.add(f)
		binds = binds || f.outcome != aw.OutcomeNoted
	}
	return binds
}
