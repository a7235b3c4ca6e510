package notice

import (
	"slices"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// Kind is a kind of note.
type Kind string

// The kinds of note. A digest is asked for by its hour, not among the others.
const (
	FlightHeld     Kind = "flight-held"     // a planned flight may no longer go
	FlightReleased Kind = "flight-released" // a planned flight may go again
	SquawkFiled    Kind = "squawk-filed"
	DueAhead       Kind = "due-ahead" // something comes due, runs out or comes into force
	Digest         Kind = "digest"
)

// Kinds lists every kind of note.
func Kinds() []Kind { return []Kind{FlightHeld, FlightReleased, SquawkFiled, DueAhead, Digest} }

// InstantKinds lists the kinds that are sent as things happen.
func InstantKinds() []Kind { return Kinds()[:4] }

// words says for each kind what it tells.
var words = map[Kind]string{
	FlightHeld:     "flights that are held",
	FlightReleased: "flights that are released",
	SquawkFiled:    "squawks that are filed",
	DueAhead:       "what comes due",
	Digest:         "the daily digest",
}

// Words says what the kind tells: "flights that are held".
func (k Kind) Words() string { return words[k] }

// maxFollowed bounds how many aircraft a person follows.
const maxFollowed = 500

// Preferences is what a member wants to hear of, in one organization.
type Preferences struct {
	Mail    bool         `json:"mail"`  // anything at all
	Kinds   []Kind       `json:"kinds"` // that are sent as things happen
	Fleet   bool         `json:"fleet"` // of every aircraft; otherwise of those that are followed
	Follows []techlog.ID `json:"follows"`
	Digest  *int         `json:"digest_hour,omitempty"` // 0 to 23, by the wall; nil: no digest
	Quiet   *Quiet       `json:"quiet,omitempty"`
	Zone    string       `json:"zone"` // IANA time zone of the wall
	// UrgentAnyway: that a flight is held which departs before the quiet hours end is told at once.
	UrgentAnyway bool `json:"urgent_anyway"`

	Version int `json:"-"` // zero: nobody has said anything, and these follow from the roles
}

// byRole is what somebody hears of who has not said anything.
var byRole = map[techlog.Role][]Kind{
	techlog.Pilot:              {FlightHeld, FlightReleased, SquawkFiled}, // of the aircraft that they follow
	techlog.Scheduler:          {FlightHeld, FlightReleased, DueAhead},
	techlog.Mechanic:           {SquawkFiled},
	techlog.MaintenanceControl: {SquawkFiled, DueAhead},
	techlog.Administrator:      {DueAhead},
}

// Usual is what somebody in some roles wants to hear of as long as nothing else has been said. Who only flies hears of
// the aircraft that he or she follows, and so of none at first.
func Usual(roles techlog.RoleSet, zone string) Preferences {
	p := Preferences{Mail: true, Kinds: []Kind{}, Follows: []techlog.ID{}, Zone: zone}
	for _, k := range InstantKinds() {
		if slices.ContainsFunc(roles, func(r techlog.Role) bool { return slices.Contains(byRole[r], k) }) {
			p.Kinds = append(p.Kinds, k)
		}
	}
	p.Fleet = slices.ContainsFunc(roles, func(r techlog.Role) bool { return r != techlog.Pilot })
	return p
}

// Wants reports whether the person wants to hear of a kind of thing about an aircraft.
func (p *Preferences) Wants(k Kind, aircraft techlog.ID) bool {
	return p.Mail && slices.Contains(p.Kinds, k) && (p.Fleet || slices.Contains(p.Follows, aircraft))
}

// WantsKind reports whether the person wants notes of a kind, whatever they are about.
func (p *Preferences) WantsKind(k Kind) bool {
	return p.Mail && (k == Digest && p.Digest != nil || slices.Contains(p.Kinds, k))
}

// Without is the preferences without a kind; without any mail for the empty kind.
func (p Preferences) Without(k Kind) Preferences {
	switch k {
	case "":
		p.Mail = false
	case Digest:
		p.Digest = nil
	default:
		p.Kinds = slices.DeleteFunc(slices.Clone(p.Kinds), func(other Kind) bool { return other == k })
	}
	return p
}

// SendAt is when a note that is ready now is to be sent: at once, or when the quiet hours are over. now is in the
// person's zone. departs is when the first flight departs that the note says is held; zero: it says so of none.
func (p *Preferences) SendAt(now, departs time.Time) time.Time {
	if p.Quiet == nil {
		return now
	}
	end := p.Quiet.End(now)
	if p.UrgentAnyway && !departs.IsZero() && departs.Before(end) {
		return now
	}
	return end
}

// Check finds what is wrong with preferences. known says whether there is a time zone of a name.
func (p *Preferences) Check(known func(zone string) bool) error {
	var bad casefile.Faults
	for _, k := range p.Kinds {
		if !slices.Contains(InstantKinds(), k) {
			bad.Add("kinds", "known", "there is no kind of note "+string(k), "use flight-held, flight-released, squawk-filed or due-ahead")
		}
	}
	if len(p.Follows) > maxFollowed {
		bad.Add("follows", "length", "more than 500 aircraft", "follow the whole fleet instead")
	}
	if p.Digest != nil && (*p.Digest < 0 || *p.Digest > 23) {
		bad.Add("digest_hour", "range", "it is no hour of the day", "give a number from 0 to 23")
	}
	if p.Quiet != nil && p.Quiet.From == p.Quiet.Until {
		bad.Add("quiet", "some-hours", "the quiet hours begin and end at the same time", "give two times, or no quiet hours; mail can be turned off whole")
	}
	if p.Zone == "" || p.Zone == "Local" || !known(p.Zone) {
		bad.Add("zone", "known", "there is no such time zone", "give a name of the IANA list, such as America/Chicago")
	}
	return bad.Err()
}
