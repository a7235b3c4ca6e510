package airworthiness

import "slices"

// PilotGrade is the grade of a pilot certificate under part 61. The zero value is not known.
type PilotGrade uint8

// The grades, in the order in which the rules say "at least".
const (
	PilotGradeUnknown PilotGrade = iota
	NoPilot
	StudentPilot
	SportPilot
	RecreationalPilot
	PrivatePilot
	CommercialPilot
	AirlineTransportPilot
)

var pilotGradeNames = [...]string{
	"unknown", "none", "student", "sport", "recreational", "private", "commercial", "airline-transport",
}

func (g PilotGrade) String() string { return pilotGradeNames[g] }

// ParsePilotGrade returns the grade of that name, or false.
func ParsePilotGrade(s string) (PilotGrade, bool) {
	i := slices.Index(pilotGradeNames[:], s)
	return PilotGrade(max(i, 0)), i >= 0
}

// PilotGrades lists the grades of pilot certificate, lowest first.
func PilotGrades() []string { return slices.Clone(pilotGradeNames[StudentPilot:]) }

// Person is who would act, with the certificates held on the day, and how that person stands to the aircraft and to the
// work. A repair station or a manufacturer is a person too (14 CFR 1.1). Every field that is not known is left at its
// zero value; nothing unknown is permission.
type Person struct {
	Pilot        PilotGrade
	PilotRatings Fact[[]string] // category and class, such as "airplane single-engine-land" or "glider"

	Airframe   Truth // a mechanic with an airframe rating
	Powerplant Truth // a mechanic with a powerplant rating
	Recent     Truth // as a mechanic, has the experience of the preceding 24 months (65.83)

	InspectionAuthorization     Truth
	InspectionAuthorizationEnds Fact[Date] // its last day: 31 March of an odd-numbered year (65.92(a))

	Repairman     Fact[[]string] // kinds of repairman certificate; see Vocabulary("repairman")
	Trained       Truth          // as a light-sport repairman, for this category and class of aircraft (65.107)
	RepairStation Fact[[]string] // ratings of a repair station; see Vocabulary("repair_station"). Given empty: no station
	Rated         Truth          // the station's rating covers this very article or test (145.201(a))
	Equipped      Truth          // the station has the data, equipment and facilities for it (145.201(b))
	Manufacturer  Truth          // manufactured this aircraft under a type or production certificate (43.3(j))
	Program       Truth          // holds a continuous airworthiness maintenance program (91.413(c)(2))

	Owns      Truth // the aircraft
	Operates  Truth // the aircraft, in the sense of 14 CFR 1.1
	Built     Truth // the aircraft, as its primary builder (65.104(a)(2))
	InCommand Truth // of the flight that is meant
	Competent Truth // holds a certificate of competency for this primary category aircraft (43 appendix A(c)(30))

	Understands Truth // the manufacturer's current instructions for the work (65.81(b), 65.109(c))
	DoneBefore  Truth // has done this work satisfactorily before, or shown the ability (65.81(a), 65.109(c))
	DidWork     Truth // performed this work or, as a mechanic, supervised or inspected it

	Supervisor *Person // under whom the person works; nil: under nobody
	Observed   Truth   // the supervisor observes the work as far as needed (43.3(d))
	Available  Truth   // the supervisor is readily available in person (43.3(d))
}

// Work is what would be done. Every field that is not known is left at its zero value.
type Work struct {
	Part   string // airframe, powerplant, propeller, instrument, whole: what is worked on or inspected
	Item   string // catalog key of what is worked on
	Number int    // paragraph of 43 appendix A(c); zero: not said which

	WithinLimits        Truth // the work stays within the limits of its paragraph of appendix A(c)
	Complex             Truth // it involves complex assembly operations
	ApprovedData        Truth // it was done to technical data that the FAA approved
	ApprovedProduct     Truth // the product was made under an FAA approval (65.85(b), 65.87(b))
	AuthorizedByMaker   Truth // the manufacturer, or a person acceptable to the FAA, authorized it and gave instructions
	InstalledByMaker    Truth // the manufacturer of the aircraft installed what is tested (91.413(c)(3))
	LimitationsName     Truth // the operating limitations name such a person for it (91.319(i))
	FromFlightDeck      Truth // a database upload is started from the flight deck
	Disassembly         Truth // it takes the unit apart
	Tools               Truth // it needs tools or special equipment
	ByInstructions      Truth // it keeps to the manufacturer's instructions or the flight manual
	InvolvesMaintenance Truth // deactivating the item involves maintenance

	Policy string // how deactivation is read: strict, as AC 91-67A has it, or rule-text; empty is strict
}

