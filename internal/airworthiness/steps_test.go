package airworthiness_test

import (
	"slices"
	"testing"
	"time"

	"tiedown/internal/airworthiness"
)

const (
	passed   = airworthiness.OutcomePassed
	open     = airworthiness.OutcomeUnknown
	breached = airworthiness.OutcomeBreached
	relieved = airworthiness.OutcomeRelieved
	undone   = airworthiness.OutcomeUndone
)

// TestTheStepsOfADetermination tries single steps on the plain airplane, by day under VFR unless said otherwise. Each case
// names what it rests on.
func TestTheStepsOfADetermination(t *testing.T) {
	t.Parallel()
	squawk := func(d airworthiness.Defect) func(*world) {
		return func(w *world) { w.defects = append(w.defects, d) }
	}
	both := func(changes ...func(*world)) func(*world) {
		return func(w *world) {
			for _, change := range changes {
				change(w)
			}
		}
	}
	ifr := func(w *world) { w.flight = plainFlights()[2] }
	mel := func(w *world) { w.aircraft.MELAuthorized = airworthiness.Yes }
	turbine := func(w *world) { w.aircraft.Engine = "turbine" }
	kind := func(d airworthiness.Defect, k airworthiness.DefectKind) airworthiness.Defect {
		d.Kind = k
		return d
	}
	deferred := func(unit string, change func(*airworthiness.Deferral)) func(*world) {
		d := removed(unit)
		change(d.Deferral)
		return squawk(d)
	}
	removedOn := func(date string) func(*world) {
		return deferred("elt", func(d *airworthiness.Deferral) { d.RemovedOn = airworthiness.Given(day(date)) })
	}
	until := func(at time.Time) func(*world) {
		return deferred("intercom", func(d *airworthiness.Deferral) { d.Until = airworthiness.Given(at) })
	}
	const mayGo, limited, deferFirst = airworthiness.Clear, airworthiness.Limited, airworthiness.DeferFirst
	const undetermined, grounded = airworthiness.Undetermined, airworthiness.Grounded
	cases := []struct {
		name    string
		rests   string
		change  func(*world)
		row     string
		outcome airworthiness.Outcome
		verdict airworthiness.Verdict
	}{
		{"either altimeter alone may fail", "91.205(b)(2)", squawk(inoperative("altimeter-1")), "91.205-b-2", passed, mayGo},
		{"the other altimeter alone may fail", "91.205(b)(2)", squawk(inoperative("altimeter-2")), "91.205-b-2", passed, mayGo},
		{"both altimeters together may not", "91.205(b)(2)", both(squawk(inoperative("altimeter-1")), squawk(inoperative("altimeter-2"))), "91.205-b-2", breached, grounded},
		{"a vacuum pump takes its gyros along", "91.205(d)(8)", both(ifr, squawk(inoperative("vacuum-pump"))), "91.205-d-8", breached, grounded},
		{"which matters under IFR only", "91.213(d)(2)(iii)", squawk(inoperative("vacuum-pump")), "91.205-d-8", passed, mayGo},

		{"a condition is no equipment", "91.213 title; 1.1", squawk(airworthiness.Defect{ID: "a", Kind: airworthiness.KindInoperative, Item: "tire"}), "nature", breached, grounded},
		{"a condition of equipment", "91.213 title; 1.1", squawk(kind(inoperative("intercom"), airworthiness.KindCondition)), "nature", breached, grounded},
		{"a squawk of no kind", "a missing fact is no permission", squawk(kind(inoperative("intercom"), airworthiness.KindUnstated)), "nature", open, undetermined},
		{"a squawk of a kind that is none", "a missing fact is no permission", squawk(kind(inoperative("intercom"), airworthiness.KindCondition+1)), "nature", open, undetermined},
		{"a squawk on nothing", "a missing fact is no permission", squawk(inoperative("")), "nature", open, undetermined},
		{"an item without a unit", "a missing fact is no permission", squawk(airworthiness.Defect{ID: "a", Kind: airworthiness.KindInoperative, Item: "intercom", Deferral: done(airworthiness.Deactivated)}), "regulation", open, undetermined},
		{"what is short anyway stays short, whatever the squawk", "91.205(b)(9)", func(w *world) {
			w.aircraft.Tanks = airworthiness.Given(3)
			w.defects = append(w.defects, kind(inoperative("fuel-quantity-gauge-1"), airworthiness.KindUnstated))
		}, "91.205-b-9", breached, grounded},

		{"a turbine airplane has no path", "91.213(d)(1)", both(turbine, squawk(inoperative("intercom"))), "path", breached, grounded},
		{"unless an MEL governs it", "letter", both(turbine, mel, squawk(inoperative("intercom"))), "path", open, undetermined},
		{"an MEL closes the path to all", "91.213(d) lead-in", both(mel, squawk(inoperative("intercom"))), "path", open, undetermined},
		{"no MEL carries what part 91 requires", "91.213(b)(3)", both(mel, squawk(inoperative("airspeed-indicator"))), "91.205-b-1", breached, grounded},
		{"an MEL may carry what the equipment list names", "91.213(a), (b)", both(mel, squawk(inoperative("alternator"))), "own:equipment-list", passed, undetermined},
		{"an MEL that nobody has asked about", "a missing fact is no permission", func(w *world) {
			w.aircraft.MELAuthorized = airworthiness.Unknown
			w.defects = append(w.defects, inoperative("intercom"))
		}, "path", open, undetermined},

		{"on the confirmed VFR-day list", "91.213(d)(2)(i)", squawk(inoperative("stall-warning")), "own:type-certification", breached, grounded},
		{"on the equipment list", "91.213(d)(2)(ii)", squawk(inoperative("alternator")), "own:equipment-list", breached, grounded},
		{"on the KOEL for another kind", "91.213(d)(2)(ii)", squawk(inoperative("pitot-heat")), "own:equipment-list", passed, mayGo},
		{"on the KOEL for this kind", "91.213(d)(2)(ii)", both(ifr, squawk(inoperative("pitot-heat"))), "own:equipment-list", breached, grounded},
		{"a directive", "91.213(d)(2)(iv)", func(w *world) {
			w.aircraft.Directives.Rows = []airworthiness.OwnRow{{Item: "fire-extinguisher", Quantity: 1, Document: "invented directive"}}
			w.defects = append(w.defects, inoperative("fire-extinguisher"))
		}, "own:directive", breached, grounded},
		{"directives that nobody has reviewed", "a missing fact is no permission", func(w *world) {
			w.aircraft.Directives.OnRecord = airworthiness.Unknown
			w.defects = append(w.defects, inoperative("intercom"))
		}, "directive", open, undetermined},
		{"no KOEL exists", "91.213(d)(2)(ii)", func(w *world) {
			w.aircraft.KOEL = airworthiness.OwnList{OnRecord: airworthiness.No}
			w.defects = append(w.defects, inoperative("intercom"))
		}, "equipment-list", passed, mayGo},
		{"a VFR-day list that is not confirmed", "91.213(d)(2)(i)", func(w *world) {
			w.aircraft.TypeCertification.OnRecord = airworthiness.No
			w.defects = append(w.defects, inoperative("intercom"))
		}, "type-certification", open, undetermined},

		{"nothing done yet", "91.213(d)(3), (4)", squawk(airworthiness.Defect{ID: "a", Kind: airworthiness.KindInoperative, Unit: "intercom"}), "out-of-use", undone, deferFirst},
		{"no placard", "91.213(d)(3)(i)", deferred("intercom", func(d *airworthiness.Deferral) { d.Placarded = airworthiness.No }), "placard-control", undone, deferFirst},
		{"no record", "91.213(d)(3)(i)", deferred("intercom", func(d *airworthiness.Deferral) { d.Recorded = airworthiness.No }), "record-removal", undone, deferFirst},
		{"no hazard determination", "91.213(d)(4)", deferred("intercom", func(d *airworthiness.Deferral) { d.HazardDetermined = airworthiness.No }), "hazard-determination", undone, deferFirst},
		{"a method nobody has named", "a missing fact is no permission", deferred("intercom", func(d *airworthiness.Deferral) { d.Method = airworthiness.MethodUnstated }), "out-of-use", open, undetermined},
		{"it lasts until the end of the flight", "91.405(c)", until(plainFlight().Ends), "lapse", passed, mayGo},
		{"it runs out a moment before", "91.405(c)", until(plainFlight().Ends.Add(-time.Second)), "deferral-lasts", undone, grounded},
		{"nobody knows when it runs out", "a missing fact is no permission", deferred("intercom", func(d *airworthiness.Deferral) { d.Until = airworthiness.Fact[time.Time]{} }), "deferral-lasts", open, undetermined},

		{"an ELT on its 90th day away", "91.207(f)(10)(ii)", removedOn("2026-03-03"), "91.207-a", relieved, limited},
		{"an ELT on its 91st day away", "91.207(f)(10)(ii)", removedOn("2026-03-02"), "91.207-a", breached, grounded},
		{"an ELT still to be removed", "91.207(f)(10)", removedOn("2026-06-02"), "91.207-a", breached, grounded},
		{"a trip that ends on the 91st day", "91.207(f)(10)(ii)", both(removedOn("2026-03-03"), func(w *world) { w.flight.Ends = w.flight.Ends.AddDate(0, 0, 1) }), "91.207-a", breached, grounded},
		{"an ELT left in", "91.207(f)(10)", squawk(inoperative("elt")), "91.207-a", breached, grounded},
		{"one seat needs no ELT, training or not", "91.207(f)(9)", func(w *world) {
			w.aircraft.Seats, w.aircraft.FrontSeats = airworthiness.Given(1), airworthiness.Given(1)
			w.flight.Occupants, w.flight.TrainingWithin50NM = airworthiness.Given(1), airworthiness.Yes
			w.defects = append(w.defects, removed("elt"))
		}, "91.207-a", relieved, mayGo},
		{"VOR checked 30 days ago", "91.171(a)", both(ifr, func(w *world) { w.aircraft.VORChecked = airworthiness.Given(day("2026-05-02")) }), "91.171-a", passed, mayGo},
		{"VOR checked 31 days ago", "91.171(a)", both(ifr, func(w *world) { w.aircraft.VORChecked = airworthiness.Given(day("2026-05-01")) }), "91.171-a", breached, grounded},
		{"VOR to be checked tomorrow", "91.171(a)", both(ifr, func(w *world) { w.aircraft.VORChecked = airworthiness.Given(day("2026-06-02")) }), "91.171-a", breached, grounded},

		{"a list of airspace without the altitude does not rule out Class A", "91.215(b)(1)", both(func(w *world) {
			w.aircraft.EngineDrivenElectrical, w.flight.AltitudeFt = airworthiness.No, airworthiness.Fact[float64]{}
		}, squawk(inoperative("transponder"))), "91.215-b-1-a", open, undetermined},
		{"Class A begins at 18,000 ft, listed or not", "91.215(b)(1); 71.33, from memory", both(func(w *world) {
			w.flight.AltitudeFt = airworthiness.Given(18000.0)
		}, squawk(inoperative("transponder"))), "91.215-b-1-a", breached, grounded},
		{"the only transponder on an incomplete record, taken out", "91.215(d)(3)", both(func(w *world) {
			w.aircraft.UnitsComplete = airworthiness.Unknown
			w.flight.Airspace = airworthiness.Given([]string{"class-c"})
			w.flight.ATCAuthorized = airworthiness.Given([]string{"transponder"})
		}, squawk(removed("transponder"))), "91.215-b-1-c", relieved, limited},
		{"a flight without a date", "a missing fact is no permission", func(w *world) { w.flight.On = 0 }, "date", open, undetermined},
		{"a flight without an end", "a missing fact is no permission", func(w *world) { w.flight.Ends = time.Time{} }, "date", open, undetermined},

		{"a light taken out is missing at night", "91.205(c)(2)", both(func(w *world) { w.flight = plainFlights()[1] }, squawk(removed("position-light-tail"))), "91.205-c-2", breached, grounded},
		{"two squawks on one unit, one of them says removed", "91.209(b)", both(squawk(removed("beacon")), squawk(airworthiness.Defect{ID: "z", Kind: airworthiness.KindInoperative, Unit: "beacon", Deferral: done(airworthiness.Deactivated)})), "91.209-b", breached, grounded},
		{"an encoder that fails does not lift its own test", "one more defect never improves a verdict", both(func(w *world) {
			w.flight.Controlled, w.aircraft.AltitudeReportingCalibrated = airworthiness.Yes, airworthiness.No
		}, squawk(removed("altitude-encoder"))), "91.217-a", breached, grounded},
	}
	r := rules(t)
	for _, c := range cases {
		w := world{aircraft: plainAircraft(), flight: plainFlight()}
		w.aircraft.Units = slices.Clone(w.aircraft.Units)
		c.change(&w)
		got, verdict := outcome(t, r, w, c.row)
		if got != c.outcome || verdict != c.verdict {
			t.Errorf("%s (%s): row %s %s, verdict %s; want %s, %s", c.name, c.rests, c.row, got, verdict, c.outcome, c.verdict)
		}
	}
}

