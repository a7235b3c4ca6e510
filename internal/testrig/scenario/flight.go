package scenario

import (
	"errors"
	"fmt"
	"reflect"
	"strings"
	"time"

	"tiedown/internal/casefile"
)

// The flight of a story that says nothing else: see the package comment.
const (
	ordinaryDate  = "2027-01-15"
	departureHour = 14 // UTC
	arrivalHour   = 16 // UTC
)

func ordinaryFlight() casefile.Flight {
	f := casefile.Flight{Rules: "vfr", Light: &casefile.Light{Day: yes(true), Night: yes(false), SunsetToSunrise: yes(false)}}
	one, altitude := 1, 3000.0
	f.ForHire, f.OverWater, f.Controlled, f.InAlaska = yes(false), yes(false), yes(false), yes(false)
	f.Occupants, f.Persons, f.RequiredCrew = &one, &one, &one
	f.AltitudeFt, f.Airspace = &altitude, &[]string{}
	f.InstructionProvidedAircraft = yes(false)
	f.Departs, _ = at(ordinaryDate, departureHour)
	f.Arrives, _ = at(ordinaryDate, arrivalHour)
	return f
}

// at is an hour of a day.
func at(date string, hour int) (time.Time, error) {
	day, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return day, fmt.Errorf("want a date YYYY-MM-DD, have %q", date)
	}
	return day.Add(time.Duration(hour) * time.Hour), nil
}

// lights are the words for the light that a flight meets.
var lights = map[string]*casefile.Light{
	"day":           {Day: yes(true), Night: yes(false), SunsetToSunrise: yes(false)},
	"dusk":          {Day: yes(true), Night: yes(false), SunsetToSunrise: yes(true)},
	"night":         {Day: yes(false), Night: yes(true), SunsetToSunrise: yes(true)},
	"day-and-night": {Day: yes(true), Night: yes(true), SunsetToSunrise: yes(true)},
	"unlit":         nil,
}

// flightRules are the words for the rules that a flight is under.
var flightRules = map[string]string{"vfr": "vfr", "ifr": "ifr", "unruled": ""}

// flightWords are the words for the facts of a flight, and what the written form of facts calls them.
var flightWords = map[string]string{
	"for-hire": "for_hire", "over-water": "over_water", "controlled-airspace": "controlled_airspace",
	"below-2500-agl": "below_2500_agl", "in-alaska": "in_alaska", "dark": "dark",
	"over-30-minutes-above-12500": "over_30_minutes_above_12500",

	"only-required-crew": "only_required_crew", "training-within-50nm": "training_within_50nm",
	"to-place-of-repair": "to_place_of_repair", "repair-impossible": "repair_impossible", "under-way": "under_way",

	"instruction-provided-aircraft": "instruction_provided_aircraft", "to-place-of-inspection": "to_place_of_inspection",
	"newly-acquired-to-installation": "newly_acquired_to_installation",

	"hours": "hours", "operations": "operations",

	"occupants": "occupants", "persons": "persons", "required-crew": "required_crew",
	"altitude": "altitude_ft", "cabin": "cabin_ft",

	"airspace": "airspace", "navigates": "navigation", "atc-authorized": "atc_authorized",
}

// readFlight reads "LIGHT RULES, WORD, WORD".
func (s *Story) readFlight(value string) error {
	parts := strings.Split(value, ", ")
	light, rules, ok := strings.Cut(parts[0], " ")
	if !ok {
		return fmt.Errorf("want LIGHT RULES first, have %q", parts[0])
	}
	if s.flight.Light, ok = lights[light]; !ok {
		return fmt.Errorf("no such light %q: want day, dusk, night, day-and-night or unlit", light)
	}
	if s.flight.Rules, ok = flightRules[rules]; !ok {
		return fmt.Errorf("no such rules %q: want vfr, ifr or unruled", rules)
	}
	seen := map[string]bool{}
	for _, part := range parts[1:] {
		word, err := s.readFlightWord(part)
		if err == nil && seen[word] {
			err = errors.New("it stands twice")
		}
		if err != nil {
			return fmt.Errorf("flight, %q: %w", part, err)
		}
		seen[word] = true
	}
	if !seen["persons"] {
		s.flight.Persons = s.flight.Occupants
	}
	return nil
}

func (s *Story) readFlightWord(part string) (string, error) {
	word, rest, _ := strings.Cut(part, " ")
	switch word {
	case "not":
		return rest, s.setFlag(rest, false)
	case "date":
		var err error
		if s.flight.Departs, err = at(rest, departureHour); err == nil {
			s.flight.Arrives, err = at(rest, arrivalHour)
		}
		return word, err
	case "ends":
		var err error
		s.flight.Arrives, err = at(rest, arrivalHour)
		return word, err
	}
	if rest == "" {
		return word, s.setFlag(word, true)
	}
	return word, s.setFlightFact(word, rest)
}

func (s *Story) flightField(word string) (reflect.Value, error) {
	name, ok := flightWords[word]
	if !ok {
		return reflect.Value{}, errors.New("no such word of a flight")
	}
	field, ok := fieldOf(reflect.ValueOf(&s.flight.FlightFacts).Elem(), name)
	if !ok {
		return field, fmt.Errorf("a flight has no fact %q", name)
	}
	return field, nil
}

// setFlag sets a fact that is so or not, or makes a claim.
func (s *Story) setFlag(word string, so bool) error {
	field, err := s.flightField(word)
	if err != nil {
		return err
	}
	switch target := field.Addr().Interface().(type) {
	case *bool:
		if !so {
			return errors.New("a claim that is not made is left out")
		}
		*target = true
	case **bool:
		*target = &so
	default:
		return errors.New("it wants a value")
	}
	return nil
}

// setFlightFact sets a fact that has a value.
func (s *Story) setFlightFact(word, value string) error {
	field, err := s.flightField(word)
	if err != nil {
		return err
	}
	switch target := field.Addr().Interface().(type) {
	case *bool:
		return errors.New("a claim has no value")
	case **bool:
		if value != "unknown" {
			return errors.New("it is so, is not so, or is unknown")
		}
		*target = nil
	case *[]string:
		*target = list(value)
	default:
		if value == "unknown" {
			field.SetZero()
			return nil
		}
		return setField(field, value)
	}
	return nil
}
