package hangar_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// lookAhead tells what comes due, and gives what was told: thing, day and lead.
func (c *club) lookAhead() []string {
	c.t.Helper()
	n, err := c.service.LookAhead(c.t.Context(), c.store)
	if err != nil {
		c.t.Fatal(err)
	}
	all, err := c.service.Warnings(c.t.Context(), c.who, c.aircraft, hangar.Page{Limit: n})
	if err != nil || len(all) != n {
		c.t.Fatalf("%d told, %d listed, %v", n, len(all), err)
	}
	var told []string
	for _, w := range all {
		told = append(told, w.Thing+" "+w.Due+" "+(time.Duration(w.Lead)*24*time.Hour).String())
	}
	slices.Sort(told)
	return told
}

// aheadEvents are the events of warnings, each with its warning.
func (c *club) aheadEvents() []techlog.Warning {
	c.t.Helper()
	events, err := c.store.Events(c.t.Context(), c.who.Organization, 0, 1000)
	if err != nil {
		c.t.Fatal(err)
	}
	var told []techlog.Warning
	for _, e := range events {
		if e.Kind != hangar.DueAhead {
			continue
		}
		w, err := c.service.Warning(c.t.Context(), c.who, e.Subject)
		if err != nil || w.Aircraft != e.Aircraft {
			c.t.Fatalf("%+v: %v", e, err)
		}
		told = append(told, w)
	}
	return told
}

// change alters what is on record of the trainer.
func (c *club) change(change func(*techlog.Aircraft)) {
	c.t.Helper()
	a, err := c.store.Aircraft(c.t.Context(), c.who.Organization, c.aircraft)
	if err != nil {
		c.t.Fatal(err)
	}
	change(&a)
	c.must(c.service.ChangeAircraft(c.t.Context(), c.who, hangar.AircraftChange{Aircraft: a.ID, Version: a.Version, Facts: &a.Facts}, nil, keep(&a)))
}

// runsOut says when the registration of the trainer does.
func (c *club) runsOut(day string) {
	c.t.Helper()
	c.change(func(a *techlog.Aircraft) {
		papers := *a.Facts.Papers
		papers.Registration.Through = day
		a.Facts.Papers = &papers
	})
}

// only keeps what was told of a thing.
func only(told []string, thing string) []string {
	return slices.DeleteFunc(told, func(s string) bool { return !strings.HasPrefix(s, thing) })
}

// TestPeopleAreToldAhead 30, 7 and 1 days, each once, however often it is looked; late only for the lead that it has come
// to; again when the day moves; and not of what was renewed.
func TestPeopleAreToldAhead(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	const paper = "paper:registration"
	day := func(n int) time.Time { return time.Date(2027, 3, 1, 18, 0, 0, 0, time.UTC).AddDate(0, 0, -n) }
	c.runsOut("2027-03-01")
	tell := func(daysBefore int, want ...string) {
		t.Helper()
		c.mu.Lock()
		c.now = day(daysBefore)
		c.mu.Unlock()
		got := only(c.lookAhead(), paper)
		for i := range want {
			want[i] = paper + " " + want[i]
		}
		if !slices.Equal(got, want) {
			t.Errorf("%d days before: %v, want %v", daysBefore, got, want)
		}
		if again := c.lookAhead(); len(again) != 0 {
			t.Errorf("%d days before, again: %v", daysBefore, again)
		}
	}
	const month, week, tomorrow = "720h0m0s", "168h0m0s", "24h0m0s"
	tell(31)
	tell(30, "2027-03-01 "+month)
	tell(29)
	tell(5, "2027-03-01 "+week) // two days late
	c.runsOut("2027-03-04")     // it has moved: five days before is eight
	tell(5, "2027-03-04 "+month)
	tell(2, "2027-03-04 "+week)
	c.runsOut("2027-03-01") // a slip, set right: told of already for this lead
	tell(2)
	tell(0, "2027-03-01 "+tomorrow)
	tell(-1) // it has run out: that holds flights, and is no warning
	c.runsOut("2028-03-01")
	tell(-2)
	events := c.aheadEvents()
	n := 0
	for _, w := range events {
		if w.Thing == paper {
			n++
		}
	}
	if n != 5 {
		t.Errorf("%d events of the registration", n)
	}
	if w := events[0]; w.Registration != "N012TW" || w.Says == "" || w.What == "" {
		t.Errorf("%+v", w)
	}
}