// TestATakenOutUnitThatAnotherFells holds the law that one more defect never improves a verdict: an ELT that lacks its
// battery is not made good by being taken out as well.
func TestATakenOutUnitThatAnotherFells(t *testing.T) {
	t.Parallel()
	r := rules(t)
	w := world{aircraft: plainAircraft(), flight: plainFlight()}
	for i := range w.aircraft.Units {
		if w.aircraft.Units[i].ID == "elt" {
			w.aircraft.Units[i].Needs = []string{"main-battery"}
		}
	}
	w.defects = []airworthiness.Defect{inoperative("main-battery")}
	for range 2 {
		if got, verdict := outcome(t, r, w, "91.207-a"); got != breached || verdict != airworthiness.Grounded {
			t.Errorf("%d squawks: %s, %s", len(w.defects), got, verdict)
		}
		w.defects = append(w.defects, removed("elt"))
	}
}

// TestEveryRemovalCounts holds that of two units taken out, the one longer away decides, whichever stands first.
func TestEveryRemovalCounts(t *testing.T) {
	t.Parallel()
	r := rules(t)
	w := world{aircraft: plainAircraft(), flight: plainFlight()}
	w.aircraft.Units = append(w.aircraft.Units, airworthiness.Unit{ID: "elt-2", Item: "elt"})
	late, unsaid := removed("elt"), removed("elt-2")
	late.Deferral.RemovedOn = airworthiness.Given(day("2026-01-01"))
	unsaid.Deferral.RemovedOn = airworthiness.Fact[airworthiness.Date]{}
	for _, defects := range [][]airworthiness.Defect{{late, unsaid}, {unsaid, late}} {
		w.defects = defects
		if got, verdict := outcome(t, r, w, "91.207-a"); got != breached || verdict != airworthiness.Grounded {
			t.Errorf("%s first: %s, %s", defects[0].ID, got, verdict)
		}
	}
}

