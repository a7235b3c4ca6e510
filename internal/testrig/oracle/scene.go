package oracle

import (
	"slices"
	"time"

	"tiedown/internal/casefile"
)

// scene is one case, looked at: the aircraft's units with whether each works, and the light that the flight meets.
type scene struct {
	*Aircraft
	flight  casefile.Flight
	defects []casefile.Defect
	units   []unit
	looked  []subject       // what each squawk is about, in their order
	asked   map[string]bool // items that squawks bear on to which the tests of 14 CFR 91.213(d)(2) are put

	asItStands   bool            // requirements are asked whether or not they are among those
	askedOfLists map[string]bool // those of them about which the aircraft's own lists are asked, and the list of its basis

	permit  truth // whether the special flight permit is good, once somebody has asked
	standIn bool  // it stands in for what it covers

	byDay, byNight, sunsetToSunrise, inAlaska, dark truth
}

// Aircraft is one aircraft, to be judged for as many flights as there are.
type Aircraft struct {
	casefile.Facts
	own     casefile.Configuration
	catalog Catalog
	off     string // name of a rule or step that is left out
	sound   []unit
	doing   map[string][]int // for each item, which of the units do its job
	house   House
}

// unit is one installed unit, as it stands.
type unit struct {
	*fixture
	works bool
	gone  bool // taken out: all squawks on it say so, and nothing that it needs is out of action
}

// fixture is what does not change of a unit.
type fixture struct {
	casefile.Unit
	jobs []string
}

// Aircraft looks at an aircraft: which unit does which jobs.
func (o Oracle) Aircraft(a casefile.Aircraft, h House) *Aircraft {
	looked := &Aircraft{Facts: a.Facts, own: a.Configuration, catalog: o.catalog, off: o.off, house: h, doing: map[string][]int{}}
	for i, u := range looked.own.Units {
		jobs := o.catalog.jobs(u.Item, u.Also)
		looked.sound = append(looked.sound, unit{fixture: &fixture{u, jobs}, works: true})
		for _, job := range jobs {
			looked.doing[job] = append(looked.doing[job], i)
		}
	}
	return looked
}

func (a *Aircraft) look(defects []casefile.Defect, flight casefile.Flight) *scene {
	s := &scene{Aircraft: a, flight: flight, defects: defects, units: slices.Clone(a.sound)}
	for _, d := range s.defects {
		s.looked = append(s.looked, s.lookAt(d))
	}
	s.fell()
	s.lookAtLight()
	s.asked = s.bornOn(s.defects...)
	s.askedOfLists = s.bornOnLists()
	return s
}

// fell puts out of action what the squawks put out of action.
func (s *scene) fell() {
	left := make([]bool, len(s.units)) // some squawk leaves it in the aircraft
	for _, d := range s.defects {
		if s.cleared(d) {
			continue
		}
		for n, i := range s.felled(d) {
			takenOut := n == 0 && d.Deferral != nil && d.Deferral.Method == "removed" && d.Deferral.MethodDone
			left[i] = left[i] || !takenOut
			s.units[i].works, s.units[i].gone = false, !left[i]
		}
	}
}

// subject is what one squawk is about.
type subject struct {
	equipment truth
	felled    []int
	lost      []loss
}

func (s *scene) lookAt(d casefile.Defect) subject {
	felled := s.fells(d)
	return subject{s.isEquipment(d), felled, s.loses(d, felled)}
}

func (s *scene) subject(d casefile.Defect) *subject {
	return &s.looked[slices.IndexFunc(s.defects, func(other casefile.Defect) bool { return other.ID == d.ID })]
}

// felled are the units that a squawk puts out of action.
func (s *scene) felled(d casefile.Defect) []int { return s.subject(d).felled }

// fells works that out: the unit that it names, whatever is reported of it, and those that cannot do without. A squawk
// that names no unit fells none: it is not known which one, and it answers for itself.
func (s *scene) fells(d casefile.Defect) []int {
	first := s.find(d.Unit)
	if d.Unit == "" || first < 0 {
		return nil
	}
	felled := []int{first}
	for next := 0; next < len(felled); next++ {
		for i, u := range s.units {
			if slices.Contains(u.Needs, s.units[felled[next]].ID) && !slices.Contains(felled, i) {
				felled = append(felled, i)
			}
		}
	}
	return felled
}

// bornOn are the items that those of some squawks bear on which are about inoperative equipment, or go along under a
// special flight permit.
func (s *scene) bornOn(squawks ...casefile.Defect) map[string]bool {
	items := map[string]bool{}
	for _, d := range squawks {
		if s.equipment(d) != yes && !s.coveredCondition(d) {
			continue
		}
		for _, i := range s.felled(d) {
			for _, job := range s.units[i].jobs {
				items[job] = true
			}
		}
	}
	return items
}

