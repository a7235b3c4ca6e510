package regulation_test

import (
	"bytes"
	"maps"
	"strings"
	"testing"
	"testing/fstest"

	"tiedown/internal/regulation"
)

// exhibit is a table with one fault, and what the loader says of it.
type exhibit struct {
	name  string
	table string
	old   string // the first occurrence of old, or every row, is replaced by new
	new   string
	says  string
}

// museum holds one fault each. Lines are those of the tables: they move when rows are added above them.
var museum = []exhibit{
	{
		"a misspelled column", "steps", "citation", "zitation",
		"table steps: the header must be step,citation,words",
	},
	{
		"no header", "steps", "step,citation,words\n", "",
		"table steps: the header must be step,citation,words",
	},
	{
		"nothing but a header", "steps", everyRow, "",
		"table steps: no rows",
	},
	{
		"not UTF-8", "steps", "equipment", "equi\xffpment",
		"table steps: not UTF-8",
	},
	{
		"a field too many", "steps", "pilot,", "pilot,captain,",
		"table steps: record on line 12: wrong number of fields",
	},
	{
		"a field left empty", "steps", "path,14 CFR 91.213(d)(1)", "path,",
		"table steps, line 4: column citation: must not be empty",
	},
	{
		"a stray space", "steps", "path,14", "path, 14",
		"table steps, line 4: column citation: stray space",
	},
	{
		"two spaces in a row", "steps", "path,14 CFR", "path,14  CFR",
		"table steps, line 4: column citation: two spaces in a row",
	},
	{
		"a row twice", "eligibility", "d1-balloon,", "d1-glider,",
		`table eligibility, line 9: id "d1-glider" stands twice: the other is on line 8`,
	},
	{
		"a requirement of the name of another table's", "requirements", "91.205-b-1,", "car3-airspeed,",
		"car3-airspeed: the row stands twice",
	},
	{
		"a version that begins after a gap", "reliefs", everyRow, `
elt-a,14 CFR 91.207,91.207-a,category:airplane,,Words.,verified,eCFR title 14 issue 2026-08-24,,2026-01-01
elt-b,14 CFR 91.207,91.207-a,category:airplane,,Words.,verified,eCFR title 14 issue 2026-08-24,,
elt-a,14 CFR 91.207,91.207-a,category:airplane,,Words.,verified,eCFR title 14 issue 2026-08-24,2026-02-01,
`,
		`table reliefs, line 5: id "elt-a" has no version in force from 2026-01-01 until 2026-02-01: the other is on line 3`,
	},
	{
		"two versions in force at once", "procedure", "91.405(c),,not-lapsed,grounded,", `91.405(c),,not-lapsed,grounded,Words.,verified,eCFR title 14 issue 2026-08-24,,2026-06-01
deferral-lasts,lapse,14 CFR 91.405(c),,not-lapsed,grounded,Words.,verified,eCFR title 14 issue 2026-08-24,2026-05-01,2027-01-01
deferral-lasts,lapse,14 CFR 91.405(c),,not-lapsed,grounded,Words.,verified,eCFR title 14 issue 2026-08-24,2026-12-01,2027-06-01
deferral-passes,lapse,14 CFR 91.405(c),,not-lapsed,grounded,`,
		`table procedure, line 9: id "deferral-lasts" has two versions in force on 2026-05-01: the other is on line 8
table procedure, line 10: id "deferral-lasts" has two versions in force on 2026-12-01: the other is on line 9`,
	},
	{
		"two versions from the beginning", "eligibility", everyRow, `
d1,14 CFR 91.213(d)(1),category:glider,Words.,verified,eCFR title 14 issue 2026-08-24,,2026-01-01
d1,14 CFR 91.213(d)(1),category:airplane,Words.,verified,eCFR title 14 issue 2026-08-24,,2026-02-01
`,
		`table eligibility, line 4: id "d1" has two versions in force before 2026-01-01: the other is on line 3`,
	},
	{
		"a row on two squawks without a second side", "interactions", "com-radio,com-radio,", "com-radio,,",
		`table interactions, line 2: column second: must not be empty`,
	},
	{
		"a row on two squawks about an item that there is not", "interactions", "com-radio,com-radio,", "com-radio,com-set,",
		`two-communication-radios: item "com-set" is not in the catalog`,
	},
	{
		"a row on two squawks that one more squawk could undo", "interactions", "area-navigation-system,ifr,", "area-navigation-system,works:dme,",
		`two-navigation-receivers: condition "works:dme" is neither of the aircraft nor of the flight`,
	},
	{
		"an unknown status", "eligibility", "exists.\",verified", "exists.\",certain",
		`table eligibility, line 6: column status: "certain" is none of verified, second-hand, infer, memory`,
	},
	{
		"no date", "requirements", "2025-10-22,", "October 2025,",
		"table requirements, line 78: column from: want a date YYYY-MM-DD",
	},
	{
		"ends before it is in force", "requirements", "2025-10-22,", "2025-10-22,2025-10-22",
		"table requirements, line 78: the row ends before it is in force",
	},
	{
		"an unknown condition", "requirements", "night for-hire,", "night for-fire,",
		`91.205-c-4: condition "for-fire" is not in the table of conditions`,
	},
	{
		"an impossible clause", "requirements", "night for-hire,", "night for-hire !night,",
		`91.205-c-4: no case can meet "powered certificate:standard night for-hire !night"`,
	},
	{
		"a condition that takes no argument", "requirements", "night for-hire,", "night for-hire:money,",
		`91.205-c-4: condition "for-hire:money": it takes no argument, but has "money"`,
	},
	{
		"a condition without its number", "requirements", "altitude-from:24000", "altitude-from:high",
		`91.205-e: condition "altitude-from:high": want a number after the colon`,
	},
	{
		"a condition without its date", "requirements", "manufactured-after:1978-07-18", "manufactured-after:1978",
		`91.205-b-14-front: condition "manufactured-after:1978": want a date YYYY-MM-DD after the colon`,
	},
	{
		"a condition on an item that there is not", "requirements", "works:transponder", "works:transponders",
		`91.215-c: condition "works:transponders": item "transponders" is not in the catalog`,
	},
	{
		"a number of days from none", "reliefs", "removed-within:elt/90", "removed-within:elt/0",
		`elt-removed: condition "removed-within:elt/0": want a number of days from 1`,
	},
	{
		"an unknown item", "requirements", "airspeed-indicator", "airspeed-dial",
		`91.205-b-1: item "airspeed-dial" is not in the catalog`,
	},
	{
		"an unknown quantity", "requirements", "tachometer,each-engine", "tachometer,each-wing",
		`91.205-b-4: quantity "each-wing" is neither a number from 1 nor a known word`,
	},
	{
		"a quantity of nothing", "requirements", "altimeter,1", "altimeter,0",
		`91.205-b-2: quantity "0" is neither a number from 1 nor a known word`,
	},
	{
		"an item and a condition that must hold", "requirements", "altimeter,1,,", "altimeter,1,ifr,",
		"91.205-b-2: want an item and a quantity, or a condition that must hold",
	},
	{
		"a relief from memory", "reliefs", "needs no ELT.,verified", "needs no ELT.,memory",
		"elt-training: a row from memory may forbid, never permit",
	},
	{
		"a relief of a requirement that there is not", "reliefs", "91.205-b-11,", "91.205-b-111,",
		`b11-continue: relieves "91.205-b-111", which is not a requirement`,
	},
	{
		"a verdict that there is not", "procedure", "defer-first", "defer-later",
		`table procedure, line 2: column otherwise: no such verdict "defer-later"`,
	},
	{
		"a step that may stay undone", "procedure", "defer-first", "clear",
		"out-of-use: a step left undone must defer or ground",
	},
	{
		"a step that there is not", "procedure", "hazard,", "danger,",
		`hazard-determination: no such step "danger"`,
	},
	{
		"a step without a row", "steps", "pilot,", "pylot,",
		"pylot: no such step \"pylot\"\npilot: the step has no row",
	},
	{
		"a deferral's condition with an argument", "procedure", "placarded,", "placarded:twice,",
		`placard-control: condition "placarded:twice": it takes no argument, but has "twice"`,
	},
	{
		"a relief that hangs on the flight and binds it to nothing", "reliefs",
		"only training entirely within 50 NM of the departure airport", "",
		"elt-training: a relief that hangs on the flight must say what it binds the flight to",
	},
	{
		"a number of days that is none", "intervals", ",B,3,yes,", ",B,three,yes,",
		"table intervals, line 3: column days: want a number of days from 1",
	},
	{
		"an extension by days", "intervals", ",B,3,yes,", ",B,3,3,",
		"table intervals, line 3: column extension: want yes or no",
	},
	{
		"a category without its days", "intervals", ",B,3,yes,", ",B,,yes,",
		"interval-b: want a number of days from 1, save for category A, whose days the MEL states",
	},
	{
		"a permit that lifts the operating rules", "permits", "91.205-*", "regulation",
		`permit-standard: the step "regulation" is lifted by no permit`,
	},
	{
		"a permit that holds for ever", "permits", ",window,", ",issued,",
		"permit-window: must: issued stands twice\npermits: no row says that a permit must hold for: window",
	},
	{
		"an unknown code", "items", "non-sensitive altimeter,3416", "non-sensitive altimeter,9916",
		"table items, line 16: code 9916 is not in the table of codes",
	},
	{
		"a code that no item uses", "jasc", "1210,", "1211,X,12\n1210,",
		"table jasc, line 3: no item uses code 1211",
	},
	{
		"a code outside its chapter", "jasc", ",11\n", ",12\n",
		"table jasc, line 2: a code has four digits and begins with its chapter",
	},
	{
		"one word for two items", "items", "tyre;", "rpm;",
		`table items, line 281: the name "rpm" is used twice`,
	},
	{
		"an unknown nature", "items", "5240,condition", "5240,part",
		`table items, line 2: column nature: "part" is none of equipment, condition, furnishing`,
	},
	{
		"doing the job of an item that there is not", "items", ",equipment,anticollision-light", ",equipment,warning-light",
		`beacon: serves as "warning-light", which is not in the catalog`,
	},
}