// TestAPermittingRowDoesNotHideAnUnconfirmedList: a belt may be done without if the seat stays empty, but whether the type
// certification asks for it is for a rated person to say (14 CFR 91.213(d)(2)(i)).
func TestAPermittingRowDoesNotHideAnUnconfirmedList(t *testing.T) {
	t.Parallel()
	r := rules(t)
	w := world{aircraft: plainAircraft(), flight: plainFlight(), defects: []airworthiness.Defect{inoperative("safety-belt-2")}}
	w.aircraft.Basis = "car-3"
	w.aircraft.TypeCertification = airworthiness.OwnList{}
	w.flight.Envelope, w.flight.Occupants = true, airworthiness.Fact[int]{}
	if got, verdict := outcome(t, r, w, "car3-belts"); got != airworthiness.OutcomeLimited || verdict != airworthiness.Undetermined {
		t.Errorf("%s, %s: want limited by the belt that works, and undetermined for want of the list", got, verdict)
	}
}

// TestAKindOfOperationIsNotLimitedByWhatTheAircraftLeavesOpen: a relief may limit a kind of operation only when the flight
// alone decides whether it holds.
func TestAKindOfOperationIsNotLimitedByWhatTheAircraftLeavesOpen(t *testing.T) {
	t.Parallel()
	tables := small()
	tables.Reliefs = []airworthiness.ReliefRow{{
		Origin:   airworthiness.Origin{ID: "ease", Citation: "rule ease", Words: "words of ease", Status: "verified"},
		Relieves: []string{"want"}, When: "pressurized for-hire", Limitation: "only for hire",
	}}
	r := compiled(t, tables)
	for pressurized, want := range map[airworthiness.Truth]airworthiness.Verdict{
		airworthiness.Yes: airworthiness.Limited, airworthiness.Unknown: airworthiness.Undetermined, airworthiness.No: airworthiness.Grounded,
	} {
		a, f := known(), dated()
		a.Pressurized, f.Envelope = pressurized, true
		if _, got := outcome(t, r, world{aircraft: a, flight: f}, "want"); got != want {
			t.Errorf("pressurized %s: %s, want %s", pressurized, got, want)
		}
	}
}

