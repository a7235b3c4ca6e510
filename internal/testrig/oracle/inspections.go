package oracle

import "time"

// inspectionRules are the rules about inspections and tests, and about the batteries of emergency locator transmitters.
var inspectionRules = []rule{
	{"14 CFR 91.409(a)", "annual inspection", annualInspection},
	{"14 CFR 91.409(b)", "100-hour inspection", hundredHours},
	{"14 CFR 91.327(b)", "condition inspection of light-sport aircraft", lightSportCondition},
	{"14 CFR 91.327(c)", "100-hour inspection of light-sport aircraft", lightSportHundredHours},
	{"14 CFR 91.319", "condition inspection of experimental aircraft", experimentalCondition},
	{"14 CFR 91.411(a)", "altimeter test", altimeterTest},
	{"14 CFR 91.207(c)(1)", "use of the locator's battery", locatorBatteryUse},
	{"14 CFR 91.207(c)(2)", "life of the locator's battery", locatorBatteryLife},
	{"14 CFR 91.207(d)", "inspection of the emergency locator transmitter", locatorInspection},
}

// withinMonths says whether something was done on a date at most so many calendar months before the flight ends: up to
// the last day of the month. What was done only after the flight left says nothing of what had been done before.
func (s *scene) withinMonths(months int, date string) truth {
	done, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return unknown
	}
	firstDayAfter := time.Date(done.Year(), done.Month()+time.Month(months)+1, 1, 0, 0, 0, 0, time.UTC)
	switch {
	case !dateOf(s.flight.Arrives).Before(firstDayAfter):
		return no
	case done.After(dateOf(s.flight.Departs)):
		return unknown
	}
	return yes
}

// outside409 says which are the aircraft that 14 CFR 91.409(c)(1) takes out of 91.409(a) and (b), beside those that carry
// a special flight permit.
func (s *scene) outside409() truth {
	return some(s.certificate("light-sport"), s.certificate("experimental"), s.certificate("provisional"))
}

// progressive says whether the aircraft is subject to 14 CFR 91.409(d), which 91.409(c)(3) takes out of (a) and (b). Where
// nobody has ever spoken of such an inspection there is none.
func (s *scene) progressive() truth {
	if s.Progressive == nil {
		return no
	}
	return known(s.Progressive)
}

// 14 CFR 91.409(a): an annual inspection within the preceding 12 calendar months.
// Once a program has been given up, its last complete inspection serves as one (91.409(d)).
func annualInspection(s *scene) Verdict {
	annual := s.AnnualInspected
	if known(s.Progressive) == no {
		annual = max(annual, s.ProgressiveComplete)
	}
	return unless(required(not(some(s.outside409(), s.progressive())), s.withinMonths(12, annual)), s.permitGood())
}

// longest is the most time in service that the flight takes by the end of this leg.
func (s *scene) longest() float64 {
	hours := s.flight.Arrives.Sub(s.flight.Departs).Hours()
	if s.flight.Earlier != nil {
		hours += s.flight.Earlier.WindowHours
	}
	return hours
}

// hoursWithin says whether the flight ends within so many hours of time in service since the last inspection. A flight
// that says nothing of its hours takes some time, and no more than its window.
func (s *scene) hoursWithin(limit float64) truth {
	since, hours := s.HoursSinceInspection, s.flight.Hours
	switch {
	case since == nil:
		return unknown
	case hours != nil:
		return certain(*since+*hours <= limit)
	case *since+s.longest() <= limit:
		return yes
	case *since >= limit:
		return no
	}
	return unknown
}

// 14 CFR 91.409(b): 100 hours, when carrying any person but the crew for hire, or instructing for hire in an aircraft that
// one provides; at most 10 more on the way to the place of the inspection.
func hundredHours(s *scene) Verdict {
	passengers := all(known(s.flight.ForHire), not(certain(s.flight.OnlyRequiredCrew)))
	applies := all(not(some(s.outside409(), s.progressive())), some(passengers, known(s.flight.InstructionProvidedAircraft)))
	onTheWay := all(certain(s.flight.ToPlaceOfInspection), s.hoursWithin(110))
	return unless(required(applies, s.hoursWithin(100)), some(onTheWay, s.permitGood()))
}

