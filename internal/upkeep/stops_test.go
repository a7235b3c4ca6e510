package upkeep_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/upkeep"
)

// stopStory is one flight of an aircraft on which something has fallen due.
type stopStory struct {
	says   string
	due    string // the row that has fallen due
	of     string // the aircraft, where it is none of the standard category
	flight string // its facts: a word is yes, one after ? is unknown, the rest is no
	want   string // "free", "held by ROW", or "perhaps held by ROW"
	why    string
}

var stopStories = []stopStory{
	{"no flight without an annual", "annual", "", "", "held by annual-every", "91.409(a): no person may operate an aircraft"},
	{"save, perhaps, under a special flight permit", "annual", "", "permit", "perhaps held by annual-every", "91.409(c)(1): one that carries a permit; whether it serves is not said here"},
	{"passengers for hire need the 100-hour inspection", "hundred-hour", "", "for-hire", "held by hundred-hour-hire", "91.409(b)"},
	{"freight for hire does not", "hundred-hour", "", "for-hire only-required-crew", "free", "91.409(b): any person other than a crewmember"},
	{"nor does a rental", "hundred-hour", "", "", "free", "91.409(b): neither for hire nor instruction"},
	{"unknown is perhaps for hire", "hundred-hour", "", "?for-hire", "perhaps held by hundred-hour-hire", "91.409(b)"},
	{"instruction in an aircraft that the instructor provides needs it", "hundred-hour", "", "instruction-provided-aircraft", "held by hundred-hour-instruction", "91.409(b)"},
	{"both are named where both apply", "hundred-hour", "", "for-hire instruction-provided-aircraft", "held by hundred-hour-hire hundred-hour-instruction", "91.409(b)"},
	{"a permit may let it go", "hundred-hour", "", "for-hire permit", "perhaps held by hundred-hour-hire", "91.409(c)(1)"},
	{"and instruction with it", "hundred-hour", "", "instruction-provided-aircraft permit", "perhaps held by hundred-hour-instruction", "91.409(c)(1)"},
	{"within 10 hours it may fly to where it is inspected", "hundred-hour", "", "for-hire to-place-of-inspection", "free", "91.409(b): not more than 10 hours while en route"},
	{"a progressive inspection stops every flight", "progressive-cycle", "progressive", "", "held by progressive-every", "91.409(d), (a)"},
	{"but, perhaps, one under a permit", "progressive-cycle", "progressive", "permit", "perhaps held by progressive-every", "91.409(c)(1)"},
	{"a light-sport aircraft does not fly without its condition inspection", "light-sport-condition", "light-sport", "", "held by light-sport-condition-every", "91.327(b)"},
	{"it does not tow for hire without its 100-hour inspection", "light-sport-hundred-hour", "light-sport", "for-hire", "held by light-sport-towing", "91.327(c)"},
	{"nor train in what the instructor provides", "light-sport-hundred-hour", "light-sport", "instruction-provided-aircraft", "held by light-sport-training", "91.327(c)"},
	{"not even to where it is inspected", "light-sport-hundred-hour", "light-sport", "instruction-provided-aircraft to-place-of-inspection", "held by light-sport-training", "91.327(c) has no such clause"},
	{"otherwise it does", "light-sport-hundred-hour", "light-sport", "", "free", "91.327(c)"},
	{"an experimental aircraft does not fly without its condition inspection", "experimental-condition", "experimental", "", "held by experimental-every", "91.319; operating limitations (from memory)"},
	{"no flight with an ELT that was not inspected", "elt-inspection", "", "", "held by elt-every", "91.207(a), (d)"},
	{"nor with a battery used for too long", "elt-battery-use", "", "", "held by elt-every", "91.207(a), (c)(1)"},
	{"nor with one half spent", "elt-battery-life", "", "", "held by elt-every", "91.207(a), (c)(2)"},
	{"training within 50 NM may go", "elt-inspection", "", "training-within-50nm", "free", "91.207(f)(3)"},
	{"so may a ferry with required crew only", "elt-inspection", "", "to-place-of-repair repair-impossible only-required-crew", "free", "91.207(e)(2)"},
	{"not one with passengers", "elt-inspection", "", "to-place-of-repair repair-impossible", "held by elt-every", "91.207(e)"},
	{"not one from where it could be repaired", "elt-inspection", "", "to-place-of-repair only-required-crew", "held by elt-every", "91.207(e)(2)"},
	{"not one to where it cannot", "elt-inspection", "", "repair-impossible only-required-crew", "held by elt-every", "91.207(e)(2)"},
	{"IFR by VOR needs the check", "vor-check", "", "ifr navigates-by:vor", "held by vor-ifr", "91.171(a)"},
	{"IFR by other means does not", "vor-check", "", "ifr navigates-by:gnss", "free", "91.171(a): using the VOR system"},
	{"nor does VFR", "vor-check", "", "navigates-by:vor", "free", "91.171(a): under IFR"},
	{"IFR in controlled airspace needs the altimeter test", "altimeter-test", "", "ifr controlled-airspace", "held by altimeter-ifr", "91.411(a)"},
	{"IFR outside does not", "altimeter-test", "", "ifr", "free", "91.411(a): in controlled airspace"},
	{"nor does VFR inside", "altimeter-test", "", "controlled-airspace", "free", "91.411(a): under IFR"},
	{"a transponder is needed in Class A airspace", "transponder-test", "", "airspace:class-a", "held by transponder-class-a", "91.215(b)(1), 91.413(a)"},
	{"in Class B", "transponder-test", "", "airspace:class-b", "held by transponder-class-b", "91.215(b)(1)"},
	{"in Class C", "transponder-test", "", "airspace:class-c", "held by transponder-class-c", "91.215(b)(1)"},
	{"not in Class D", "transponder-test", "", "airspace:class-d", "free", "91.215(b) does not name it"},
	{"nearby a listed airport", "transponder-test", "", "airspace:mode-c-veil", "held by transponder-veil", "91.215(b)(2)"},
	{"where a glider needs none", "transponder-test", "glider", "airspace:mode-c-veil", "free", "91.215(b)(3)"},
	{"nor a balloon", "transponder-test", "balloon", "airspace:mode-c-veil", "free", "91.215(b)(3)"},
	{"nor an aircraft without an engine-driven electrical system", "transponder-test", "no generator", "airspace:mode-c-veil", "free", "91.215(b)(3)"},
	{"above Class B or C", "transponder-test", "", "airspace:above-class-b-or-c", "held by transponder-above-class-b-or-c", "91.215(b)(4)"},
	{"from 10,000 ft", "transponder-test", "", "at:10000", "held by transponder-from-10000", "91.215(b)(5)(i)"},
	{"from 18,000 ft it is Class A", "transponder-test", "", "at:18000", "held by transponder-class-a transponder-from-10000", "91.215(b)(1)"},
	{"not below", "transponder-test", "", "at:9999", "free", "91.215(b)(5)(i)"},
	{"not low above the ground", "transponder-test", "", "at:10000 below-2500-agl", "free", "91.215(b)(5)(i): excluding at and below 2,500 feet above the surface"},
	{"not in Alaska", "transponder-test", "", "at:10000 in-alaska", "free", "91.215(b)(5)(i): the 48 contiguous states"},
	{"not a glider", "transponder-test", "glider", "at:10000", "free", "91.215(b)(5)"},
	{"not a balloon", "transponder-test", "balloon", "at:10000", "free", "91.215(b)(5)"},
	{"not without an engine-driven electrical system", "transponder-test", "no generator", "at:10000", "free", "91.215(b)(5)"},
	{"near an airport of appendix D, section 2", "transponder-test", "", "airspace:listed-airport-10nm", "held by transponder-listed-airport", "91.215(b)(5)(ii)"},
	{"not a glider there", "transponder-test", "glider", "airspace:listed-airport-10nm", "free", "91.215(b)(5)"},
	{"not a balloon there", "transponder-test", "balloon", "airspace:listed-airport-10nm", "free", "91.215(b)(5)"},
	{"not without an engine-driven electrical system there", "transponder-test", "no generator", "airspace:listed-airport-10nm", "free", "91.215(b)(5)"},
	{"a directive stops every flight", "directive", "", "", "held by directive-every", "39.7"},
	{"but, perhaps, one under a permit", "directive", "", "permit", "perhaps held by directive-every", "39.23"},
	{"a life limit stops every flight", "life-limit", "", "", "held by life-limit-every", "91.403(c)"},
	{"even one under a permit", "life-limit", "", "permit", "held by life-limit-every", "91.403(c) names none"},
	{"a program's schedule stops every flight", "program", "progressive", "", "held by progressive-every", "91.409(d)"},
	{"ATC may let it into class-a", "transponder-test", "", "atc-authorized:transponder airspace:class-a", "free", "91.215(d)"},
	{"ATC may let it into class-b", "transponder-test", "", "atc-authorized:transponder airspace:class-b", "free", "91.215(d)"},
	{"ATC may let it into class-c", "transponder-test", "", "atc-authorized:transponder airspace:class-c", "free", "91.215(d)"},
	{"ATC may let it into mode-c-veil", "transponder-test", "", "atc-authorized:transponder airspace:mode-c-veil", "free", "91.215(d)"},
	{"ATC may let it into above-class-b-or-c", "transponder-test", "", "atc-authorized:transponder airspace:above-class-b-or-c", "free", "91.215(d)"},
	{"ATC may let it into listed-airport-10nm", "transponder-test", "", "atc-authorized:transponder airspace:listed-airport-10nm", "free", "91.215(d)"},
	{"ATC may let it climb", "transponder-test", "", "at:10000 atc-authorized:transponder", "free", "91.215(d)"},
	{"not where nobody knows whether there is one, class-a", "transponder-test", "perhaps a transponder", "atc-authorized:transponder airspace:class-a", "perhaps held by transponder-class-a", "91.215(d)(2), (3)"},
	{"not where nobody knows whether there is one, class-b", "transponder-test", "perhaps a transponder", "atc-authorized:transponder airspace:class-b", "perhaps held by transponder-class-b", "91.215(d)(2), (3)"},
	{"not where nobody knows whether there is one, class-c", "transponder-test", "perhaps a transponder", "atc-authorized:transponder airspace:class-c", "perhaps held by transponder-class-c", "91.215(d)(2), (3)"},
	{"not where nobody knows whether there is one, mode-c-veil", "transponder-test", "perhaps a transponder", "atc-authorized:transponder airspace:mode-c-veil", "perhaps held by transponder-veil", "91.215(d)(2), (3)"},
	{"not where nobody knows whether there is one, above-class-b-or-c", "transponder-test", "perhaps a transponder", "atc-authorized:transponder airspace:above-class-b-or-c", "perhaps held by transponder-above-class-b-or-c", "91.215(d)(2), (3)"},
	{"not where nobody knows whether there is one, listed-airport-10nm", "transponder-test", "perhaps a transponder", "atc-authorized:transponder airspace:listed-airport-10nm", "perhaps held by transponder-listed-airport", "91.215(d)(2), (3)"},
	{"not where nobody knows whether there is one, to climb", "transponder-test", "perhaps a transponder", "at:10000 atc-authorized:transponder", "perhaps held by transponder-from-10000", "91.215(d)(2), (3)"},
}