func TestMuseum(t *testing.T) {
	t.Parallel()
	tables := readTables(t)
	for _, e := range museum {
		t.Run(e.name, func(t *testing.T) {
			t.Parallel()
			if _, err := regulation.Load(e.spoil(t, tables)); err == nil || err.Error() != e.says {
				t.Errorf("want\n%s\nhave\n%v", e.says, err)
			}
		})
	}
}

// TestFaultsOfTwoTables holds what takes a fault in each of two tables to show.
func TestFaultsOfTwoTables(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name          string
		first, second exhibit
		says          string
	}{
		{
			"words without meaning",
			exhibit{table: "conditions", old: "for-hire,", new: "for-rent,the flight is for rent,a,b,flight.for_rent\nfor-hire,"},
			exhibit{table: "requirements", old: "night for-hire,", new: "night for-rent,"},
			`91.205-c-4: condition "for-rent" has words but no meaning`,
		},
		{
			"both faults are told at once",
			exhibit{table: "steps", old: "path,14", new: "path, 14"},
			exhibit{table: "jasc", old: "1100,", new: "1100, "},
			"table jasc, line 2: column title: stray space\ntable steps, line 4: column citation: stray space",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			broken := c.second.spoil(t, c.first.spoil(t, readTables(t)))
			if _, err := regulation.Load(broken); err == nil || err.Error() != c.says {
				t.Errorf("want\n%s\nhave\n%v", c.says, err)
			}
		})
	}
}

