package oracle

import (
	"slices"
	"time"
)

// inspectionRules are the rules about inspections, equipment for declared operations and the batteries of ELTs.
var inspectionRules = []rule{
	{"14 CFR 91.409(a)", "annual inspection", annualInspection},
	{"14 CFR 91.327(b)", "condition inspection of light-sport aircraft", lightSportCondition},
	{"14 CFR 91.319", "condition inspection of experimental aircraft", experimentalCondition},
	{"14 CFR 91.409(b)", "100-hour inspection", hundredHours},
	{"14 CFR 91.327(c)", "100-hour inspection of light-sport aircraft", lightSportHundredHours},
	{"14 CFR 91.411(a)", "altimeter test", altimeterTest},
	{"14 CFR 91.207(c)", "battery of the emergency locator transmitter", locatorBattery},
	{"14 CFR 91.207(d)", "inspection of the emergency locator transmitter", locatorInspection},
	{"14 CFR 91.205(h)", "night vision goggles", goggles},
}

// outside409 says which are the aircraft that 14 CFR 91.409(c)(1) takes out of 91.409(a) and (b).
func (s *scene) outside409() truth {
	return some(s.certificate("light-sport"), s.certificate("experimental"), s.certificate("provisional"), s.permitGood())
}

// 14 CFR 91.409(a): an annual inspection within the preceding 12 calendar months.
func annualInspection(s *scene) Verdict {
	return required(not(s.outside409()), s.withinMonths(12, s.more.Aircraft.Facts.AnnualInspected))
}

// 14 CFR 91.327(b): light-sport aircraft have a condition inspection once every 12 calendar months.
func lightSportCondition(s *scene) Verdict {
	return required(s.certificate("light-sport"), s.withinMonths(12, s.more.Aircraft.Facts.ConditionInspected))
}

// 14 CFR 91.319, by the operating limitations (inferred): experimental aircraft too.
func experimentalCondition(s *scene) Verdict {
	return required(s.certificate("experimental"), s.withinMonths(12, s.more.Aircraft.Facts.ConditionInspected))
}

// hoursWithin says whether the flight ends within so many hours of time in service since the last inspection.
func (s *scene) hoursWithin(limit float64) truth {
	since, flight := s.more.Aircraft.Facts.HoursSinceInspection, s.more.Flight.Hours
	switch {
	case since == nil:
		return unknown
	case *since > limit:
		return no
	case flight == nil:
		return unknown
	}
	return certain(*since+*flight <= limit)
}

// 14 CFR 91.409(b): 100 hours, when carrying persons for hire or instructing for hire in an aircraft that one provides;
// at most 10 more on the way to the place of the inspection.
func hundredHours(s *scene) Verdict {
	applies := all(not(s.outside409()), some(known(s.flight.ForHire), known(s.more.Flight.InstructionProvidedAircraft)))
	onTheWay := all(certain(s.more.Flight.ToPlaceOfInspection), s.hoursWithin(110))
	return unless(required(applies, s.hoursWithin(100)), onTheWay)
}

// 14 CFR 91.327(c): light-sport aircraft, without those 10 hours.
func lightSportHundredHours(s *scene) Verdict {
	applies := all(s.certificate("light-sport"), some(known(s.flight.ForHire), known(s.more.Flight.InstructionProvidedAircraft)))
	return required(applies, s.hoursWithin(100))
}

// 14 CFR 91.411(a): under IFR in controlled airspace, altimeters tested within 24 calendar months.
func altimeterTest(s *scene) Verdict {
	applies := all(s.ifr(), known(s.flight.Controlled), some(s.category("airplane"), s.category("rotorcraft")))
	return required(applies, s.withinMonths(24, s.more.Aircraft.Facts.AltimeterTested))
}

// transponderTested is 14 CFR 91.413(a): a transponder that has not been tested within 24 calendar months is not used.
func (s *scene) transponderTested() truth {
	if s.more == nil {
		return yes
	}
	return s.withinMonths(24, s.more.Aircraft.Facts.TransponderTested)
}

// 14 CFR 91.207(c): the battery of a transmitter that is required has not been used for more than an hour in all, and
// half its useful life has not gone by.
func locatorBattery(s *scene) Verdict {
	return s.locatorKept(all(s.batteryHours(), s.batteryLife()))
}

func (s *scene) batteryHours() truth { return not(over(s.more.Aircraft.Facts.ELTBatteryHours, 1)) }

func (s *scene) batteryLife() truth {
	due, err := time.Parse(time.DateOnly, s.more.Aircraft.Facts.ELTBatteryDue)
	if err != nil {
		return unknown
	}
	return certain(!dateOf(s.flight.Arrives).After(due))
}

// 14 CFR 91.207(d): a transmitter that is required has been inspected within 12 calendar months.
func locatorInspection(s *scene) Verdict {
	return s.locatorKept(s.withinMonths(12, s.more.Aircraft.Facts.ELTInspected))
}

// locatorKept is the verdict of a rule about the transmitter that 91.207(a) requires of this flight.
func (s *scene) locatorKept(kept truth) Verdict {
	oneSeat := unknown
	if s.Seats != nil {
		oneSeat = certain(*s.Seats <= 1)
	}
	v := required(all(s.category("airplane"), known(s.USRegistered), not(oneSeat)), kept)
	return unless(v, s.locatorExcused())
}

// locatorExcused says whether 14 CFR 91.207(e) or (f) lets the flight go without the transmitter.
func (s *scene) locatorExcused() truth {
	ferry := all(s.goesForRepair(), certain(s.flight.OnlyRequiredCrew))
	acquired := certain(s.more != nil && s.more.Flight.NewlyAcquired && s.flight.OnlyRequiredCrew)
	return some(certain(s.flight.TrainingWithin50NM), ferry, acquired, s.eltRemoved())
}

// 14 CFR 91.205(h): with night vision goggles, what the catalog knows of what they ask for.
func goggles(s *scene) Verdict {
	applies := all(s.under205(), certain(slices.Contains(s.more.Flight.Operations, "nvg")))
	v := Clear
	for _, item := range []string{"com-radio", "attitude-indicator", "alternator", "radar-altimeter"} {
		v = max(v, required(applies, s.works(item)))
	}
	return v
}