// TestOneOfMany who look ahead at once tells it.
func TestOneOfManyTells(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.runsOut("2027-01-15")
	failed := make(chan error)
	const many = 6
	for range many {
		go func() {
			_, err := c.service.LookAhead(t.Context(), c.store)
			failed <- err
		}()
	}
	for range many {
		if err := <-failed; err != nil {
			t.Error(err)
		}
	}
	told := map[string]int{}
	for _, w := range c.aheadEvents() {
		told[w.Thing+w.Due]++
	}
	for thing, n := range told {
		if n != 1 {
			t.Errorf("%s: told %d times", thing, n)
		}
	}
	if told["paper:registration2027-01-15"] != 1 {
		t.Errorf("%v", told)
	}
}

// TestWhatIsToldAhead: an inspection by its last day, by hours on the planned flight that uses them up, a deferral by the
// day at the base that its end is the end of, each with words.
func TestWhatIsToldAhead(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	q := c.squawk("inoperative", "landing-light", "").Squawk
	c.carryOver(q.ID, techlog.StepDefer, deferral(time.Date(2027, 1, 20, 6, 0, 0, 0, time.UTC))) // midnight at the base: the end of the 19th
	upcoming := func() map[string]techlog.Upcoming {
		t.Helper()
		all, err := c.service.Upcoming(t.Context(), c.who, c.aircraft)
		if err != nil {
			t.Fatal(err)
		}
		by := map[string]techlog.Upcoming{}
		for i, u := range all {
			by[u.Thing] = u
			if i > 0 && all[i-1].Days > u.Days || u.Says == "" || u.What == "" || u.Registration != "N012TW" {
				t.Errorf("%+v", u)
			}
		}
		return by
	}
	before := upcoming()
	if d := before["deferral:"+q.ID.String()]; d.Due != "2027-01-19" || d.Days != 9 || d.Squawk != q.ID || !strings.Contains(d.Says, "14 CFR 91.213(d)") {
		t.Errorf("%+v", d)
	}
	if a := before["upkeep:annual"]; a.Due == "" || !strings.Contains(a.Says, "14 CFR 91.409(a)") {
		t.Errorf("%+v", a)
	}
	if h, ok := before["upkeep:hundred-hour"]; ok {
		t.Errorf("by hours it has no day, as long as no flight is planned: %+v", h)
	}
	list, err := c.service.Due(t.Context(), c.who, c.aircraft)
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(list.Items, func(i casefile.DueItem) bool { return i.ID == "hundred-hour" })
	left := *list.Items[i].Left.Hours
	for n := range int(left/5) + 2 { // five hours a day
		c.plan(float64(24*n+1), func(p *hangar.FlightPlan) {
			p.Arrives = p.Departs.Add(5 * time.Hour)
			p.Facts.Hours, p.Facts.InstructionProvidedAircraft = new(5.0), new(true)
		})
	}
	after := upcoming()
	// Of days and hours whichever comes first: 50 h since 4,270.9 h are used up 3.5 h into the second flight.
	if before, oil := before["upkeep:oil-change"], after["upkeep:oil-change"]; before.Due != "2027-03-20" || oil.Due != "2027-01-11" || !strings.Contains(oil.Says, "3.5 h") {
		t.Errorf("%+v, then %+v", before, oil)
	}
	want := noon.AddDate(0, 0, int(left/5)).Format(time.DateOnly)
	if h := after["upkeep:hundred-hour"]; h.Due != want || h.Says == "" {
		t.Errorf("%v h are left: %+v, want %s", left, h, want)
	}
}

