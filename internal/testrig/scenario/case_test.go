package scenario_test

import (
	"reflect"
	"strings"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/regulation"
	"tiedown/internal/testrig/scenario"
)

func TestTheOrdinaryFlight(t *testing.T) {
	t.Parallel()
	want := casefile.Flight{
		Rules:   "vfr",
		Departs: time.Date(2027, 1, 15, 14, 0, 0, 0, time.UTC),
		Arrives: time.Date(2027, 1, 15, 16, 0, 0, 0, time.UTC),
		Light:   &casefile.Light{Day: ptr(true), Night: ptr(false), SunsetToSunrise: ptr(false)},
		FlightFacts: casefile.FlightFacts{
			ForHire: ptr(false), OverWater: ptr(false), Controlled: ptr(false), InAlaska: ptr(false),
			InstructionProvidedAircraft: ptr(false),
			Occupants:                   ptr(1), Persons: ptr(1), RequiredCrew: ptr(1), AltitudeFt: ptr(3000.0), Airspace: &[]string{},
		},
	}
	if have := tell(t).Flight; !reflect.DeepEqual(have, want) {
		t.Errorf("want %+v\nhave %+v", want, have)
	}
	if have := tell(t, "flight: day vfr").Flight; !reflect.DeepEqual(have, want) {
		t.Errorf("said in words: want %+v\nhave %+v", want, have)
	}
}

func TestLight(t *testing.T) {
	t.Parallel()
	light := func(day, night, down bool) *casefile.Light {
		return &casefile.Light{Day: &day, Night: &night, SunsetToSunrise: &down}
	}
	for word, want := range map[string]*casefile.Light{
		"day": light(true, false, false), "dusk": light(true, false, true), "night": light(false, true, true),
		"day-and-night": light(true, true, true), "unlit": nil,
	} {
		if have := tell(t, "flight: "+word+" ifr").Flight; !reflect.DeepEqual(have.Light, want) || have.Rules != "ifr" {
			t.Errorf("%s: have %+v", word, have)
		}
	}
}

// TestEveryFactOfAFlightHasAWord holds the words against the written form: each changes its field and no other.
func TestEveryFactOfAFlightHasAWord(t *testing.T) {
	t.Parallel()
	words := map[string][2]string{ // field: how to say one thing and another
		"for_hire": {"for-hire", "for-hire unknown"}, "over_water": {"over-water", "over-water unknown"},
		"controlled_airspace": {"controlled-airspace", "not controlled-airspace"},
		"below_2500_agl":      {"below-2500-agl", "not below-2500-agl"}, "in_alaska": {"in-alaska", "in-alaska unknown"},
		"dark": {"dark", "not dark"}, "over_30_minutes_above_12500": {"over-30-minutes-above-12500", "not over-30-minutes-above-12500"},
		"instruction_provided_aircraft": {"instruction-provided-aircraft", "instruction-provided-aircraft unknown"},
		"to_place_of_inspection":        {"to-place-of-inspection", ""}, "newly_acquired_to_installation": {"newly-acquired-to-installation", ""},
		"hours": {"hours 1.5", "hours 0.5"}, "operations": {"operations cat-ii/nvg", "operations none"},
		"only_required_crew": {"only-required-crew", ""}, "training_within_50nm": {"training-within-50nm", ""},
		"to_place_of_repair": {"to-place-of-repair", ""}, "repair_impossible": {"repair-impossible", ""}, "under_way": {"under-way", ""},
		"occupants": {"occupants 3, persons 1", "occupants unknown, persons 1"}, "persons": {"persons 4", "persons unknown"},
		"required_crew": {"required-crew 2", "required-crew unknown"}, "altitude_ft": {"altitude 12500", "altitude unknown"},
		"cabin_ft": {"cabin 8000", "cabin unknown"}, "airspace": {"airspace class-b/class-c", "airspace unknown"},
		"navigation": {"navigates vor/gnss", "navigates none"}, "atc_authorized": {"atc-authorized ads-b", "atc-authorized none"},
		"special_flight_permit": {"for-hire unknown\npermit: 7", "for-hire unknown"}, // a line of its own
	}
	facts := reflect.TypeFor[casefile.FlightFacts]()
	ordinary := reflect.ValueOf(tell(t).Flight.FlightFacts)
	for i := range facts.NumField() {
		name, _, _ := strings.Cut(facts.Field(i).Tag.Get("json"), ",")
		say, ok := words[name]
		if !ok {
			t.Errorf("no word for %s", name)
			continue
		}
		one := reflect.ValueOf(tell(t, "flight: day vfr, "+say[0]).Flight.FlightFacts)
		other := ordinary
		if say[1] != "" {
			other = reflect.ValueOf(tell(t, "flight: day vfr, "+say[1]).Flight.FlightFacts)
		}
		for j := range facts.NumField() {
			same := reflect.DeepEqual(one.Field(j).Interface(), other.Field(j).Interface())
			if same == (i == j) {
				t.Errorf("%q changes %s: %v", say, facts.Field(j).Name, !same)
			}
		}
	}
}

