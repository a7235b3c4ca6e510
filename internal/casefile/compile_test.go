package casefile_test

import (
	"encoding/json"
	"errors"
	"slices"
	"testing"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

func ptr[T any](v T) *T { return &v }

// sound is a case without a fault.
func sound() casefile.Case {
	return casefile.Case{
		Aircraft: casefile.Aircraft{
			Facts: casefile.Facts{Category: "airplane", Basis: "car-3", Seats: ptr(2), FrontSeats: ptr(2), Pressurized: ptr(false)},
			Configuration: casefile.Configuration{
				Units: []casefile.Unit{{ID: "compass", Item: "magnetic-compass"}, {ID: "radio", Item: "com-radio", Needs: []string{"compass"}}},
				KOEL:  casefile.OwnList{OnRecord: ptr(true), Document: "page 2-9", Rows: []casefile.OwnRow{{Item: "clock", Kinds: []string{"day-ifr"}}}},
			},
		},
		Defects: []casefile.Defect{{ID: "a", Kind: "inoperative", Unit: "radio"}},
		Flight: casefile.Flight{
			Rules:   "vfr",
			Departs: time.Date(2026, 6, 1, 14, 0, 0, 0, time.UTC), Arrives: time.Date(2026, 6, 1, 16, 0, 0, 0, time.UTC),
		},
	}
}

func TestCompileNamesEveryFault(t *testing.T) {
	t.Parallel()
	rules := book(t)
	if _, err := casefile.Compile(sound(), rules.Ruleset); err != nil {
		t.Fatalf("the sound case is refused: %v", err)
	}
	type change = func(*casefile.Case)
	cases := []struct {
		field, rule string
		change      change
	}{
		{"aircraft.facts.basis", "required", func(c *casefile.Case) { c.Aircraft.Facts.Basis = "" }},
		{"aircraft.facts.basis", "known-word", func(c *casefile.Case) { c.Aircraft.Facts.Basis = "CAR 3" }},
		{"aircraft.facts.certificate", "known-word", func(c *casefile.Case) { c.Aircraft.Facts.Certificate = "Standard" }},
		{"aircraft.facts.approved", "kind-of-operation", func(c *casefile.Case) { c.Aircraft.Facts.Approved = &[]string{"day"} }},
		{"aircraft.facts.front_seats", "at-most-seats", func(c *casefile.Case) { c.Aircraft.Facts.FrontSeats = ptr(3) }},
		{"aircraft.facts.manufactured", "date", func(c *casefile.Case) { c.Aircraft.Facts.Manufactured = "1984" }},
		{"aircraft.facts.certificated", "date", func(c *casefile.Case) { c.Aircraft.Facts.Certificated = "1984-13-01" }},
		{"aircraft.facts.type_certificate_applied", "date", func(c *casefile.Case) { c.Aircraft.Facts.TypeCertificateApplied = "then" }},
		{"aircraft.facts.vor_checked", "date", func(c *casefile.Case) { c.Aircraft.Facts.VORChecked = "2026-02-30" }},
		{"aircraft.facts.annual_inspected", "date", func(c *casefile.Case) { c.Aircraft.Facts.AnnualInspected = "March" }},
		{"aircraft.facts.condition_inspected", "date", func(c *casefile.Case) { c.Aircraft.Facts.ConditionInspected = "2026-3-4" }},
		{"aircraft.facts.altimeter_tested", "date", func(c *casefile.Case) { c.Aircraft.Facts.AltimeterTested = "2026-02-29" }},
		{"aircraft.facts.transponder_tested", "date", func(c *casefile.Case) { c.Aircraft.Facts.TransponderTested = "today" }},
		{"aircraft.facts.elt_inspected", "date", func(c *casefile.Case) { c.Aircraft.Facts.ELTInspected = "-" }},
		{"aircraft.facts.elt_battery_due", "date", func(c *casefile.Case) { c.Aircraft.Facts.ELTBatteryDue = "2028-06" }},
		{"aircraft.facts.hours_since_inspection", "range", func(c *casefile.Case) { c.Aircraft.Facts.HoursSinceInspection = ptr(-1.0) }},
		{"aircraft.facts.elt_battery_hours", "range", func(c *casefile.Case) { c.Aircraft.Facts.ELTBatteryHours = ptr(-0.1) }},
		{"aircraft.configuration.type_certification.confirmed.on", "date", func(c *casefile.Case) {
			c.Aircraft.Configuration.TypeCertification.Confirmed = &casefile.Confirmation{On: "last year"}
		}},
		{"policy.deactivation", "known-policy", func(c *casefile.Case) { c.Policy.Deactivation = "lenient" }},
		{"flight.hours", "at-most-window", func(c *casefile.Case) { c.Flight.Hours = ptr(c.Flight.Arrives.Sub(c.Flight.Departs).Hours() + 0.1) }},
		{"flight.hours", "at-most-window", func(c *casefile.Case) { c.Flight.Hours = ptr(-0.1) }},
		{"flight.operations[0]", "known-word", func(c *casefile.Case) { c.Flight.Operations = []string{"CAT II"} }},
		{"aircraft.configuration.units[0].item", "known-item", func(c *casefile.Case) { c.Aircraft.Configuration.Units[0].Item = "compass" }},
		{"aircraft.configuration.units[0].also[0]", "known-item", func(c *casefile.Case) { c.Aircraft.Configuration.Units[0].Also = []string{"x"} }},
		{"aircraft.configuration.units[1].id", "unique", func(c *casefile.Case) { c.Aircraft.Configuration.Units[1].ID = "compass"; c.Defects = nil }},
		{"aircraft.configuration.units[1].needs[0]", "installed", func(c *casefile.Case) { c.Aircraft.Configuration.Units[1].Needs[0] = "pump" }},
		{"aircraft.configuration.units[0].serves", "range", func(c *casefile.Case) { c.Aircraft.Configuration.Units[0].Serves = []int{65} }},
		{"aircraft.configuration.units[0].serves", "range", func(c *casefile.Case) { c.Aircraft.Configuration.Units[0].Serves = []int{0} }},
		{"aircraft.configuration.koel.rows", "no-document", func(c *casefile.Case) { c.Aircraft.Configuration.KOEL.OnRecord = ptr(false) }},
		{"aircraft.configuration.koel.rows[0].item", "known-item", func(c *casefile.Case) { c.Aircraft.Configuration.KOEL.Rows[0].Item = "watch" }},
		{"aircraft.configuration.koel.rows[0].kinds", "kind-of-operation", func(c *casefile.Case) { c.Aircraft.Configuration.KOEL.Rows[0].Kinds = []string{"ifr"} }},
		{"defects[1].id", "unique", func(c *casefile.Case) { c.Defects = append(c.Defects, c.Defects[0]) }},
		{"defects[0].id", "unique", func(c *casefile.Case) { c.Defects[0].ID = "" }},
		{"defects[0].kind", "known-kind", func(c *casefile.Case) { c.Defects[0].Kind = "broken" }},
		{"defects[0].unit", "installed", func(c *casefile.Case) { c.Defects[0].Unit = "radio-9" }},
		{"defects[0].item", "known-item", func(c *casefile.Case) { c.Defects[0].Unit, c.Defects[0].Item = "", "wireless" }},
		{"defects[0].item", "one-subject", func(c *casefile.Case) { c.Defects[0].Item = "com-radio" }},
		{"defects[0].deferral.method", "known-method", func(c *casefile.Case) { c.Defects[0].Deferral = &casefile.Deferral{Method: "taped"} }},
		{"defects[0].deferral.removed_on", "date", func(c *casefile.Case) { c.Defects[0].Deferral = &casefile.Deferral{RemovedOn: "May"} }},
		{"flight.rules", "known-rules", func(c *casefile.Case) { c.Flight.Rules = "VFR" }},
		{"flight.departs", "required", func(c *casefile.Case) { c.Flight.Departs = time.Time{} }},
		{"flight.departs", "required", func(c *casefile.Case) { c.Flight.Arrives = time.Time{} }},
		{"flight.arrives", "after-departs", func(c *casefile.Case) { c.Flight.Arrives = c.Flight.Departs }},
		{"flight.arrives", "window", func(c *casefile.Case) { c.Flight.Arrives = c.Flight.Departs.Add(casefile.MaxWindow + 1) }},
		{"flight.airspace[1]", "known-word", func(c *casefile.Case) { c.Flight.Airspace = &[]string{"class-b", "Class C"} }},
		{"flight.navigation[0]", "known-word", func(c *casefile.Case) { c.Flight.Navigation = &[]string{"GPS"} }},
		{"flight.atc_authorized[0]", "known-word", func(c *casefile.Case) { c.Flight.ATCAuthorized = []string{"mode-c"} }},
		{"flight.occupants", "at-most-seats", func(c *casefile.Case) { c.Flight.Occupants = ptr(3) }},
		{"flight.light", "one-source", func(c *casefile.Case) {
			c.Flight.Light, c.Flight.Route = &casefile.Light{}, []casefile.Place{{Lat: ptr(40.0), Lon: ptr(-90.0)}}
		}},
		{"flight.light", "day-or-night", func(c *casefile.Case) { c.Flight.Light = &casefile.Light{Day: ptr(false), Night: ptr(false)} }},
		{"flight.light.sunset_to_sunrise", "night-is-dark", func(c *casefile.Case) {
			c.Flight.Light = &casefile.Light{Night: ptr(true), SunsetToSunrise: ptr(false)}
		}},
		{"flight.route[0]", "coordinates", func(c *casefile.Case) { c.Flight.Route = []casefile.Place{{Name: "home"}} }},
		{"flight.route[0]", "range", func(c *casefile.Case) { c.Flight.Route = []casefile.Place{{Lat: ptr(91.0), Lon: ptr(0.0)}} }},
	}
	for _, c := range cases {
		bad := sound()
		c.change(&bad)
		_, err := casefile.Compile(bad, rules.Ruleset)
		var faults casefile.Faults
		if !errors.As(err, &faults) || len(faults) != 1 || faults[0].Field != c.field || faults[0].Rule != c.rule {
			t.Errorf("want one fault of rule %s at %s, got %v %+v", c.rule, c.field, err, faults)
			continue
		}
		if faults[0].Says == "" || faults[0].Remedy == "" {
			t.Errorf("it does not say enough: %+v", faults[0])
		}
	}
}

func TestCompileTellsEveryFaultAtOnce(t *testing.T) {
	t.Parallel()
	c := sound()
	c.Aircraft.Facts.Basis, c.Defects[0].Kind, c.Flight.Rules = "", "broken", "VFR"
	_, err := casefile.Compile(c, book(t).Ruleset)
	var faults casefile.Faults
	if !errors.As(err, &faults) || len(faults) != 3 {
		t.Errorf("want three faults, got %v", err)
	}
}

func TestJoinKeepsAnErrorThatIsNotAboutTheInput(t *testing.T) {
	t.Parallel()
	other := errors.New("the disk is full")
	one, two := casefile.Faults{{Field: "a"}}, casefile.Faults{{Field: "b"}}
	if err := casefile.Join(one, other, two); !errors.Is(err, other) {
		t.Errorf("got %v", err)
	}
	var faults casefile.Faults
	if err := casefile.Join(nil, one, nil, two); !errors.As(err, &faults) || len(faults) != 2 {
		t.Errorf("got %v", err)
	}
	if err := casefile.Join(nil, nil); err != nil {
		t.Errorf("nothing becomes %v", err)
	}
}

// TestAnAbsentFactIsUnknown holds the meaning of silence: facts are unknown, steps of a deferral are not done, and what
// opens a relief is not claimed.
func TestAnAbsentFactIsUnknown(t *testing.T) {
	t.Parallel()
	c := sound()
	c.Defects[0].Deferral = &casefile.Deferral{}
	q, err := casefile.Compile(c, book(t).Ruleset)
	if err != nil {
		t.Fatal(err)
	}
	f, d := q.Flight, q.Defects[0].Deferral
	for name, truth := range map[string]airworthiness.Truth{
		"for hire": f.ForHire, "over water": f.OverWater, "controlled": f.Controlled, "below 2500": f.Below2500AGL,
		"in Alaska": f.InAlaska, "dark": f.Dark, "over 30 minutes": f.Over30MinAbove12500, "day": f.Day, "night": f.Night, "lights": f.Lights,
	} {
		if truth != airworthiness.Unknown {
			t.Errorf("%s is %s", name, truth)
		}
	}
	for name, truth := range map[string]airworthiness.Truth{
		"only required crew": f.OnlyRequiredCrew, "training": f.TrainingWithin50NM, "to repair": f.ToPlaceOfRepair,
		"repair impossible": f.RepairImpossible, "done": d.MethodDone, "placarded": d.Placarded, "recorded": d.Recorded, "hazard": d.HazardDetermined,
	} {
		if truth != airworthiness.No {
			t.Errorf("%s is %s", name, truth)
		}
	}
	if f.Airspace.Known || f.Navigation.Known || f.Occupants.Known || f.AltitudeFt.Known || f.CabinFt.Known || d.Until.Known || d.RemovedOn.Known {
		t.Error("a number or a list that nobody gave is known")
	}
	if !f.ATCAuthorized.Known || len(f.ATCAuthorized.Value) != 0 {
		t.Error("without a word of ATC, something is authorized, or it is not known")
	}
	if d.Method != airworthiness.MethodUnstated || f.Envelope {
		t.Error("a method is stated, or the flight is judged as a kind")
	}
}

func TestTheCabinOfAnUnpressurizedAircraft(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		pressurized *bool
		cabin       *float64
		want        airworthiness.Fact[float64]
	}{
		{ptr(false), nil, airworthiness.Given(16000.0)},
		{ptr(true), nil, airworthiness.Fact[float64]{}},
		{nil, nil, airworthiness.Fact[float64]{}},
		{ptr(true), ptr(8000.0), airworthiness.Given(8000.0)},
	} {
		in := sound()
		in.Aircraft.Facts.Pressurized, in.Flight.AltitudeFt, in.Flight.CabinFt = c.pressurized, ptr(16000.0), c.cabin
		q, err := casefile.Compile(in, book(t).Ruleset)
		if err != nil {
			t.Fatal(err)
		}
		if q.Flight.CabinFt != c.want {
			t.Errorf("pressurized %v, cabin %v: %+v, want %+v", c.pressurized, c.cabin, q.Flight.CabinFt, c.want)
		}
	}
}

