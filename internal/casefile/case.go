// Package casefile is the written form of facts: an aircraft, its defects and a flight as JSON, and the determination
// that comes back, as JSON or as plain text.
//
// It owns the names of the fields, what an absent field means, and the checks that need more than one field. It does
// not own the schema of single fields: that is the contract. It decides nothing: it hands the case to the engine.
package casefile

import "time"

// Case is one question: may this aircraft, with these defects, make this flight?
type Case struct {
	Story    string   `json:"story,omitempty"`
	Source   string   `json:"source,omitempty"`
	Aircraft Aircraft `json:"aircraft"`
	Defects  []Defect `json:"defects,omitempty"`
	Flight   Flight   `json:"flight"`

	Policy       Policy        `json:"policy,omitzero"`
	CompanyRules []CompanyRule `json:"company_rules,omitempty"`

	Expect *Expect `json:"expect,omitempty"`
}

// Policy is how an operator reads the rules where they leave a choice. It never changes what the rules require.
type Policy struct {
	// Deactivation says when a deactivation is entered in the maintenance record: "strict", always (AC 91-67A), or
	// "rule-text", when it involves maintenance (91.213(d)(3)(ii)). Absent means strict.
	Deactivation string `json:"deactivation,omitempty"`
}

// Expect is what a case is expected to give; the evaluation does not read it.
type Expect struct {
	Verdict  string            `json:"verdict"`
	Findings []ExpectedFinding `json:"findings,omitempty"`
}

// ExpectedFinding is a finding that must be among those given.
type ExpectedFinding struct {
	Row     string `json:"row"`
	Outcome string `json:"outcome"`
	Defect  string `json:"defect,omitempty"`
}

// Aircraft is what is on record of one aircraft.
type Aircraft struct {
	Facts         Facts         `json:"facts"`
	Configuration Configuration `json:"configuration"`
}

// Facts are what the type and the papers say of an aircraft. An absent field is an unknown fact.
type Facts struct {
	Category    string `json:"category,omitempty"`
	Certificate string `json:"certificate,omitempty"`
	Basis       string `json:"basis,omitempty"`
	Engine      string `json:"engine,omitempty"`
	Cooling     string `json:"cooling,omitempty"`
	Class       string `json:"class,omitempty"`

	ExperimentalUnder string `json:"experimental_under,omitempty"`
	AirCarrierUse     *bool  `json:"air_carrier_use,omitempty"`

	MaxTakeoffWeightLb *float64 `json:"max_takeoff_weight_lb,omitempty"`
	Engines            *int     `json:"engines,omitempty"`
	Tanks              *int     `json:"tanks,omitempty"`
	Seats              *int     `json:"seats,omitempty"`
	FrontSeats         *int     `json:"front_seats,omitempty"`

	Manufactured           string `json:"manufactured,omitempty"`
	Certificated           string `json:"certificated,omitempty"`
	TypeCertificateApplied string `json:"type_certificate_applied,omitempty"`
	VORChecked             string `json:"vor_checked,omitempty"`

	AnnualInspected      string   `json:"annual_inspected,omitempty"`
	Progressive          *bool    `json:"progressive_inspection,omitempty"`
	ProgressiveComplete  string   `json:"progressive_complete,omitempty"`
	ConditionInspected   string   `json:"condition_inspected,omitempty"`
	HoursSinceInspection *float64 `json:"hours_since_inspection,omitempty"`
	AltimeterTested      string   `json:"altimeter_tested,omitempty"`
	TransponderTested    string   `json:"transponder_tested,omitempty"`
	ELTInspected         string   `json:"elt_inspected,omitempty"`
	ELTBatteryDue        string   `json:"elt_battery_due,omitempty"`
	ELTBatteryHours      *float64 `json:"elt_battery_hours,omitempty"`

	USRegistered                *bool `json:"us_registered,omitempty"`
	PressureOil                 *bool `json:"pressure_oil,omitempty"`
	AltitudeEngine              *bool `json:"altitude_engine,omitempty"`
	RetractableGear             *bool `json:"retractable_gear,omitempty"`
	ControllablePropeller       *bool `json:"controllable_propeller,omitempty"`
	PumpFedFuel                 *bool `json:"pump_fed_fuel,omitempty"`
	CowlFlaps                   *bool `json:"cowl_flaps,omitempty"`
	ElectricalSystem            *bool `json:"electrical_system,omitempty"`
	EngineDrivenElectrical      *bool `json:"engine_driven_electrical,omitempty"`
	Pressurized                 *bool `json:"pressurized,omitempty"`
	ReplaceableFuses            *bool `json:"replaceable_fuses,omitempty"`
	MMELExists                  *bool `json:"mmel_exists,omitempty"`
	MELAuthorized               *bool `json:"mel_authorized,omitempty"`
	AltitudeReportingCalibrated *bool `json:"altitude_reporting_calibrated,omitempty"`

	Approved *[]string `json:"approved,omitempty"`

	Papers *Papers `json:"papers,omitempty"`
	Upkeep *Upkeep `json:"upkeep,omitempty"`
}

