package hangar_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// series plans flights that begin on the day after the story's, Monday 11 January 2027, at 9 h in Chicago.
func (c *club) series(change func(*hangar.SeriesPlan)) (hangar.PlannedSeries, error) {
	p := hangar.SeriesPlan{Flight: c.flightPlan(21), Repeat: hangar.Repeat{Every: "weeks", Interval: 1, Until: "2027-04-12"}}
	if change != nil {
		change(&p)
	}
	var made hangar.PlannedSeries
	_, err := c.service.PlanSeries(c.t.Context(), c.who, p, nil, keep(&made))
	return made, err
}

// TestASeriesStaysAtItsTimeOnTheClock: daylight saving begins in Chicago on 14 March 2027 at 2 h (15 U.S.C. 260a: the second
// Sunday of March), and the aircraft still leaves at 9 h.
func TestASeriesStaysAtItsTimeOnTheClock(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	made, err := c.series(func(p *hangar.SeriesPlan) { p.Repeat.Skip = []string{"2027-02-15"} })
	if err != nil {
		t.Fatal(err)
	}
	chicago, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	if len(made.Flights) != 13 {
		t.Fatalf("%d flights", len(made.Flights))
	}
	for i, f := range made.Flights {
		local := f.Departs.In(chicago)
		if local.Weekday() != time.Monday || local.Hour() != 9 || local.Minute() != 0 || f.Arrives.Sub(f.Departs) != 90*time.Minute {
			t.Errorf("flight %d departs at %v and lasts %v", i, local, f.Arrives.Sub(f.Departs))
		}
		if local.Format(time.DateOnly) == "2027-02-15" {
			t.Error("the date that is skipped is flown")
		}
		if stored := c.flight(f.ID); stored.Series != made.Series || !stored.Hold.Same(f.Hold) || !stored.Departs.Equal(f.Departs) || stored.Light.Night == nil || *stored.Light.Night {
			t.Errorf("flight %d is stored as %+v", i, stored)
		}
		c.holds(f.ID, f.Hold.Verdict) // judged anew, it says the same
	}
	if winter, summer := made.Flights[0].Departs.Hour(), made.Flights[12].Departs.Hour(); winter != 15 || summer != 14 {
		t.Errorf("it leaves at %d h and %d h UTC", winter, summer)
	}
}

// TestEachFlightOfASeriesIsJudged: a deferral that runs out holds the later ones from the start, one that is changed is a flight
// of its own, and the rest is called off from a date on.
func TestEachFlightOfASeriesIsJudged(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	filed := c.squawk("inoperative", "landing-light", "")
	c.carryOver(filed.Squawk.ID, techlog.StepDefer, deferral(noon.Add(10*24*time.Hour)))
	made, err := c.series(func(p *hangar.SeriesPlan) {
		p.Repeat = hangar.Repeat{Every: "weeks", Interval: 2, Weekdays: []time.Weekday{time.Monday, time.Thursday}, Until: "2027-02-11"}
	})
	if err != nil {
		t.Fatal(err)
	}
	var dates, verdicts []string
	for _, f := range made.Flights {
		dates, verdicts = append(dates, f.Departs.Format("01-02")), append(verdicts, f.Hold.Verdict)
	}
	if !slices.Equal(dates, []string{"01-11", "01-14", "01-25", "01-28", "02-08", "02-11"}) ||
		!slices.Equal(verdicts, []string{"clear", "clear", "grounded", "grounded", "grounded", "grounded"}) {
		t.Fatalf("%v are %v", dates, verdicts)
	}
	second := made.Flights[1]
	var h hangar.HeldFlight
	c.must(c.service.ChangeFlight(t.Context(), c.who, second.ID, 1, c.flightPlan(24*30), nil, keep(&h)))
	if h.Flight.Series != made.Series || h.Flight.Hold.Verdict != "grounded" {
		t.Errorf("changed: %+v", h.Flight)
	}
	c.must(c.service.CancelFlight(t.Context(), c.who, made.Flights[3].ID, 1, nil, keep(&techlog.Flight{})))

	var gone []techlog.Flight
	c.must(c.service.CancelSeries(t.Context(), c.who, made.Series, "2027-02-08", nil, keep(&gone)))
	var ids []techlog.ID
	for _, f := range gone {
		ids = append(ids, f.ID)
	}
	if !slices.Equal(ids, []techlog.ID{made.Flights[4].ID, second.ID, made.Flights[5].ID}) {
		t.Errorf("called off: %v", gone)
	}
	c.wait(22 * time.Hour) // the first has departed
	c.must(c.service.CancelSeries(t.Context(), c.who, made.Series, "", nil, keep(&gone)))
	if len(gone) != 1 || gone[0].ID != made.Flights[2].ID || c.flight(made.Flights[0].ID).State != techlog.Planned {
		t.Errorf("called off: %v", gone)
	}
	c.must(c.service.CancelSeries(t.Context(), c.who, made.Series, "", nil, keep(&gone)))
	if len(gone) != 0 {
		t.Errorf("called off twice: %v", gone)
	}
	_, err = c.service.CancelSeries(t.Context(), c.who, newID(), "", nil, keep(&gone))
	c.kind(err, techlog.KindNotFound)
	listed, err := c.service.Flights(t.Context(), c.who, hangar.FlightFilter{Series: made.Series, State: techlog.Planned}, hangar.Page{Limit: 9})
	if err != nil || len(listed) != 1 || listed[0].ID != made.Flights[0].ID {
		t.Errorf("left are %v, %v", listed, err)
	}
}

