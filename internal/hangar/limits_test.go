package hangar_test

import (
	"errors"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// TestADeferralEndsWithTheDayAtTheBase, whichever time is kept there by then: of a removed ELT the ninetieth day, else
// the last day of the month in which the next annual inspection is due.
func TestADeferralEndsWithTheDayAtTheBase(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.withProver()
	mechanic := c.enroll("mechanic", mechanicOf("airframe", "powerplant"))
	acts := actsOn(nil, techlog.ID{})

	light := c.squawk("inoperative", "landing-light", "").Squawk.ID
	c.confirm(light)
	c.sign(mechanic, light, acts["out-of-use"])
	november := time.Date(2027, 12, 1, 6, 0, 0, 0, time.UTC) // the annual of 20 November 2026 serves through November; CST
	c.until(mechanic, light, acts["defer"], november)
	c.sign(mechanic, light, at(acts["defer"], november))

	elt := c.squawk("inoperative", "elt", "").Squawk.ID
	c.confirm(elt)
	out := acts["out-of-use"]
	out.Method, out.Placard, out.RemovedOn = "removed", "ELT not installed.", "2026-12-20"
	out.ELT = &casefile.RemovedELT{Make: "Wren", Model: "W1", SerialNumber: "7", Reason: "repair"}
	c.sign(mechanic, elt, out)
	defer90 := actsOn([]string{labelOf(1)}, techlog.ID{})["defer"]
	defer90.Method, defer90.Placard, defer90.RemovedOn = out.Method, out.Placard, out.RemovedOn
	ninetieth := time.Date(2027, 3, 21, 5, 0, 0, 0, time.UTC) // after the clocks have gone forward: CDT
	c.until(mechanic, elt, defer90, ninetieth)
	c.sign(mechanic, elt, at(defer90, ninetieth))

	// Back in and out again, the days go on counting from the first removal.
	c.must(c.service.MoveSquawk(t.Context(), c.who, hangar.Move{Squawk: elt, Version: 4, Step: techlog.StepReopen, Words: "It was put back."}, nil, keep(&hangar.FiledSquawk{})))
	out.RemovedOn = "2027-01-10"
	err := c.preview(mechanic, elt, out)
	refused(t, err, "act.removed_on", "initial-removal")
}

// at is a deferral until an instant.
func at(a casefile.Act, until time.Time) casefile.Act {
	a.Until = &until
	return a
}

// until holds that a deferral may last until an instant, and not a microsecond longer.
func (c *club) until(m member, squawk techlog.ID, a casefile.Act, last time.Time) {
	c.t.Helper()
	if err := c.preview(m, squawk, at(a, last)); err != nil {
		c.t.Errorf("until %s: %v", last, err)
	}
	refused(c.t, c.preview(m, squawk, at(a, last.Add(time.Microsecond))), "act.until", "limit")
	refused(c.t, c.preview(m, squawk, at(a, noon)), "act.until", "future")
}

// TestOneFactLessSignsNothing takes one declared fact, one standing or the recency away at a time: what was not yes never
// becomes it, and what hangs on the fact is refused.
func TestOneFactLessSignsNothing(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.withProver()
	mechanic := c.enroll("mechanic", mechanicOf("airframe"))
	s := c.squawk("inoperative", "landing-light", "").Squawk.ID
	c.confirm(s)
	c.sign(mechanic, s, actsOn(nil, techlog.ID{})["work"])
	for what, take := range map[string]func(*casefile.Declared){
		"part": func(d *casefile.Declared) { d.Part = "" }, "another part": func(d *casefile.Declared) { d.Part = "powerplant" },
		"instrument": func(d *casefile.Declared) { d.Part = "instrument" }, "did work": func(d *casefile.Declared) { d.DidWork = nil },
		"understands": func(d *casefile.Declared) { d.Understands = nil }, "done before": func(d *casefile.Declared) { d.DoneBefore = new(false) },
	} {
		a := mechanic.by(actsOn(nil, techlog.ID{})["return"])
		take(a.Declared)
		_, err := c.service.Preview(t.Context(), mechanic.Principal, hangar.ToSign{Squawk: s, Act: a})
		var refusal *techlog.Error
		if !errors.As(err, &refusal) || refusal.Kind != techlog.KindForbidden || len(refusal.Rows) == 0 || refusal.Rows[0].Citation == "" {
			t.Errorf("without %s: %v", what, err)
		}
	}
	stranger := mechanic
	stranger.Person = newID()
	if got := kindOf(t, c.preview(stranger, s, actsOn(nil, techlog.ID{})["return"])); got != "no" {
		t.Errorf("by another's certificate: %s", got)
	}
	standings, err := c.service.Standings(t.Context(), c.who, mechanic.Person, hangar.Page{Limit: 9})
	if err != nil {
		t.Fatal(err)
	}
	for _, st := range standings {
		st.Ended = true
		c.must(c.service.KeepStanding(t.Context(), c.who, st, nil, keep(&techlog.Standing{})))
	}
	if got := kindOf(t, c.preview(mechanic, s, actsOn(nil, techlog.ID{})["return"])); got != "no" {
		t.Errorf("whom the organization lets do nothing: %s", got)
	}
}
