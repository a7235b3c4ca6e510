package inquiry_test

import (
	"slices"
	"strings"
	"testing"

	"tiedown/internal/casefile"
	"tiedown/internal/inquiry"
)

// oxygen is what the sentence of an unpressurized aircraft without oxygen ends with (14 CFR 91.211(a), eCFR title 14
// issue 2026-08-24).
const oxygen = "not longer than 30 minutes above 12,500 ft cabin pressure altitude, not above 14,000 ft cabin pressure altitude"

// TestEnvelopesOfWrittenCases holds envelopes against what the regulation says of the aircraft and its squawks; the
// sources are those of the rows, eCFR title 14 issue 2026-08-24.
func TestEnvelopesOfWrittenCases(t *testing.T) {
	t.Parallel()
	rules := book(t).Ruleset
	all := written(t)
	for _, want := range []struct {
		name, source, sentence string
		cells                  string // VFR by sun, twilight and night, then IFR
	}{
		{
			"trainer-landing-light-by-day", "91.205(c)(4): a landing light is for night flights for hire",
			"VFR by day and night, not for hire, " + oxygen, "limited limited limited limited limited limited",
		},
		{
			"trainer-transponder-low-and-outside", "91.215(b): where a transponder is needed",
			"VFR by day and night, within power-off gliding distance from shore, outside Class A, B and C airspace, the airspace above " +
				"Class B or C, the airspace within 10 NM of an airport of part 91, appendix D, section 2 and the airspace within 30 NM of a " +
				"listed airport, below 10,000 ft MSL", "limited limited limited limited limited limited",
		},
		{
			"daylight-before-sunset", "91.209(a): position lights are lit from sunset to sunrise, in Alaska otherwise",
			"Day VFR, from sunrise to sunset, within power-off gliding distance from shore, " + oxygen + ", not in Alaska",
			"limited limited grounded limited limited grounded",
		},
		{
			"experimental-night", "91.319(d)(2): VFR by day only, unless authorized",
			"Day VFR, from the beginning of morning to the end of evening civil twilight, " + oxygen, "limited limited grounded grounded grounded grounded",
		},
		{
			"trainer-both-radios-ifr", "91.205(d)(2): two-way radio under IFR",
			"VFR by day and night, within power-off gliding distance from shore, " + oxygen, "limited limited limited grounded grounded grounded",
		},
		{
			"trainer-elt-ferry", "91.207(e)(2), (f)(3): a ferry flight or training, and nothing else",
			"VFR by day and night, within power-off gliding distance from shore, " + oxygen +
				", only from where the repair cannot be made to where it can, with only required crewmembers aboard",
			"limited limited limited limited limited limited",
		},
		{
			"trainer-oil-leak", "91.213(d): a leak is no instrument or item of equipment",
			"No flight may be made as the aircraft stands.", "grounded grounded grounded grounded grounded grounded",
		},
		{
			"trainer-not-deferred", "91.213(d)(3), (4): not deferred yet",
			"No flight may be made until the deferral is done and signed.", "defer-first defer-first defer-first defer-first defer-first defer-first",
		},
		{
			"trainer-lists-not-looked-at", "91.213(d)(2)(i), (iv): a missing fact is no permission",
			"No flight may be made as the aircraft stands.",
			"undetermined undetermined undetermined undetermined undetermined undetermined",
		},
	} {
		e := envelope(t, all[want.name], rules)
		if e.Sentence != want.sentence {
			t.Errorf("%s (%s):\n%q, want\n%q", want.name, want.source, e.Sentence, want.sentence)
		}
		var cells []string
		for _, c := range e.Cells {
			cells = append(cells, c.Verdict)
		}
		if got := strings.Join(cells, " "); got != want.cells {
			t.Errorf("%s (%s): %s, want %s", want.name, want.source, got, want.cells)
		}
	}
}

