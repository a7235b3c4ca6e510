package hangar_test

import (
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/regulation"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// checks are a short walkaround.
func checks() []walkaround.Check {
	return []walkaround.Check{
		{ID: "tach", Station: walkaround.Cabin, Way: walkaround.Compare, Words: "Tach", Means: walkaround.OnRecord, Meter: walkaround.Tach},
		{ID: "oil", Station: walkaround.Nose, Way: walkaround.Measure, Words: "Oil", Means: walkaround.Servicing, Item: "engine-oil", In: "qt", AtLeast: new(5.5), Required: true},
		{ID: "registration", Station: walkaround.FinalReview, Way: walkaround.Paper, Words: "Registration", Means: walkaround.OnRecord, Paper: "registration", Dated: true},
	}
}

func said(check string, said walkaround.Answer) walkaround.Result {
	return walkaround.Result{ID: newID(), Check: check, Said: said, MadeAt: noon}
}

// walkable gives the club's aircraft a checklist.
func (c *club) walkable() {
	c.t.Helper()
	var template walkaround.Template
	c.must(c.service.AddChecklistTemplate(c.t.Context(), c.who, hangar.ChecklistEntry{Type: "Tansy", Checks: checks()}, nil, keep(&template)))
	c.must(c.service.ChangeChecklistTemplate(c.t.Context(), c.who, template.ID, 1, hangar.ChecklistEntry{Type: "Tansy 140", Checks: checks()}, nil, keep(&template)))
	if template.Version != 2 {
		c.t.Errorf("the template is at version %d", template.Version)
	}
	made := walkaround.AirframeChecklist{Aircraft: c.aircraft, Template: template.ID}
	var list hangar.AircraftChecklist
	c.must(c.service.ChangeChecklist(c.t.Context(), c.who, made, nil, keep(&list)))
	if list.Made.Version != 1 || list.Made.TemplateVersion != 2 {
		c.t.Errorf("the airframe's checklist is %+v", list.Made)
	}
}

// TestEveryChangeOfAWalkaroundMayBeRunAgain holds that a change which the store had to start over does what it would have
// done at once.
func TestEveryChangeOfAWalkaroundMayBeRunAgain(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	book, err := regulation.Current()
	if err != nil {
		t.Fatal(err)
	}
	c.service = hangar.New(hangar.Settings{
		Store: again{c.store}, Book: hangar.Book{Rules: book.Ruleset, Upkeep: book.Upkeep, Digest: book.Digest}, Now: c.clock, NewID: newID,
	})
	c.walkable()
	var book0 []walkaround.BookEntry
	c.must(c.service.EnterMeters(t.Context(), c.who, hangar.MeterReading{Aircraft: c.aircraft, Tach: new(100.0), TimeInService: new(90.0)}, nil, keep(&book0)))
	var view hangar.WalkaroundView
	c.must(c.service.StartWalkaround(t.Context(), c.who, hangar.WalkaroundStart{Aircraft: c.aircraft}, nil, keep(&view)))
	low := said("oil", walkaround.Answer{Value: new(4.0)})
	var reported hangar.ReportedWalkaround
	c.must(c.service.ReportResults(t.Context(), c.who, hangar.WalkaroundReport{
		Walkaround: view.Walkaround.ID, Complete: true, Results: []walkaround.Result{low, said("tach", walkaround.Answer{Value: new(100.1)})},
	}, nil, keep(&reported)))
	if reported.Taken != 2 || reported.Walkaround.State != walkaround.Completed || reported.Walkaround.Version != 2 {
		t.Errorf("%+v", reported.Walkaround)
	}
	var filed hangar.FiledSquawk
	c.must(c.service.FileFinding(t.Context(), c.who, hangar.FindingReport{Walkaround: view.Walkaround.ID, Result: low.ID}, nil, keep(&filed)))
	c.must(c.service.EnterMeters(t.Context(), c.who, hangar.MeterReading{Aircraft: c.aircraft, AirHours: new(0.0), Because: "none"}, nil, keep(&book0)))
	after, err := c.service.Meters(t.Context(), c.who, c.aircraft)
	if err != nil || len(after) != 2 || after[0].Hours != 100.1 || after[0].Number != 2 || after[1].Number != 2 || after[1].Hours != 90 || after[1].Because != "" {
		t.Errorf("%+v, %v", after, err)
	}
	if filed.Squawk.Number != 1 || filed.Squawk.Item != "engine-oil" {
		t.Errorf("%+v", filed.Squawk)
	}
}

// TestPapersMustBeGoodOnTheDayOfTheFlight holds that a paper is held against the date on which the flight ends, where it
// begins, and without a flight against today.
func TestPapersMustBeGoodOnTheDayOfTheFlight(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.walkable()
	flight := c.plan(24, nil).Flight // departs on January 11th in the zone of the base
	yes := true
	for _, try := range []struct {
		flight techlog.ID
		until  string
		want   walkaround.Outcome
	}{
		{flight.ID, "2027-01-11", walkaround.Good},
		{flight.ID, "2027-01-10", walkaround.Finding},
		{techlog.ID{}, "2027-01-10", walkaround.Good},
		{techlog.ID{}, "2027-01-09", walkaround.Finding},
	} {
		var view hangar.WalkaroundView
		c.must(c.service.StartWalkaround(t.Context(), c.who, hangar.WalkaroundStart{Aircraft: c.aircraft, Flight: try.flight}, nil, keep(&view)))
		var reported hangar.ReportedWalkaround
		c.must(c.service.ReportResults(t.Context(), c.who, hangar.WalkaroundReport{
			Walkaround: view.Walkaround.ID, Results: []walkaround.Result{said("registration", walkaround.Answer{Present: &yes, Until: try.until})},
		}, nil, keep(&reported)))
		if got := reported.Review.Standings[2].Results[0].Outcome; got != try.want {
			t.Errorf("good until %s, flight %v: %s, want %s", try.until, !try.flight.IsZero(), got, try.want)
		}
	}
}

// TestTwoWalkaroundsReadOneMeter holds that of two walkarounds that read the same step of a meter one takes it into the
// book, and that neither is told of a gap.
func TestTwoWalkaroundsReadOneMeter(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.walkable()
	c.must(c.service.EnterMeters(t.Context(), c.who, hangar.MeterReading{Aircraft: c.aircraft, Tach: new(100.0)}, nil, keep(&[]walkaround.BookEntry{})))
	c.wait(time.Hour)
	for _, hours := range []float64{100.1, 100.1, 100.2, 101} {
		var view hangar.WalkaroundView
		c.must(c.service.StartWalkaround(t.Context(), c.who, hangar.WalkaroundStart{Aircraft: c.aircraft}, nil, keep(&view)))
		var reported hangar.ReportedWalkaround
		c.must(c.service.ReportResults(t.Context(), c.who, hangar.WalkaroundReport{
			Walkaround: view.Walkaround.ID, Results: []walkaround.Result{said("tach", walkaround.Answer{Value: &hours})},
		}, nil, keep(&reported)))
		if found := len(reported.Review.Findings()) > 0; found != (hours == 101) {
			t.Errorf("%v: a finding: %v", hours, found)
		}
	}
	if book, err := c.service.Meters(t.Context(), c.who, c.aircraft); err != nil || book[0].Number != 3 || book[0].Hours != 100.2 {
		t.Errorf("%+v, %v", book, err)
	}
}

// TestAWalkaroundOfNothingDoesNotBegin holds that an aircraft which has lost everything that its checklist is about has no
// walkaround that could be completed without a look.
func TestAWalkaroundOfNothingDoesNotBegin(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	heat := walkaround.Check{ID: "heat", Station: walkaround.LeftWing, Way: walkaround.Look, Words: "Pitot heat", Means: walkaround.Inoperative, Equipped: "pitot-heat"}
	var template walkaround.Template
	c.must(c.service.AddChecklistTemplate(t.Context(), c.who, hangar.ChecklistEntry{Type: "Tansy", Checks: []walkaround.Check{heat}}, nil, keep(&template)))
	c.must(c.service.ChangeChecklist(t.Context(), c.who, walkaround.AirframeChecklist{Aircraft: c.aircraft, Template: template.ID}, nil, keep(&hangar.AircraftChecklist{})))
	a, err := c.service.Aircraft(t.Context(), c.who, c.aircraft)
	if err != nil {
		t.Fatal(err)
	}
	a.Configuration.Units = slices.DeleteFunc(slices.Clone(a.Configuration.Units), func(u casefile.Unit) bool { return u.ID == "pitot-heat" })
	change := hangar.AircraftChange{Aircraft: c.aircraft, Version: a.Version, Configuration: &a.Configuration}
	c.must(c.service.ChangeAircraft(t.Context(), c.who, change, nil, keep(&a)))
	_, err = c.service.StartWalkaround(t.Context(), c.who, hangar.WalkaroundStart{Aircraft: c.aircraft}, nil, keep(&hangar.WalkaroundView{}))
	if techlog.KindOf(err) != techlog.KindConflict {
		t.Errorf("%v, want a conflict", err)
	}
}

// TestAFindingIsFiledOnce lets several people file one finding at the same moment.
func TestAFindingIsFiledOnce(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.walkable()
	var view hangar.WalkaroundView
	c.must(c.service.StartWalkaround(t.Context(), c.who, hangar.WalkaroundStart{Aircraft: c.aircraft}, nil, keep(&view)))
	low := said("oil", walkaround.Answer{Value: new(4.0)})
	report := hangar.WalkaroundReport{Walkaround: view.Walkaround.ID, Results: []walkaround.Result{low}}
	c.must(c.service.ReportResults(t.Context(), c.who, report, nil, keep(&hangar.ReportedWalkaround{})))
	var filed, refused atomic.Int32
	var group sync.WaitGroup
	for range 8 {
		group.Go(func() {
			_, err := c.service.FileFinding(t.Context(), c.who, hangar.FindingReport{Walkaround: view.Walkaround.ID, Result: low.ID}, nil, keep(&hangar.FiledSquawk{}))
			switch {
			case err == nil:
				filed.Add(1)
			case techlog.KindOf(err) == techlog.KindConflict:
				refused.Add(1)
			default:
				t.Error(err)
			}
		})
	}
	group.Wait()
	if filed.Load() != 1 || refused.Load() != 7 {
		t.Errorf("filed %d times, refused %d times", filed.Load(), refused.Load())
	}
}

// TestTooManyResultsAtOnce holds that a report has a bound of its own, whoever sends it.
func TestTooManyResultsAtOnce(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.walkable()
	var view hangar.WalkaroundView
	c.must(c.service.StartWalkaround(t.Context(), c.who, hangar.WalkaroundStart{Aircraft: c.aircraft}, nil, keep(&view)))
	report := hangar.WalkaroundReport{Walkaround: view.Walkaround.ID, Results: make([]walkaround.Result, hangar.MaxResults+1)}
	if _, err := c.service.ReportResults(t.Context(), c.who, report, nil, keep(&hangar.ReportedWalkaround{})); techlog.KindOf(err) != techlog.KindInvalid {
		t.Errorf("%v, want it invalid", err)
	}
}
