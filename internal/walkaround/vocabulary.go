package walkaround

// Station is a place on the way round the aircraft.
type Station string

// The stations, in the order in which people commonly walk: from the cabin round the right side, to the nose, and back
// along the left. The order is common practice; a checklist may take its stations in another one.
const (
	Cabin       Station = "cabin"
	RightWing   Station = "right-wing"
	Nose        Station = "nose"
	LeftWing    Station = "left-wing"
	Empennage   Station = "empennage"
	Fuselage    Station = "fuselage"
	FinalReview Station = "final-review"

	RightEngine Station = "right-engine" // of a twin
	LeftEngine  Station = "left-engine"
	Rotor       Station = "rotor"
	Floats      Station = "floats"
)

// Stations lists every station in walking order.
func Stations() []Station {
	return []Station{Cabin, RightWing, RightEngine, Nose, LeftEngine, LeftWing, Rotor, Floats, Empennage, Fuselage, FinalReview}
}

var stationNames = map[Station]string{
	Cabin: "Cabin", RightWing: "Right wing", Nose: "Nose", LeftWing: "Left wing", Empennage: "Empennage", Fuselage: "Fuselage",
	FinalReview: "Final review", RightEngine: "Right engine", LeftEngine: "Left engine", Rotor: "Rotor", Floats: "Floats",
}

// Name is the station as people read it.
func (s Station) Name() string { return stationNames[s] }

// Way is how something is checked.
type Way string

// The ways.
const (
	Look    Way = "look"    // is it as it should be?
	Operate Way = "operate" // move it, switch it on: does it do what it should?
	Measure Way = "measure" // a number, held against limits
	Sample  Way = "sample"  // fuel: color against the grade, water, sediment
	Compare Way = "compare" // a meter, held against the book
	Paper   Way = "paper"   // is it aboard, and in date?
)

// Ways lists every way.
func Ways() []Way { return []Way{Look, Operate, Measure, Sample, Compare, Paper} }

// Class is what a finding is: what has to be done about it.
type Class string

// The classes of finding.
const (
	Servicing   Class = "servicing"   // something to fill up, drain or top off
	Condition   Class = "condition"   // damage, wear, a leak, something loose
	Inoperative Class = "inoperative" // an instrument or item of equipment that does not work
	OnRecord    Class = "record"      // a paper or an entry in the book that is missing, out of date or wrong
)

// Classes lists every class.
func Classes() []Class { return []Class{Servicing, Condition, Inoperative, OnRecord} }

// SquawkKind is the kind of squawk that a finding of this class is filed as.
func (c Class) SquawkKind() string {
	if c == Inoperative {
		return "inoperative"
	}
	return "condition"
}

// Outcome is how one check came out.
type Outcome string

// The outcomes.
const (
	Good    Outcome = "good"
	Finding Outcome = "finding"
	Skipped Outcome = "skipped" // not done, and the words say why
)

// Outcomes lists every outcome.
func Outcomes() []Outcome { return []Outcome{Good, Finding, Skipped} }

// Circumstance is something about a flight that makes a check apply to it.
type Circumstance string

// The circumstances.
const (
	IFR             Circumstance = "ifr"
	Night           Circumstance = "night"             // some of it lies between the end of evening and the beginning of morning civil twilight
	SunsetToSunrise Circumstance = "sunset-to-sunrise" // some of it lies between sunset and sunrise
	Moisture        Circumstance = "freezing-moisture" // visible moisture near freezing
	OverWater       Circumstance = "over-water"
	ForHire         Circumstance = "for-hire"
)

// CircumstanceNames lists every circumstance.
func CircumstanceNames() []Circumstance {
	return []Circumstance{IFR, Night, SunsetToSunrise, Moisture, OverWater, ForHire}
}

var circumstanceWords = map[Circumstance]string{
	IFR: "under instrument flight rules", Night: "at night", SunsetToSunrise: "between sunset and sunrise",
	Moisture: "in visible moisture near freezing", OverWater: "over water", ForHire: "for hire",
}

// Meter is something that counts an aircraft's hours.
type Meter string

// The meters. Time in service counts from the moment an aircraft leaves the surface until it touches it at the next
// landing (14 CFR 1.1): no meter on the panel shows it, and neither of them is ever taken for it. It is read off the log in the
// aircraft.
const (
	Hobbs         Meter = "hobbs" // hour meter: commonly runs while there is oil pressure or the master switch is on
	Tach          Meter = "tach"  // recording tachometer: hours at the engine speed for which it is made
	TimeInService Meter = "time-in-service"
)

// Meters lists every meter.
func Meters() []Meter { return []Meter{Hobbs, Tach, TimeInService} }

var meterNames = map[Meter]string{Hobbs: "hour meter", Tach: "recording tachometer", TimeInService: "time in service"}

// Name is the meter as people read it.
func (m Meter) Name() string { return meterNames[m] }

// fuelColors are the dyes of grades of fuel. Common practice, without a published source that was read: 100LL is blue.
// Of another grade a checklist itself says what color its fuel has.
var fuelColors = map[string]string{"100LL": "blue"}