// TestALimitNamesItsRowAndItsReliefs looks at one limit: with an inoperative transponder, Class C airspace is closed
// unless ATC authorizes the deviation (14 CFR 91.215(b)(1), (d)(2), eCFR title 14 issue 2026-08-24).
func TestALimitNamesItsRowAndItsReliefs(t *testing.T) {
	t.Parallel()
	e := envelope(t, written(t)["trainer-transponder-class-c"], book(t).Ruleset)
	i := slices.IndexFunc(e.Limits, func(l inquiry.Limit) bool { return l.Row == "91.215-b-1-c" })
	if i < 0 {
		t.Fatal("no limit by 91.215-b-1-c")
	}
	l := e.Limits[i]
	same := func(got []casefile.Term, want casefile.Term) bool { return len(got) == 1 && got[0].Same(want) }
	if l.Citation != "14 CFR 91.215(b)(1)" || !slices.Equal(l.Defects, []string{"transponder"}) ||
		!same(l.When, casefile.Term{Fact: "flight.airspace", Comparison: "includes", Value: "class-c"}) {
		t.Errorf("%+v", l)
	}
	if len(l.Reliefs) != 1 || l.Reliefs[0].Relief != "transponder-inoperative" || l.Reliefs[0].Citation != "14 CFR 91.215(d)(2)" ||
		l.Reliefs[0].Binds != "as ATC has authorized, to the ultimate destination with its stops, or to a place of repair" ||
		!same(l.Reliefs[0].When, casefile.Term{Fact: "flight.atc_authorized", Comparison: "includes", Value: "transponder"}) {
		t.Errorf("reliefs %+v", l.Reliefs)
	}
	for _, c := range e.Cells {
		if !slices.Contains(c.Limits, i) {
			t.Errorf("the cell %s %s leaves it out", c.Rules, c.Light)
		}
	}
}

// TestTooMuchIsMissing asks about an aircraft of which hardly anything is known: the search ends within its bound, and
// says which facts settle the case together, at best and at worst.
func TestTooMuchIsMissing(t *testing.T) {
	t.Parallel()
	rules := book(t).Ruleset
	c := written(t)["trainer-lists-not-looked-at"]
	c.Aircraft.Facts = casefile.Facts{Basis: c.Aircraft.Facts.Basis, Pressurized: c.Aircraft.Facts.Pressurized}
	s := settle(t, c, rules)
	if len(s.Sets) != 0 || s.AllOfThese == nil || s.Judged > 2000 || s.SearchedTo >= len(s.Facts) {
		t.Fatalf("%s", tell(s))
	}
	if all := s.AllOfThese; all.Best.Verdict != "clear" || all.Worst.Verdict != "grounded" || len(all.Facts) < 5 {
		t.Errorf("%s", tell(all))
	}
	holdSettling(t, c, s, rules)
}

// TestAListThatNobodyLookedAtStaysOpen has a kinds-of-operation list that nobody has looked at, save for one row that
// binds IFR at night. By day under VFR that row lets the flight go, and the rest of the list is still open (14 CFR
// 91.213(d)(2)(ii), eCFR title 14 issue 2026-08-24).
func TestAListThatNobodyLookedAtStaysOpen(t *testing.T) {
	t.Parallel()
	rules := book(t).Ruleset
	c := written(t)["trainer-lists-not-looked-at"]
	known := true
	config := &c.Aircraft.Configuration
	config.TypeCertification.OnRecord, config.Directives.OnRecord = &known, &known
	config.KOEL = casefile.OwnList{Rows: []casefile.OwnRow{{Item: "intercom", Kinds: []string{"night-ifr"}}}}
	e := envelope(t, c, rules)
	q, err := casefile.Compile(c, rules)
	if err != nil {
		t.Fatal(err)
	}
	if by := judged(t, c, rules).Verdict; by != "undetermined" || e.Verdict(q.Flight).String() != by {
		t.Errorf("by day under VFR the engine says %s, the envelope %s", by, e.Verdict(q.Flight))
	}
}