func TestPersonsAreAsManyAsOccupantsUnlessStated(t *testing.T) {
	t.Parallel()
	for words, want := range map[string]*int{
		"occupants 3": ptr(3), "occupants unknown": nil, "occupants 3, persons 4": ptr(4), "persons 2, occupants 1": ptr(2),
		"occupants 3, persons unknown": nil,
	} {
		if have := tell(t, "flight: day vfr, "+words).Flight.Persons; !reflect.DeepEqual(have, want) {
			t.Errorf("%s: have %v", words, have)
		}
	}
}

func TestDates(t *testing.T) {
	t.Parallel()
	f := tell(t, "flight: day vfr, date 2020-01-02, ends 2020-01-04").Flight
	if f.Departs.Format(time.DateOnly) != "2020-01-02" || f.Arrives.Format(time.DateOnly) != "2020-01-04" {
		t.Errorf("have %s to %s", f.Departs, f.Arrives)
	}
}

func TestChangesToTheAircraft(t *testing.T) {
	t.Parallel()
	a := tell(t,
		"fact: category = glider", "fact: seats = 2", "fact: max_takeoff_weight_lb = 1280.5", "fact: pressurized = true",
		"fact: approved = day-vfr/night-vfr", "fact: basis = unknown",
		"without: light", "add: display = engine-monitor also dme/adf serves 1/2 needs dme-1",
		"units: incomplete", "on-list: koel = clock 2 for day-ifr/night-ifr", "off-list: koel = dme",
		"document: directives = none",
	).Aircraft
	facts := casefile.Facts{
		Category: "glider", Seats: ptr(2), MaxTakeoffWeightLb: ptr(1280.5), Pressurized: ptr(true),
		Approved: &[]string{"day-vfr", "night-vfr"},
	}
	if !reflect.DeepEqual(a.Facts, facts) {
		t.Errorf("want %+v\nhave %+v", facts, a.Facts)
	}
	configuration := casefile.Configuration{
		Units: []casefile.Unit{
			{ID: "dme-1", Item: "dme"},
			{ID: "display", Item: "engine-monitor", Also: []string{"dme", "adf"}, Serves: []int{1, 2}, Needs: []string{"dme-1"}},
		},
		UnitsComplete: ptr(false),
		KOEL: casefile.OwnList{OnRecord: ptr(true), Rows: []casefile.OwnRow{
			{Item: "clock", Quantity: 2, Kinds: []string{"day-ifr", "night-ifr"}},
		}},
		Directives: casefile.OwnList{OnRecord: ptr(false)},
	}
	if !reflect.DeepEqual(a.Configuration, configuration) {
		t.Errorf("want %+v\nhave %+v", configuration, a.Configuration)
	}
	if koel := tell(t, "document: koel = unknown").Aircraft.Configuration.KOEL; koel.OnRecord != nil || koel.Rows != nil {
		t.Errorf("a document that nobody has looked at has %+v", koel)
	}
}

