package airworthiness

// PreparedFlight is a flight whose conditions have been evaluated. It may be kept and used with many plans; with a plan of
// another ruleset it is prepared anew each time.
type PreparedFlight struct {
	Flight
	rules   *Ruleset // by which it was prepared
	state   state
	lastDay Date // on which its window ends
	permit  permitState
}

// Prepare evaluates every flight condition once.
func (r *Ruleset) Prepare(f Flight) PreparedFlight {
	p := PreparedFlight{Flight: f, rules: r, lastDay: DateOf(f.Ends)}
	for _, i := range r.byOwner[ofFlight] {
		p.state.put(i, r.conditions[i].flight(&p.Flight))
	}
	p.permit = r.settlePermit(&p.Flight)
	return p
}

// dated reports whether the flight says when it is: without, nothing about dates can be decided.
func (f *PreparedFlight) dated() bool { return f.On != 0 && !f.Ends.IsZero() }

// aboard is the number of persons a row counts, or -1 when unknown.
func (f *PreparedFlight) aboard(q quantity) int32 {
	var n Fact[int]
	switch q {
	case eachOccupant:
		n = f.Occupants
	case eachPerson:
		n = f.Persons
	case eachRequiredCrew:
		n = f.RequiredCrew
	default:
	}
	if !n.Known || n.Value < 0 {
		return -1
	}
	return clamp(n.Value)
}

// KindsOfOperation is the flight of each kind of operation as such, in the order of KindNames: what may be flown at
// all, with everything else left open.
func (r *Ruleset) KindsOfOperation(on Flight) [len(kindNames)]PreparedFlight {
	var flights [len(kindNames)]PreparedFlight
	for i := range kindNames {
		f := on
		f.Envelope = true
		f.IFR = TruthOf(Kinds(1<<i)&(DayIFR|NightIFR) != 0)
		f.Night = TruthOf(Kinds(1<<i)&(NightVFR|NightIFR) != 0)
		f.Day = f.Night.Not()
		f.Lights = f.Night // by day: from sunrise to sunset
		f.Dark = f.Night
		if !f.Operations.Known {
			f.Operations = Given[[]string](nil) // an operation with equipment of its own is declared: a kind as such is none
		}
		f.InAlaska = No // with lights and dark alike, the rule for Alaska asks the same as the other
		flights[i] = r.Prepare(f)
	}
	return flights
}
