package upkeep_test

import (
	"slices"
	"strings"
	"testing"
)

// inMonths are limits in calendar months. That 12 calendar months run from any day of a month to the last day of the same
// month of the next year is the convention of FAA-H-8083-25 (second-hand: as quoted in training notes).
var inMonths = []story{
	{
		"an annual serves through the last day of its month a year later", "annual", "", "annual-inspection 2025-03-04", "2026-03-31",
		"serves through 2026-03-31 (0 days)", "91.409(a): within the preceding 12 calendar months, not 365 days",
	},
	{
		"the day after, it has fallen due", "annual", "", "annual-inspection 2025-03-04", "2026-04-01",
		"due through 2026-03-31 (-1 days)", "91.409(a): no flight of 1 April has it within the preceding 12 calendar months",
	},
	{
		"on the first of the month is as good as on the last", "annual", "", "annual-inspection 2025-03-01", "2026-03-31",
		"serves through 2026-03-31 (0 days)", "91.409(a) counts months, not days",
	},
	{
		"and on the last as bad as on the first", "annual", "", "annual-inspection 2025-03-31", "2026-03-31",
		"serves through 2026-03-31 (0 days)", "91.409(a) counts months, not days",
	},
	{
		"an annual of 29 February ends with a February of 28 days", "annual", "", "annual-inspection 2024-02-29", "2025-02-28",
		"serves through 2025-02-28 (0 days)", "91.409(a): the twelfth calendar month is February 2025, whose last day is the 28th",
	},
	{
		"an annual of 28 February ends on a 29th where there is one", "annual", "", "annual-inspection 2023-02-28", "2024-02-29",
		"serves through 2024-02-29 (0 days)", "91.409(a): the twelfth calendar month is February 2024, whose last day is the 29th",
	},
	{
		"1 March begins after a leap day", "annual", "", "annual-inspection 2023-02-10", "2024-03-01",
		"due through 2024-02-29 (-1 days)", "91.409(a): February 2024 is over",
	},
	{
		"the year 2100 has no leap day", "annual", "", "annual-inspection 2099-02-15", "2100-02-28",
		"serves through 2100-02-28 (0 days)", "91.409(a); the Gregorian calendar: 2100 is no leap year",
	},
	{
		"the year 2000 had one", "annual", "", "annual-inspection 1999-02-15", "2000-02-29",
		"serves through 2000-02-29 (0 days)", "91.409(a); the Gregorian calendar: 2000 was a leap year",
	},
	{
		"an annual of December ends with the next December", "annual", "", "annual-inspection 2025-12-31", "2026-12-31",
		"serves through 2026-12-31 (0 days)", "91.409(a): 12 calendar months, over the turn of the year",
	},
	{
		"early compliance gives up the months that were left", "annual", "", "annual-inspection 2025-11-20; annual-inspection 2026-09-02", "2026-09-30",
		"serves through 2027-09-30 (365 days)", "91.409(a): counted back from the flight, whatever was left of the one before",
	},
	{
		"early within the month gives up nothing", "annual", "", "annual-inspection 2025-11-20; annual-inspection 2026-11-01", "2026-11-01",
		"serves through 2027-11-30 (394 days)", "91.409(a): the month of the inspection counts, not its day",
	},
	{
		"late compliance starts anew from when it was done", "annual", "", "annual-inspection 2024-05-10; annual-inspection 2026-01-15", "2026-02-01",
		"serves through 2027-01-31 (364 days)", "91.409(a): within the preceding 12 calendar months of each flight",
	},
	{
		"the latest counts, however the log is sorted", "annual", "", "annual-inspection 2026-01-15; annual-inspection 2024-05-10; annual-inspection 2025-02-02",
		"2026-02-01", "serves through 2027-01-31 (364 days)", "91.409(a)",
	},
	{
		"an inspection for the airworthiness certificate counts as an annual", "annual", "", "airworthiness-certificate-inspection 2026-06-30", "2027-06-30",
		"serves through 2027-06-30 (0 days)", "91.409(a)(2)",
	},
	{
		"a 100-hour inspection does not stand in for an annual", "annual", "", "annual-inspection 2025-01-10; hundred-hour-inspection 2025-12-01", "2026-02-01",
		"due through 2026-01-31 (-1 days)", "91.409(a), last sentence: not unless entered as annual",
	},
	{
		"nothing on record is not known, and not not due", "annual", "", "", "2026-02-01",
		"not-known", "91.409(a) asks for an inspection: where there is none, there is no permission",
	},
	{
		"an annual of which nobody has entered the day is not known", "annual", "", "annual-inspection 4000h", "2026-02-01 4010h",
		"not-known", "91.409(a) counts from its day",
	},
	{
		"experimental aircraft have no annual", "annual", "experimental", "", "2026-02-01", "not asked", "91.409(c)(1)",
	},
	{
		"nor have light-sport ones", "annual", "light-sport", "", "2026-02-01", "not asked", "91.409(c)(1)",
	},
	{
		"nor provisional ones", "annual", "provisional", "", "2026-02-01", "not asked", "91.409(c)(1)",
	},
	{
		"nor those inspected progressively", "annual", "progressive", "", "2026-02-01", "not asked", "91.409(c)(3)",
	},
	{
		"a progressive inspection covers the whole aircraft every 12 calendar months", "progressive-cycle", "progressive", "complete-progressive-inspection 2025-07-09",
		"2026-07-31", "serves through 2026-07-31 (0 days)", "91.409(d): complete within each 12 calendar months",
	},
	{
		"and only such an aircraft is asked for it", "progressive-cycle", "", "", "2026-07-31", "not asked", "91.409(d) is for those that desire it",
	},
	{
		"after it is given up, the annual is due 12 calendar months after the last complete one", "annual", "", "complete-progressive-inspection 2025-07-09",
		"2026-08-01", "due through 2026-07-31 (-1 days)", "91.409(d): due within 12 calendar months after the last complete inspection",
	},
	{
		"a light-sport aircraft has a condition inspection instead", "light-sport-condition", "light-sport", "condition-inspection 2025-10-22", "2026-10-31",
		"serves through 2026-10-31 (0 days)", "91.327(b): once every 12 calendar months",
	},
	{
		"and an experimental one, as its limitations say", "experimental-condition", "experimental", "condition-inspection 2025-10-22", "2026-11-01",
		"due through 2026-10-31 (-1 days)", "91.319; operating limitations (from memory)",
	},
	{
		"nor has it the condition inspection of an experimental one", "experimental-condition", "", "", "2026-11-01",
		"not asked", "91.319 is for experimental aircraft",
	},
	{
		"a standard aircraft has none", "light-sport-condition", "", "", "2026-11-01", "not asked", "91.327 is for light-sport aircraft",
	},
	{
		"the ELT is inspected within 12 calendar months", "elt-inspection", "", "elt-inspection 2025-08-31", "2026-08-31",
		"serves through 2026-08-31 (0 days)", "91.207(d)",
	},
	{
		"not in an airplane that needs none, for it carries one person", "elt-inspection", "one seat", "", "2026-08-31", "not asked", "91.207(f)(9)",
	},
	{
		"not in a glider", "elt-inspection", "glider", "", "2026-08-31", "not asked", "91.207(a): airplanes",
	},
	{
		"not in an airplane of another registry", "elt-inspection", "foreign", "", "2026-08-31", "not asked", "91.207(a): U.S.-registered",
	},
	{
		"not where there is none to inspect", "elt-inspection", "no elt", "", "2026-08-31", "not asked", "91.207(d): each transmitter required by (a)",
	},
	{
		"altimeters are tested every 24 calendar months", "altimeter-test", "", "altimeter-test 2024-02-29", "2026-02-28",
		"serves through 2026-02-28 (0 days)", "91.411(a): within the preceding 24 calendar months",
	},
	{
		"24 months later than a plain February may be a leap one", "altimeter-test", "", "altimeter-test 2026-02-01", "2028-02-29",
		"serves through 2028-02-29 (0 days)", "91.411(a): the 24th calendar month is February 2028",
	},
	{
		"a helicopter's too", "altimeter-test", "rotorcraft", "altimeter-test 2024-02-29", "2026-03-01",
		"due through 2026-02-28 (-1 days)", "91.411(a): airplane, or helicopter",
	},
	{
		"not a balloon's", "altimeter-test", "balloon", "", "2026-03-01", "not asked", "91.411(a): airplane, or helicopter",
	},
	{
		"a transponder is tested every 24 calendar months", "transponder-test", "", "transponder-test 2024-12-01", "2026-12-31",
		"serves through 2026-12-31 (0 days)", "91.413(a)",
	},
	{
		"where there is one", "transponder-test", "no transponder", "", "2026-12-31", "not asked", "91.413(a): no person may use one",
	},
}