// TestInspectionsAreInOrderUnlessStated holds that an aircraft that keeps inspection records has good ones on the day of
// the flight, that a story may say otherwise, and that one without any keeps none.
func TestInspectionsAreInOrderUnlessStated(t *testing.T) {
	t.Parallel()
	stories, err := scenario.Parse("f", "story: x\nsource: x\naircraft: plain\ninspections: hours 99.5\nflight: day vfr\nthen: clear\n")
	if err != nil {
		t.Fatal(err)
	}
	c, err := stories[0].Case(func(string) (casefile.Aircraft, error) {
		return casefile.Aircraft{Facts: casefile.Facts{AnnualInspected: "2001-01-01"}}, nil
	})
	if err != nil {
		t.Fatal(err)
	}
	want := casefile.Facts{ // the flight is on 2027-01-15
		AnnualInspected: "2026-10-17", ConditionInspected: "2026-10-17", HoursSinceInspection: ptr(99.5),
		AltimeterTested: "2026-03-21", TransponderTested: "2026-03-21",
		ELTInspected: "2026-10-17", ELTBatteryDue: "2028-02-19", ELTBatteryHours: ptr(0.2),
		Papers: &casefile.Papers{
			Airworthiness: casefile.Certificate{Aboard: ptr(true), Displayed: ptr(true)},
			Registration:  casefile.Paper{Aboard: ptr(true), Through: "2028-02-19"},
			Limitations:   casefile.Aboard{Aboard: ptr(true)},
			WeightBalance: casefile.WeightBalance{Aboard: ptr(true), Dated: "2025-09-02"},
		},
		Upkeep: &casefile.Upkeep{Complete: ptr(true)},
	}
	if !reflect.DeepEqual(c.Aircraft.Facts, want) {
		t.Errorf("want %+v\nhave %+v", want, c.Aircraft.Facts)
	}
	if f := tell(t, "inspections: hours 99.5, elt unknown, altimeter 2025-02-03").Aircraft.Facts; *f.HoursSinceInspection != 99.5 ||
		f.ELTInspected != "" || f.AltimeterTested != "2025-02-03" || f.AnnualInspected != "" {
		t.Errorf("have %+v", f)
	}
}

func TestPolicy(t *testing.T) {
	t.Parallel()
	if have := tell(t, "policy: rule-text").Policy.Deactivation; have != "rule-text" {
		t.Errorf("have %q", have)
	}
	if have := tell(t).Policy; have != (casefile.Policy{}) {
		t.Errorf("unstated: %+v", have)
	}
}

func TestAnUnconfirmedListKeepsItsRows(t *testing.T) {
	t.Parallel()
	list := tell(t, "on-list: type_certification = clock 1", "document: type_certification = unconfirmed").Aircraft.Configuration.TypeCertification
	if list.OnRecord == nil || !*list.OnRecord || list.Confirmed != nil || len(list.Rows) != 1 {
		t.Errorf("have %+v", list)
	}
}

func TestCaseRefuses(t *testing.T) {
	t.Parallel()
	for line, says := range map[string]string{
		"without: engine":      "f:1: x: without engine: no such unit is installed",
		"off-list: koel = adf": "f:1: x: off-list koel: adf is not on it",
	} {
		if _, err := try(line); err == nil || err.Error() != says {
			t.Errorf("want %s\nhave %v", says, err)
		}
	}
}