// Occasion is one question of authority: may this person do that?
type Occasion struct {
	Verb     string // perform, approve, determine or answer-for; see Verbs
	Action   string // see Ruleset.Actions
	Person   *Person
	Aircraft *Aircraft
	Work     Work
	On       Date // the day; rows in force on it apply
}

// Verbs lists what may be asked of an action: to perform it, to approve for return to service after it, to determine
// something, or to answer for it.
func Verbs() []string { return []string{"perform", "approve", "determine", "answer-for"} }

// classes are the classes of the categories of aircraft that have them (61.5(b)). The others have none.
var classes = map[string][]string{
	"airplane":             {"single-engine-land", "single-engine-sea", "multi-engine-land", "multi-engine-sea"},
	"rotorcraft":           {"helicopter", "gyroplane"},
	"powered-parachute":    {"land", "sea"},
	"weight-shift-control": {"land", "sea"},
}

// PilotRatings lists every category and class that a pilot may be rated for, such as "airplane single-engine-land".
func PilotRatings() []string {
	var ratings []string
	for _, category := range vocabulary["category"] {
		if classes[category] == nil {
			ratings = append(ratings, category)
		}
		for _, class := range classes[category] {
			ratings = append(ratings, category+" "+class)
		}
	}
	return ratings
}

// ratedFor says whether a pilot's ratings cover the aircraft. The ratings of a sport pilot stand in a logbook, and large
// and turbine-powered aircraft may need a type rating (61.31(a)): neither is kept here, so the answer stays open.
func (p *Person) ratedFor(a *Aircraft) Truth {
	rated := p.categoryAndClass(a)
	if rated == Yes {
		small := atMost(a.MaxTakeoffWeightLb, 12500)
		ordinary := small.And(wordIs("engine", a.Engine, "turbine").Not())
		if ordinary != Yes || p.Pilot == SportPilot {
			return Unknown
		}
	}
	return rated
}

func (p *Person) categoryAndClass(a *Aircraft) Truth {
	switch {
	case p.Pilot == NoPilot || p.Pilot == StudentPilot:
		return No
	case p.Pilot == PilotGradeUnknown || !p.PilotRatings.Known || !slices.Contains(vocabulary["category"], a.Category):
		return Unknown
	case classes[a.Category] == nil:
		return TruthOf(slices.Contains(p.PilotRatings.Value, a.Category))
	case !slices.ContainsFunc(classes[a.Category], func(class string) bool {
		return slices.Contains(p.PilotRatings.Value, a.Category+" "+class)
	}):
		return No
	case !slices.Contains(classes[a.Category], a.Class):
		return Unknown
	}
	return TruthOf(slices.Contains(p.PilotRatings.Value, a.Category+" "+a.Class))
}

// isMechanic says whether the person holds a mechanic certificate with either rating.
func (p *Person) isMechanic() Truth { return p.Airframe.Or(p.Powerplant) }

// ratedForPart says whether a mechanic's ratings cover a part. An instrument belongs with the airframe (65.85(a):
// any related part or appliance); that a mechanic may not repair one is a row of its own.
func (p *Person) ratedForPart(part string) Truth {
	switch part {
	case "airframe", "instrument":
		return p.Airframe
	case "powerplant", "propeller":
		return p.Powerplant
	case "whole":
		return p.Airframe.And(p.Powerplant)
	}
	if p.Airframe == p.Powerplant {
		return p.Airframe // both or neither, whatever the part
	}
	return Unknown
}