// TestRowsAreInForceBetweenTheirDates holds that a row applies from its first day until the day before its last.
func TestRowsAreInForceBetweenTheirDates(t *testing.T) {
	t.Parallel()
	tables := small()
	tables.Requirements[0].From, tables.Requirements[0].To = day("2026-06-01"), day("2026-06-03")
	r := compiled(t, tables)
	for date, want := range map[string]airworthiness.Outcome{
		"2026-05-31": passed, "2026-06-01": breached, "2026-06-02": breached, "2026-06-03": passed,
	} {
		f := dated()
		f.On = day(date)
		if got, _ := outcome(t, r, world{aircraft: known(), flight: f}, "want"); got != want {
			t.Errorf("on %s: %s, want %s", date, got, want)
		}
	}
}

// TestAWordNobodyUnderstandsIsUnknown holds that a slip of the pen takes no rule out of play.
func TestAWordNobodyUnderstandsIsUnknown(t *testing.T) {
	t.Parallel()
	r := rules(t)
	slips := map[string]func(*world){
		"certificate": func(w *world) { w.aircraft.Certificate = "Standard" },
		"engine":      func(w *world) { w.aircraft.Engine = "None" },
		"airspace": func(w *world) {
			w.flight.Airspace = airworthiness.Given([]string{"Class B"})
			w.defects = []airworthiness.Defect{inoperative("transponder")}
		},
	}
	for fact, slip := range slips {
		w := world{aircraft: plainAircraft(), flight: plainFlight()}
		w.defects = []airworthiness.Defect{inoperative("magnetic-compass")}
		w.aircraft.TypeCertification.Rows = nil
		slip(&w)
		if a := judge(t, r, w); a.Verdict != airworthiness.Undetermined {
			t.Errorf("%s: the verdict is %s, want undetermined", fact, a.Verdict)
		}
	}
	if words := airworthiness.Vocabulary("category"); !slices.Contains(words, "airplane") {
		t.Errorf("the categories are %q", words)
	}
	if words := airworthiness.Vocabulary("color"); len(words) != 0 {
		t.Errorf("a fact that is none has the words %q", words)
	}
}