// Configuration is what is installed in an aircraft and what its own documents require.
type Configuration struct {
	Units             []Unit  `json:"units,omitempty"`
	UnitsComplete     *bool   `json:"units_complete,omitempty"`
	TypeCertification OwnList `json:"type_certification,omitzero"`
	EquipmentList     OwnList `json:"equipment_list,omitzero"`
	KOEL              OwnList `json:"koel,omitzero"`
	Directives        OwnList `json:"directives,omitzero"`
	MEL               MEL     `json:"mel,omitzero"`

	EquipmentChanged  string `json:"equipment_changed,omitempty"`  // the day on which equipment was last put in, taken out or changed
	EquipmentRevision string `json:"equipment_revision,omitempty"` // what the organization calls the equipment as it is now
}

// Unit is one installed instrument or item of equipment.
type Unit struct {
	ID     string   `json:"id"`
	Item   string   `json:"item"`
	Where  string   `json:"where,omitempty"` // words for people, such as "left wing tip"
	Also   []string `json:"also,omitempty"`
	Serves []int    `json:"serves,omitempty"`
	Needs  []string `json:"needs,omitempty"`
}

// OwnList is one of the aircraft's own documents. OnRecord true: Rows is the whole list; false: there is no such
// document; absent: nobody has looked. Confirmed is asked of the type certification list only.
type OwnList struct {
	OnRecord  *bool         `json:"on_record,omitempty"`
	Document  string        `json:"document,omitempty"`
	Confirmed *Confirmation `json:"confirmed,omitempty"`
	Rows      []OwnRow      `json:"rows,omitempty"`
}

// Confirmation says who has confirmed that a list is what the regulations of the type's certification ask for
// (91.213(d)(2)(i)). With any of its fields missing it confirms nothing.
type Confirmation struct {
	By          string `json:"by,omitempty"`
	Certificate string `json:"certificate,omitempty"` // kind and number
	On          string `json:"on,omitempty"`
	Document    string `json:"document,omitempty"` // from which it was read, such as the type certificate data sheet
}

// OwnRow is one line of such a document.
type OwnRow struct {
	Item     string   `json:"item"`
	Quantity int      `json:"quantity,omitempty"`
	Kinds    []string `json:"kinds,omitempty"`
	Document string   `json:"document,omitempty"`

	PermitBarred *bool `json:"permit_barred,omitempty"` // of a directive: it does not allow a special flight permit
}

// Defect is one open squawk.
type Defect struct {
	ID       string    `json:"id"`
	Kind     string    `json:"kind,omitempty"`
	Unit     string    `json:"unit,omitempty"`
	Item     string    `json:"item,omitempty"`
	Words    string    `json:"words,omitempty"`
	Deferral *Deferral `json:"deferral,omitempty"`
	Found    *Found    `json:"found,omitempty"`
}

// Deferral is what has been done so that the item may stay inoperative. An absent step has not been done. Whether a
// deactivation involves maintenance is a fact: absent, nobody has said.
type Deferral struct {
	Method              string     `json:"method,omitempty"`
	MethodDone          bool       `json:"method_done,omitempty"`
	Placarded           bool       `json:"placarded,omitempty"`
	Recorded            bool       `json:"recorded,omitempty"`
	HazardDetermined    bool       `json:"hazard_determined,omitempty"`
	HazardConsidered    []string   `json:"hazard_considered,omitempty"` // the other open squawks that it was determined in view of
	InvolvesMaintenance *bool      `json:"involves_maintenance,omitempty"`
	RemovedOn           string     `json:"removed_on,omitempty"`
	Until               *time.Time `json:"until,omitempty"`

	MaintenanceProcedureDone bool   `json:"maintenance_procedure_done,omitempty"`
	Discovered               string `json:"discovered,omitempty"`
	Extended                 bool   `json:"extended,omitempty"`
	ExtendedUntil            string `json:"extended_until,omitempty"` // its last day, from the approved MEL management program; says nothing unless extended
}