func TestAMissingTableIsNamed(t *testing.T) {
	t.Parallel()
	for _, name := range regulation.TableNames() {
		tables := readTables(t)
		delete(tables, name+".csv")
		if _, err := regulation.Load(tables); err == nil || !strings.HasPrefix(err.Error(), "table "+name+": ") {
			t.Errorf("without the table %s: %v", name, err)
		}
	}
}

// TestTheDigestNamesTheBook holds that two books are never taken for one.
func TestTheDigestNamesTheBook(t *testing.T) {
	t.Parallel()
	tables := readTables(t)
	same, err := regulation.Load(tables)
	if err != nil {
		t.Fatal(err)
	}
	if want := current(t).Digest; same.Digest != want {
		t.Errorf("the same bytes: want %s, have %s", want, same.Digest)
	}
	reworded := exhibit{table: "steps", old: "The pilot in command", new: "The pilot"}.spoil(t, tables)
	other, err := regulation.Load(reworded)
	if err != nil {
		t.Fatal(err)
	}
	if other.Digest == same.Digest {
		t.Error("a reworded book has the same digest")
	}
}

// everyRow stands for all of a table but its header.
const everyRow = "every row"

// spoil returns the tables with the fault.
func (e exhibit) spoil(t *testing.T, tables fstest.MapFS) fstest.MapFS {
	t.Helper()
	raw, old := tables[e.table+".csv"].Data, []byte(e.old)
	if e.old == everyRow {
		_, old, _ = bytes.Cut(raw, []byte("\n"))
	}
	if !bytes.Contains(raw, old) {
		t.Fatalf("table %s does not hold %q", e.table, old)
	}
	broken := maps.Clone(tables)
	broken[e.table+".csv"] = &fstest.MapFile{Data: bytes.Replace(raw, old, []byte(e.new), 1)}
	return broken
}
