package dispatch_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/dispatch"
)

const minute = time.Minute

// deferredLight is a position light that is out and deferred: from sunset on it is needed (14 CFR 91.209(a)(1)).
const deferredLight = "given: position-left inoperative, deactivated, placarded, recorded, hazard determined, until 2027-03-31"

// Sunset and the end of civil twilight are those of the U.S. Naval Observatory, Rise and Set for the Sun for 2023,
// Fredonia AZ, and Civil Twilight for 2023, Auckland; as kept in skyfielders/python-skyfield, design/test_sunrise_moonrise.py,
// and klausbrunner/solarpositioning, src/test/resources/sunrise/raw/auckland-civil.txt. They are printed to the minute.
var (
	fredonia = place(36+57.0/60, -(112 + 31.0/60))
	auckland = place(-(36 + 50.0/60), 174+48.0/60)
)

// about holds an instant against one that is printed to the minute.
func about(t *testing.T, what string, got time.Time, want time.Time) {
	t.Helper()
	if got.Sub(want).Abs() > minute {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

// An aircraft of which a position light is out goes out by day, and comes home after sunset.
func TestOutByDayHomeAfterSunset(t *testing.T) {
	t.Parallel()
	mst := time.FixedZone("MST", -7*3600)
	c := told(t, "inspections: annual 2022-11-01, altimeter 2022-06-01, transponder 2022-06-01, elt 2022-11-01", deferredLight, "flight: day vfr, date 2023-01-01")
	now := at(t, mst, "2023-01-01 06:00")
	out := leg(&c, at(t, mst, "2023-01-01 14:00"), at(t, mst, "2023-01-01 15:00"), fredonia)
	home := leg(&c, at(t, mst, "2023-01-01 16:30"), at(t, mst, "2023-01-01 17:40"), fredonia)
	f, err := flight(&c, book(t), now, out, home)
	if err != nil {
		t.Fatal(err)
	}
	o := outlook(t, f)
	if o.Permits || !o.Legs[0].Permits || o.Legs[1].Permits {
		t.Fatalf("the legs come out as %+v", o.Legs)
	}
	stop := o.Legs[1].Stop
	sunset := at(t, mst, "2023-01-01 17:24")
	about(t, "where the leg home stops being permitted", stop.At, sunset)
	if !stop.Part || !slices.Contains(stop.Becomes, "the sun sets") || len(stop.Findings) != 1 || stop.Findings[0].Row != "91.209-a" {
		t.Errorf("it stops for %v and %+v", stop.Becomes, stop.Findings)
	}
	if o.Part.Legs != 1 || o.Part.PartOf != 2 || !o.Part.Until.Equal(stop.At) {
		t.Errorf("the largest part is %+v", o.Part)
	}
	// The flight takes 3:40 from the departure to the last arrival.
	d := o.Departures
	if d.Permits || d.Before == nil || d.After == nil {
		t.Fatalf("departures: %+v", d)
	}
	about(t, "leave by", d.Before.To, sunset.Add(-220*minute))
	// Sunrise on 2 January is not printed in what was carried over; on 1 January it is 07:43, and in that week the day
	// does not change by a minute.
	about(t, "the first departure of the next day", d.After.From, at(t, mst, "2023-01-02 07:43"))
	if !strings.Contains(d.Words, "Leave by 13:4") || !strings.Contains(d.Words, "(MST)") {
		t.Error(d.Words)
	}
	r := o.Release
	if r == nil || r.Beside || len(r.Sets) != 1 || r.Sets[0][0] != "position-left" || r.Earliest != nil || len(r.NotKnown) != 1 {
		t.Fatalf("released by %+v", r)
	}
	if s := r.Squawks; len(s) != 1 || !s[0].Alone || s[0].Verdict != "grounded" {
		t.Errorf("the squawks in the way: %+v", s)
	}
	if c := r.Conditions; len(c) != 1 || c[0].Finding.Row != "91.209-a" || c[0].By != dispatch.ByRepair || !slices.Equal(c[0].Legs, []int{2}) {
		t.Errorf("the conditions: %+v", c)
	}
	for _, words := range []string{stop.Words, o.Part.Words, d.Words, r.Words} {
		t.Log(words)
	}
}

// Parts are expected on a day: the flight may be released from the beginning of that day at the base, and not before now.
func TestPartsAreExpected(t *testing.T) {
	t.Parallel()
	c := told(t, "given: position-left inoperative", "given: tire condition", "flight: night vfr, date 2027-01-15")
	base := zone(t, "America/Chicago")
	now := at(t, base, "2027-01-10 09:00")
	departs := at(t, base, "2027-01-15 22:00")
	f, err := flight(&c, book(t), now, leg(&c, departs, departs.Add(time.Hour), place(41, -88)))
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range []struct {
		name     string
		expected map[string]dispatch.Expectation
		earliest time.Time
		unknown  int
	}{
		{"nothing is known", nil, time.Time{}, 2},
		{"of one nothing is known", map[string]dispatch.Expectation{"tire": {On: "2027-01-12"}}, time.Time{}, 1},
		{"the later counts", map[string]dispatch.Expectation{"tire": {On: "2027-01-12"}, "position-left": {On: "2027-01-14"}}, at(t, base, "2027-01-14 00:00"), 0},
		{"a day that has passed is now", map[string]dispatch.Expectation{"tire": {On: "2026-12-12"}, "position-left": {On: "2027-01-01"}}, now, 0},
	} {
		f.Expected = e.expected
		r := outlook(t, f).Release
		if len(r.Sets) != 1 || !slices.Equal(r.Sets[0], []string{"position-left", "tire"}) {
			t.Fatalf("%s: released by %v", e.name, r.Sets)
		}
		switch {
		case len(r.NotKnown) != e.unknown:
			t.Errorf("%s: not known is %v", e.name, r.NotKnown)
		case e.earliest.IsZero() != (r.Earliest == nil):
			t.Errorf("%s: earliest %v", e.name, r.Earliest)
		case r.Earliest != nil && !r.Earliest.Equal(e.earliest):
			t.Errorf("%s: earliest %v, want %v", e.name, r.Earliest, e.earliest)
		case !strings.Contains(r.Words, "Nothing is released by itself"):
			t.Errorf("%s: %s", e.name, r.Words)
		}
		t.Log(r.Words)
	}
}

// A paper that has run out is nobody's squawk: no repair releases the flight.
func TestAPaperHolds(t *testing.T) {
	t.Parallel()
	c := told(t, "papers: registration-through 2026-12-31", "given: position-left inoperative", "flight: day vfr")
	now := at(t, time.UTC, "2027-01-10 09:00")
	f, err := flight(&c, book(t), now, leg(&c, at(t, time.UTC, "2027-01-15 18:00"), at(t, time.UTC, "2027-01-15 19:00"), place(41, -88)))
	if err != nil {
		t.Fatal(err)
	}
	o := outlook(t, f)
	r := o.Release
	if !r.Beside || len(r.Sets) != 0 || r.Earliest != nil || len(r.NotKnown) == 0 || o.Departures.Before != nil || o.Departures.After != nil {
		t.Errorf("released by %+v, may leave %+v", r, o.Departures)
	}
	if !slices.ContainsFunc(r.Conditions, func(c dispatch.Condition) bool { return c.By == dispatch.ByMeeting }) {
		t.Errorf("conditions: %+v", r.Conditions)
	}
	t.Log(r.Words, o.Departures.Words, o.Legs[0].Stop.Words)
}

// The 100 hours run out on the way: for hire, with half an hour of them left.
func TestTheHoursRunOutOnTheWay(t *testing.T) {
	t.Parallel()
	c := told(t, "inspections: hours 99.5", "flight: day vfr, for-hire, hours 1.4")
	departs := at(t, time.UTC, "2027-01-15 18:00")
	f, err := flight(&c, book(t), departs.Add(-time.Hour), leg(&c, departs, departs.Add(100*minute), place(41, -88)))
	if err != nil {
		t.Fatal(err)
	}
	stop := outlook(t, f).Legs[0].Stop
	if stop == nil || !stop.At.Equal(departs.Add(30*minute)) || !slices.Equal(stop.Becomes, []string{"0.5 h of time in service have been flown"}) {
		t.Fatalf("it stops at %+v", stop)
	}
	t.Log(stop.Words)
}

// Legs before it use up what is left: of an hour, 0.8 h go to the first leg, and the second goes on for 0.2 h.
func TestTheLegsBeforeUseUpTheHours(t *testing.T) {
	t.Parallel()
	c := told(t, "inspections: hours 99.0", "flight: day vfr, for-hire")
	departs := at(t, time.UTC, "2027-01-15 17:00")
	first := leg(&c, departs, departs.Add(60*minute), place(41, -88))
	first.Hours = new(0.8)
	second := leg(&c, departs.Add(90*minute), departs.Add(150*minute), place(41, -88))
	second.Hours, second.Earlier = new(1.6), &casefile.EarlierLegs{Legs: 1, WindowHours: 1}
	f, err := flight(&c, book(t), departs.Add(-time.Hour), first, second)
	if err != nil {
		t.Fatal(err)
	}
	o := outlook(t, f)
	stop := o.Legs[1].Stop
	if !o.Legs[0].Permits || stop == nil || !stop.At.Equal(second.Departs.Add(12*minute)) || !slices.Equal(stop.Becomes, []string{"1.0 h of time in service have been flown"}) {
		t.Fatalf("it stops at %+v", stop)
	}
}

// The deferral ends with a day at the base, on the way.
func TestTheDeferralEndsOnTheWay(t *testing.T) {
	t.Parallel()
	c := told(t, "given: landing-light inoperative, deactivated, placarded, recorded, hazard determined, until 2027-01-15", "flight: day vfr")
	end := *c.Defects[0].Deferral.Until
	f, err := flight(&c, book(t), end.Add(-5*time.Hour), leg(&c, end.Add(-2*time.Hour), end.Add(30*minute), place(41, 170)))
	if err != nil {
		t.Fatal(err)
	}
	o := outlook(t, f)
	stop := o.Legs[0].Stop
	if stop == nil || stop.At.After(end) || end.Sub(stop.At) >= minute || !slices.Contains(stop.Becomes, "the deferral of squawk landing-light ends") {
		t.Fatalf("it stops at %+v, and the deferral ends at %v", stop, end)
	}
	if o.Departures.Before == nil || o.Departures.After != nil {
		t.Errorf("departures: %+v", o.Departures)
	}
	t.Log(stop.Words, o.Departures.Words)
}

// Night begins over the second of three legs; the third, on the next morning, is permitted by itself.
func TestNightBeginsOverTheSecondLeg(t *testing.T) {
	t.Parallel()
	nz := zone(t, "Pacific/Auckland")
	c := told(t, "inspections: annual 2022-11-01, altimeter 2022-06-01, transponder 2022-06-01, elt 2022-11-01",
		"given: landing-light inoperative, deactivated, placarded, recorded, hazard determined, until 2027-03-31", "flight: day vfr, for-hire, date 2023-06-21")
	dusk := at(t, time.UTC, "2023-06-21 05:40").In(nz)
	f, err := flight(&c, book(t), at(t, nz, "2023-06-21 10:00"),
		leg(&c, at(t, nz, "2023-06-21 14:00"), at(t, nz, "2023-06-21 15:00"), auckland),
		leg(&c, at(t, nz, "2023-06-21 17:00"), at(t, nz, "2023-06-21 18:30"), auckland),
		leg(&c, at(t, nz, "2023-06-22 10:00"), at(t, nz, "2023-06-22 11:00"), auckland))
	if err != nil {
		t.Fatal(err)
	}
	o := outlook(t, f)
	if !o.Legs[0].Permits || o.Legs[1].Permits || !o.Legs[2].Permits {
		t.Fatalf("%+v", o.Legs)
	}
	about(t, "night", o.Legs[1].Stop.At, dusk)
	if !slices.Contains(o.Legs[1].Stop.Becomes, "night begins") || o.Legs[1].Zone != "Pacific/Auckland" {
		t.Errorf("%+v", o.Legs[1])
	}
	if o.Part.Legs != 1 || o.Part.PartOf != 2 || o.Part.First != 1 || o.Part.Last != 1 {
		t.Errorf("%+v", o.Part)
	}
}

// A flight that is permitted has its last departure, too.
func TestAFlightThatMayGoHasToLeaveByThen(t *testing.T) {
	t.Parallel()
	mst := time.FixedZone("MST", -7*3600)
	c := told(t, "inspections: annual 2022-11-01, altimeter 2022-06-01, transponder 2022-06-01, elt 2022-11-01", deferredLight, "flight: day vfr, date 2023-01-01")
	departs := at(t, mst, "2023-01-01 14:00").Add(30 * time.Second)
	f, err := flight(&c, book(t), at(t, mst, "2023-01-01 12:00"), leg(&c, departs, departs.Add(time.Hour), fredonia))
	if err != nil {
		t.Fatal(err)
	}
	o := outlook(t, f)
	if !o.Permits || o.Release != nil || !o.Departures.Permits || o.Part.Legs != 1 {
		t.Fatalf("%+v", o)
	}
	w := o.Departures.Planned
	about(t, "leave by", w.To, at(t, mst, "2023-01-01 16:24"))
	if !w.OpenStart || !w.From.Equal(f.Now) || w.OpenEnd {
		t.Errorf("%+v", w)
	}
	t.Log(o.Departures.Words)
}

// A block holds a flight whatever its verdict: it may leave before it or after it, and no squawk has to go.
func TestABlockHoldsWhateverTheVerdict(t *testing.T) {
	t.Parallel()
	c := told(t, "flight: day vfr")
	departs := at(t, time.UTC, "2027-01-15 18:00")
	end := departs.Add(3 * time.Hour)
	f, err := flight(&c, book(t), departs.Add(-6*time.Hour), leg(&c, departs, departs.Add(time.Hour), place(41, -88)))
	if err != nil {
		t.Fatal(err)
	}
	f.Blocks = []dispatch.Block{
		{ID: "a", Kind: "away", From: departs.Add(30 * minute), To: &end, Words: "At the show."},
		{ID: "b", Kind: "away", From: departs.AddDate(0, 0, 1), To: nil, Words: "Sold."},
	}
	o := outlook(t, f)
	if o.Permits || o.Verdict != "clear" || len(o.Blocks) != 1 || o.Blocks[0].ID != "a" || !o.Legs[0].Permits {
		t.Fatalf("%+v", o)
	}
	if d := o.Departures; d.Permits || !d.Before.To.Equal(departs.Add(-30*minute)) || !d.After.From.Equal(end) || !d.After.To.Equal(departs.AddDate(0, 0, 1).Add(-time.Hour)) || d.After.OpenEnd {
		t.Errorf("%+v, %+v", d.Before, d.After)
	}
	if r := o.Release; !r.Beside || len(r.Sets) != 0 || len(r.Conditions) != 0 || len(r.NotKnown) != 1 || !strings.Contains(r.NotKnown[0], "At the show.") {
		t.Errorf("%+v", r)
	}
}

// A leg whose light was said and not worked out is in an unknown light at another time.
func TestLightThatWasSaidIsOfItsOwnTime(t *testing.T) {
	t.Parallel()
	c := told(t, deferredLight, "flight: day vfr")
	c.Flight.Light = &casefile.Light{Day: new(true), Night: new(false), SunsetToSunrise: new(false)}
	f, err := flight(&c, book(t), c.Flight.Departs.Add(-time.Hour), c.Flight)
	if err != nil {
		t.Fatal(err)
	}
	o := outlook(t, f)
	w := o.Departures.Planned
	if !o.Permits || w == nil || !w.From.Equal(w.To) || !w.From.Equal(c.Flight.Departs) {
		t.Errorf("%+v", o.Departures)
	}
}