var (
	yesterday = day("2026-06-30")
	departs   = time.Date(2026, 7, 1, 15, 0, 0, 0, time.UTC)
)

func day(s string) upkeep.Date {
	d, ok := airworthiness.ParseDate(s)
	if !ok {
		panic(s)
	}
	return d
}

// fallenDue is an aircraft of which everything has run out by 1 July 2026, the hours by less than the allowance.
func fallenDue(of string) upkeep.Aircraft {
	old := airworthiness.Given(day("2020-01-01"))
	a := aircraftOf(of)
	if of == "no generator" {
		a.Certificate, a.EngineDrivenElectrical = "standard", airworthiness.No
	}
	a.AnnualInspected, a.ConditionInspected, a.AltimeterTested, a.TransponderTested = old, old, old, old
	a.ELTInspected, a.ELTBatteryDue, a.VORChecked = old, old, old
	a.ELTBatteryHours, a.HoursSinceInspection = airworthiness.Given(1.5), airworthiness.Given(101.0)
	a.Log = []upkeep.Work{{Task: "complete-progressive-inspection", On: old}}
	for _, k := range []upkeep.Kind{upkeep.ByDirective, upkeep.ByLifeLimit, upkeep.ByProgram} {
		a.Own = append(a.Own, upkeep.Demand{ID: k.String(), Kind: k, What: k.String(), First: upkeep.Due{Through: airworthiness.Given(yesterday)}})
	}
	if of != "progressive" {
		a.Log = nil
	}
	return a
}

