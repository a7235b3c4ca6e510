package oracle

import "slices"

// 14 CFR 91.9(a): no operation against the limitations, markings and placards: every kind flown must be among those.
func operatingLimitations(s *scene) Verdict {
	against := no
	for _, kind := range kinds {
		against = some(against, all(s.kind(kind), not(among(s.Approved, kind))))
	}
	return forbids(against)
}

// 14 CFR 91.171(a): IFR by VOR needs a check within the preceding 30 days.
func vorCheck(s *scene) Verdict {
	return required(all(s.ifr(), s.navigatesBy("vor")), s.within(30, s.VORChecked))
}

// 14 CFR 91.207(a): US-registered airplanes carry an operable emergency locator transmitter.
func emergencyLocator(s *scene) Verdict { return s.locator(yes) }

// locator is the verdict of a rule that asks for the transmitter of 91.207, with what 91.207 excepts.
func (s *scene) locator(asked truth) Verdict {
	return unless(required(all(asked, s.locatorBound()), s.works("elt")), s.locatorExcused())
}

// eltRemoved is 14 CFR 91.207(f)(10): removed for repair, entered in the records, placarded, and not more than 90 days
// ago. Every transmitter on record must have been removed so.
func (s *scene) eltRemoved() truth {
	if len(s.serving("elt")) == 0 || len(s.installed("elt")) > 0 {
		return no
	}
	removed := yes
	for _, d := range s.defects {
		if i := s.find(d.Unit); d.Unit != "" && i >= 0 && !s.cleared(d) && slices.Contains(s.units[i].jobs, "elt") {
			removed = all(removed, certain(d.Deferral.Placarded), certain(d.Deferral.Recorded), s.within(90, d.Deferral.RemovedOn))
		}
	}
	return removed
}

// 14 CFR 91.209(a): position lights from sunset to sunrise; in Alaska while it is dark.
func positionLightsFromSunset(s *scene) Verdict {
	applies := some(all(s.inAlaska, s.dark), all(not(s.inAlaska), s.sunsetToSunrise))
	return required(applies, s.everyOneWorks("position-light"))
}

// 14 CFR 91.209(b): an anticollision light system that is fitted is lighted, by day and by night. Where 91.205 lets a
// flight go on to a place of repair with a light failed, so does this.
func anticollisionFitted(s *scene) Verdict {
	v := required(s.fitted("anticollision-light"), s.everyFittedOneWorks("anticollision-light"))
	return unless(v, all(s.goesForRepair(), some(s.under205b11(), s.under205c3())))
}

// cabinAbove says whether the cabin pressure altitude goes above a height. A cabin is never higher than the aircraft,
// and one that is not pressurized is as high.
func (s *scene) cabinAbove(feet float64) truth {
	if s.flight.CabinFt != nil {
		return over(s.flight.CabinFt, feet)
	}
	outside := s.altitudeAbove(feet)
	if outside == no {
		return no
	}
	return either(known(s.Pressurized), unknown, outside)
}

// 14 CFR 91.211(a)(1): above 12,500 ft of cabin altitude for over 30 minutes, oxygen for the required crew.
func oxygenOver30Minutes(s *scene) Verdict {
	return required(all(s.cabinAbove(12500), known(s.flight.Over30MinAbove12500)), s.personsServed(s.flight.RequiredCrew, true, "oxygen-system"))
}

// 14 CFR 91.211(a)(2): above 14,000 ft of cabin altitude, oxygen for the required crew.
func oxygenForCrew(s *scene) Verdict {
	return required(s.cabinAbove(14000), s.personsServed(s.flight.RequiredCrew, true, "oxygen-system"))
}

// 14 CFR 91.211(a)(3): above 15,000 ft of cabin altitude, oxygen for each occupant.
func oxygenForAll(s *scene) Verdict {
	return required(s.cabinAbove(15000), s.personsServed(s.flight.Persons, false, "oxygen-system"))
}

// 14 CFR 91.211(b)(1)(i): pressurized above FL250, a supply for each occupant.
func oxygenSupplyPressurized(s *scene) Verdict {
	return required(all(known(s.Pressurized), s.altitudeAbove(25000)), s.personsServed(s.flight.Persons, false, "oxygen-system"))
}

// 14 CFR 91.319(d)(2): experimental aircraft fly by day under VFR unless authorized otherwise.
func experimentalByDay(s *scene) Verdict {
	against := no
	for _, kind := range []string{"night-vfr", "day-ifr", "night-ifr"} {
		against = some(against, all(s.kind(kind), not(among(s.Approved, kind))))
	}
	return forbids(all(s.certificate("experimental"), against))
}

// 14 CFR 91.327(d): light-sport category aircraft fly with the necessary equipment of their equipment list, so that there
// must be one. What it lists is asked for where every aircraft's list is.
func lightSportList(s *scene) Verdict {
	inForce := certain(s.flight.Departs.Format("2006-01-02") >= "2025-10-22")
	return required(all(inForce, s.certificate("light-sport")), known(s.own.EquipmentList.OnRecord))
}
