package airworthiness_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/internal/airworthiness"
)

// TestTheOtherPaths tries single steps under an MEL and under a special flight permit on the plain airplane. Each case
// names what it rests on.
func TestTheOtherPaths(t *testing.T) {
	t.Parallel()
	const limited = airworthiness.OutcomeLimited
	squawk := func(d airworthiness.Defect) func(*world) {
		return func(w *world) { w.defects = append(w.defects, d) }
	}
	underMEL := func(change func(*airworthiness.MEL), defects ...airworthiness.Defect) func(*world) {
		return func(w *world) {
			w.aircraft.MELAuthorized, w.aircraft.MEL = airworthiness.Yes, plainMEL()
			if change != nil {
				change(&w.aircraft.MEL)
			}
			w.defects = append(w.defects, defects...)
		}
	}
	intercom := func(change func(*airworthiness.MELRow)) func(*airworthiness.MEL) {
		return func(m *airworthiness.MEL) { change(&m.Rows[0]) }
	}
	kind := func(change func(*world)) func(*world) {
		return func(w *world) {
			change(w)
			w.flight.Envelope, w.flight.Night, w.flight.Day, w.flight.Lights = true, airworthiness.Unknown, airworthiness.Unknown, airworthiness.Unknown
		}
	}
	tire := airworthiness.Defect{ID: "tire", Kind: airworthiness.KindCondition, Item: "tire"}
	cases := []struct {
		name    string
		rests   string
		change  func(*world)
		row     string
		outcome airworthiness.Outcome
		verdict airworthiness.Verdict
	}{
		{"listed", "91.213(a)(3)", underMEL(nil, inoperative("intercom")), "own:mel", passed, airworthiness.Clear},
		{"not listed", "91.213(a)(3)", underMEL(nil, inoperative("autopilot")), "mel", breached, airworthiness.Grounded},
		{"part 91 stands above the list", "91.213(b)(3)", underMEL(nil, inoperative("airspeed-indicator")), "91.205-b-1", breached, airworthiness.Grounded},
		{"a category that is none is not known", "a missing fact is no permission", func(w *world) {
			underMEL(intercom(func(r *airworthiness.MELRow) { r.Category = "E" }), inoperative("intercom"))(w)
			w.aircraft.MEL.Authority = "certificate"
		}, "lapse", open, airworthiness.Undetermined},
		{"a paragraph that is none is not known", "a missing fact is no permission", func(w *world) {
			underMEL(func(m *airworthiness.MEL) { m.Authority, m.LetterAboard = "91.213", airworthiness.No }, inoperative("intercom"))(w)
		}, "mel-letter", open, airworthiness.Undetermined},
		{"days of none", "a missing fact is no permission", underMEL(func(m *airworthiness.MEL) {
			m.Authority, m.Rows[0].Category, m.Rows[0].Days = "certificate", "A", airworthiness.Given(0)
		}, inoperative("intercom")), "interval-a", open, airworthiness.Undetermined},
		{"a kind of operation is limited by what the list asks of the flight", "91.213(a)(5)", kind(underMEL(intercom(func(r *airworthiness.MELRow) {
			r.OnlyWhen = "!night"
		}), inoperative("intercom"))), "own:mel", limited, airworthiness.Limited},
		{"what is shut out by one condition is shut out", "91.213(a)(5)", kind(underMEL(intercom(func(r *airworthiness.MELRow) {
			r.OnlyWhen = "!night ifr"
		}), inoperative("intercom"))), "own:mel", breached, airworthiness.Grounded},
		{"a list that is more than required knows nothing of a squawk without deferral", "91.213(a)(4)", underMEL(nil, airworthiness.Defect{
			ID: "a", Kind: airworthiness.KindInoperative, Unit: "intercom",
		}), "mel-record", undone, airworthiness.DeferFirst},

		{"a condition under a permit", "21.197(a)", func(w *world) { w.defects, w.flight.Permit = append(w.defects, tire), plainPermit("tire") }, "nature", relieved, airworthiness.Limited},
		{"a permit that nobody can date", "21.181(a)(2)", func(w *world) {
			w.defects, w.flight.Permit, w.flight.Departs = append(w.defects, tire), plainPermit("tire"), time.Time{}
		}, "nature", open, airworthiness.Undetermined},
		{"a permit for another squawk", "21.199", func(w *world) { w.defects, w.flight.Permit = append(w.defects, tire), plainPermit("spar") }, "permit-covers", airworthiness.OutcomeNoted, airworthiness.Grounded},
		{"what may be done all the same stays to be done", "91.213(d)(3)", func(w *world) {
			squawk(airworthiness.Defect{ID: "a", Kind: airworthiness.KindInoperative, Unit: "intercom"})(w)
			w.flight.Permit = plainPermit("a")
			w.flight.Permit.Issued = airworthiness.Fact[airworthiness.Date]{}
		}, "out-of-use", undone, airworthiness.DeferFirst},
	}
	r := rules(t)
	for _, c := range cases {
		w := world{aircraft: plainAircraft(), flight: plainFlight()}
		c.change(&w)
		got, verdict := outcome(t, r, w, c.row)
		if got != c.outcome || verdict != c.verdict {
			a := judge(t, r, w)
			t.Errorf("%s (%s): row %s %s, verdict %s; want %s, %s:%s", c.name, c.rests, c.row, got, verdict, c.outcome, c.verdict, tell(a.tell(w.defects)))
		}
	}
}

