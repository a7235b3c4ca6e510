package pages

import (
	"fmt"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"tiedown/internal/casefile"
)

// asked is one fact of a flight as the form asks for it.
type asked struct {
	Field string
	Label string
	Hint  string
	rare  bool // it stands among those that few flights need
	// Exactly one says where the fact stands.
	known func(*casefile.FlightFacts) **bool    // yes, no, or not known
	claim func(*casefile.FlightFacts) *bool     // made or not
	whole func(*casefile.FlightFacts) **int     // a count
	size  func(*casefile.FlightFacts) **float64 // a number
	from  float64
	to    float64
}

// Kind is how the form asks: known, claim or number.
func (a asked) Kind() string {
	switch {
	case a.known != nil:
		return "known"
	case a.claim != nil:
		return "claim"
	default:
		return "number"
	}
}

type facts = casefile.FlightFacts

// askedFacts are the facts of the form, in its order. The bounds of numbers are those of the contract.
var askedFacts = []asked{
	{Field: "occupants", Label: "Aboard, aged 2 or more", whole: func(f *facts) **int { return &f.Occupants }, from: 1, to: 1000},
	{Field: "persons", Label: "Aboard in all", whole: func(f *facts) **int { return &f.Persons }, from: 1, to: 1000},
	{Field: "required_crew", Label: "Required crew", Hint: "The minimum that the flight needs.", whole: func(f *facts) **int { return &f.RequiredCrew }, from: 1, to: 50},
	{Field: "altitude_ft", Label: "Highest, ft above sea", size: func(f *facts) **float64 { return &f.AltitudeFt }, from: -1500, to: 100000},
	{Field: "hours", Label: "Hours in service", Hint: "From leaving the surface to touching it.", size: func(f *facts) **float64 { return &f.Hours }, from: 0, to: 744},
	{Field: "for_hire", Label: "For hire", known: func(f *facts) **bool { return &f.ForHire }},
	{Field: "instruction_provided_aircraft", Label: "Instruction for hire", Hint: "In an aircraft that the instructor provides.", known: func(f *facts) **bool { return &f.InstructionProvidedAircraft }},
	{Field: "over_water", Label: "Over water", Hint: "Beyond power-off gliding distance from shore.", known: func(f *facts) **bool { return &f.OverWater }},
	{Field: "controlled", Label: "Controlled airspace", known: func(f *facts) **bool { return &f.Controlled }},

	{Field: "cabin_ft", Label: "Highest cabin pressure altitude, ft", rare: true, size: func(f *facts) **float64 { return &f.CabinFt }, from: -1500, to: 100000},
	{Field: "over_30_minutes", Label: "Longer than 30 minutes at cabin pressure altitudes above 12,500 ft", rare: true, known: func(f *facts) **bool { return &f.Over30MinAbove12500 }},
	{Field: "below_2500_agl", Label: "Stays at or below 2,500 ft above the surface where it is at 10,000 ft or higher", rare: true, known: func(f *facts) **bool { return &f.Below2500AGL }},
	{Field: "in_alaska", Label: "In Alaska", Hint: "Not known: worked out from the places.", rare: true, known: func(f *facts) **bool { return &f.InAlaska }},
	{Field: "dark", Label: "In Alaska: dark", Hint: "An unlighted object cannot be seen at 3 statute miles, or the sun is more than 6 degrees down.", rare: true, known: func(f *facts) **bool { return &f.Dark }},
	{Field: "only_required_crew", Label: "Nobody is aboard but required crewmembers", rare: true, claim: func(f *facts) *bool { return &f.OnlyRequiredCrew }},
	{Field: "training_within_50nm", Label: "Training, all of it within 50 NM of the airport of departure", rare: true, claim: func(f *facts) *bool { return &f.TrainingWithin50NM }},
	{Field: "to_place_of_repair", Label: "To a place where it can be repaired or replaced", rare: true, claim: func(f *facts) *bool { return &f.ToPlaceOfRepair }},
	{Field: "repair_impossible", Label: "The repair cannot be made where it departs", rare: true, claim: func(f *facts) *bool { return &f.RepairImpossible }},
	{Field: "to_place_of_inspection", Label: "To a place where the inspection that is due can be done", rare: true, claim: func(f *facts) *bool { return &f.ToPlaceOfInspection }},
	{Field: "newly_acquired", Label: "Ferries a newly acquired airplane to where its ELT is to be installed", rare: true, claim: func(f *facts) *bool { return &f.NewlyAcquiredToInstallation }},
	{Field: "under_way", Label: "It has taken off, and what is reported failed on the way", rare: true, claim: func(f *facts) *bool { return &f.UnderWay }},
}

// askedList is a fact in words of a list.
type askedList struct {
	Field string
	Label string
	Hint  string
	Words []struct{ Value, Words string }
	None  string // "none of these", for a fact of which nothing said is not known; empty: nothing said is none
	rare  bool
	known func(*facts) **[]string
	list  func(*facts) *[]string
}

const noneOfThese = "none"

