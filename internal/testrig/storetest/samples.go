package storetest

import (
	"fmt"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

func newBase(code string) techlog.Base {
	return techlog.Base{
		ID: newID(), Code: code, Name: "Field " + code, Lat: 45.123456789, Lon: -93.25, Zone: "America/Chicago", Version: 1,
	}
}

// newAircraft has every field filled, and counters that differ from each other.
func newAircraft(base techlog.ID) techlog.Aircraft {
	id := newID()
	return techlog.Aircraft{
		ID: id, Registration: fmt.Sprintf("N0%X", id[12:]), Type: "Tern 2", Base: base, Facts: facts(), Configuration: configuration(),
		Revision: 1, Version: 1, PlanVersion: 3, StateVersion: 5,
	}
}

func revisionOf(a techlog.Aircraft) techlog.ConfigurationRevision {
	return techlog.ConfigurationRevision{
		Aircraft: a.ID, Revision: a.Revision, At: noon, By: "M. Control", Configuration: a.Configuration,
	}
}

func facts() casefile.Facts {
	return casefile.Facts{
		Category: "airplane", Certificate: "standard", Basis: "car-3", Engine: "piston", Cooling: "air",
		MaxTakeoffWeightLb: new(2299.5), Engines: new(1), Tanks: new(2), Seats: new(4), FrontSeats: new(2),
		Manufactured: "1979-03-02", USRegistered: new(true), Pressurized: new(false),
		Approved: &[]string{"day-vfr", "night-vfr"},
	}
}

func configuration() casefile.Configuration {
	return casefile.Configuration{
		UnitsComplete: new(true),
		Units: []casefile.Unit{
			{ID: "landing-light-1", Item: "landing-light", Where: `left "wing"`, Also: []string{"taxi-light"}, Serves: []int{1, 2}},
			{ID: "ammeter-1", Item: "ammeter", Needs: []string{"landing-light-1"}},
		},
		KOEL: casefile.OwnList{
			OnRecord: new(true), Document: "POH section 2, café",
			Rows: []casefile.OwnRow{{Item: "landing-light", Quantity: 1, Kinds: []string{"night-vfr"}}},
		},
		Directives: casefile.OwnList{OnRecord: new(false)},
	}
}

// newSquawk is a squawk as it is reported, about a unit of its own.
func newSquawk(aircraft techlog.ID, number int) techlog.Squawk {
	return techlog.Squawk{
		ID: newID(), Aircraft: aircraft, Number: number, Kind: "inoperative", Unit: fmt.Sprintf("unit-%d", number),
		Words: "landing light dark; 灯 out — \"both\" filaments", State: techlog.Reported, ReportedBy: "P. Lot", ReportedAt: noon, Version: 1,
	}
}

func entryOf(s techlog.Squawk, step techlog.SquawkStep) techlog.HistoryEntry {
	return techlog.HistoryEntry{
		Squawk: s.ID, Number: s.Version, At: noon.Add(time.Duration(s.Version) * time.Hour), By: "P. Lot", Step: step, State: s.State,
		Words: "as seen on the walkaround",
	}
}

func newDeferral() *techlog.Deferral {
	return &techlog.Deferral{
		ID: newID(), Basis: "14 CFR 91.213(d)", Method: "removed", Placard: "LANDING LIGHT INOP", Entry: "log 3, page 17",
		DeterminedBy: "M. Chanic, A&P 0000001", DeterminedAt: noon.Add(-time.Hour), Considered: []string{"00002", "00005"}, RemovedOn: "2031-05-03", Until: noon.Add(240 * time.Hour),
		Discovered: "2031-05-02", ExtendedUntil: "2031-05-20", InvolvesMaintenance: new(true), MaintenanceDone: true,
	}
}

// deferred is the next version of a squawk, deferred.
func deferred(s techlog.Squawk, d *techlog.Deferral) techlog.Squawk {
	s.State, s.Deferral = techlog.Deferred, d
	s.Version++
	return s
}

// moved is the next version of a squawk in a state that has no deferral.
func moved(s techlog.Squawk, state techlog.SquawkState) techlog.Squawk {
	s.State, s.Deferral = state, nil
	s.Version++
	return s
}

// newFlight has every field filled.
func newFlight(c *club, aircraft techlog.ID) techlog.Flight {
	return over(c, techlog.Flight{
		ID: newID(), Aircraft: aircraft, Rules: "vfr",
		Facts: casefile.FlightFacts{
			ForHire: new(false), InAlaska: new(false), OnlyRequiredCrew: true, Occupants: new(2), AltitudeFt: new(4500.5),
			Airspace: &[]string{"D", "E"}, Navigation: &[]string{}, ATCAuthorized: []string{"no-transponder"},
		},
		Purpose: "dual cross-country", State: techlog.Planned, PlannedBy: "S. Cheduler",
		Zone: "America/Chicago", Series: newID(), Hold: newHold(), Version: 1, Sequence: 1, ChangedAt: noon,
	}, noon.Add(24*time.Hour), noon.Add(26*time.Hour))
}

// over is a flight of one leg over a window.
func over(c *club, f techlog.Flight, departs, arrives time.Time) techlog.Flight {
	f.Over([]techlog.Leg{{
		From: spot(c.base), To: spot(c.other), Departs: departs, Arrives: arrives,
		Light: casefile.Light{Day: new(true), Night: new(false), SunsetToSunrise: new(true)}, InAlaska: new(false),
	}})
	return f
}

// withReturn is a flight that comes back to where it started.
func withReturn(c *club, f techlog.Flight) techlog.Flight {
	out, back := f.Legs[0], f.Legs[0]
	back.From, back.To, back.Departs, back.Arrives = out.To, spot(c.base), out.Arrives, out.Arrives.Add(time.Hour)
	f.Over([]techlog.Leg{out, back})
	f.Hold.Legs = append(f.Hold.Legs, f.Hold.Legs[0])
	return f
}

// between is a flight of one leg from one base to another.
func between(f techlog.Flight, from, to techlog.Base) techlog.Flight {
	leg := f.Legs[0]
	leg.From, leg.To = spot(from), spot(to)
	f.Over([]techlog.Leg{leg})
	return f
}

func spot(b techlog.Base) techlog.Spot {
	return techlog.Spot{Base: b.ID, Ident: b.Code, Name: b.Name, Lat: b.Lat, Lon: b.Lon}
}

func newHold() techlog.Hold {
	return heldBy(techlog.Hold{
		Verdict: airworthiness.Grounded.String(), Rows: []string{"91.205-c-2", `a "quoted", {braced} \ row`, ""}, Rules: "book-1", At: noon, Blocks: []techlog.ID{newID(), newID()},
	})
}

// heldBy gives the hold of a flight of one leg that of its leg.
func heldBy(h techlog.Hold) techlog.Hold {
	h.Legs = []techlog.LegHold{{Verdict: h.Verdict, Rows: h.Rows}}
	return h
}