// TestAPermitDoesNotMakeGoodWhatIsMissingAnyway: a squawk on the only gauge of two tanks, covered, must not hide that the
// second gauge was never there.
func TestAPermitDoesNotMakeGoodWhatIsMissingAnyway(t *testing.T) {
	t.Parallel()
	r := rules(t)
	w := world{aircraft: plainAircraft(), flight: plainFlight()}
	w.aircraft.Units = slices.DeleteFunc(slices.Clone(w.aircraft.Units), func(u airworthiness.Unit) bool { return u.ID == "fuel-quantity-gauge-2" })
	w.flight.Permit = plainPermit("fuel-quantity-gauge-1")
	for range 2 {
		if got, verdict := outcome(t, r, w, "91.205-b-9"); got != breached || verdict != airworthiness.Grounded {
			t.Errorf("%d squawks: %s, %s", len(w.defects), got, verdict)
		}
		w.defects = append(w.defects, inoperative("fuel-quantity-gauge-1"))
	}
}

// TestAFindingSaysWhatAConditionLacks holds that whoever clears a condition is told what is missing.
func TestAFindingSaysWhatAConditionLacks(t *testing.T) {
	t.Parallel()
	r := rules(t)
	yes := airworthiness.Yes
	for says, found := range map[string]*airworthiness.Found{
		"cannot be deferred":                                      nil,
		"Missing: that a person rated for it did so.":             {Result: airworthiness.FoundRepaired, Data: yes, Approved: yes},
		"Missing: the data used.":                                 {Result: airworthiness.FoundRepaired, Rated: yes, Approved: yes},
		"Missing: the approval for return to service with its":    {Result: airworthiness.FoundWithinLimits, Rated: yes, Data: yes, Approved: airworthiness.No},
		"Missing: whether it was repaired or found within limits": {Rated: yes, Data: yes, Approved: yes},
		"did so; the data used; the approval":                     {Result: airworthiness.FoundRepaired},
		"has been repaired, and approved":                         {Result: airworthiness.FoundRepaired, Rated: yes, Data: yes, Approved: yes},
		"found within limits, and approved":                       {Result: airworthiness.FoundWithinLimits, Rated: yes, Data: yes, Approved: yes},
	} {
		w := world{aircraft: plainAircraft(), flight: plainFlight()}
		w.defects = []airworthiness.Defect{{ID: "tire", Kind: airworthiness.KindCondition, Item: "tire", Found: found}}
		a := judge(t, r, w)
		if lines := a.tell(w.defects); !slices.ContainsFunc(lines, func(l string) bool { return strings.Contains(l, says) }) {
			t.Errorf("%+v: nothing says %q:\n%s", found, says, strings.Join(lines, "\n"))
		}
	}
}

// TestTheLimitationsOfAPermitAreHandedOn holds that a determination that rests on a permit names it, and no other does.
func TestTheLimitationsOfAPermitAreHandedOn(t *testing.T) {
	t.Parallel()
	r := rules(t)
	w := world{aircraft: plainAircraft(), flight: plainFlight()}
	w.flight.Permit = plainPermit("tire")
	if a := judge(t, r, w); a.Permit != nil {
		t.Error("nothing is wrong, and the permit is named")
	}
	w.defects = []airworthiness.Defect{{ID: "tire", Kind: airworthiness.KindCondition, Item: "tire"}}
	a := judge(t, r, w)
	if a.Permit != w.flight.Permit {
		t.Error("the permit is not named")
	}
	again := judge(t, r, world{aircraft: plainAircraft(), flight: plainFlight()})
	flight := r.Prepare(plainFlight())
	again.plan.Determine(&a.Determination, nil, &flight)
	if a.Permit != nil {
		t.Error("a used determination remembers the permit")
	}
}

