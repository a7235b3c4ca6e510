package airworthiness

import "time"

// Fact is a value that may not be known. The zero value is not known.
type Fact[T any] struct {
	Value T
	Known bool
}

// Given is a known fact.
func Given[T any](v T) Fact[T] { return Fact[T]{Value: v, Known: true} }

// Date is a civil date, as days since 1 January 1970. Zero means: no date given.
type Date int32

// DateOf is the civil date of t in t's own location.
func DateOf(t time.Time) Date {
	y, m, d := t.Date()
	return Date(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// ParseDate reads YYYY-MM-DD.
func ParseDate(s string) (Date, bool) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return 0, false
	}
	return DateOf(t), true
}

func (d Date) String() string { return time.Unix(int64(d)*86400, 0).UTC().Format(time.DateOnly) }

// Kinds is a set of kinds of operation.
type Kinds uint8

// The kinds of operation, which equipment lists and kinds-of-operation equipment lists (KOEL) speak of.
const (
	DayVFR Kinds = 1 << iota
	NightVFR
	DayIFR
	NightIFR
)

var kindNames = [...]string{"day-vfr", "night-vfr", "day-ifr", "night-ifr"}

// KindNames lists the names of the kinds of operation, in the order of their bits.
func KindNames() []string { return kindNames[:] }

// ParseKind returns the kind of that name, or false.
func ParseKind(s string) (Kinds, bool) {
	for i, name := range kindNames {
		if name == s {
			return 1 << i, true
		}
	}
	return 0, false
}

// Aircraft is what is on record of one aircraft: its facts, its installed units and its own documents.
// Every field that is not known is left at its zero value.
type Aircraft struct {
	Category    string // airplane, rotorcraft, glider, balloon, airship, powered-parachute, weight-shift-control, powered-lift
	Certificate string // airworthiness certificate: standard, light-sport, experimental, primary, restricted, limited, provisional
	Basis       string // certification basis: car-3, part-23-before-64, part-23, part-27, part-29, car-6, other
	Engine      string // none, reciprocating, turbine, electric
	Cooling     string // air, liquid
	Class       string // as pilots are rated for it, such as single-engine-land; empty in a category without classes

	ExperimentalUnder string // paragraph of 14 CFR 21.191 under which an experimental certificate was issued: a to l
	AirCarrierUse     Truth  // used under part 121, 129 or 135 (43.3(g))

	MaxTakeoffWeightLb Fact[float64]
	Engines            Fact[int] // number of engines
	Tanks              Fact[int] // number of fuel tanks; tanks with interconnected outlets and air spaces are one (CAR 3.672)
	Seats              Fact[int] // seats for persons, crew included
	FrontSeats         Fact[int] // flightcrew seats and any seat alongside (91.205(b)(14)(ii)); seats are numbered from the front

	Manufactured           Fact[Date] // inspection acceptance records show the aircraft complete and conforming (91.205(b)(14)(i))
	Certificated           Fact[Date] // type certificate issued; 91.205(b)(11) leaves open which certificate is meant
	TypeCertificateApplied Fact[Date] // type certificate applied for
	VORChecked             Fact[Date] // last operational check of the VOR receivers (91.171)

	AnnualInspected      Fact[Date]    // last annual inspection, or inspection for an airworthiness certificate, approved for return to service (91.409(a))
	Progressive          Truth         // it is inspected progressively, by an accepted program (91.409(d)): see OnProgram
	ProgressiveComplete  Fact[Date]    // the day on which an inspection of the whole aircraft was last complete under that program
	ConditionInspected   Fact[Date]    // last condition inspection of a light-sport or experimental aircraft (91.327(b), operating limitations)
	HoursSinceInspection Fact[float64] // at departure: time in service since the last annual or 100-hour inspection, and what the one before was overflown by (91.409(b))
	AltimeterTested      Fact[Date]    // last test of static system, altimeters and altitude reporting (91.411)
	TransponderTested    Fact[Date]    // last test of the transponder (91.413)
	ELTInspected         Fact[Date]    // last inspection of the ELT (91.207(d))
	ELTBatteryDue        Fact[Date]    // last day before its battery has spent half its useful life, as marked on it (91.207(c)(2))
	ELTBatteryHours      Fact[float64] // for how long its battery has been in use, all told (91.207(c)(1))

	USRegistered                Truth
	PressureOil                 Truth // the engines use an oil pressure system
	AltitudeEngine              Truth // rated takeoff power producible from sea level to an established higher altitude (1.1)
	RetractableGear             Truth
	ControllablePropeller       Truth
	PumpFedFuel                 Truth
	CowlFlaps                   Truth
	ElectricalSystem            Truth
	EngineDrivenElectrical      Truth // certificated with, or later given, an engine-driven electrical system
	Pressurized                 Truth
	ReplaceableFuses            Truth // the pilot can replace fuses in flight
	MMELExists                  Truth // a master minimum equipment list has been developed for the type
	MELAuthorized               Truth // an MEL is authorized for this aircraft by letter (91.213(a)) or must be used (91.213(c))
	AltitudeReportingCalibrated Truth // transmitted altitude tested within 125 ft of the altimeter (91.217)

	Approved Fact[Kinds] // kinds of operation that the limitations, markings and placards allow (91.9)

	Units         []Unit
	UnitsComplete Truth // a person has confirmed that Units names every instrument and item of equipment installed

	TypeCertification OwnList // VFR-day equipment of this aircraft's type certification, confirmed by a rated person
	EquipmentList     OwnList // what the equipment list shows as required
	KOEL              OwnList // kinds-of-operation equipment list
	Directives        OwnList // airworthiness directives that require an item to be operational
	MEL               MEL     // the minimum equipment list, where one governs

	Papers Papers // what goes along in it
	Upkeep Upkeep // what its own papers ask for at certain times
}

