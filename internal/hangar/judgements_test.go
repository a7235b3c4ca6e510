package hangar_test

import (
	"math/rand/v2"
	"reflect"
	"testing"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/dispatch"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// anyPlan is a flight that somebody may intend, sound or not.
func (c *club) anyPlan(dice *rand.Rand, aircraft, bases []techlog.ID) hangar.FlightPlan {
	p := c.flightPlan(float64(dice.IntN(24*60)) / 2)
	p.Aircraft, p.From, p.To = aircraft[dice.IntN(len(aircraft))], bases[dice.IntN(len(bases))], bases[dice.IntN(len(bases))]
	p.Facts.ForHire, p.Facts.OnlyRequiredCrew, p.Facts.InAlaska = new(dice.IntN(2) == 0), dice.IntN(3) == 0, new(false)
	p.Facts.InstructionProvidedAircraft = new(false)
	p.Rules = []string{"vfr", "vfr", "ifr", ""}[dice.IntN(4)]
	if dice.IntN(4) == 0 {
		p.Facts.Hours = new(float64(dice.IntN(12)) / 4)
	}
	if dice.IntN(3) == 0 { // of some legs, from a base to somewhere and on
		elsewhere := hangar.PlacePlan{Lat: new(42.0), Lon: new(-94.5), Name: "the far side"}
		at := p.Departs
		from := hangar.PlacePlan{Base: new(p.From)}
		for range 1 + dice.IntN(3) {
			end := at.Add(time.Duration(20+dice.IntN(200)) * time.Minute)
			p.Legs = append(p.Legs, hangar.LegPlan{From: from, To: elsewhere, Departs: at, Arrives: end})
			at, from = end.Add(time.Duration(dice.IntN(100)-10)*time.Minute), elsewhere
		}
		p.From, p.To = techlog.ID{}, techlog.ID{}
	}
	switch dice.IntN(12) {
	case 0:
		p.Departs, p.Arrives = p.Arrives, p.Departs
	case 1:
		p.Departs, p.Arrives = p.Departs.AddDate(0, -2, 0), p.Arrives.AddDate(0, -2, 0)
	case 2:
		p.Facts.Occupants, p.Facts.Persons = new(7), new(7)
	case 3:
		p.Arrives = p.Arrives.AddDate(0, 2, 0)
	}
	return p
}

// TestManyAtOnceComeOutAsOneByOne holds what is judged at once against planning the same flights one after the other, to the letter:
// their holds, leg by leg, and what is wrong with them.
func TestManyAtOnceComeOutAsOneByOne(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	aircraft := []techlog.ID{c.aircraft, c.enter("retractable", "N034TW"), c.enter("glider", "N056TW")}
	var far techlog.Base
	c.must(c.service.AddBase(t.Context(), c.who, techlog.Base{Code: "FAR", Name: "Far field", Lat: 45, Lon: -110, Zone: "America/Denver"}, nil, keep(&far)))
	bases := []techlog.ID{c.base, c.base, c.base, c.base, c.base, far.ID, far.ID, newID()}
	light := c.squawk("inoperative", "landing-light", "").Squawk.ID
	c.carryOver(light, techlog.StepDefer, deferral(noon.AddDate(0, 0, 5)))
	c.squawk("inoperative", "cabin-heater", "")
	// More hours since the inspection than the facts know of, and a block: with nothing compiled yet, everything is read anew.
	c.enterMeters(hangar.MeterReading{TimeInService: new(4000.0)})
	c.wait(60 * time.Hour)
	c.enterMeters(hangar.MeterReading{TimeInService: new(4058.0)})
	c.must(c.service.BlockAircraft(t.Context(), c.who, aircraft[1], hangar.BlockPlan{
		From: noon.AddDate(0, 0, 10), Until: noon.AddDate(0, 0, 20), Kind: techlog.BlockedAway, Words: "At the show.",
	}, nil, keep(&hangar.BlockedAircraft{})))
	anew := c.serviceWith("")
	dice := rand.New(rand.NewPCG(7, 11))
	plans := make([]hangar.FlightPlan, 200)
	for i := range plans {
		plans[i] = c.anyPlan(dice, aircraft, bases)
	}
	plans = append(plans, hangar.FlightPlan{Aircraft: newID(), From: c.base, To: c.base, Departs: noon.Add(time.Hour), Arrives: noon.Add(2 * time.Hour), Rules: "vfr"})

	many, err := anew.JudgeFlights(t.Context(), c.who, plans)
	if err != nil {
		t.Fatal(err)
	}
	verdicts, legs, blocked := map[string]int{}, 0, 0
	for i, p := range plans {
		got := many.Flights[i]
		var one hangar.HeldFlight
		_, err := c.service.PlanFlight(t.Context(), c.who, p, nil, keep(&one))
		faults, wrong := casefile.AsFaults(err)
		switch {
		case techlog.KindOf(err) == techlog.KindNotFound:
			if len(got.Faults) != 1 || got.Faults[0].Field != "aircraft" {
				t.Errorf("flight %d is of an aircraft that there is not: %+v", i, got)
			}
			verdicts["no aircraft"]++
		case wrong:
			if !reflect.DeepEqual(got.Faults, faults) || got.Hold.Verdict != "" {
				t.Errorf("flight %d\nat once: %+v\nalone:   %+v", i, got, faults)
			}
			verdicts["faults"]++
		case err != nil:
			t.Fatal(err)
		default:
			if got.Faults != nil || !reflect.DeepEqual(got.Hold, one.Flight.Hold) {
				t.Errorf("flight %d\nat once: %+v\nalone:   %+v", i, got, one.Flight.Hold)
			}
			verdicts[got.Hold.Verdict]++
			legs, blocked = max(legs, len(got.Hold.Legs)), blocked+len(got.Hold.Blocks)
		}
	}
	if verdicts["faults"] < 20 || verdicts["no aircraft"] == 0 || verdicts["grounded"] == 0 || verdicts["clear"]+verdicts["limited"] == 0 || legs < 2 || blocked == 0 {
		t.Errorf("they came out as %v, of up to %d legs, %d blocked", verdicts, legs, blocked)
	}
	if many.Rules == "" || many.Caution == "" || !many.At.Equal(c.clock()) {
		t.Errorf("%+v", many)
	}
	if flights, err := c.service.Flights(t.Context(), c.who, hangar.FlightFilter{}, hangar.Page{Limit: 1000}); err != nil || len(flights) == 0 {
		t.Error(err)
	}
	// Another organization has none of these aircraft and bases.
	stranger := c.join("The second club")
	other, err := c.service.JudgeFlights(t.Context(), stranger, plans)
	if err != nil {
		t.Fatal(err)
	}
	for i, j := range other.Flights {
		if len(j.Faults) == 0 || j.Hold.Verdict != "" {
			t.Errorf("flight %d comes out for a stranger as %+v", i, j)
		}
	}
}

// TestWhatIsOnlyJudgedIsNotKept holds that judging leaves nothing behind.
func TestWhatIsOnlyJudgedIsNotKept(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	plans := []hangar.FlightPlan{c.flightPlan(24)}
	for _, who := range []techlog.Principal{c.who, {Organization: c.who.Organization, Name: "a program", Roles: techlog.As(techlog.Mechanic)}} {
		judged, err := c.service.JudgeFlights(t.Context(), who, plans)
		if err != nil || judged.Flights[0].Hold.Verdict != "clear" {
			t.Fatalf("%+v, %v", judged, err)
		}
	}
	flights, err := c.service.Flights(t.Context(), c.who, hangar.FlightFilter{}, hangar.Page{Limit: 10})
	if err != nil || len(flights) != 0 {
		t.Errorf("%d flights are planned, %v", len(flights), err)
	}
	if _, err := c.service.JudgeFlights(t.Context(), c.who, make([]hangar.FlightPlan, hangar.MaxJudgements+1)); techlog.KindOf(err) != techlog.KindInvalid {
		t.Errorf("too many flights: %v", err)
	}
}

// TestOtherAircraftForAHeldFlight is the story of a flight whose aircraft is grounded: which others could make it, which of
// them have something else to do, and why not the rest.
func TestOtherAircraftForAHeldFlight(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	free, busy, broken, glider := c.enter("trainer", "N034TW"), c.enter("trainer", "N056TW"), c.enter("trainer", "N078TW"), c.enter("glider", "N090TW")
	three := func(p *hangar.FlightPlan) { p.Facts.Occupants, p.Facts.Persons = new(3), new(3) }
	held := c.plan(24, three).Flight
	other := c.plan(24.5, func(p *hangar.FlightPlan) { p.Aircraft = busy }).Flight
	c.plan(30, func(p *hangar.FlightPlan) { p.Aircraft = free }) // later on the same day
	c.must(c.service.BlockAircraft(t.Context(), c.who, busy, hangar.BlockPlan{From: noon, Kind: techlog.BlockedReserved, Words: "For the examiner."}, nil, keep(&hangar.BlockedAircraft{})))
	c.squawk("condition", "", "tire")
	report := func(aircraft techlog.ID) {
		c.must(c.service.FileSquawk(t.Context(), c.who, hangar.SquawkReport{Aircraft: aircraft, Kind: "condition", Item: "tire", Words: "Flat."}, nil, keep(&hangar.FiledSquawk{})))
	}
	report(broken)
	found := c.alternatives(held.ID)
	if len(found.Aircraft) != 4 || found.Permits != 2 || found.Free != 1 || found.More || found.Flight != held.ID.String() {
		t.Fatalf("%+v", found)
	}
	first, second := found.Aircraft[0], found.Aircraft[1]
	if first.Aircraft != free.String() || !first.Permits || len(first.Busy) != 0 || !first.SameBase || first.Registration != "N034TW" {
		t.Errorf("the first is %+v", first)
	}
	if second.Aircraft != busy.String() || !second.Permits || len(second.Busy) != 2 || second.Busy[0].ID != other.ID.String() ||
		second.Busy[1].Kind != "block" || second.Busy[1].To != nil {
		t.Errorf("the second is %+v", second)
	}
	for _, a := range found.Aircraft[2:] {
		switch a.Aircraft {
		case broken.String():
			if a.Permits || a.Verdict != "grounded" || len(a.InTheWay) == 0 || a.InTheWay[0].Defect != "00001" || a.InTheWay[0].Citation == "" {
				t.Errorf("with a flat tire: %+v", a)
			}
		case glider.String():
			if a.Permits || len(a.Faults) == 0 || a.Faults[0].Rule != "at-most-seats" {
				t.Errorf("a glider of two seats: %+v", a)
			}
		default:
			t.Errorf("%s is among them", a.Registration)
		}
	}
	// Each comes out as the same flight does that is planned with it.
	for _, a := range found.Aircraft {
		id, ok := techlog.ParseID(a.Aircraft)
		if !ok {
			t.Fatal(a.Aircraft)
		}
		var one hangar.HeldFlight
		p := c.flightPlan(24)
		p.Aircraft = id
		three(&p)
		_, err := c.service.PlanFlight(t.Context(), c.who, p, nil, keep(&one))
		if faults, wrong := casefile.AsFaults(err); wrong {
			if len(faults) != len(a.Faults) {
				t.Errorf("%s: %v, and planned with it %v", a.Registration, a.Faults, faults)
			}
		} else if err != nil || one.Flight.Hold.Verdict != a.Verdict {
			t.Errorf("%s is %s, and planned with it %s, %v", a.Registration, a.Verdict, one.Flight.Hold.Verdict, err)
		}
	}
}

func (c *club) alternatives(flight techlog.ID) dispatch.Alternatives {
	c.t.Helper()
	found, err := c.service.Alternatives(c.t.Context(), c.who, flight)
	if err != nil {
		c.t.Fatal(err)
	}
	return found
}

// TestOneMoreSquawkMakesNoAlternativeBetter holds law 3 for alternatives: whatever is reported of another aircraft, it comes out no
// better, and stands no further forward among those that may go.
func TestOneMoreSquawkMakesNoAlternativeBetter(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	other := c.enter("trainer", "N034TW")
	flights := []techlog.ID{
		c.plan(24, nil).Flight.ID,
		c.plan(31, func(p *hangar.FlightPlan) { p.Facts.ForHire = yes() }).Flight.ID,
		c.plan(48, func(p *hangar.FlightPlan) { p.Rules = "ifr"; p.Facts.Navigation = &[]string{"vor"} }).Flight.ID,
	}
	worst := map[techlog.ID]airworthiness.Verdict{}
	look := func() {
		t.Helper()
		for _, flight := range flights {
			a := c.alternatives(flight).Aircraft[0]
			v, known := airworthiness.ParseVerdict(a.Verdict)
			if was, seen := worst[flight]; !known || seen && was.WorseThan(v) {
				t.Errorf("with one squawk more it is %s, and was %s", a.Verdict, was)
			}
			worst[flight] = v
		}
	}
	look()
	for _, unit := range []string{"cabin-heater", "com-nav-2", "landing-light", "com-nav-1", "position-left", "airspeed"} {
		c.must(c.service.FileSquawk(t.Context(), c.who, hangar.SquawkReport{Aircraft: other, Kind: "inoperative", Unit: unit, Words: "It does not work."}, nil, keep(&hangar.FiledSquawk{})))
		look()
	}
	for _, flight := range flights {
		if worst[flight] != airworthiness.Grounded {
			t.Errorf("at the end it is %s", worst[flight])
		}
	}
}
