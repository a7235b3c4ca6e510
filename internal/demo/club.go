package demo

import (
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// ClubName is the name of the invented club.
const ClubName = "Three Willows Flying Club"

// Addresses of those of the club who hold certificates.
const (
	wren    techlog.Email = "wren@three-willows.example"
	juniper techlog.Email = "juniper@three-willows.example"
)

// Keeper is the address of the administrator, who enters what the others hold.
const Keeper techlog.Email = "linden@three-willows.example"

// People are the club's people, who sign in. Some hold more than one role.
var People = []techlog.Member{
	{Name: "Wren Talbot", Email: wren, Roles: techlog.As(techlog.Pilot)},
	{Name: "Juniper Larkspur", Email: juniper, Roles: techlog.As(techlog.Mechanic, techlog.MaintenanceControl)},
	{Name: "Sorrel Finch", Email: "sorrel@three-willows.example", Roles: techlog.As(techlog.Pilot, techlog.Scheduler)},
	{Name: "Linden Marsh", Email: Keeper, Roles: techlog.As(techlog.Administrator)},
}

// bases are invented fields in places where nothing of that name lies.
var bases = []techlog.Base{
	{Code: "WILLOW", Name: "Three Willows Field", Lat: 41.21, Lon: -95.48, Zone: "America/Chicago"},
	{Code: "HARROW", Name: "Harrow Point", Lat: 44.93, Lon: -87.12, Zone: "America/Chicago"},
	{Code: "OCHRE", Name: "Ochre Mesa", Lat: 37.52, Lon: -104.61, Zone: "America/Denver"},
}

// fleet names the aircraft files with the marks and type names that the club uses. Marks beginning with N0 are never
// issued.
var fleet = []struct{ file, registration, typ string }{
	{"trainer", "N012TW", "Tansy 140 Trainer"},
	{"retractable", "N034TW", "Marten 36 T"},
	{"electric", "N056TW", "Sedge 120, electric gyros"},
	{"mel", "N078TW", "Twin Heron 55"},
	{"light-sport", "N009TW", "Swift Reed LS"},
	{"glider", "N005TW", "Kestrel Grove 2"},
}

// squawk is one squawk of the club with what became of it.
type squawk struct {
	aircraft string
	kind     string
	unit     string
	item     string
	words    string
	deferral *techlog.Deferral // with it: deferred, the record carried over from paper
	lasts    time.Duration     // of the deferral, from the moment of loading
	stood    time.Duration     // before it
	closed   string            // with words: closed
}

func deactivated(placard, entry string) *techlog.Deferral {
	return &techlog.Deferral{
		Basis: "14 CFR 91.213(d)", Method: "deactivated", Placard: placard, Entry: entry,
		DeterminedBy: "J. Larkspur, mechanic, airframe and powerplant, certificate 0000001 (invented)",
	}
}

func removed(placard, entry string) *techlog.Deferral {
	d := deactivated(placard, entry)
	d.Method = "removed"
	return d
}

const day = 24 * time.Hour

var squawks = []squawk{
	{
		aircraft: "trainer", kind: "inoperative", unit: "landing-light", words: "Landing light does not come on, switch and breaker tried.",
		deferral: deactivated("Landing light inoperative", "airframe log, page 44"), lasts: 60 * day, stood: 12 * day,
	},
	{
		aircraft: "trainer", kind: "inoperative", unit: "exhaust-gas-temperature", words: "EGT needle rests on the peg in flight.",
		deferral: deactivated("Inoperative", "airframe log, page 41"), lasts: 60 * day, stood: 37 * day,
	},
	{aircraft: "trainer", kind: "condition", item: "tire", words: "Left main tire worn to the second groove.", closed: "Left main tire replaced, airframe log page 42."},
	{aircraft: "trainer", kind: "inoperative", unit: "com-nav-2", words: "Second radio cuts out on transmit.", closed: "Connector reseated, ground checked, airframe log page 43."},
	{
		aircraft: "retractable", kind: "inoperative", unit: "autopilot", words: "Autopilot will not engage.",
		deferral: deactivated("Autopilot inoperative", "airframe log, page 12"), lasts: 3 * day, stood: 25 * day,
	},
	{
		aircraft: "retractable", kind: "inoperative", unit: "oxygen", words: "Oxygen flow indicator shows no flow on any outlet.",
		deferral: deactivated("Oxygen inoperative", "airframe log, page 13"), lasts: 60 * day, stood: 9 * day,
	},
	{
		aircraft: "retractable", kind: "inoperative", unit: "altimeter-right", words: "Right altimeter sticks 80 ft low while climbing.",
		deferral: deactivated("Inoperative", "airframe log, page 14"), lasts: 60 * day, stood: 18 * day,
	},
	{aircraft: "retractable", kind: "condition", item: "oil-leak", words: "Oil streak on the nose gear door.", closed: "Rocker cover gasket replaced, leak check good, engine log page 9."},
	{aircraft: "electric", kind: "inoperative", unit: "vacuum-warning-light", words: "Vacuum warning lamp still in the panel and dead since the pump came off."},
	{
		aircraft: "electric", kind: "inoperative", unit: "dome-light", words: "Dome light dark.",
		deferral: deactivated("Inoperative", "airframe log, page 77"), lasts: 90 * day, stood: 21 * day,
	},
	{aircraft: "mel", kind: "inoperative", unit: "taxi-light", words: "Taxi light inoperative on the evening walkaround."},
	{
		aircraft: "light-sport", kind: "inoperative", unit: "landing-light", words: "Landing light flickers, then stays off.",
		deferral: deactivated("Landing light inoperative", "airframe log, page 6"), lasts: 60 * day, stood: 5 * day,
	},
	{
		aircraft: "light-sport", kind: "inoperative", unit: "elt", words: "ELT fails its self-test.",
		deferral: removed("ELT not installed.", "airframe log, page 7: make, model, serial number, removed for repair"), lasts: 85 * day,
	},
	{
		aircraft: "light-sport", kind: "inoperative", unit: "encoder", words: "Altitude readout at the approach control is blank.",
		deferral: deactivated("Altitude reporting inoperative", "airframe log, page 8"), lasts: 60 * day, stood: 16 * day,
	},
	{aircraft: "light-sport", kind: "inoperative", unit: "strobe-left", words: "Left strobe dark.", closed: "Strobe head replaced, airframe log page 5."},
	{aircraft: "glider", kind: "condition", item: "tire", words: "Main wheel tire flat on the walkaround."},
}

// certificates are what the club keeps of its people, by the role in which each shows up. All of them are invented.
var certificates = []struct {
	of techlog.Email
	techlog.Certificate
}{
	{wren, techlog.Certificate{
		Name: "Wren Talbot", Kind: techlog.PilotCertificate, Number: "0000003 (invented)", Grade: "private",
		Ratings: []string{"airplane single-engine-land", "glider"},
	}},
	{juniper, techlog.Certificate{
		Name: "Juniper Larkspur", Kind: techlog.MechanicCertificate, Number: "0000001 (invented)", Ratings: []string{"airframe", "powerplant"},
	}},
	{juniper, techlog.Certificate{Name: "Juniper Larkspur", Kind: techlog.InspectionAuthorization, Number: "0000001 (invented)"}},
}

// standings are how they stand to the whole fleet.
var standings = []struct {
	of techlog.Email
	techlog.Standing
}{
	{wren, techlog.Standing{Name: "Wren Talbot", Kind: techlog.Flies}},
	{wren, techlog.Standing{Name: "Wren Talbot", Kind: techlog.Operates}},
	{juniper, techlog.Standing{Name: "Juniper Larkspur", Kind: techlog.Maintains}},
}

// flight is one intended flight of the club in the coming week.
type flight struct {
	aircraft string
	from, to string
	day      int     // days from today, from 1
	hour     float64 // of departure, local time of the base of departure
	hours    float64
	rules    string
	purpose  string
	facts    func(*casefile.FlightFacts)
}

func aboard(n int) func(*casefile.FlightFacts) {
	return func(f *casefile.FlightFacts) { f.Occupants, f.Persons = &n, &n }
}

func and(changes ...func(*casefile.FlightFacts)) func(*casefile.FlightFacts) {
	return func(f *casefile.FlightFacts) {
		for _, change := range changes {
			change(f)
		}
	}
}

func altitude(ft float64) func(*casefile.FlightFacts) {
	return func(f *casefile.FlightFacts) { f.AltitudeFt = &ft }
}

func hire(f *casefile.FlightFacts) { f.ForHire = yes() }

func longHigh(f *casefile.FlightFacts) { f.Over30MinAbove12500 = yes() }

func gnss(f *casefile.FlightFacts) { f.Navigation = &[]string{"gnss"} }

func vor(f *casefile.FlightFacts) { f.Navigation = &[]string{"vor"} }

func airspaceUnknown(f *casefile.FlightFacts) { f.Airspace = nil }

func yes() *bool {
	b := true
	return &b
}

var flights = []flight{
	{"trainer", "WILLOW", "WILLOW", 1, 9, 1.5, "vfr", "Pattern work", aboard(2)},
	{"trainer", "WILLOW", "WILLOW", 1, 19.5, 1.5, "vfr", "Night landings", aboard(2)},
	{"trainer", "WILLOW", "WILLOW", 2, 9, 2, "vfr", "Stalls and steep turns", aboard(2)},
	{"trainer", "WILLOW", "HARROW", 3, 10, 4, "vfr", "Lakeshore visit", and(aboard(3), altitude(7500))},
	{"trainer", "HARROW", "WILLOW", 4, 13, 4, "vfr", "Return from the lakeshore", and(aboard(3), altitude(6500))},
	{"trainer", "WILLOW", "WILLOW", 5, 20, 1, "vfr", "Night sightseeing for hire", and(aboard(3), hire)},
	{"trainer", "WILLOW", "WILLOW", 6, 8, 1.5, "ifr", "Approaches", and(aboard(2), gnss)},
	{"retractable", "WILLOW", "OCHRE", 1, 8, 3.5, "ifr", "Cross-country at 9,000 ft", and(aboard(3), altitude(9000), gnss)},
	{"retractable", "OCHRE", "WILLOW", 2, 15, 3.5, "ifr", "Return with the wind, high", and(aboard(3), altitude(15500), longHigh, vor)},
	{"retractable", "WILLOW", "WILLOW", 3, 10, 1, "vfr", "Currency flight", aboard(1)},
	{"retractable", "WILLOW", "OCHRE", 4, 9, 3.5, "vfr", "Family visit, after the deferral has run out", and(aboard(4), altitude(8500))},
	{"retractable", "OCHRE", "WILLOW", 6, 9, 3.5, "vfr", "Family return", and(aboard(4), altitude(9500))},
	{"electric", "WILLOW", "WILLOW", 1, 10, 1, "vfr", "Checkout", aboard(2)},
	{"electric", "WILLOW", "WILLOW", 2, 20, 1, "vfr", "Night checkout", aboard(2)},
	{"electric", "WILLOW", "WILLOW", 4, 14, 2, "ifr", "Instrument practice", and(aboard(2), gnss)},
	{"electric", "WILLOW", "HARROW", 5, 9, 4, "vfr", "Lunch at the lake", and(aboard(2), altitude(5500))},
	{"mel", "WILLOW", "OCHRE", 1, 9, 2.5, "ifr", "Club board meeting", and(aboard(5), altitude(8000), gnss)},
	{"mel", "OCHRE", "WILLOW", 1, 16, 2.5, "ifr", "Return from the meeting", and(aboard(5), altitude(9000), gnss)},
	{"mel", "WILLOW", "WILLOW", 3, 13, 1, "vfr", "Engine-out practice", aboard(2)},
	{"light-sport", "WILLOW", "WILLOW", 1, 8, 1, "vfr", "Sunrise flight", aboard(1)},
	{"light-sport", "WILLOW", "WILLOW", 2, 14, 1, "vfr", "Introductory lesson", and(aboard(2), hire)},
	{"light-sport", "WILLOW", "WILLOW", 3, 19, 1, "vfr", "Evening flight", aboard(2)},
	{"light-sport", "WILLOW", "WILLOW", 5, 10, 2, "vfr", "Through airspace not yet looked up", and(aboard(2), airspaceUnknown)},
	{"glider", "WILLOW", "WILLOW", 2, 11, 1, "vfr", "Thermal practice", aboard(2)},
	{"glider", "WILLOW", "WILLOW", 3, 12, 2, "vfr", "Duration attempt", aboard(1)},
	{"glider", "WILLOW", "WILLOW", 6, 11, 1, "vfr", "Trial lesson", and(aboard(2), hire)},
}