// bornOnLists leaves out what a minimum equipment list takes the place of: where one governs, an item that is inoperative
// is not held against those lists. Damage never is.
func (s *scene) bornOnLists() map[string]bool {
	if known(s.MELAuthorized) == yes {
		return nil
	}
	if !slices.ContainsFunc(s.defects, s.coveredCondition) {
		return s.asked
	}
	return s.bornOn(slices.DeleteFunc(slices.Clone(s.defects), s.coveredCondition)...)
}

func (s *scene) find(id string) int {
	return slices.IndexFunc(s.units, func(u unit) bool { return u.ID == id })
}

func (s *scene) complete() truth {
	if s.own.UnitsComplete != nil && *s.own.UnitsComplete {
		return yes
	}
	return unknown // that units are missing from the record does not say which
}

// lookAtLight settles which light the flight meets: as its route says, or else as stated.
func (s *scene) lookAtLight() {
	s.inAlaska, s.dark = known(s.flight.InAlaska), known(s.flight.Dark)
	light := s.flight.Light
	if len(s.flight.Route) > 0 {
		along, inAlaska := lightAlong(s.flight)
		light = &along
		if s.inAlaska == unknown {
			s.inAlaska = known(inAlaska)
		}
	}
	if light != nil {
		s.byDay, s.byNight, s.sunsetToSunrise = known(light.Day), known(light.Night), known(light.SunsetToSunrise)
	}
	if s.dark == unknown && s.byNight == yes {
		s.dark = yes // at night the sun is more than 6 degrees down, which is one of the two ways to be dark
	}
}

// Facts of the aircraft.

func word(fact, want string) truth {
	if fact == "" {
		return unknown
	}
	return certain(fact == want)
}

func (s *scene) category(want string) truth    { return word(s.Category, want) }
func (s *scene) certificate(want string) truth { return word(s.Certificate, want) }
func (s *scene) engine(want string) truth      { return word(s.Engine, want) }
func (s *scene) basis(want string) truth       { return word(s.Basis, want) }
func (s *scene) cooled(want string) truth      { return word(s.Cooling, want) }

// small is at most 12,500 lb maximum certificated takeoff weight (14 CFR 1.1).
func (s *scene) small() truth { return s.weighsAtMost(12500) }

func (s *scene) weighsAtMost(pounds float64) truth {
	if s.MaxTakeoffWeightLb == nil {
		return unknown
	}
	return certain(*s.MaxTakeoffWeightLb <= pounds)
}

// after says whether a date of the aircraft lies after a day, both written YYYY-MM-DD.
func after(date, day string) truth {
	if date == "" {
		return unknown
	}
	return certain(date > day)
}

// Facts of the flight.

func (s *scene) ifr() truth { return word(s.flight.Rules, "ifr") }
func (s *scene) vfr() truth { return word(s.flight.Rules, "vfr") }

func (s *scene) enters(airspace string) truth   { return among(s.flight.Airspace, airspace) }
func (s *scene) navigatesBy(means string) truth { return among(s.flight.Navigation, means) }

func among(list *[]string, want string) truth {
	if list == nil {
		return unknown
	}
	return certain(slices.Contains(*list, want))
}

func (s *scene) authorized(deviation string) truth {
	return certain(slices.Contains(s.flight.ATCAuthorized, deviation))
}

func (s *scene) altitudeAbove(feet float64) truth { return over(s.flight.AltitudeFt, feet) }
func (s *scene) altitudeFrom(feet float64) truth {
	if s.flight.AltitudeFt == nil {
		return unknown
	}
	return certain(*s.flight.AltitudeFt >= feet)
}

func over(value *float64, limit float64) truth {
	if value == nil {
		return unknown
	}
	return certain(*value > limit)
}

// kind says whether some part of the flight is of a kind of operation.
func (s *scene) kind(kind string) truth {
	switch kind {
	case "day-vfr":
		return all(s.vfr(), s.byDay)
	case "night-vfr":
		return all(s.vfr(), s.byNight)
	case "day-ifr":
		return all(s.ifr(), s.byDay)
	default:
		return all(s.ifr(), s.byNight)
	}
}

// kinds are all kinds of operation.
var kinds = []string{"day-vfr", "night-vfr", "day-ifr", "night-ifr"}

// within says whether something was done on a date, written YYYY-MM-DD, not after the day of departure and at most so
// many days before the day on which the flight ends, each where it begins or ends.
func (s *scene) within(days int, date string) truth {
	done, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return unknown
	}
	ago := int(dateOf(s.flight.Arrives).Sub(done).Hours() / 24)
	return certain(!done.After(dateOf(s.flight.Departs)) && ago <= days)
}

func dateOf(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC)
}