// inDays are limits in days, and batteries.
var inDays = []story{
	{
		"a VOR check serves through the thirtieth day after it", "vor-check", "", "vor-check 2026-01-31", "2026-03-02",
		"serves through 2026-03-02 (0 days)", "91.171(a)(2): within the preceding 30 days; 31 January and 30 days are 2 March",
	},
	{
		"not the thirty-first", "vor-check", "", "vor-check 2026-01-31", "2026-03-03",
		"due through 2026-03-02 (-1 days)", "91.171(a)(2): days, not calendar months",
	},
	{
		"in a leap year that is a day of the month earlier", "vor-check", "", "vor-check 2024-01-31", "2024-03-01",
		"serves through 2024-03-01 (0 days)", "91.171(a)(2): 31 January and 30 days are 1 March where February has 29",
	},
	{
		"a test signal within 4 degrees", "vor-check", "", "vor-check 2026-01-31 by:test-signal 4°", "2026-02-01",
		"serves through 2026-03-02 (29 days)", "91.171(b)(1): plus or minus 4 degrees",
	},
	{
		"beyond, it is no check", "vor-check", "", "vor-check 2026-01-10 by:test-signal 3°; vor-check 2026-01-31 by:test-signal 4.5°", "2026-02-01",
		"serves through 2026-02-09 (8 days)", "91.171(a)(2): found to be within the limits",
	},
	{
		"a checkpoint on the ground within 4 degrees", "vor-check", "", "vor-check 2026-01-31 by:ground-checkpoint 5°", "2026-02-01",
		"not-known", "91.171(b)(2): plus or minus 4 degrees",
	},
	{
		"one in the air within 6", "vor-check", "", "vor-check 2026-01-31 by:airborne-checkpoint 6°", "2026-02-01",
		"serves through 2026-03-02 (29 days)", "91.171(b)(3): plus or minus 6 degrees",
	},
	{
		"the radial of an airway within 6", "vor-check", "", "vor-check 2026-01-31 by:airway-radial 6°", "2026-02-01",
		"serves through 2026-03-02 (29 days)", "91.171(b)(4)(iii): 6 degrees",
	},
	{
		"two systems against each other within 4", "vor-check", "", "vor-check 2026-01-31 by:dual-system 4°", "2026-02-01",
		"serves through 2026-03-02 (29 days)", "91.171(c): 4 degrees",
	},
	{
		"two systems 5 degrees apart are no check", "vor-check", "", "vor-check 2026-01-31 by:dual-system 5°", "2026-02-01",
		"not-known", "91.171(c): 4 degrees",
	},
	{
		"a check of a kind that there is not is none", "vor-check", "", "vor-check 2026-01-31 by:guess 0°", "2026-02-01",
		"not-known", "91.171(b), (c) name the checks",
	},
	{
		"an ELT battery serves through the day marked on the unit", "elt-battery-life", "", "elt-battery marked:2027-06-30", "2027-06-30",
		"serves through 2027-06-30 (0 days)", "91.207(c): the new expiration date is marked on the outside",
	},
	{
		"the day after, it does not", "elt-battery-life", "", "elt-battery marked:2027-06-30", "2027-07-01",
		"due through 2027-06-30 (-1 days)", "91.207(c)(2)",
	},
	{
		"half of a life of ten days are five", "elt-battery-life", "", "elt-battery 2026-01-01 expires:2026-01-11", "2026-01-05",
		"serves through 2026-01-05 (0 days)", "91.207(c)(2): 50 percent; at the end of 5 January five of ten days have expired",
	},
	{
		"of eleven days, five whole ones", "elt-battery-life", "", "elt-battery 2026-01-01 expires:2026-01-12", "2026-01-06",
		"due through 2026-01-05 (-1 days)", "91.207(c)(2): half is spent in the course of 6 January",
	},
	{
		"of six years over two leap days, 1096 days", "elt-battery-life", "", "elt-battery 2024-01-01 expires:2030-01-01", "2026-12-31",
		"serves through 2026-12-31 (0 days)", "91.207(c)(2): 2192 days, of which 1096 end with 31 December 2026",
	},
	{
		"a battery in use for one hour serves", "elt-battery-use", "battery used 1h", "elt-battery 2025-01-01", "2026-01-01",
		"serves to 1 h (0 h)", "91.207(c)(1): for more than 1 cumulative hour",
	},
	{
		"for six minutes more, it does not", "elt-battery-use", "battery used 1.1h", "", "2026-01-01",
		"due to 1 h (-0.1 h)", "91.207(c)(1)",
	},
	{
		"what nobody has counted is not known", "elt-battery-use", "", "elt-battery 2025-01-01", "2026-01-01", "not-known", "91.207(c)(1)",
	},
	{
		"the battery's use is not asked of an airplane for one", "elt-battery-use", "one seat", "", "2026-01-01",
		"not asked", "91.207(f)(9)",
	},
	{
		"the battery's use is not asked of a glider", "elt-battery-use", "glider", "", "2026-01-01",
		"not asked", "91.207(a): airplanes",
	},
	{
		"the battery's use is not asked of an airplane of another registry", "elt-battery-use", "foreign", "", "2026-01-01",
		"not asked", "91.207(a): U.S.-registered",
	},
	{
		"the battery's use is not asked of an airplane without an ELT", "elt-battery-use", "no elt", "", "2026-01-01",
		"not asked", "91.207(c): batteries used in the transmitters required",
	},
	{
		"the battery's life is not asked of an airplane for one", "elt-battery-life", "one seat", "", "2026-01-01",
		"not asked", "91.207(f)(9)",
	},
	{
		"the battery's life is not asked of a glider", "elt-battery-life", "glider", "", "2026-01-01",
		"not asked", "91.207(a): airplanes",
	},
	{
		"the battery's life is not asked of an airplane of another registry", "elt-battery-life", "foreign", "", "2026-01-01",
		"not asked", "91.207(a): U.S.-registered",
	},
	{
		"the battery's life is not asked of an airplane without an ELT", "elt-battery-life", "no elt", "", "2026-01-01",
		"not asked", "91.207(c): batteries used in the transmitters required",
	},
	{
		"a checkpoint on the ground at 4 degrees passes", "vor-check", "", "vor-check 2026-01-31 by:ground-checkpoint 4°", "2026-02-01",
		"serves through 2026-03-02 (29 days)", "91.171(b)(2): plus or minus 4 degrees",
	},
	{
		"one in the air at 7 does not", "vor-check", "", "vor-check 2026-01-31 by:airborne-checkpoint 7°", "2026-02-01",
		"not-known", "91.171(b)(3): plus or minus 6 degrees",
	},
	{
		"nor the radial of an airway at 7", "vor-check", "", "vor-check 2026-01-31 by:airway-radial 7°", "2026-02-01",
		"not-known", "91.171(b)(4)(iii): 6 degrees",
	},
}

func TestDueDatesInMonths(t *testing.T) { t.Parallel(); tell(t, inMonths) }

func TestDueDatesInDays(t *testing.T) { t.Parallel(); tell(t, inDays) }

// TestEveryStoryCites holds that each due date says which rule it follows from, and that there are enough of them.
func TestEveryStoryCites(t *testing.T) {
	t.Parallel()
	all := slices.Concat(inMonths, inDays, inHours, ofOwnPapers)
	if len(all) < 60 {
		t.Errorf("only %d due dates", len(all))
	}
	names := map[string]bool{}
	for _, s := range all {
		if names[s.says] {
			t.Errorf("%q is told twice", s.says)
		}
		names[s.says] = true
		cites := strings.Contains(s.why, "91.") || strings.Contains(s.why, "39.") || strings.Contains(s.why, "stricter than 14 CFR")
		if !cites {
			t.Errorf("%q cites nothing: %s", s.says, s.why)
		}
	}
}