// Unit is one installed instrument or item of equipment.
type Unit struct {
	ID     string
	Item   string   // catalog key
	Also   []string // further items whose job this unit does, beyond what the catalog says
	Serves uint64   // bit n-1: serves engine, tank or seat number n; zero: one that no other unit serves, not said which
	Needs  []string // units without which this one does not work, such as the vacuum pump of a gyro
}

// OwnList is one of the aircraft's own documents, reduced to what it requires.
type OwnList struct {
	OnRecord  Truth // Yes: Rows is the whole list. No: there is no such document. Unknown: nobody has looked
	Confirmed Truth // a rated person has confirmed it, from a named document. Asked of the type-certification list only
	Rows      []OwnRow
}

// OwnRow is one line of such a document.
type OwnRow struct {
	Item     string
	Quantity int    // how many must work, at least 1
	Kinds    Kinds  // kinds of operation it is required for; zero means all
	Document string // where it stands: page of the equipment list, number of the directive
	Barred   Truth  // of a directive: it does not allow a special flight permit (39.23)
}

// Flight is one flight to be judged. Every field that is not known is left at its zero value.
type Flight struct {
	On       Date      // civil date of departure: rows in force on it apply. Must be given
	Ends     time.Time // end of the flight's window: deferrals must last until then. Must be given
	Departs  time.Time // start of the window: a special flight permit must hold from then on; zero: not known
	Envelope bool      // judge a kind of operation, not one flight: facts left open become limitations

	IFR    Truth
	Day    Truth // some part is not night
	Night  Truth // some part is night in the sense of 14 CFR 1.1
	Lights Truth // some part lies between sunset and sunrise
	Dark   Truth // in Alaska: an unlighted object cannot be seen at 3 statute miles, or the sun is over 6 degrees down (91.209(a))

	ForHire             Truth
	OnlyRequiredCrew    Truth // nobody aboard but required crewmembers
	OverWater           Truth // beyond power-off gliding distance from shore
	Controlled          Truth // enters controlled airspace
	Below2500AGL        Truth // the part at or above 10,000 ft MSL stays at or below 2,500 ft above the surface
	TrainingWithin50NM  Truth // training entirely within 50 NM of the departure airport
	ToPlaceOfRepair     Truth // to a place where repair or replacement can be made
	UnderWay            Truth // it has taken off: what is reported failed on the way
	RepairImpossible    Truth // at the place of departure the repair cannot be made
	ToPlaceOfInspection Truth // on the way to a place where the inspection that is due can be done (91.409(b))

	InstructionProvidedAircraft Truth // instruction for hire in an aircraft that the instructor provides (91.409(b), 91.327(c))
	NewlyAcquiredToInstallation Truth // ferries a newly acquired airplane to where its ELT is to be installed (91.207(e)(1))

	InAlaska            Truth
	Over30MinAbove12500 Truth // longer than 30 minutes at cabin pressure altitudes above 12,500 ft

	Occupants    Fact[int]     // persons aboard who have reached their second birthday
	Persons      Fact[int]     // all persons aboard
	RequiredCrew Fact[int]     // required minimum flight crew
	AltitudeFt   Fact[float64] // highest altitude, ft MSL
	CabinFt      Fact[float64] // highest cabin pressure altitude, ft
	Hours        Fact[float64] // time in service that it takes, with the legs before it
	WindowHours  Fact[float64] // how long its window is, with the legs before it: it takes no more time in service than that
	EarlierLegs  int           // legs of the same flight that go before it: what is counted from the record is used up by them first

	Airspace      Fact[[]string] // designated airspace entered; see the condition airspace
	Navigation    Fact[[]string] // navigation used under IFR: vor, gnss
	ATCAuthorized Fact[[]string] // deviations that ATC has authorized: transponder, altitude-reporting, ads-b
	Operations    Fact[[]string] // operations with equipment (91.205(f) to (h)) or papers of their own: cat-ii, cat-iii, nvg, abroad

	Permit *Permit // the special flight permit that the flight is made under; nil: none is claimed
}