// TestAnswersAreInWords holds the form of an answer: what is missing or limits the flight stands once, at the top.
func TestAnswersAreInWords(t *testing.T) {
	t.Parallel()
	rules := book(t)
	q, err := casefile.Compile(sound(), rules.Ruleset)
	if err != nil {
		t.Fatal(err)
	}
	answer := casefile.Judge(q, rules.Ruleset, rules.Digest)
	if answer.Permits || answer.Verdict != "undetermined" || answer.Rules != rules.Digest || answer.Caution != rules.Term(airworthiness.TermCaution) {
		t.Errorf("a case that says little is %+v", answer)
	}
	asked := map[casefile.Missing]bool{}
	for _, m := range answer.Missing {
		if asked[m] {
			t.Errorf("%s is asked for twice", m.Fact)
		}
		asked[m] = true
	}
	for _, f := range answer.Findings {
		for _, m := range f.Missing {
			if !asked[m] {
				t.Errorf("%s is missing below, but not above", m.Fact)
			}
		}
		if f.Step == "nature" && f.Defect != "a" {
			t.Errorf("the finding on the squawk names %q", f.Defect)
		}
	}
	short := answer.WithoutPasses()
	if len(short.Findings) >= len(answer.Findings) || slices.ContainsFunc(short.Findings, func(f casefile.Finding) bool { return f.Outcome == "passed" }) {
		t.Error("the passes are still there")
	}
	if _, err := json.Marshal(answer); err != nil {
		t.Error(err)
	}
}