func TestSquawks(t *testing.T) {
	t.Parallel()
	defects := tell(t,
		"given: light inoperative, deactivated, placarded, recorded, hazard determined, until 2027-03-31",
		"given: light condition, to be removed",
		"given: light unstated, removed 2027-01-10",
		"given: tire condition",
		"given: adf inoperative, to be deactivated",
		"given: dme-1 inoperative, out of use",
		"given: dme inoperative, removed",
		"given: clock inoperative, deactivated, no maintenance",
		"given: pump inoperative, deactivated, involves maintenance",
	).Defects
	april := time.Date(2027, 4, 1, 0, 0, 0, 0, time.UTC) // the last day included
	want := []casefile.Defect{
		{ID: "light", Kind: "inoperative", Unit: "light", Deferral: &casefile.Deferral{
			Method: "deactivated", MethodDone: true, Placarded: true, Recorded: true, HazardDetermined: true, Until: &april,
		}},
		{ID: "light-2", Kind: "condition", Unit: "light", Deferral: &casefile.Deferral{Method: "removed"}},
		{ID: "light-3", Unit: "light", Deferral: &casefile.Deferral{Method: "removed", MethodDone: true, RemovedOn: "2027-01-10"}},
		{ID: "tire", Kind: "condition", Item: "tire"},
		{ID: "adf", Kind: "inoperative", Item: "adf", Deferral: &casefile.Deferral{Method: "deactivated"}},
		{ID: "dme-1", Kind: "inoperative", Unit: "dme-1", Deferral: &casefile.Deferral{MethodDone: true}},
		{ID: "dme", Kind: "inoperative", Item: "dme", Deferral: &casefile.Deferral{Method: "removed", MethodDone: true}},
		{ID: "clock", Kind: "inoperative", Item: "clock", Deferral: &casefile.Deferral{Method: "deactivated", MethodDone: true, InvolvesMaintenance: ptr(false)}},
		{ID: "pump", Kind: "inoperative", Item: "pump", Deferral: &casefile.Deferral{Method: "deactivated", MethodDone: true, InvolvesMaintenance: ptr(true)}},
	}
	if !reflect.DeepEqual(defects, want) {
		t.Errorf("want %+v\nhave %+v", want, defects)
	}
}

func TestConsidered(t *testing.T) {
	t.Parallel()
	lists := func(lines ...string) map[string][]string {
		lists := map[string][]string{}
		for _, d := range tell(t, append([]string{
			"given: light inoperative, hazard determined", "given: adf inoperative, hazard determined", "given: dme inoperative, placarded",
		}, lines...)...).Defects {
			lists[d.ID] = d.Deferral.HazardConsidered
		}
		return lists
	}
	for _, c := range []struct {
		lines []string
		want  map[string][]string
	}{
		{nil, map[string][]string{"light": nil, "adf": nil, "dme": nil}},
		{[]string{"considered: all"}, map[string][]string{"light": {"adf", "dme"}, "adf": {"light", "dme"}, "dme": nil}},
		{[]string{"considered: adf = light"}, map[string][]string{"light": nil, "adf": {"light"}, "dme": nil}},
		{[]string{"considered: all", "considered: adf = light"}, map[string][]string{"light": {"adf", "dme"}, "adf": {"light"}, "dme": nil}},
	} {
		if have := lists(c.lines...); !reflect.DeepEqual(have, c.want) {
			t.Errorf("%v: want %v, have %v", c.lines, c.want, have)
		}
	}
	for line, says := range map[string]string{
		"considered: dme = light": `f:1: x: considered: nobody has determined anything about "dme"`,
		"considered: adf = tire":  `f:1: x: considered: nothing is given about "tire"`,
		"considered: tire = adf":  `f:1: x: considered: nothing is given about "tire"`,
	} {
		if _, err := try("given: adf inoperative, hazard determined", "given: light inoperative", "given: dme inoperative, placarded", line); err == nil || err.Error() != says {
			t.Errorf("want %s\nhave %v", says, err)
		}
	}
}

func TestCompany(t *testing.T) {
	t.Parallel()
	have := tell(t, "company: company-a = com-radio|adf 2 when ifr !night from 2027-01-01 to 2027-02-01",
		"company: company-b = must works:clock", "company: company-c = note when night", "company: company-d = dme 1 to 2028-01-01").CompanyRules
	rule := func(r casefile.CompanyRule) casefile.CompanyRule {
		r.Citation, r.Words = "operations manual of the story", "The organization asks for it."
		return r
	}
	want := []casefile.CompanyRule{
		rule(casefile.CompanyRule{ID: "company-a", Item: "com-radio|adf", Quantity: "2", When: "ifr !night", From: "2027-01-01", To: "2027-02-01"}),
		rule(casefile.CompanyRule{ID: "company-b", Must: "works:clock"}),
		rule(casefile.CompanyRule{ID: "company-c", Quantity: "note", When: "night"}),
		rule(casefile.CompanyRule{ID: "company-d", Item: "dme", Quantity: "1", To: "2028-01-01"}),
	}
	if !reflect.DeepEqual(have, want) {
		t.Errorf("want %+v\nhave %+v", want, have)
	}
}

