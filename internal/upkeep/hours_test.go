package upkeep_test

import "testing"

// inHours are limits in hours of time in service: 14 CFR 91.409(b) and 91.327(c), and the battery of the ELT.
var inHours = []story{
	{
		"a 100-hour inspection serves for 100 hours of time in service", "hundred-hour", "", "hundred-hour-inspection 4000h", "2026-05-01 4099.9h",
		"serves to 4100 h (0.1 h)", "91.409(b): within the preceding 100 hours of time in service",
	},
	{
		"at 100 hours nothing is left", "hundred-hour", "", "hundred-hour-inspection 4000h", "2026-05-01 4100h",
		"due to 4100 h (0 h)", "91.409(b): whatever flies on then flies beyond the preceding 100 hours",
	},
	{
		"an annual counts for it", "hundred-hour", "", "annual-inspection 4000h", "2026-05-01 4041.5h",
		"serves to 4100 h (58.5 h)", "91.409(b): an annual or 100-hour inspection",
	},
	{
		"so does an inspection for the airworthiness certificate", "hundred-hour", "", "airworthiness-certificate-inspection 0h", "2026-05-01 12h",
		"serves to 100 h (88 h)", "91.409(b): or has received an inspection for the issuance of an airworthiness certificate",
	},
	{
		"a condition inspection does not", "hundred-hour", "", "condition-inspection 4000h", "2026-05-01 4041.5h", "not-known", "91.409(b)",
	},
	{
		"done early, the hours that were left are given up", "hundred-hour", "", "hundred-hour-inspection 4000h; hundred-hour-inspection 4095h",
		"2026-05-01 4095h", "serves to 4195 h (100 h)", "91.409(b): counted back from the flight; nothing is saved",
	},
	{
		"done on time, 100 hours follow", "hundred-hour", "", "hundred-hour-inspection 4000h; hundred-hour-inspection 4100h",
		"2026-05-01 4100h", "serves to 4200 h (100 h)", "91.409(b)",
	},
	{
		"overflown by 8 hours on the way, 92 follow", "hundred-hour", "", "hundred-hour-inspection 4000h; hundred-hour-inspection 4108h +8h",
		"2026-05-01 4108h", "serves to 4200 h (92 h)", "91.409(b): the excess time must be included in computing the next 100 hours",
	},
	{
		"overflown by 8 hours of which nobody says what they were, 92 follow", "hundred-hour", "", "hundred-hour-inspection 4000h; hundred-hour-inspection 4108h",
		"2026-05-01 4108h", "serves to 4200 h (92 h)", "91.409(b): hours that may have been used to reach the place are taken for such",
	},
	{
		"overflown by six minutes, 99.9 follow", "hundred-hour", "", "hundred-hour-inspection 4000h; hundred-hour-inspection 4100.1h +0.1h",
		"2026-05-01 4100.1h", "serves to 4200 h (99.9 h)", "91.409(b); second-hand: an example of a legal column on its timing",
	},
	{
		"by the whole allowance, 90 follow", "hundred-hour", "", "hundred-hour-inspection 4000h; hundred-hour-inspection 4110h",
		"2026-05-01 4110h", "serves to 4200 h (90 h)", "91.409(b): not more than 10 hours, which count in the next 100",
	},
	{
		"by more than one could on the way, 90 follow where nobody says", "hundred-hour", "", "hundred-hour-inspection 4000h; hundred-hour-inspection 4150h",
		"2026-05-01 4150h", "serves to 4240 h (90 h)", "91.409(b): no more than 10 hours can have been used to reach the place",
	},
	{
		"by 15 hours that are counted in, 85 follow", "hundred-hour", "", "hundred-hour-inspection 4000h; hundred-hour-inspection 4115h +15h",
		"2026-05-01 4115h", "serves to 4200 h (85 h)", "91.409(b); second-hand: an example of a legal column, which counts hours of rental in as well",
	},
	{
		"hours flown for nobody's hire are no excess, where the record says so", "hundred-hour", "", "hundred-hour-inspection 4000h; hundred-hour-inspection 4108h +0h",
		"2026-05-01 4108h", "serves to 4208 h (100 h)", "91.409(b): only the excess time used to reach a place is included",
	},
	{
		"an excess shortens the next, which may be overflown in turn", "hundred-hour", "",
		"hundred-hour-inspection 4000h; hundred-hour-inspection 4108h; hundred-hour-inspection 4205h", "2026-05-01 4205h",
		"serves to 4300 h (95 h)", "91.409(b): due at 4200, overflown by 5 again",
	},
	{
		"an excess is made good by the next done early", "hundred-hour", "",
		"hundred-hour-inspection 4000h; hundred-hour-inspection 4108h; hundred-hour-inspection 4190h", "2026-05-01 4190h",
		"serves to 4290 h (100 h)", "91.409(b): due at 4200, done before",
	},
	{
		"two records of one inspection are one", "hundred-hour", "", "hundred-hour-inspection 4000h; annual-inspection 4108h +8h; hundred-hour-inspection 4108h",
		"2026-05-01 4108h", "serves to 4200 h (92 h)", "91.409(b): the excess counts, whichever record has it",
	},
	{
		"the order of records does not matter", "hundred-hour", "", "hundred-hour-inspection 4108h; hundred-hour-inspection 4000h",
		"2026-05-01 4150h", "serves to 4200 h (50 h)", "91.409(b)",
	},
	{
		"a later inspection whose hours nobody entered leaves it unknown", "hundred-hour", "", "hundred-hour-inspection 2026-01-10 4000h; hundred-hour-inspection 2026-04-20",
		"2026-05-01 4090h", "not-known", "91.409(b) counts from its hours",
	},
	{
		"an earlier one does not", "hundred-hour", "", "hundred-hour-inspection 2026-01-10 4000h; hundred-hour-inspection 2025-04-20",
		"2026-05-01 4090h", "serves to 4100 h (10 h)", "91.409(b)",
	},
	{
		"without a meter reading nothing is known to be left", "hundred-hour", "", "hundred-hour-inspection 4000h", "2026-05-01",
		"not-known to 4100 h", "91.409(b) counts time in service",
	},
	{
		"tenths of hours add up", "hundred-hour", "", "hundred-hour-inspection 4000.1h", "2026-05-01 4100h",
		"serves to 4100.1 h (0.1 h)", "91.409(b)",
	},
	{
		"after a progressive inspection is given up, 100 hours from the last complete one", "hundred-hour", "", "complete-progressive-inspection 4000h",
		"2026-05-01 4100h", "due to 4100 h (0 h)", "91.409(d): due within 100 hours after that complete inspection",
	},
	{
		"an experimental aircraft has no 100-hour inspection by this rule", "hundred-hour", "experimental", "", "2026-05-01 4100h", "not asked", "91.409(c)(1)",
	},
	{
		"a light-sport aircraft has its own", "hundred-hour", "light-sport", "", "2026-05-01 4100h", "not asked", "91.409(c)(1)",
	},
	{
		"which has no allowance to count in", "light-sport-hundred-hour", "light-sport", "hundred-hour-inspection 400h; hundred-hour-inspection 508h",
		"2026-05-01 508h", "serves to 608 h (100 h)", "91.327(c): within the preceding 100 hours; there is no clause on an excess",
	},
	{
		"and for which its condition inspection counts", "light-sport-hundred-hour", "light-sport", "condition-inspection 400h",
		"2026-05-01 499h", "serves to 500 h (1 h)", "91.327(c): inspected in the preceding 100 hours (inferred)",
	},
	{
		"at 100 hours a light-sport aircraft has nothing left", "light-sport-hundred-hour", "light-sport", "condition-inspection 400h",
		"2026-05-01 500h", "due to 500 h (0 h)", "91.327(c)",
	},
	{
		"a provisional aircraft has no 100-hour inspection", "hundred-hour", "provisional", "", "2026-05-01 4100h",
		"not asked", "91.409(c)(1)",
	},
	{
		"nor has one inspected progressively", "hundred-hour", "progressive", "", "2026-05-01 4100h",
		"not asked", "91.409(c)(3)",
	},
	{
		"a standard aircraft has not that of a light-sport one", "light-sport-hundred-hour", "", "", "2026-05-01 4100h",
		"not asked", "91.327 is for light-sport aircraft",
	},
}

