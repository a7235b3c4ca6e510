package techlog

import (
	"math"
	"slices"
	"time"

	"tiedown/internal/casefile"
)

// FlightState is where an intended flight stands.
type FlightState string

// The states of an intended flight.
const (
	Planned   FlightState = "planned"
	Cancelled FlightState = "cancelled"
)

// Flight is one intended flight, of one leg or several.
type Flight struct {
	ID        ID
	Aircraft  ID
	From      ID // base of departure of the first leg; zero: it leaves from no base
	To        ID // base of arrival of the last leg; zero: it ends at no base
	Departs   time.Time
	Arrives   time.Time
	Legs      []Leg  // 1 to MaxLegs, in the order of time; each starts where the one before ended
	Rules     string // vfr or ifr
	Facts     casefile.FlightFacts
	Purpose   string
	State     FlightState
	PlannedBy string
	Light     casefile.Light // that of all legs together
	InAlaska  *bool
	Zone      string // of the base of departure, or else of the aircraft's base: in it the flight has its date
	Hold      Hold
	Series    ID // of the series that it was planned in; zero: none
	Version   int
	Sequence  int       // counts from 1 whatever changed of it: its versions, and its holds between them
	ChangedAt time.Time // when that was last
}

// MaxLegs bounds the legs of a flight.
const MaxLegs = 20

// Leg is the part of a flight from one take-off to the landing that ends it, over its window.
type Leg struct {
	From     Spot           `json:"from"`
	To       Spot           `json:"to"`
	Departs  time.Time      `json:"departs"`
	Arrives  time.Time      `json:"arrives"`
	Light    casefile.Light `json:"light"` // worked out from window and places
	InAlaska *bool          `json:"in_alaska,omitempty"`
}

// Spot is a place where a leg starts or ends, as it was when the flight was planned: a base, an airport, or a place with a
// name alone.
type Spot struct {
	Base  ID      `json:"base,omitzero"`
	Ident string  `json:"ident,omitempty"` // of an airport, or the code of a base
	Name  string  `json:"name,omitempty"`
	Lat   float64 `json:"lat"` // degrees, north positive
	Lon   float64 `json:"lon"` // degrees, east positive
}

// Lasts is how long the window of a leg is.
func (l *Leg) Lasts() time.Duration { return l.Arrives.Sub(l.Departs) }

// Hold is what stops an intended flight, as of the last change that could touch it.
type Hold struct {
	Verdict string    // the worst of its legs'
	Rows    []string  // the rows that came out other than passed or noted, in order, those of a later leg only if they are new
	Legs    []LegHold // one a leg
	Blocks  []ID      // blocks that the flight overlaps: they hold it whatever its verdict
	Rules   string    // digest of the book that was read
	At      time.Time
}

// LegHold is what stops one leg.
type LegHold struct {
	Verdict string   `json:"verdict"`
	Rows    []string `json:"rows,omitempty"`
}

// Holds reports whether the flight may not go now: by its verdict, or as its aircraft is blocked.
func (h Hold) Holds() bool {
	return h.Verdict != "clear" && h.Verdict != "limited" || len(h.Blocks) > 0
}

// Same reports whether two holds say the same.
func (h Hold) Same(o Hold) bool {
	return h.Verdict == o.Verdict && h.Rules == o.Rules && slices.Equal(h.Rows, o.Rows) && slices.Equal(h.Blocks, o.Blocks) &&
		slices.EqualFunc(h.Legs, o.Legs, func(a, b LegHold) bool { return a.Verdict == b.Verdict && slices.Equal(a.Rows, b.Rows) })
}

// Over gives a flight its legs, and what follows from them: its window, its bases and its light.
func (f *Flight) Over(legs []Leg) {
	first, last := &legs[0], &legs[len(legs)-1]
	f.Legs, f.From, f.To, f.Departs, f.Arrives = legs, first.From.Base, last.To.Base, first.Departs, last.Arrives
	f.Light, f.InAlaska = first.Light, first.InAlaska
	for _, l := range legs[1:] {
		f.Light.Day = either(f.Light.Day, l.Light.Day)
		f.Light.Night = either(f.Light.Night, l.Light.Night)
		f.Light.SunsetToSunrise = either(f.Light.SunsetToSunrise, l.Light.SunsetToSunrise)
		f.InAlaska = either(f.InAlaska, l.InAlaska)
	}
}