// DefectKind says what a squawk reports.
type DefectKind uint8

// The kinds of defect. The zero value is not permission: it is judged like an item nobody has named.
const (
	KindUnstated    DefectKind = iota
	KindInoperative            // an instrument or item of equipment does not do its intended purpose, or not within limits
	KindCondition              // damage, wear, leak, level out of limits
)

// Defect is one open squawk, with its deferral if there is one.
type Defect struct {
	ID       string // names the squawk; findings are ordered by it
	Kind     DefectKind
	Unit     string // ID of the installed unit, if it is one
	Item     string // catalog key, when no unit is meant
	Deferral *Deferral
	Found    *Found // what became of a condition; nil: nothing yet
}

// Method is how a deferred item was put out of use.
type Method uint8

// The methods of 91.213(d)(3).
const (
	MethodUnstated Method = iota
	Removed
	Deactivated
)

// Deferral is what has been done so that an inoperative item may stay.
type Deferral struct {
	Method           Method
	MethodDone       Truth    // it has in fact been removed, or deactivated
	Placarded        Truth    // 91.213(d)(3): cockpit control placarded, or "Inoperative"
	Recorded         Truth    // entry under 43.9
	HazardDetermined Truth    // 91.213(d)(4), by a person certificated and appropriately rated
	HazardConsidered []string // IDs of the other open squawks that the determination was made in view of
	RemovedOn        Fact[Date]
	Until            Fact[time.Time] // ends at the next required inspection (91.405(c)) or earlier

	EntryByRuleText          bool       // the operator's policy: a deactivation is entered where it involves maintenance, not always
	InvolvesMaintenance      Truth      // the deactivation does (91.213(d)(3)(ii))
	MaintenanceProcedureDone Truth      // (M): what the MEL asks of maintenance has been done
	Discovered               Fact[Date] // day of discovery, from which the interval of an MEL runs; it is not counted itself
	Extended                 Truth      // the interval has been extended, once, under an approved MEL management program
	ExtendedUntil            Fact[Date] // the last day of that extension, as the program has recorded it
}