func TestCompileNamesFaultsOfTheOtherPaths(t *testing.T) {
	t.Parallel()
	interval := func(change func(*airworthiness.IntervalRow)) func(*airworthiness.Tables) {
		return func(t *airworthiness.Tables) {
			row := airworthiness.IntervalRow{Origin: airworthiness.Origin{ID: "interval"}, Category: "B", Days: 3}
			change(&row)
			t.Intervals = append(t.Intervals, row)
		}
	}
	permit := func(change func(*airworthiness.PermitRow)) func(*airworthiness.Tables) {
		return func(t *airworthiness.Tables) {
			row := airworthiness.PermitRow{Origin: airworthiness.Origin{ID: "permit"}}
			change(&row)
			t.Permits = append(t.Permits, row)
		}
	}
	lifts := func(names ...string) func(*airworthiness.Tables) {
		return permit(func(r *airworthiness.PermitRow) { r.Lifts = names })
	}
	cases := []struct {
		name   string
		change func(*airworthiness.Tables)
		says   string
	}{
		{"no such category", interval(func(r *airworthiness.IntervalRow) { r.Category = "E" }), `interval: no such repair category "E"`},
		{"a category twice", interval(func(*airworthiness.IntervalRow) {}), "interval: the repair category B stands twice"},
		{"no days", interval(func(r *airworthiness.IntervalRow) { r.Category, r.Days = "C", 0 }), "interval: want a number of days"},
		{"days of category A", interval(func(r *airworthiness.IntervalRow) { r.Category = "A" }), "interval: want a number of days"},
		{"neither lifts nor must", permit(func(*airworthiness.PermitRow) {}), "permit: want what a permit lifts, or what must hold"},
		{"lifts and must", permit(func(r *airworthiness.PermitRow) { r.Lifts, r.Must = []string{"path"}, "window" }), "permit: want what a permit lifts, or what must hold"},
		{"no such check", permit(func(r *airworthiness.PermitRow) { r.Must = "weather" }), `permit: must: want one of issued, window, kinds, crew, covers, have "weather"`},
		{"a check twice", permit(func(r *airworthiness.PermitRow) { r.Must = "window" }), "permit: must: window stands twice"},
		{"from memory", permit(func(r *airworthiness.PermitRow) { r.Lifts, r.Status = []string{"path"}, "memory" }), "permit: a row from memory may forbid, never permit"},
		{"lifts the operating rules as a whole", lifts("regulation"), `permit: the step "regulation" is lifted by no permit`},
		{"lifts the pilot", lifts("pilot"), `permit: the step "pilot" is lifted by no permit`},
		{"lifts nothing known", lifts("91.999-*"), `permit: lifts "91.999-*", which is neither a step nor a requirement`},
		{"no such requirement", lifts("wan"), `permit: lifts "wan", which is neither a step nor a requirement`},
		{"a check is missing", lifts("want"), "permits: no row says that a permit must hold for: issued"},
	}
	for _, c := range cases {
		tables := small()
		interval(func(*airworthiness.IntervalRow) {})(&tables)
		permit(func(r *airworthiness.PermitRow) { r.ID, r.Must = "window", "window" })(&tables)
		c.change(&tables)
		if r, err := airworthiness.Compile(tables); err == nil || r != nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: it says %v, want %q", c.name, err, c.says)
		}
	}
}

func TestAPlanRefusesAnMELThatTheBookDoesNotKnow(t *testing.T) {
	t.Parallel()
	r := compiled(t, small())
	row := func(item, onlyWhen string) airworthiness.MELRow {
		return airworthiness.MELRow{Item: item, OnlyWhen: onlyWhen}
	}
	for says, rows := range map[string][]airworthiness.MELRow{
		`mel: item "dial" is not in the catalog`:                                      {row("dial", "")},
		`mel: item "gauge" stands twice`:                                              {row("gauge", ""), row("gauge", "")},
		`mel: item "gauge": condition "sunny" is not in the table of conditions`:      {row("gauge", "sunny")},
		`mel: item "gauge": condition "pressurized" is none of the flight`:            {row("gauge", "pressurized")},
		`mel: item "gauge": condition "works:lamp" is none of the flight`:             {row("gauge", "works:lamp")},
		`mel: item "gauge": no flight can meet "night !night"`:                        {row("gauge", "night !night")},
		`mel: item "gauge": condition "cabin-above:high": want a number after the co`: {row("gauge", "cabin-above:high")},
	} {
		a := known(units("gauge", nil)...)
		a.MEL = airworthiness.MEL{OnRecord: airworthiness.Yes, Rows: rows}
		if plan, err := r.Plan(&a); err == nil || plan != nil || !strings.HasPrefix(err.Error(), says) {
			t.Errorf("it says %v, want %q", err, says)
		}
		a.MEL.OnRecord = airworthiness.Unknown
		if _, err := r.Plan(&a); err != nil {
			t.Errorf("rows of a list that is not on record: %v", err)
		}
	}
}