// TestARuleToComeIsToldAhead: a flight is held by a rule that is in force on its day, though it is not today; people are
// told before the rule's first day, with the flights; and nobody is told of a rule that holds nothing.
func TestARuleToComeIsToldAhead(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	rules := techlog.CompanyRules{Rules: []casefile.CompanyRule{
		{ID: "company-two-coms", Citation: "Operations manual 3.1", Item: "com-radio", Quantity: "9", Words: "Nine radios from February on.", From: "2027-02-01"},
		{ID: "company-beacon", Citation: "Operations manual 3.2", Item: "beacon", Quantity: "1", Words: "A beacon from February on.", From: "2027-02-01"},
	}}
	c.must(c.service.ChangeCompanyRules(t.Context(), c.who, rules, nil, keep(&rules)))
	today, later := c.plan(24, nil).Flight, c.plan(24*30, nil).Flight
	c.holds(today.ID, "clear")
	if c.holds(later.ID, "grounded"); !slices.Contains(c.flight(later.ID).Hold.Rows, "company-two-coms") {
		t.Errorf("%+v", c.flight(later.ID).Hold)
	}
	if told := only(c.lookAhead(), "row:"); !slices.Equal(told, []string{"row:company-two-coms 2027-02-01 720h0m0s"}) {
		t.Errorf("%v", told)
	}
	for _, w := range c.aheadEvents() {
		if strings.HasPrefix(w.Thing, "row:") && (len(w.Flights) != 1 || w.Flights[0] != later.ID || !strings.Contains(w.Says, "Nine radios from February on.")) {
			t.Errorf("%+v", w)
		}
	}
	c.must(c.service.CancelFlight(t.Context(), c.who, later.ID, later.Version, nil, keep(&later)))
	c.mu.Lock()
	c.now = time.Date(2027, 1, 31, 18, 0, 0, 0, time.UTC)
	c.mu.Unlock()
	if told := only(c.lookAhead(), "row:"); len(told) != 0 {
		t.Errorf("no flight is held any more, and %v is told", told)
	}
}

// TestAFlightMonthsAheadIsRightToday: what light it meets is worked out from its own day, by internal/daylight, which is
// held against an almanac. At one time on the wall it is day in June and night in December, when position lights are
// required (14 CFR 91.205(c)(2)).
func TestAFlightMonthsAheadIsRightToday(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.change(func(a *techlog.Aircraft) { a.Facts.AnnualInspected = "2027-01-01" })
	zone, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	c.carryOver(c.squawk("inoperative", "position-left", "").Squawk.ID, techlog.StepDefer, deferral(noon.AddDate(2, 0, 0)))
	planned := map[time.Month]techlog.Flight{}
	for _, month := range []time.Month{time.June, time.December} {
		planned[month] = c.plan(0, func(p *hangar.FlightPlan) {
			p.Departs = time.Date(2027, month, 21, 18, 0, 0, 0, zone)
			p.Arrives = p.Departs.Add(90 * time.Minute)
		}).Flight
	}
	if june := planned[time.June]; *june.Light.Night || slices.Contains(june.Hold.Rows, "91.205-c-2") {
		t.Errorf("%+v", june)
	}
	if december := planned[time.December]; !*december.Light.Night || !slices.ContainsFunc(december.Hold.Rows, func(r string) bool { return strings.HasPrefix(r, "91.205-c-2") }) || !december.Hold.Holds() {
		t.Errorf("%+v", december)
	}
}

// TestHowFarAheadIsSet by maintenance control and administrators, by versions, checked.
func TestHowFarAheadIsSet(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	leads, err := c.service.WarningLeads(t.Context(), c.who)
	if err != nil || leads.Version != 0 || !slices.Equal(leads.Days, []int{30, 7, 1}) {
		t.Errorf("%+v %v", leads, err)
	}
	c.must(c.service.ChangeWarningLeads(t.Context(), c.who, 0, []int{2, 60, 2}, nil, keep(&leads)))
	if leads, err = c.service.WarningLeads(t.Context(), c.who); err != nil || leads.Version != 1 || !slices.Equal(leads.Days, []int{60, 2}) || leads.By != c.who.Name {
		t.Errorf("%+v %v", leads, err)
	}
	_, err = c.service.ChangeWarningLeads(t.Context(), c.who, 0, nil, nil, keep(&leads))
	c.kind(err, techlog.KindStale)
	_, err = c.service.ChangeWarningLeads(t.Context(), c.who, 1, []int{400}, nil, keep(&leads))
	c.kind(err, techlog.KindInvalid)
	pilot := c.who
	pilot.Roles = techlog.As(techlog.Pilot)
	_, err = c.service.ChangeWarningLeads(t.Context(), pilot, 1, nil, nil, keep(&leads))
	c.kind(err, techlog.KindForbidden)
	c.must(c.service.ChangeWarningLeads(t.Context(), c.who, 1, nil, nil, keep(&leads)))
	c.runsOut("2027-01-11")
	if told := c.lookAhead(); len(told) != 0 {
		t.Errorf("nobody is to be told ahead: %v", told)
	}
}