// 14 CFR 91.327(b): light-sport aircraft have a condition inspection once every 12 calendar months.
func lightSportCondition(s *scene) Verdict {
	return required(s.certificate("light-sport"), s.withinMonths(12, s.ConditionInspected))
}

// 14 CFR 91.327(c): light-sport aircraft that tow or train for hire, without those 10 hours. What flies for hire is taken
// to tow or to train (91.327(a), inferred).
func lightSportHundredHours(s *scene) Verdict {
	applies := all(s.certificate("light-sport"), some(known(s.flight.ForHire), known(s.flight.InstructionProvidedAircraft)))
	return required(applies, s.hoursWithin(100))
}

// 14 CFR 91.319, by the operating limitations (from memory): experimental aircraft have the condition inspection too.
func experimentalCondition(s *scene) Verdict {
	return required(s.certificate("experimental"), s.withinMonths(12, s.ConditionInspected))
}

// 14 CFR 91.411(a): under IFR in controlled airspace, altimeters tested within 24 calendar months.
func altimeterTest(s *scene) Verdict {
	applies := all(s.ifr(), known(s.flight.Controlled), some(s.category("airplane"), s.category("rotorcraft")))
	return required(applies, s.withinMonths(24, s.AltimeterTested))
}

// transponderTested is 14 CFR 91.413(a): a transponder that has not been tested within 24 calendar months is not used. It
// is asked of an aircraft that was built with one: that it is out is no way out.
func (s *scene) transponderTested() truth {
	units := s.serving("transponder")
	built := s.enough(1, len(units), len(units))
	return some(not(built), s.withinMonths(24, s.TransponderTested))
}

// 14 CFR 91.207(c)(1): the battery has not been used for more than an hour in all.
func locatorBatteryUse(s *scene) Verdict { return s.locatorKept(not(over(s.ELTBatteryHours, 1))) }

// 14 CFR 91.207(c)(2): half its useful life has not gone by.
func locatorBatteryLife(s *scene) Verdict {
	due, err := time.Parse(time.DateOnly, s.ELTBatteryDue)
	if err != nil {
		return s.locatorKept(unknown)
	}
	return s.locatorKept(certain(!dateOf(s.flight.Arrives).After(due)))
}

// 14 CFR 91.207(d): a transmitter that is required has been inspected within 12 calendar months.
func locatorInspection(s *scene) Verdict { return s.locatorKept(s.withinMonths(12, s.ELTInspected)) }

// locatorKept is the verdict of a rule on how the transmitter that 91.207(a) requires is kept. It is asked of an aircraft
// that was built with one: that a squawk takes it out is no way out, save by 91.207(f)(10), for 90 days.
func (s *scene) locatorKept(kept truth) Verdict {
	units := s.serving("elt")
	built := s.enough(1, len(units), len(units))
	return unless(required(all(s.locatorBound(), built), kept), some(s.locatorFerryOrTraining(), s.eltRemoved()))
}

// locatorBound says whether 14 CFR 91.207(a) binds the aircraft: US-registered airplanes, save those equipped to carry not
// more than one person, (f)(9).
func (s *scene) locatorBound() truth {
	oneSeat := unknown
	if s.Seats != nil {
		oneSeat = certain(*s.Seats <= 1)
	}
	return all(s.category("airplane"), known(s.USRegistered), not(oneSeat))
}

// locatorFerryOrTraining is 14 CFR 91.207(e)(2) and (f)(3): a ferry for repair with none but required crewmembers aboard,
// or training within 50 NM.
func (s *scene) locatorFerryOrTraining() truth {
	ferry := all(s.goesForRepair(), certain(s.flight.OnlyRequiredCrew))
	return some(certain(s.flight.TrainingWithin50NM), ferry)
}

// locatorExcused says whether 14 CFR 91.207(e) or (f) lets the flight go without the transmitter.
func (s *scene) locatorExcused() truth {
	acquired := certain(s.flight.NewlyAcquiredToInstallation && s.flight.OnlyRequiredCrew)
	return some(s.locatorFerryOrTraining(), acquired, s.eltRemoved())
}
