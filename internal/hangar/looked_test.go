package hangar_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/camera"
	"tiedown/internal/walkaround"
)

// walking starts a walkaround of papers and of the time in service.
func (c *club) walking() techlog.ID {
	c.t.Helper()
	paper := func(id, name string, dated bool) walkaround.Check {
		return walkaround.Check{ID: id, Station: walkaround.Cabin, Way: walkaround.Paper, Words: "Aboard", Means: walkaround.OnRecord, Paper: name, Dated: dated}
	}
	list := []walkaround.Check{
		paper("certificate", "airworthiness-certificate", false), paper("registration", "registration", true), paper("checklist", "house-checklist", false),
		{ID: "log", Station: walkaround.Cabin, Way: walkaround.Compare, Words: "Time in service, by the log", Means: walkaround.OnRecord, Meter: walkaround.TimeInService},
	}
	var template walkaround.Template
	c.must(c.service.AddChecklistTemplate(c.t.Context(), c.who, hangar.ChecklistEntry{Type: "Tansy", Checks: list}, nil, keep(&template)))
	c.must(c.service.ChangeChecklist(c.t.Context(), c.who, walkaround.AirframeChecklist{Aircraft: c.aircraft, Template: template.ID}, nil, keep(&hangar.AircraftChecklist{})))
	var view hangar.WalkaroundView
	c.must(c.service.StartWalkaround(c.t.Context(), c.who, hangar.WalkaroundStart{Aircraft: c.aircraft}, nil, keep(&view)))
	return view.Walkaround.ID
}

func (c *club) report(walk techlog.ID, check string, at time.Time, a walkaround.Answer) {
	c.t.Helper()
	r := walkaround.Result{ID: newID(), Check: check, Said: a, MadeAt: at}
	c.must(c.service.ReportResults(c.t.Context(), c.who, hangar.WalkaroundReport{Walkaround: walk, Results: []walkaround.Result{r}}, nil, keep(&hangar.ReportedWalkaround{})))
}

// TestAWalkaroundFindsPapers: what was looked for on a walkaround is what the determination goes by (14 CFR 91.203(a)): a paper
// that is missing holds the flights until somebody finds it, and one that was seen is not renewed by that.
func TestAWalkaroundFindsPapers(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	walk := c.walking()
	flight := c.plan(30, nil).Flight.ID
	version := func() int {
		t.Helper()
		a, err := c.service.Aircraft(t.Context(), c.who, c.aircraft)
		if err != nil {
			t.Fatal(err)
		}
		return a.Version
	}
	held := func(want, row string) {
		t.Helper()
		c.holds(flight, want)
		if rows := c.flight(flight).Hold.Rows; row != "" && !slices.Contains(rows, row) {
			t.Errorf("held by %v, not by %s", rows, row)
		}
	}
	c.wait(time.Hour)
	c.report(walk, "registration", c.clock(), walkaround.Answer{Present: new(true), Until: "2031-05-31"})
	c.report(walk, "checklist", c.clock(), walkaround.Answer{Present: new(false)})
	c.report(walk, "certificate", c.clock(), walkaround.Answer{Outcome: walkaround.Skipped, Note: "locked"})
	held("clear", "")
	if v := version(); v != 1 {
		t.Errorf("nothing new was found, and the aircraft is at version %d", v)
	}
	missed := c.clock()
	c.wait(time.Hour)
	c.report(walk, "registration", missed.Add(time.Minute), walkaround.Answer{Present: new(false)})
	held("grounded", "91.203-a-registration")
	c.report(walk, "registration", missed, walkaround.Answer{Present: new(true), Until: "2031-05-31"}) // made before, and sent late
	held("grounded", "91.203-a-registration")
	if s, err := c.status(c.who, c.aircraft); err != nil || s.Kinds[0].Verdict != "grounded" {
		t.Errorf("the status is %+v, %v", s.Kinds, err)
	}
	c.report(walk, "registration", c.clock(), walkaround.Answer{Present: new(true), Until: "2039-05-31"})
	held("clear", "")
	if p := c.facts().Papers.Registration; p.Through != "2031-05-31" || version() != 3 {
		t.Errorf("version %d, through %s", version(), p.Through)
	}
	c.report(walk, "registration", c.clock(), walkaround.Answer{Present: new(true), Until: "2027-01-10"})
	held("grounded", "91.203-a-effective")
	c.report(walk, "registration", c.clock(), walkaround.Answer{Present: new(true), Until: "2031-05-31"})
	held("grounded", "91.203-a-effective") // whoever keeps the aircraft enters that it was renewed
	c.report(walk, "certificate", c.clock(), walkaround.Answer{Present: new(true), Outcome: walkaround.Finding, Note: "torn"})
	if a := c.facts().Papers.Airworthiness.Aboard; a == nil || !*a {
		t.Error("a torn certificate is missing")
	}
}

