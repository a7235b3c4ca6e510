package scenario_test

import (
	"reflect"
	"strings"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/testrig/scenario"
)

func TestTheMEL(t *testing.T) {
	t.Parallel()
	have := tell(t,
		"mel: on-record", "mel: authority certificate", "mel: letter not aboard",
		"mel: adf = installed 1, required 0, category C",
		"mel: dme = installed 2, required 1, category B", "mel: clock = required 0",
		"mel: dme = installed 2, required 0, category A, days 5, operations, maintenance unknown, only-when !ifr !night, proviso not in company",
		"mel: without clock",
	).Aircraft.Configuration.MEL
	want := casefile.MEL{
		OnRecord: ptr(true), Aboard: ptr(true), Authority: "certificate", LetterAboard: ptr(false),
		Rows: []casefile.MELRow{
			{Item: "adf", Installed: ptr(1), Required: ptr(0), Category: "C", OperationsProcedure: ptr(false), MaintenanceProcedure: ptr(false)},
			{
				Item: "dme", Installed: ptr(2), Required: ptr(0), Category: "A", Days: ptr(5), OperationsProcedure: ptr(true),
				Proviso: "not in company", OnlyWhen: "!ifr !night",
			},
		},
	}
	if !reflect.DeepEqual(have, want) {
		t.Errorf("want %+v\nhave %+v", want, have)
	}
	for line, want := range map[string]casefile.MEL{
		"mel: unknown": {}, "mel: none": {OnRecord: ptr(false)}, "mel: letter aboard": {OnRecord: ptr(true), Aboard: ptr(true), Authority: "letter", LetterAboard: ptr(true)},
		"mel: letter unknown":    {OnRecord: ptr(true), Aboard: ptr(true), Authority: "letter"},
		"mel: authority unknown": {OnRecord: ptr(true), Aboard: ptr(true)},
	} {
		have := tell(t, "mel: on-record", "mel: authority letter", line).Aircraft.Configuration.MEL
		if !reflect.DeepEqual(have, want) {
			t.Errorf("%s: want %+v, have %+v", line, want, have)
		}
	}
	if _, err := try("mel: on-record", "mel: without dme"); err == nil || err.Error() != "f:1: x: mel: without dme: it has no such row" {
		t.Errorf("have %v", err)
	}
}

func TestThePermit(t *testing.T) {
	t.Parallel()
	from, until := time.Date(2027, 1, 14, 8, 30, 0, 0, time.UTC), time.Date(2027, 1, 16, 20, 0, 0, 0, time.UTC)
	have := tell(t, "permit: SF-0001, issued 2027-01-12, from 2027-01-14 08:30, until 2027-01-16 20:00, covers light/dme-1, "+
		"kinds day-vfr/day-ifr, only-required-crew, limitation direct, limitation low").Flight.SpecialFlightPermit
	want := &casefile.Permit{
		Number: "SF-0001", Issued: "2027-01-12", ValidFrom: &from, ValidUntil: &until, Covers: []string{"light", "dme-1"},
		Kinds: &[]string{"day-vfr", "day-ifr"}, OnlyRequiredCrew: ptr(true), Limitations: []string{"direct", "low"},
	}
	if !reflect.DeepEqual(have, want) {
		t.Errorf("want %+v\nhave %+v", want, have)
	}
	if have := tell(t, "permit: 7").Flight.SpecialFlightPermit; !reflect.DeepEqual(have, &casefile.Permit{Number: "7"}) {
		t.Errorf("have %+v", have)
	}
	have = tell(t, "permit: 7, kinds none, others allowed").Flight.SpecialFlightPermit
	if !reflect.DeepEqual(have, &casefile.Permit{Number: "7", Kinds: &[]string{}, OnlyRequiredCrew: ptr(false)}) {
		t.Errorf("have %+v", have)
	}
}

func TestWhatWasFound(t *testing.T) {
	t.Parallel()
	have := tell(t, "given: tire condition", "given: light condition",
		"found: tire repaired, rated, data page 32-1, approved", "found: light within-limits").Defects
	want := []*casefile.Found{{Result: "repaired", Rated: true, Data: "page 32-1", Approved: true}, {Result: "within-limits"}}
	for i := range want {
		if !reflect.DeepEqual(have[i].Found, want[i]) {
			t.Errorf("want %+v, have %+v", want[i], have[i].Found)
		}
	}
}

func TestWhatIsDoneUnderAnMEL(t *testing.T) {
	t.Parallel()
	have := tell(t, "given: light inoperative, maintenance procedure done, discovered 2027-01-04, extended until 2027-02-01").Defects[0].Deferral
	want := &casefile.Deferral{MaintenanceProcedureDone: true, Discovered: "2027-01-04", Extended: true, ExtendedUntil: "2027-02-01"}
	if !reflect.DeepEqual(have, want) {
		t.Errorf("want %+v, have %+v", want, have)
	}
}

func TestWhatADirectiveSaysOfPermits(t *testing.T) {
	t.Parallel()
	rows := tell(t, "on-list: directives = dme 1", "on-list: directives = adf 1, permit barred", "on-list: directives = clock 2 for day-vfr, permit allowed").
		Aircraft.Configuration.Directives.Rows
	want := []casefile.OwnRow{
		{Item: "dme", Quantity: 1},
		{Item: "adf", Quantity: 1, PermitBarred: ptr(true)},
		{Item: "clock", Quantity: 2, Kinds: []string{"day-vfr"}, PermitBarred: ptr(false)},
	}
	if !reflect.DeepEqual(rows, want) {
		t.Errorf("want %+v, have %+v", want, rows)
	}
}

func TestParseRefusesOnTheOtherPaths(t *testing.T) {
	t.Parallel()
	for line, says := range map[string]string{
		"mel: lost":                               `f:8: want NAME = VALUE, have "lost"`,
		"mel: dme = weighs 4":                     `f:8: mel, "weighs 4": no part of a row`,
		"mel: dme = installed":                    `f:8: mel, "installed": no part of a row`,
		"mel: dme = installed many":               `f:8: mel, "installed many": want a whole number`,
		"permit: 7, from dawn":                    `f:8: permit, "from dawn": want a moment YYYY-MM-DD HH:MM, have "dawn"`,
		"permit: 7, until 2027-01-15":             `f:8: permit, "until 2027-01-15": want a moment YYYY-MM-DD HH:MM, have "2027-01-15"`,
		"permit: 7, signed":                       `f:8: permit, "signed": no part of a permit`,
		"permit: 7\npermit: 8":                    "f:9: permit stands twice in one story",
		"found: tire repaired":                    `f:8: found: nothing is given about "tire"`,
		"found: landing-light mended, ":           `f:8: a space before or after the text`,
		"found: landing-light repaired, polished": `f:8: found: "polished" is nothing that clears a condition`,
		"found: landing-light repaired, data":     `f:8: found: "data" is nothing that clears a condition`,
		"given: dme inoperative, discovered then": `f:8: given: "discovered then" is nothing that is done to defer an item`,
	} {
		if _, err := scenario.Parse("f", whole+line+"\n"); err == nil || err.Error() != says {
			t.Errorf("%s: want %s\nhave %v", strings.TrimSpace(line), says, err)
		}
	}
}
