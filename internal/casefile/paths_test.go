package casefile_test

import (
	"errors"
	"reflect"
	"slices"
	"testing"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// underMEL is the sound case under an MEL, with a special flight permit and a condition found in order.
func underMEL() casefile.Case {
	c := sound()
	c.Aircraft.Facts.MELAuthorized = ptr(true)
	c.Aircraft.Configuration.Directives = casefile.OwnList{OnRecord: ptr(true), Rows: []casefile.OwnRow{{Item: "magneto", PermitBarred: ptr(false)}}}
	c.Aircraft.Configuration.MEL = casefile.MEL{
		OnRecord: ptr(true), Document: "revision 3", Authority: "certificate", LetterAboard: ptr(false),
		Rows: []casefile.MELRow{
			{
				Item: "com-radio", Installed: ptr(2), Required: ptr(1), Category: "A", Days: ptr(5), OperationsProcedure: ptr(true),
				MaintenanceProcedure: ptr(false), Proviso: "one works", OnlyWhen: "!ifr !night", Document: "page 23-1",
			},
			{Item: "clock"},
		},
	}
	c.Defects = append(c.Defects, casefile.Defect{
		ID: "b", Kind: "condition", Item: "tire", Found: &casefile.Found{Result: "within-limits", Rated: true, Data: "page 32-1", Approved: true},
	})
	c.Defects[0].Deferral = &casefile.Deferral{MaintenanceProcedureDone: true, Discovered: "2026-05-30", Extended: true, ExtendedUntil: "2026-06-09"}
	from, until := c.Flight.Departs.Add(-time.Hour), c.Flight.Arrives.Add(time.Hour)
	c.Flight.SpecialFlightPermit = &casefile.Permit{
		Number: "SF-0001", Issued: "2026-05-29", ValidFrom: &from, ValidUntil: &until, Covers: []string{"a", "b"},
		Limitations: []string{"direct"}, Kinds: &[]string{"day-vfr"}, OnlyRequiredCrew: ptr(true),
	}
	return c
}

// TestCompileHandsOnTheOtherPaths holds that what is written about a permit and a deferral is what the engine is asked.
func TestCompileHandsOnTheOtherPaths(t *testing.T) {
	t.Parallel()
	c := underMEL()
	q, err := casefile.Compile(c, book(t).Ruleset)
	if err != nil {
		t.Fatal(err)
	}
	date := func(s string) airworthiness.Fact[airworthiness.Date] {
		d, _ := airworthiness.ParseDate(s)
		return airworthiness.Given(d)
	}
	want := &airworthiness.Permit{
		Number: "SF-0001", Issued: date("2026-05-29"), ValidFrom: airworthiness.Given(c.Flight.Departs.Add(-time.Hour)),
		ValidUntil: airworthiness.Given(c.Flight.Arrives.Add(time.Hour)), Covers: []string{"a", "b"}, Kinds: airworthiness.Given(airworthiness.DayVFR),
		OnlyRequiredCrew: airworthiness.Yes, Limitations: []string{"direct"},
	}
	if !reflect.DeepEqual(q.Flight.Permit, want) || !q.Flight.Departs.Equal(c.Flight.Departs) {
		t.Errorf("want %+v\nhave %+v", want, q.Flight.Permit)
	}
	if d := q.Defects[0].Deferral; d.MaintenanceProcedureDone != airworthiness.Yes || d.Discovered != date("2026-05-30") || d.Extended != airworthiness.Yes || d.ExtendedUntil != date("2026-06-09") {
		t.Errorf("the deferral is %+v", d)
	}
	found := airworthiness.Found{
		Result: airworthiness.FoundWithinLimits, Rated: airworthiness.Yes, Data: airworthiness.Yes, Approved: airworthiness.Yes,
	}
	if have := q.Defects[1].Found; *have != found || q.Defects[0].Found != nil {
		t.Errorf("want %+v, have %+v", found, have)
	}

	c.Defects[0].Deferral, c.Defects[1].Found, c.Flight.SpecialFlightPermit = &casefile.Deferral{}, &casefile.Found{}, &casefile.Permit{Number: "1"}
	if q, err = casefile.Compile(c, book(t).Ruleset); err != nil {
		t.Fatal(err)
	}
	if d := q.Defects[0].Deferral; d.MaintenanceProcedureDone != airworthiness.No || d.Discovered.Known || d.Extended != airworthiness.No || d.ExtendedUntil.Known {
		t.Errorf("nothing is said, and the deferral is %+v", d)
	}
	if p := q.Flight.Permit; p.Issued.Known || p.ValidFrom.Known || p.ValidUntil.Known || p.Kinds.Known || p.OnlyRequiredCrew != airworthiness.Unknown {
		t.Errorf("nothing is said, and the permit is %+v", p)
	}
	if f := *q.Defects[1].Found; f.Result != airworthiness.FoundUnstated || f.Rated != airworthiness.No || f.Data != airworthiness.No || f.Approved != airworthiness.No {
		t.Errorf("nothing is said, and it is found %+v", f)
	}
}

func TestCompileNamesEveryFaultOfTheOtherPaths(t *testing.T) {
	t.Parallel()
	rules := book(t)
	if _, err := casefile.Compile(underMEL(), rules.Ruleset); err != nil {
		t.Fatalf("the sound case is refused: %v", err)
	}
	type mel = casefile.MEL
	onMEL := func(change func(*mel)) func(*casefile.Case) {
		return func(c *casefile.Case) { change(&c.Aircraft.Configuration.MEL) }
	}
	row := func(change func(*casefile.MELRow)) func(*casefile.Case) {
		return onMEL(func(m *mel) { change(&m.Rows[0]) })
	}
	permit := func(change func(*casefile.Permit)) func(*casefile.Case) {
		return func(c *casefile.Case) { change(c.Flight.SpecialFlightPermit) }
	}
	const inMEL, inPermit = "aircraft.configuration.mel.", "flight.special_flight_permit."
	for _, c := range []struct {
		field, rule string
		change      func(*casefile.Case)
	}{
		{inMEL + "authority", "known-word", onMEL(func(m *mel) { m.Authority = "91.213" })},
		{inMEL + "rows", "no-document", onMEL(func(m *mel) { m.OnRecord = ptr(false) })},
		{inMEL + "rows[1].item", "unique", onMEL(func(m *mel) { m.Rows[1].Item = "com-radio" })},
		{inMEL + "rows[1].item", "known-item", onMEL(func(m *mel) { m.Rows[1].Item = "watch" })},
		{inMEL + "rows[0].only_when", "flight-conditions", row(func(r *casefile.MELRow) { r.OnlyWhen = "sunny" })},
		{inMEL + "rows[0].only_when", "flight-conditions", row(func(r *casefile.MELRow) { r.OnlyWhen = "pressurized" })},
		{inMEL + "rows[0].installed", "range", row(func(r *casefile.MELRow) { r.Installed, r.Required = ptr(0), ptr(0) })},
		{inMEL + "rows[0].required", "range", row(func(r *casefile.MELRow) { r.Required = ptr(-1) })},
		{inMEL + "rows[0].required", "at-most-installed", row(func(r *casefile.MELRow) { r.Required = ptr(3) })},
		{inMEL + "rows[0].category", "known-word", row(func(r *casefile.MELRow) { r.Category, r.Days = "a", nil })},
		{inMEL + "rows[0].days", "category-a", row(func(r *casefile.MELRow) { r.Category = "B" })},
		{inMEL + "rows[0].days", "range", row(func(r *casefile.MELRow) { r.Days = ptr(0) })},
		{"aircraft.configuration.koel.rows[0].permit_barred", "directive", func(c *casefile.Case) {
			c.Aircraft.Configuration.KOEL.Rows[0].PermitBarred = ptr(true)
		}},
		{"defects[0].deferral.discovered", "date", func(c *casefile.Case) { c.Defects[0].Deferral.Discovered = "Monday" }},
		{"defects[1].found.result", "known-result", func(c *casefile.Case) { c.Defects[1].Found.Result = "fine" }},
		{"defects[1].found", "put-back", func(c *casefile.Case) {
			c.Defects[1].Deferral = &casefile.Deferral{Method: "removed", MethodDone: true}
		}},
		{inPermit + "number", "required", permit(func(p *casefile.Permit) { p.Number = " " })},
		{inPermit + "issued", "date", permit(func(p *casefile.Permit) { p.Issued = "today" })},
		{inPermit + "valid_until", "after-valid-from", permit(func(p *casefile.Permit) { p.ValidUntil = p.ValidFrom })},
		{inPermit + "kinds", "kind-of-operation", permit(func(p *casefile.Permit) { p.Kinds = &[]string{"day"} })},
		{inPermit + "covers[1]", "unique", permit(func(p *casefile.Permit) { p.Covers[1] = "a" })},
		{inPermit + "covers[0]", "unique", permit(func(p *casefile.Permit) { p.Covers[0] = "" })},
	} {
		bad := underMEL()
		c.change(&bad)
		_, err := casefile.Compile(bad, rules.Ruleset)
		var faults casefile.Faults
		if !errors.As(err, &faults) || len(faults) != 1 || faults[0].Field != c.field || faults[0].Rule != c.rule {
			t.Errorf("want one fault of rule %s at %s, got %v %+v", c.rule, c.field, err, faults)
			continue
		}
		if faults[0].Says == "" || faults[0].Remedy == "" {
			t.Errorf("it does not say enough: %+v", faults[0])
		}
	}
}

// TestTheLimitationsOfThePermitStandInTheAnswer holds that they do when it lifts something, and not otherwise.
func TestTheLimitationsOfThePermitStandInTheAnswer(t *testing.T) {
	t.Parallel()
	rules := book(t)
	for covers, want := range map[string]bool{"b": true, "z": false} {
		c := underMEL()
		c.Defects[1].Found = nil
		c.Aircraft.Facts.AnnualInspected, c.Aircraft.Facts.HoursSinceInspection = "2026-05-30", ptr(1.0) // which a permit lifts, whatever it covers
		c.Flight.ForHire, c.Flight.InstructionProvidedAircraft = ptr(false), ptr(false)
		c.Flight.OnlyRequiredCrew, c.Flight.SpecialFlightPermit.Covers = true, []string{covers}
		c.Aircraft.Facts.AnnualInspected = c.Flight.Departs.AddDate(0, -1, 0).Format(time.DateOnly) // or the permit lifts this
		c.Aircraft.Facts.HoursSinceInspection = ptr(1.0)
		c.Flight.Light = &casefile.Light{Day: ptr(true), Night: ptr(false)}
		q, err := casefile.Compile(c, rules.Ruleset)
		if err != nil {
			t.Fatal(err)
		}
		limits := casefile.Judge(q, rules.Ruleset, rules.Digest).Limitations
		if slices.Contains(limits, "direct") != want || slices.Contains(limits, airworthiness.WithinPermit) != want {
			t.Errorf("a permit for %s: limited to %q", covers, limits)
		}
	}
}
