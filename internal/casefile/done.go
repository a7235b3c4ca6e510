package casefile

import (
	"fmt"
	"math"
	"slices"

	"tiedown/internal/airworthiness"
	"tiedown/internal/upkeep"
)

// Completed is one time that items of upkeep were done: on a day, at readings of the aircraft's meters. Hours and cycles are
// nil where nobody has read them on that day.
type Completed struct {
	On     string
	Hours  *float64
	Cycles *int
	Today  bool // a part's own meters still read what they did
}

// doneWith says which kinds of items an inspection may complete. A directive and a schedule need somebody who approves the
// aircraft after maintenance (14 CFR 43.3, 43.7, 91.409(d)); a life limit asks for a replacement, which is no inspection; what
// the organization has set itself it may have done at any of them.
var doneWith = map[string][]string{
	"annual-inspection":       {"directive", "own"},
	"hundred-hour-inspection": {"directive", "own"},
	"progressive-inspection":  {"program", "directive", "own"},
}

// MayComplete says whether an inspection of such a kind may complete an item of such a kind.
func MayComplete(inspection, kind string) bool {
	kinds, ok := doneWith[inspection]
	return kind == "own" || ok && slices.Contains(kinds, kind)
}

// Do notes of items, by their names, that they were done. It gives a record of its own: u stays as it is. at is the path of
// the names, for the faults: an item that there is not, that nothing asks for any more, or that was done later than that.
func (u *Upkeep) Do(items []string, inspection string, done Completed, at string) (Upkeep, Faults) {
	var bad Faults
	after := *u
	after.Items = slices.Clone(u.Items)
	for n, id := range items {
		field := fmt.Sprintf("%s[%d]", at, n)
		i := slices.IndexFunc(after.Items, func(it UpkeepItem) bool { return it.ID == id })
		switch {
		case i < 0:
			bad.Add(field, "known-item", fmt.Sprintf("the aircraft's record of upkeep has no item %q", id), "name an item of facts.upkeep.items")
			continue
		case slices.Contains(items[:n], id):
			bad.Add(field, "unique", fmt.Sprintf("the item %q stands twice", id), "name it once")
			continue
		case !MayComplete(inspection, after.Items[i].Kind):
			bad.Add(field, "of-this-inspection", fmt.Sprintf("this inspection completes no item of the kind %s", after.Items[i].Kind),
				"leave it out, and have it entered by whoever does that work")
			continue
		case after.Items[i].Ended:
			bad.Add(field, "open-item", fmt.Sprintf("nothing asks for the item %q any more", id), "leave it out")
			continue
		}
		after.Items[i].do(&after, done, field, &bad)
	}
	return after, bad
}

func (it *UpkeepItem) do(u *Upkeep, done Completed, field string, bad *Faults) {
	if slices.ContainsFunc(it.Done, func(w WorkDone) bool { return w.On > done.On }) {
		bad.Add(field, "newest", fmt.Sprintf("the item %q has been done since", it.ID), "leave it out, or correct the day")
		return
	}
	w := WorkDone{On: done.On, Hours: done.Hours, Cycles: done.Cycles}
	if it.Part != nil {
		w.Hours, w.Cycles = nil, nil
		if done.Today {
			w.Hours, w.Cycles = it.Part.Hours, it.Part.Cycles
		}
	}
	w.OverflownHours = it.overflown(u, w.Hours)
	it.Done = append(slices.Clone(it.Done), w)
}

// overflown is by how much an inspection by a schedule came late: it counts in the next interval (14 CFR 91.409(d), read with
// (b)). nil where nothing was overflown, or nobody knows.
func (it *UpkeepItem) overflown(u *Upkeep, hours *float64) *float64 {
	var told Faults // of the facts, which have been told
	demand := it.compile(u, "", &told)
	due := demand.Due()
	if demand.Kind != upkeep.ByProgram || hours == nil || !due.Hours.Known || it.Every == nil || it.Every.Hours == 0 || *hours <= due.Hours.Value {
		return nil
	}
	over := math.Round((*hours-due.Hours.Value)*1e6) / 1e6
	return new(min(over, it.Every.Hours))
}

// Inspect enters in the facts that the aircraft was inspected or tested on a day, and reports whether that changes them.
// Nor does anything older than what is on record, nor a test of the static system alone, which completes none that has to
// be made. Hours count from an inspection of today: how much has been flown since an earlier one nobody has said.
func (f *Facts) Inspect(act *Act, today bool) bool {
	newer := func(on *string) bool {
		if act.Completed <= *on {
			return false
		}
		*on = act.Completed
		return true
	}
	var since *float64
	if today {
		since = new(0.0)
	}
	changed := false
	switch act.Inspection {
	case "annual-inspection":
		if changed = newer(&f.AnnualInspected); changed {
			f.HoursSinceInspection = since
		}
	case "condition-inspection":
		if changed = newer(&f.ConditionInspected); changed {
			f.HoursSinceInspection = since
		}
	case "progressive-inspection":
		if act.WholeAircraft != nil && *act.WholeAircraft {
			if changed = newer(&f.ProgressiveComplete); changed {
				f.HoursSinceInspection = since
			}
		}
	case "hundred-hour-inspection":
		f.HoursSinceInspection, changed = since, true
	case "altimeter-and-static-test":
		changed = newer(&f.AltimeterTested)
	case "transponder-test":
		changed = newer(&f.TransponderTested)
	case "elt-inspection":
		changed = newer(&f.ELTInspected)
	}
	return changed
}

// OnProgram says whether the aircraft is known to be inspected progressively (14 CFR 91.409(d)).
func (f *Facts) OnProgram() bool { return truth(f.Progressive) == airworthiness.Yes }