// askedLists are the facts in words, in the order of the form.
var askedLists = []askedList{
	{Field: "airspace", Label: "Airspace that it enters", Hint: "Nothing chosen: not known.", None: "None of these", known: func(f *facts) **[]string { return &f.Airspace }, Words: []struct{ Value, Words string }{
		{"class-a", "Class A"},
		{"class-b", "Class B"},
		{"class-c", "Class C"},
		{"class-d", "Class D"},
		{"class-e", "Class E"},
		{"class-g", "Class G"},
		{"above-class-b-or-c", "Above Class B or C"},
		{"mode-c-veil", "Within 30 NM of a Class B airport"},
		{"listed-airport-10nm", "Within 10 NM of a listed airport"},
		{"gulf-class-e", "Class E over the Gulf of Mexico"},
	}},
	{
		Field: "navigation", Label: "Navigates by, under IFR", Hint: "Nothing chosen: not known.", None: "Neither", known: func(f *facts) **[]string { return &f.Navigation },
		Words: []struct{ Value, Words string }{{"gnss", "GNSS"}, {"vor", "VOR"}},
	},
	{
		Field: "operations", Label: "Operations", rare: true, list: func(f *facts) *[]string { return &f.Operations },
		Words: []struct{ Value, Words string }{{"cat-ii", "Category II"}, {"cat-iii", "Category III"}, {"nvg", "Night vision goggles"}, {"abroad", "Abroad"}},
	},
	{
		Field: "atc", Label: "ATC has authorized a deviation for", rare: true, list: func(f *facts) *[]string { return &f.ATCAuthorized },
		Words: []struct{ Value, Words string }{{"transponder", "Transponder"}, {"altitude-reporting", "Altitude reporting"}, {"ads-b", "ADS-B"}},
	},
}

// readFacts reads the facts of a form over those that it does not ask for.
func readFacts(form url.Values, f *facts, bad *casefile.Faults) {
	for i := range askedFacts {
		a := &askedFacts[i]
		said := strings.TrimSpace(form.Get(a.Field))
		switch {
		case a.known != nil:
			*a.known(f) = answered(said)
			if !slices.Contains([]string{"", "yes", "no", "unknown"}, said) {
				bad.Add(a.Field, "choice", "it is none of the choices", "choose one of them")
			}
		case a.claim != nil:
			*a.claim(f) = said == "yes"
		default:
			a.read(said, f, bad)
		}
	}
	for i := range askedLists {
		l := &askedLists[i]
		var words []string
		none := false
		for _, w := range form[l.Field] {
			if none = none || w == noneOfThese; w != noneOfThese && w != "" {
				words = append(words, w)
			}
		}
		switch {
		case l.list != nil:
			*l.list(f) = words
		case none && words != nil:
			bad.Add(l.Field, "one-answer", "it is said to be none of these, and some of them are chosen", "take one of the two back")
		case none:
			*l.known(f) = &[]string{}
		case words != nil:
			*l.known(f) = &words
		default:
			*l.known(f) = nil
		}
	}
}

// read reads a number.
func (a *asked) read(said string, f *facts, bad *casefile.Faults) {
	var n *float64
	if said != "" {
		value, err := strconv.ParseFloat(strings.ReplaceAll(said, ",", ""), 64)
		within := err == nil && value >= a.from && value <= a.to
		if !within || a.whole != nil && value != math.Trunc(value) {
			what := "a number"
			if a.whole != nil {
				what = "a whole number"
			}
			bad.Add(a.Field, "range", fmt.Sprintf("%q is no such number", said), fmt.Sprintf("give %s from %s to %s, or nothing if it is not known", what, plain(a.from), plain(a.to)))
			return
		}
		n = &value
	}
	switch {
	case a.size != nil:
		*a.size(f) = n
	case n == nil:
		*a.whole(f) = nil
	default:
		*a.whole(f) = new(int(*n))
	}
}

// writeFacts writes facts as the form has them.
func writeFacts(f facts, form url.Values) {
	word := map[bool]string{true: "yes", false: "no"}
	for i := range askedFacts {
		a := &askedFacts[i]
		switch {
		case a.known != nil:
			if b := *a.known(&f); b != nil {
				form.Set(a.Field, word[*b])
			}
		case a.claim != nil:
			if *a.claim(&f) {
				form.Set(a.Field, "yes")
			}
		case a.whole != nil:
			if n := *a.whole(&f); n != nil {
				form.Set(a.Field, strconv.Itoa(*n))
			}
		default:
			if n := *a.size(&f); n != nil {
				form.Set(a.Field, plain(*n))
			}
		}
	}
	for i := range askedLists {
		l := &askedLists[i]
		var words *[]string
		if l.list != nil {
			words = l.list(&f)
		} else {
			words = *l.known(&f)
		}
		switch {
		case words == nil:
		case len(*words) == 0 && l.None != "":
			form[l.Field] = []string{noneOfThese}
		default:
			form[l.Field] = slices.Clone(*words)
		}
	}
}

func plain(n float64) string { return strconv.FormatFloat(n, 'f', -1, 64) }
