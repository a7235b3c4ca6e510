package oracle

import "slices"

// operationRules are the rules of 14 CFR 91.205 about operations that a flight declares.
var operationRules = []rule{
	{"14 CFR 91.205(f)(1)", "Category II is IFR", categoryTwoIsIFR},
	{"14 CFR 91.205(f)(2)", "equipment for Category II", categoryTwo},
	{"14 CFR 91.205(g)", "Category III is IFR", categoryThreeIsIFR},
	{"14 CFR 91.205(h)", "goggles are for the night", gogglesAtNight},
	{"14 CFR 91.205(h)", "equipment for goggles", goggles},
}

// operates says whether the flight declares an operation; what it does not declare it does not make.
func (s *scene) operates(operation string) truth {
	return certain(slices.Contains(s.flight.Operations, operation))
}

func (s *scene) operation205(operation string) truth {
	return all(s.under205(), s.operates(operation))
}

// 14 CFR 91.205(f)(1): Category II needs what IFR needs.
func categoryTwoIsIFR(s *scene) Verdict { return required(s.operation205("cat-ii"), s.ifr()) }

// 14 CFR 91.205(f)(2), appendix A of part 91 (from memory): two of most, for Category II.
func categoryTwo(s *scene) Verdict {
	v := max(s.needs("cat-ii", 1, "marker-beacon-receiver"), s.needs("cat-ii", 1, "autopilot", "flight-director"))
	for _, item := range []string{
		"localizer-receiver", "glideslope-receiver", "attitude-indicator", "heading-indicator", "airspeed-indicator",
		"sensitive-altimeter", "vertical-speed-indicator",
	} {
		v = max(v, s.needs("cat-ii", 2, item))
	}
	return v
}

// needs is the verdict of an operation that takes so many of some items.
func (s *scene) needs(operation string, n int, items ...string) Verdict {
	return s.lift(func(s *scene) Verdict { return required(s.operation205(operation), s.atLeast(n, items...)) })
}

// 14 CFR 91.205(g): Category III needs what IFR needs.
func categoryThreeIsIFR(s *scene) Verdict { return required(s.operation205("cat-iii"), s.ifr()) }

// 14 CFR 91.205(h)(1): night vision goggles need what VFR needs by day and at night.
func gogglesAtNight(s *scene) Verdict { return required(s.operation205("nvg"), s.byNight) }

// 14 CFR 91.205(h)(2) to (7): goggles, lighting that suits them, and further equipment.
func goggles(s *scene) Verdict {
	v := Clear
	for _, item := range []string{
		"night-vision-goggles", "night-vision-lighting", "com-radio", "attitude-indicator", "alternator", "radar-altimeter",
	} {
		v = max(v, s.needs("nvg", 1, item))
	}
	return v
}