// either is whether one of two is so: nil where that is not known.
func either(a, b *bool) *bool {
	switch {
	case a != nil && *a, b != nil && *b:
		return new(true)
	case a == nil || b == nil:
		return nil
	}
	return new(false)
}

// Case is one leg of the flight as the engine reads it, legs counted from 0. What is said of the flight is said of each of
// its legs, but for three things. A later leg starts with the hours and cycles of those before it used up: the hours that
// are said are spread over the legs as long as their windows are. It has not taken off when the flight has, and it starts
// at another place than that of which it was said that no repair can be made there.
func (f *Flight) Case(leg int, zone *time.Location) casefile.Flight {
	c := f.LegAlone(leg, zone)
	if leg == 0 {
		return c
	}
	earlier := casefile.EarlierLegs{Legs: leg}
	for i := range f.Legs[:leg] {
		earlier.WindowHours += f.Legs[i].Lasts().Hours()
	}
	c.Earlier, c.Hours = &earlier, f.share(leg+1)
	c.UnderWay, c.RepairImpossible = false, false
	return c
}

// LegAlone is one leg as if it were a flight: what comes due is counted over the legs by whoever asks.
func (f *Flight) LegAlone(leg int, zone *time.Location) casefile.Flight {
	l := &f.Legs[leg]
	light := l.Light
	facts := f.Facts
	if facts.InAlaska == nil {
		facts.InAlaska = l.InAlaska
	}
	if upTo, before := f.share(leg+1), f.share(leg); upTo != nil && leg > 0 {
		facts.Hours = new(min(max(*upTo-*before, 0), l.Lasts().Hours()))
	} else {
		facts.Hours = upTo
	}
	return casefile.Flight{
		Rules: f.Rules, Departs: l.Departs.In(zone), Arrives: l.Arrives.In(zone), Light: &light, FlightFacts: facts,
	}
}

// share is the time in service of the first legs, so many; nil where nobody has said how long the flight takes.
func (f *Flight) share(legs int) *float64 {
	if f.Facts.Hours == nil || legs == len(f.Legs) {
		return f.Facts.Hours
	}
	var first, all time.Duration
	for i := range f.Legs {
		if all += f.Legs[i].Lasts(); i < legs {
			first += f.Legs[i].Lasts()
		}
	}
	share := *f.Facts.Hours * (float64(first) / float64(all))
	if *f.Facts.Hours <= all.Hours() {
		share = min(share, first.Hours()) // rounding does not make a leg longer than its window
	}
	return &share
}

// NMApart is the great-circle distance of two spots in nautical miles, of 60 to the degree.
func (s Spot) NMApart(o Spot) float64 {
	rad := func(deg float64) float64 { return deg * math.Pi / 180 }
	dLat, dLon := rad(o.Lat-s.Lat)/2, rad(o.Lon-s.Lon)/2
	h := math.Pow(math.Sin(dLat), 2) + math.Cos(rad(s.Lat))*math.Cos(rad(o.Lat))*math.Pow(math.Sin(dLon), 2)
	return 2 * math.Asin(math.Sqrt(min(h, 1))) * 180 / math.Pi * 60
}

// Event is one thing that others must hear of. It is written in the transaction that makes it so.
type Event struct {
	ID       ID
	Place    int64  // among the organization's events, from 1, in the order of commits and without a gap; 0 before the commit
	Kind     string // squawk.filed, flight.planned, ...
	Aircraft ID     // zero: it is about no aircraft
	Subject  ID
	By       string // whose change it was, in words
	At       time.Time
	Changes  []HoldChange
}

// HoldChange is a flight whose verdict changed, or whether a block holds it.
type HoldChange struct {
	Flight     ID     `json:"flight"`
	Was        string `json:"was"`
	Is         string `json:"is"`
	WasBlocked bool   `json:"was_blocked,omitempty"` // some block held it before
	Blocked    bool   `json:"blocked,omitempty"`     // some block holds it now
}

// ChangeTo is what others hear of a hold that becomes another: nothing if neither the verdict changed nor whether a block
// holds the flight.
func (h *Hold) ChangeTo(flight ID, o *Hold) (HoldChange, bool) {
	c := HoldChange{flight, h.Verdict, o.Verdict, len(h.Blocks) > 0, len(o.Blocks) > 0}
	return c, c.Was != c.Is || c.WasBlocked != c.Blocked
}