// TestCheckSeesEveryDifference holds that a story that is not so is not passed.
func TestCheckSeesEveryDifference(t *testing.T) {
	t.Parallel()
	book, err := regulation.Current()
	if err != nil {
		t.Fatal(err)
	}
	const dim = "story: x\nsource: x\naircraft: plain\ngiven: tire condition\nflight: day vfr\n"
	for _, c := range []struct{ name, text, says string }{
		{"as it is", dim + "then: grounded\nbecause: nature breached for tire\nbecause-not: path", ""},
		{"another verdict", dim + "then: clear", "want clear, have grounded"},
		{"a finding that is not there", dim + "then: grounded\nbecause: path passed", "no finding path passed"},
		{"another outcome", dim + "then: grounded\nbecause: nature passed", "no finding nature passed"},
		{"another squawk", dim + "given: wheel condition\nthen: grounded\nbecause: nature breached for light", "no finding nature breached for light"},
		{"another relief", dim + "then: grounded\nbecause: nature breached by grace", "no finding nature breached by grace"},
		{"a finding too many", dim + "then: grounded\nbecause: nature breached\nbecause-not: nature", "a finding nature"},
		{"no fact missing", dim + "then: grounded\nbecause: nature breached\nmissing: flight.tide", "does not ask for flight.tide"},
		{"no limitation", dim + "then: grounded\nbecause: nature breached\nlimited-to: Sundays", `not limited to "Sundays"`},
		{"refused, and it is not", dim + "refused: aircraft.facts.basis", "want aircraft.facts.basis refused"},
		{"refused", dim + "fact: basis = unknown\nrefused: aircraft.facts.basis", ""},
		{"refused for something else", dim + "fact: basis = unknown\nrefused: aircraft.facts.seats", "want aircraft.facts.seats refused"},
		{"judged, and it is refused", dim + "fact: basis = unknown\nthen: clear", "aircraft.facts.basis: "},
		{"another nature", "story: x\nsource: x\nnature: tire equipment", "tire: want equipment, have condition"},
		{"no such item", "story: x\nsource: x\nnature: tyre condition", "tyre is not in the catalog"},
		{"that nature", "story: x\nsource: x\nnature: tire condition\nnature: clock equipment\nnature: armrest furnishing", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			stories, err := scenario.Parse("f", c.text)
			if err != nil {
				t.Fatal(err)
			}
			question, err := stories[0].Case(plain)
			if err != nil {
				t.Fatal(err)
			}
			err = stories[0].Check(question, book.Ruleset)
			switch {
			case c.says == "" && err != nil:
				t.Error(err)
			case c.says != "" && (err == nil || !strings.Contains(err.Error(), c.says)):
				t.Errorf("want %s\nhave %v", c.says, err)
			}
		})
	}
}

func TestNamesOfRowsAndSubjects(t *testing.T) {
	t.Parallel()
	stories, err := scenario.Parse("f", whole+"because-not: spelt-wrong\nbecause: known relieved by mistake\nbecause: known breached for beacon\n")
	if err != nil {
		t.Fatal(err)
	}
	err = stories[0].Names(func(row string) bool { return row == "known" || row == "91.205-c-4" })
	want := "f:1: The landing light is out: there is no row \"mistake\"\n" +
		"f:1: The landing light is out: nothing is given about \"beacon\"\n" +
		"f:1: The landing light is out: there is no row \"spelt-wrong\""
	if err == nil || err.Error() != want {
		t.Errorf("want %s\nhave %v", want, err)
	}
}

func FuzzParse(f *testing.F) {
	f.Add(whole)
	f.Add("story: x\nsource: x\nnature: tire condition")
	f.Add("story: x\nsource: x\naircraft: plain\nadd: a = b serves 1\nrefused: x")
	f.Fuzz(func(t *testing.T, text string) {
		stories, err := scenario.Parse("f", text)
		if (err == nil) != (len(stories) > 0) {
			t.Fatalf("%d stories, %v", len(stories), err)
		}
		for _, s := range stories {
			if s.Title == "" || s.Source == "" {
				t.Fatalf("a story without title or source: %+v", s)
			}
		}
	})
}