// Flight is one intended flight. An absent fact is unknown, save for those that open a relief: they are claimed or not.
type Flight struct {
	Rules   string    `json:"rules,omitempty"`
	Departs time.Time `json:"departs"`
	Arrives time.Time `json:"arrives"`
	Route   []Place   `json:"route,omitempty"`
	Light   *Light    `json:"light,omitempty"`
	// Earlier tells of the legs of the same flight that go before, where this is a later one: Hours is then with theirs.
	Earlier *EarlierLegs `json:"earlier_legs,omitempty"`
	FlightFacts
}

// EarlierLegs are the legs of a flight that go before the one that is asked about. What runs out by hours or cycles is
// used up by them first.
type EarlierLegs struct {
	Legs        int     `json:"legs"`         // how many, from 1
	WindowHours float64 `json:"window_hours"` // how long their windows are, all together
}

// WindowHours is the longest that a flight can take, with the legs before it, in hours.
func (f *Flight) WindowHours() float64 {
	window := f.Arrives.Sub(f.Departs).Hours()
	if f.Earlier != nil && window > 0 {
		window += f.Earlier.WindowHours
	}
	return window
}

// FlightFacts are the facts of a flight beside its rules, window and route.
type FlightFacts struct {
	ForHire             *bool `json:"for_hire,omitempty"`
	OverWater           *bool `json:"over_water,omitempty"`
	Controlled          *bool `json:"controlled_airspace,omitempty"`
	Below2500AGL        *bool `json:"below_2500_agl,omitempty"`
	InAlaska            *bool `json:"in_alaska,omitempty"`
	Dark                *bool `json:"dark,omitempty"`
	Over30MinAbove12500 *bool `json:"over_30_minutes_above_12500,omitempty"`

	OnlyRequiredCrew   bool `json:"only_required_crew,omitempty"`
	TrainingWithin50NM bool `json:"training_within_50nm,omitempty"`
	ToPlaceOfRepair    bool `json:"to_place_of_repair,omitempty"`
	RepairImpossible   bool `json:"repair_impossible,omitempty"`
	UnderWay           bool `json:"under_way,omitempty"`

	InstructionProvidedAircraft *bool `json:"instruction_provided_aircraft,omitempty"`
	ToPlaceOfInspection         bool  `json:"to_place_of_inspection,omitempty"`
	NewlyAcquiredToInstallation bool  `json:"newly_acquired_to_installation,omitempty"`

	Occupants    *int     `json:"occupants,omitempty"`
	Persons      *int     `json:"persons,omitempty"`
	RequiredCrew *int     `json:"required_crew,omitempty"`
	AltitudeFt   *float64 `json:"altitude_ft,omitempty"`
	CabinFt      *float64 `json:"cabin_ft,omitempty"`
	Hours        *float64 `json:"hours,omitempty"` // time in service, from leaving the surface to touching it (14 CFR 1.1)

	Airspace      *[]string `json:"airspace,omitempty"`
	Navigation    *[]string `json:"navigation,omitempty"`
	ATCAuthorized []string  `json:"atc_authorized,omitempty"`
	Operations    []string  `json:"operations,omitempty"` // declared, or not made

	SpecialFlightPermit *Permit `json:"special_flight_permit,omitempty"`
}

// Place is a point of a route: degrees, north and east positive.
type Place struct {
	Name string   `json:"name,omitempty"`
	Lat  *float64 `json:"lat,omitempty"`
	Lon  *float64 `json:"lon,omitempty"`
}

// Light says which light a flight meets, for a flight whose route is not known.
type Light struct {
	Day             *bool `json:"day,omitempty"`
	Night           *bool `json:"night,omitempty"`
	SunsetToSunrise *bool `json:"sunset_to_sunrise,omitempty"`
}
