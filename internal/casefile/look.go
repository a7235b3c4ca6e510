package casefile

import "time"

// Look is what somebody found who looked for a paper in the aircraft.
type Look struct {
	Paper   string // as a check names it: see LooksFor
	Present bool
	Until   string    // the last day that stands on it; empty: none was read
	On      string    // the day on which it had to be good
	At      time.Time // when somebody looked
}

// looked is where a look for a paper goes.
type looked struct {
	aboard  **bool
	at      **time.Time
	through *string // nil: it does not run out
}

func (p *Papers) looked(paper string) (looked, bool) {
	switch paper {
	case "airworthiness-certificate":
		return looked{&p.Airworthiness.Aboard, &p.Airworthiness.LookedAt, nil}, true
	case "registration":
		return looked{&p.Registration.Aboard, &p.Registration.LookedAt, &p.Registration.Through}, true
	case "operating-limitations", "flight-manual":
		return looked{&p.Limitations.Aboard, &p.Limitations.LookedAt, nil}, true
	case "weight-and-balance":
		return looked{&p.WeightBalance.Aboard, &p.WeightBalance.LookedAt, nil}, true
	case "radio-licence":
		return looked{&p.RadioLicence.Aboard, &p.RadioLicence.LookedAt, &p.RadioLicence.Through}, true
	}
	return looked{}, false
}

// LooksFor reports whether a paper, as a check names it, is one of those that are on record of an aircraft: the
// airworthiness certificate, registration, operating-limitations or flight-manual, weight-and-balance, radio-licence.
func LooksFor(paper string) bool {
	_, ok := new(Papers).looked(paper)
	return ok
}

// After is the record after somebody has looked, and whether that is another. A paper that was not there is not aboard until
// somebody finds it again, later than that; in whatever order looks arrive, an older one never makes good what a newer one
// found missing. A last day that was read is taken only where it is earlier than the one on record: that somebody has seen
// the paper renews nothing.
func (p *Papers) After(l Look) (Papers, bool) {
	after := *p
	of, ok := after.looked(l.Paper)
	if !ok {
		return after, false
	}
	changed := false
	if runsOut := of.through != nil && l.Present && l.Until != ""; runsOut &&
		(*of.through != "" && l.Until < *of.through || *of.through == "" && l.Until < l.On) {
		*of.through, changed = l.Until, true
	}
	older := *of.at != nil && (l.At.Before(**of.at) || l.Present && l.At.Equal(**of.at))
	same := *of.aboard != nil && **of.aboard == l.Present
	if older || same && (l.Present || *of.at != nil && l.At.Equal(**of.at)) {
		return after, changed
	}
	*of.aboard, *of.at = new(l.Present), new(l.At.UTC().Truncate(time.Microsecond))
	return after, true
}