// flightOf is a flight of one hour with the facts told.
func flightOf(facts string) upkeep.Flight {
	f := airworthiness.Flight{
		On: airworthiness.DateOf(departs), Departs: departs, Ends: departs.Add(time.Hour), Hours: airworthiness.Given(1.0), WindowHours: airworthiness.Given(1.0),
		AltitudeFt: airworthiness.Given(3000.0), Airspace: airworthiness.Given([]string{}), Navigation: airworthiness.Given([]string{}),
		ATCAuthorized: airworthiness.Given([]string{}),
	}
	flags := map[string]*upkeep.Truth{
		"ifr": &f.IFR, "night": &f.Night, "for-hire": &f.ForHire, "over-water": &f.OverWater, "only-required-crew": &f.OnlyRequiredCrew,
		"instruction-provided-aircraft": &f.InstructionProvidedAircraft, "controlled-airspace": &f.Controlled,
		"training-within-50nm": &f.TrainingWithin50NM, "to-place-of-repair": &f.ToPlaceOfRepair, "repair-impossible": &f.RepairImpossible,
		"below-2500-agl": &f.Below2500AGL, "in-alaska": &f.InAlaska, "to-place-of-inspection": &f.ToPlaceOfInspection,
	}
	for _, flag := range flags {
		*flag = airworthiness.No
	}
	for word := range strings.FieldsSeq(facts) {
		name, arg, _ := strings.Cut(word, ":")
		list := map[string]*upkeep.Fact[[]string]{"airspace": &f.Airspace, "navigates-by": &f.Navigation, "atc-authorized": &f.ATCAuthorized}[name]
		unknown, isUnknown := strings.CutPrefix(word, "?")
		switch feet, isFeet := strings.CutPrefix(word, "at:"); {
		case list != nil:
			list.Value = append(list.Value, arg)
		case isUnknown:
			*flags[unknown] = airworthiness.Unknown
		case word == "permit":
			f.Permit = &airworthiness.Permit{}
		case isFeet:
			if _, err := fmt.Sscan(feet, &f.AltitudeFt.Value); err != nil {
				panic(err)
			}
		default:
			*flags[word] = airworthiness.Yes
		}
	}
	return upkeep.Flight{ID: "f", Flight: f}
}

func (s *stopStory) check(r *upkeep.Rules) error {
	a, have := fallenDue(s.of), "not asked"
	for _, i := range r.Items(&a, airworthiness.DateOf(departs)) {
		if i.ID != s.due {
			continue
		}
		if i.State != upkeep.FallenDue {
			return fmt.Errorf("%s: %s has not fallen due: %s", s.says, s.due, i.Says())
		}
		have = "free"
		for _, h := range i.Project(&a, []upkeep.Flight{flightOf(s.flight)}).Held {
			words := []string{"held by"}
			if !h.Certain {
				words = []string{"perhaps held by"}
			}
			for _, stop := range h.Stops {
				words = append(words, stop.ID)
			}
			have = strings.Join(words, " ")
		}
	}
	if have != s.want {
		return fmt.Errorf("%s: want %s, have %s, as %s", s.says, s.want, have, s.why)
	}
	return nil
}

func TestWhichFlightsAnItemStops(t *testing.T) {
	t.Parallel()
	for _, s := range stopStories {
		t.Run(s.says+", "+s.due, func(t *testing.T) {
			t.Parallel()
			if err := s.check(rules(t)); err != nil {
				t.Error(err)
			}
		})
	}
}
