package pages

import (
	"fmt"
	"time"

	"tiedown/internal/casefile"
)

// atForm is how a form writes a date and a time on the wall.
const atForm = "2006-01-02T15:04"

// onTheWall are the instants at which the clocks of a zone show a date and time, in their order: one, as a rule; none where the
// clocks skip it, two where they strike it twice.
func onTheWall(wall time.Time, zone *time.Location) []time.Time {
	var all []time.Time
	for _, near := range []time.Duration{-36 * time.Hour, 36 * time.Hour} { // clocks are changed less often than that
		_, offset := wall.Add(near).In(zone).Zone()
		at := wall.Add(-time.Duration(offset) * time.Second).In(zone)
		if at.Format(atForm) == wall.Format(atForm) && (len(all) == 0 || !all[0].Equal(at)) {
			all = append(all, at)
		}
	}
	if len(all) == 2 && all[1].Before(all[0]) {
		all[0], all[1] = all[1], all[0]
	}
	return all
}

// readWall reads a date and time on the wall of a zone. which settles one that the clocks strike twice: "first" or "second".
// Twice is given where they do, so that the form can ask.
func readWall(field, said, which string, zone *time.Location, bad *casefile.Faults) (at time.Time, twice []time.Time) {
	wall, err := time.Parse(atForm, said)
	if err != nil {
		wall, err = time.Parse(atForm+":05", said) // some browsers write seconds
	}
	switch {
	case said == "":
		bad.Add(field, "required", "the time is missing", "give a date and a time")
		return at, nil
	case err != nil || wall.Year() < 1970 || wall.Year() > 2200:
		bad.Add(field, "form", fmt.Sprintf("%q is no date and time", said), "write it as 2026-11-29T14:30")
		return at, nil
	}
	all := onTheWall(wall, zone)
	switch {
	case len(all) == 1:
		return all[0], nil
	case len(all) == 0:
		bad.Add(field, "clock-change", fmt.Sprintf("the clocks of %s skip %s", zone, wall.Format("15:04 on 2 January 2006")), "give a time before or after the change of the clocks")
		return at, nil
	case which == "first":
		return all[0], all
	case which == "second":
		return all[1], all
	}
	bad.Add(field, "clock-change", fmt.Sprintf("the clocks of %s show %s twice", zone, wall.Format("15:04 on 2 January 2006")), "say which of the two is meant")
	return at, all
}