// TestBadSeriesAreRefused names what is wrong, and records no flight.
func TestBadSeriesAreRefused(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	for _, tt := range []struct {
		field, rule string
		change      func(*hangar.SeriesPlan)
	}{
		{"repeat.every", "known-step", func(p *hangar.SeriesPlan) { p.Repeat.Every = "months" }},
		{"repeat.interval", "range", func(p *hangar.SeriesPlan) { p.Repeat.Interval = 0 }},
		{"repeat.weekdays", "of-weeks", func(p *hangar.SeriesPlan) { p.Repeat.Every, p.Repeat.Weekdays = "days", []time.Weekday{time.Monday} }},
		{"repeat.weekdays", "has-first", func(p *hangar.SeriesPlan) { p.Repeat.Weekdays = []time.Weekday{time.Friday} }},
		{"repeat.until", "date", func(p *hangar.SeriesPlan) { p.Repeat.Until = "soon" }},
		{"repeat.until", "after-first", func(p *hangar.SeriesPlan) { p.Repeat.Until = "2027-01-10" }},
		{"repeat.until", "length", func(p *hangar.SeriesPlan) { p.Repeat.Every, p.Repeat.Until = "days", "2028-02-15" }},
		{"repeat.skip[0]", "of-the-series", func(p *hangar.SeriesPlan) { p.Repeat.Skip = []string{"2027-01-12"} }},
		{"repeat.skip[1]", "unique", func(p *hangar.SeriesPlan) { p.Repeat.Skip = []string{"2027-01-18", "2027-01-18"} }},
		{"repeat.skip", "some-left", func(p *hangar.SeriesPlan) { p.Repeat.Until, p.Repeat.Skip = "2027-01-11", []string{"2027-01-11"} }},
		{"flight.rules", "known-rules", func(p *hangar.SeriesPlan) { p.Flight.Rules = "svfr" }},
		{"from", "known-base", func(p *hangar.SeriesPlan) { p.Flight.From = newID() }},
		{"arrives", "future", func(p *hangar.SeriesPlan) {
			p.Flight.Departs, p.Flight.Arrives = noon.Add(-3*time.Hour), noon.Add(-2*time.Hour)
		}},
	} {
		_, err := c.series(tt.change)
		if err == nil {
			t.Errorf("%s: %s is accepted", tt.field, tt.rule)
			continue
		}
		refused(t, err, tt.field, tt.rule)
	}
	_, err := c.service.CancelSeries(t.Context(), c.who, newID(), "tomorrow", nil, nil)
	refused(t, err, "from", "date")
	if all, err := c.service.Flights(t.Context(), c.who, hangar.FlightFilter{}, hangar.Page{Limit: 9}); err != nil || len(all) > 0 {
		t.Errorf("%d flights, %v: something was written", len(all), err)
	}
	longest, err := c.series(func(p *hangar.SeriesPlan) { p.Repeat.Every, p.Repeat.Until = "days", "2028-02-14" })
	if err != nil || len(longest.Flights) != hangar.MaxSeries {
		t.Errorf("%d flights, %v", len(longest.Flights), err)
	}
}

// TestDatesOfASeries holds of random series that they are on the dates that a calendar gives them: every one in range, on its
// weekday, the interval apart, none skipped, at one time of the clock wherever there is such a time.
func TestDatesOfASeries(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		zone, err := time.LoadLocation(rapid.SampledFrom([]string{"America/Chicago", "Australia/Lord_Howe", "Europe/Berlin", "America/Phoenix"}).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		first := time.Date(2027, 1, 1+rapid.IntRange(0, 365).Draw(t, "day"), rapid.IntRange(0, 23).Draw(t, "hour"), rapid.IntRange(0, 59).Draw(t, "minute"), 0, 0, zone)
		r := hangar.Repeat{
			Every: rapid.SampledFrom([]string{"days", "weeks"}).Draw(t, "every"), Interval: rapid.IntRange(1, 5).Draw(t, "interval"),
			Until: first.AddDate(0, 0, rapid.IntRange(0, 390).Draw(t, "length")).Format(time.DateOnly),
		}
		on := []time.Weekday{first.Weekday()}
		if r.Every == "weeks" && rapid.Bool().Draw(t, "more days") {
			on = append(on, time.Weekday(rapid.IntRange(0, 6).Draw(t, "weekday")))
			r.Weekdays = on
		}
		departures, err := hangar.Departures(r, first)
		if err != nil {
			t.Fatal(err)
		}
		if !departures[0].Equal(first) {
			t.Fatalf("it begins at %v, want %v", departures[0], first)
		}
		got := map[string]bool{}
		for _, d := range departures {
			name := d.Format(time.DateOnly)
			got[name] = true
			want := time.Date(d.Year(), d.Month(), d.Day(), first.Hour(), first.Minute(), 0, 0, zone)
			if name > r.Until || !d.Equal(want) {
				t.Fatalf("it departs at %v, want %v, until %s", d, want, r.Until)
			}
		}
		// Counted another way: in weeks of the ISO calendar, and in days since 1970.
		day := func(d time.Time) int {
			return int(time.Date(d.Year(), d.Month(), d.Day(), 0, 0, 0, 0, time.UTC).Unix() / 86400)
		}
		for date := first; strings.Compare(date.Format(time.DateOnly), r.Until) <= 0; date = time.Date(date.Year(), date.Month(), date.Day()+1, 12, 0, 0, 0, zone) {
			due := (day(date)-day(first))%r.Interval == 0
			if r.Every == "weeks" {
				due = ((day(date)+3)/7-(day(first)+3)/7)%r.Interval == 0 && slices.Contains(on, date.Weekday()) // 1 January 1970 was a Thursday
			}
			if name := date.Format(time.DateOnly); got[name] != due {
				t.Fatalf("%s (%s): flown %v, want %v", name, date.Weekday(), got[name], due)
			}
		}
	})
}
