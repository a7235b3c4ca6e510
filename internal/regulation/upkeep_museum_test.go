package regulation_test

import (
	"testing"

	"tiedown/internal/regulation"
)

// upkeepMuseum holds one fault each in the tables on what comes due.
var upkeepMuseum = []exhibit{
	{
		"months that are none", "upkeep", ",12,,,,,the day of the last annual", ",twelve,,,,,the day of the last annual",
		"table upkeep, line 2: column calendar_months: want a number above 0",
	},
	{
		"half a month", "upkeep", ",12,,,,,the day of the last annual", ",12.5,,,,,the day of the last annual",
		"table upkeep, line 2: column calendar_months: want a whole number",
	},
	{
		"hours for nothing", "upkeep", ",,100,,10,", ",,0,,10,",
		"table upkeep, line 3: column hours: want a number above 0",
	},
	{
		"no interval", "upkeep", ",12,,,,,the day of the last annual", ",,,,,,the day of the last annual",
		"annual: want an interval, or own papers that state one",
	},
	{
		"own papers with an interval of the book", "upkeep", "airworthiness directives,own,,,,", "airworthiness directives,own,,,12,",
		"directive: want an interval, or own papers that state one",
	},
	{
		"own papers of no kind", "upkeep", "directive,14", "bulletin,14",
		"bulletin: want one of regulation, directive, life-limit, program, own as the name of a row on own papers\n" +
			`directive-every: stops flights for "directive", which is no row` + "\nbulletin: the row stops no flight",
	},
	{
		"an allowance as long as the interval", "upkeep", ",,100,,10,", ",,100,,100,",
		"hundred-hour: the allowance is not smaller than the interval",
	},
	{
		"an allowance from memory", "upkeep", "counts in the next 100 hours.\",verified", "counts in the next 100 hours.\",memory",
		"hundred-hour: a row that permits must be verified or inferred, and is memory",
	},
	{
		"a record that there is not", "upkeep", "annual inspection,annual,", "annual inspection,yearly,",
		`annual: there is no record "yearly"`,
	},
	{
		"nothing that counts", "upkeep", "vor,vor-check,", "vor,,",
		"vor-check: no task counts for it",
	},
	{
		"a term that there is not", "upkeep", "transponder-installed", "transponder-fitted",
		`transponder-test: there is no term "transponder-fitted"`,
	},
	{
		"a term of the flight where the aircraft is asked", "upkeep", "transponder-installed", "ifr",
		`transponder-test: the term "ifr" does not belong here`,
	},
	{
		"a term without its word", "upkeep", "category:airplane |", "category:aeroplane |",
		`altimeter-test: term "category:aeroplane": "aeroplane" is no word for the fact category`,
	},
	{
		"a flag with a word", "upkeep", "transponder-installed", "transponder-installed:two",
		`transponder-test: term "transponder-installed:two": it takes no argument, but has "two"`,
	},
	{
		"an alternative that says nothing", "upkeep", "category:airplane | category:rotorcraft", "category:airplane |",
		`altimeter-test: "category:airplane |" has an empty alternative`,
	},
	{
		"an airspace that there is not", "upkeep_stops", "airspace:class-a |", "airspace:class-z |",
		`transponder-class-a: term "airspace:class-z": "class-z" is no word for the fact airspace`,
	},
	{
		"an altitude that is none", "upkeep_stops", "altitude-from:10000", "altitude-from:high",
		`transponder-from-10000: term "altitude-from:high": want a number after the colon`,
	},
	{
		"a stop of nothing", "upkeep_stops", "vor-check,ifr", "vor-test,ifr",
		`vor-ifr: stops flights for "vor-test", which is no row` + "\nvor-check: the row stops no flight",
	},
	{
		"an exception from hearsay", "upkeep_stops", "operable condition.,verified", "operable condition.,second-hand",
		"elt-every: a row that permits must be verified or inferred, and is second-hand",
	},
	{
		"degrees that are none", "vor_checks", ",dual-system,4,", ",dual-system,four,",
		"table vor_checks, line 6: column degrees: want a number",
	},
	{
		"no degrees at all", "vor_checks", ",dual-system,4,", ",dual-system,0,",
		"vor-dual: want a number of degrees above 0",
	},
	{
		"a row twice", "vor_checks", "vor-dual,", "vor-airway,",
		`table vor_checks, line 6: id "vor-airway" stands twice: the other is on line 5`,
	},
}

func TestMuseumOfUpkeep(t *testing.T) {
	t.Parallel()
	tables := readTables(t)
	for _, e := range upkeepMuseum {
		t.Run(e.name, func(t *testing.T) {
			t.Parallel()
			if _, err := regulation.Load(e.spoil(t, tables)); err == nil || err.Error() != e.says {
				t.Errorf("want\n%s\nhave\n%v", e.says, err)
			}
		})
	}
}