// ofOwnPapers are directives, life limits, a program's schedule and what the organization itself asks. The numbers are
// invented: each is due by what it states.
var ofOwnPapers = []story{
	{
		"a directive is due by what it states", "directive first 2026-12-31", "", "", "2026-12-31",
		"serves through 2026-12-31 (0 days)", "39.7, 39.11: conditions and corrective actions as the directive states them",
	},
	{
		"by date or hours, whichever comes first: here the date", "directive first 2026-06-30 4500h", "", "", "2026-07-01 4400h",
		"due through 2026-06-30 (-1 days) to 4500 h (100 h)", "39.7: it does not meet the directive once either has passed",
	},
	{
		"here the hours", "directive first 2026-06-30 4500h", "", "", "2026-05-01 4500h",
		"due through 2026-06-30 (60 days) to 4500 h (0 h)", "39.7",
	},
	{
		"here the cycles", "directive first 2026-06-30 4500h 900c", "", "", "2026-05-01 4400h 901c",
		"due through 2026-06-30 (60 days) to 4500 h (100 h) to 900 cycles (-1)", "39.7",
	},
	{
		"a directive that asks for one action is done once it is done", "directive first 2026-06-30", "", "ad 2026-02-10", "2027-01-01",
		"done", "39.11: the corrective action has been taken; nothing asks for it again",
	},
	{
		"one that recurs does not end", "directive every 100h first 4500h", "", "ad 4480h", "2027-01-01 4500h",
		"serves to 4580 h (80 h)", "39.7: from when it was last done",
	},
	{
		"one that recurs by month and hour, whichever comes first", "directive every 12m 100h", "", "ad 2026-02-10 4000h", "2027-02-11 4050h",
		"due through 2027-02-10 (-1 days) to 4100 h (50 h)", "39.7: 12 months to the day; only part 91 says calendar months",
	},
	{
		"an overdue directive leaves no allowance", "directive every 100h", "", "ad 4000h; ad 4108h", "2027-01-01 4108h",
		"serves to 4208 h (100 h)", "39.7: part 39 has none, and counts none in",
	},
	{
		"a month from 31 January ends with February", "directive every 1m", "", "ad 2026-01-31", "2026-02-28",
		"serves through 2026-02-28 (0 days)", "39.7; a month that has no such day ends it",
	},
	{
		"in a leap year on the 29th", "directive every 1m", "", "ad 2028-01-31", "2028-02-29",
		"serves through 2028-02-29 (0 days)", "39.7",
	},
	{
		"twelve months from a leap day end on the 28th", "directive every 12m", "", "ad 2024-02-29", "2025-03-01",
		"due through 2025-02-28 (-1 days)", "39.7",
	},
	{
		"days are counted as days", "directive every 90d", "", "ad 2026-01-01", "2026-04-01",
		"serves through 2026-04-01 (0 days)", "39.7: the 90th day after 1 January is 1 April",
	},
	{
		"a terminating action ends it", "directive every 100h ended", "", "ad 4000h", "2026-04-01 4900h", "done", "39.11: the directive says what ends it",
	},
	{
		"a recurring one of which nothing was done is not known", "directive every 100h", "", "", "2026-04-01 4900h",
		"not-known", "39.7: unknown is not complied with",
	},
	{
		"a life limit is due by the part's hours", "life-limit first 1200h", "", "", "2026-04-01 1199.9h",
		"serves to 1200 h (0.1 h)", "91.403(c): mandatory replacement time",
	},
	{
		"and by its cycles", "life-limit first 20000h 5000c", "", "", "2026-04-01 8000h 5000c",
		"due to 20000 h (12000 h) to 5000 cycles (0)", "91.403(c)",
	},
	{
		"a part replaced starts anew", "life-limit every 1200h 144m", "", "replaced 2026-01-15 0h", "2026-04-01 30h",
		"serves through 2038-01-15 (4307 days) to 1200 h (1170 h)", "91.403(c): the new part has its own life",
	},
	{
		"a program's schedule may be overflown, and the excess counts", "program every 50h", "progressive", "phase 4000h; phase 4056h", "2026-04-01 4056h",
		"serves to 4100 h (44 h)", "91.409(d)(2)(ii): exceeded by not more than 10 hours while en route; counted in as under (b) (inferred)",
	},
	{
		"what the organization asks has no allowance", "own every 50h 4cm", "", "oil 2026-01-05 4000h; oil 2026-03-01 4056h", "2026-04-01 4056h",
		"serves through 2026-07-31 (121 days) to 4106 h (50 h)", "its own rule, stricter than 14 CFR",
	},
	{
		"an item without interval or date is not known", "own every", "", "", "2026-04-01", "not-known", "its own rule, stricter than 14 CFR",
	},
	{
		"a program overflown by more than one could on the way counts 10 hours in", "program every 50h", "progressive", "phase 4000h; phase 4062h", "2026-04-01 4062h",
		"serves to 4102 h (40 h)", "91.409(d)(2)(ii): by not more than 10 hours",
	},
	{
		"where nobody has said which directives apply, they are not known", "directive", "papers unknown", "", "2026-04-01",
		"not-known", "39.7: any that applies",
	},
	{
		"nor are the life limits", "life-limit", "papers unknown", "", "2026-04-01",
		"not-known", "91.403(c)",
	},
	{
		"nor is the schedule of a progressive inspection", "program", "progressive, papers unknown", "", "2026-04-01",
		"not-known", "91.409(d)(2)(ii)",
	},
	{
		"of which an aircraft without one has none", "program", "papers unknown", "", "2026-04-01",
		"not asked", "91.409(d)",
	},
}

func TestDueDatesInHours(t *testing.T) { t.Parallel(); tell(t, inHours) }

func TestDueDatesOfOwnPapers(t *testing.T) { t.Parallel(); tell(t, ofOwnPapers) }