// TestAWalkaroundAdvancesTheTimeInService: as the log in the aircraft has it, and holds the flights that it must.
func TestAWalkaroundAdvancesTheTimeInService(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	walk := c.walking()
	flight := c.plan(30, lesson(1.5)).Flight.ID
	c.enterMeters(hangar.MeterReading{TimeInService: new(4369.0), Because: "as the log has it"})
	c.holds(flight, "grounded")
	c.enterMeters(hangar.MeterReading{TimeInService: new(4319.35), Because: "as the log has it after all"}) // 48.5 h since the oil was changed
	c.holds(flight, "clear")
	c.wait(2 * time.Hour)
	c.report(walk, "log", c.clock(), walkaround.Answer{Value: new(4319.45)})
	c.holds(flight, "grounded")
	if rows := c.flight(flight).Hold.Rows; !slices.ContainsFunc(rows, func(r string) bool { return strings.HasPrefix(r, "own:") }) {
		t.Errorf("held by %v", rows)
	}
	if i := c.dueItem("oil-change"); len(i.Holds) != 1 {
		t.Errorf("%+v", i)
	}
	c.report(walk, "log", c.clock(), walkaround.Answer{Value: new(4310.0)}) // a step back is a finding, and enters nothing
	if book, err := c.service.Meters(t.Context(), c.who, c.aircraft); err != nil || book[0].Hours != 4319.45 || book[0].Walkaround != walk {
		t.Errorf("%+v, %v", book, err)
	}
}

// TestASquawkOfAFindingShowsItsPhotos: those that were taken of the finding before it was filed, and those taken since.
func TestASquawkOfAFindingShowsItsPhotos(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	walk := c.walking()
	missing := walkaround.Result{ID: newID(), Check: "certificate", Said: walkaround.Answer{Present: new(false)}, MadeAt: noon}
	fine := walkaround.Result{ID: newID(), Check: "registration", Said: walkaround.Answer{Present: new(true), Until: "2031-05-31"}, MadeAt: noon}
	c.must(c.service.ReportResults(t.Context(), c.who, hangar.WalkaroundReport{Walkaround: walk, Results: []walkaround.Result{missing, fine}}, nil, keep(&hangar.ReportedWalkaround{})))
	of := techlog.PhotoOf{Walkaround: walk, Result: missing.ID}
	taken := c.photo(of, camera.JPEG(40, 30, 1))
	c.photo(techlog.PhotoOf{Walkaround: walk, Result: fine.ID}, camera.JPEG(50, 30, 1))
	var filed hangar.FiledSquawk
	c.must(c.service.FileFinding(t.Context(), c.who, hangar.FindingReport{Walkaround: walk, Result: missing.ID}, nil, keep(&filed)))
	own := c.photo(techlog.PhotoOf{Squawk: filed.Squawk.ID}, camera.JPEG(60, 30, 1))
	later := c.photo(of, camera.JPEG(70, 30, 1))
	other := c.squawk("inoperative", "landing-light", "").Squawk.ID
	for squawk, want := range map[techlog.ID][]techlog.ID{filed.Squawk.ID: {taken.ID, own.ID, later.ID}, other: nil} {
		photos, err := c.service.Photos(t.Context(), c.who, hangar.PhotoFilter{Squawk: squawk}, hangar.Page{Limit: 9})
		if err != nil {
			t.Fatal(err)
		}
		var ids []techlog.ID
		for _, p := range photos {
			ids = append(ids, p.ID)
		}
		if story, err := c.service.Squawk(t.Context(), c.who, squawk); !slices.Equal(ids, want) || err != nil || story.Photos != len(want) {
			t.Errorf("%v, want %v; %d are told of, %v", ids, want, story.Photos, err)
		}
	}
}
