package storetest

import (
	"context"
	"sync"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// newChecklist has a check of each way, and every field filled somewhere.
func newChecklist() walkaround.Checklist {
	return walkaround.Checklist{Checks: []walkaround.Check{
		{
			ID: "registration", Station: walkaround.Cabin, Way: walkaround.Paper, Words: "Registration", Means: walkaround.OnRecord, Paper: "registration",
			Dated: true, Required: true,
		},
		{ID: "tach", Station: walkaround.Cabin, Way: walkaround.Compare, Words: "Tach", Means: walkaround.OnRecord, Meter: walkaround.Tach},
		{
			ID: "oil-level", Station: walkaround.Nose, Way: walkaround.Measure, Words: `Oil "level", café`, Means: walkaround.Servicing, Item: "engine-oil",
			In: "qt", UsedUp: true, AtLeast: new(5.5), AtMost: new(8.125), Below: walkaround.Servicing, Above: walkaround.Condition,
		},
		{
			ID: "sump", Station: walkaround.LeftWing, Way: walkaround.Sample, Words: "Sump", Means: walkaround.Condition, Fuel: "Mogas 95", Color: "yellow",
			Serials: "1..9", Equipped: "landing-light", When: []walkaround.Circumstance{walkaround.Night, walkaround.IFR}, Unit: "landing-light-1",
		},
	}}
}

func newTemplate() walkaround.Template {
	return walkaround.Template{ID: newID(), Version: 1, Type: "Tern 2", Checklist: newChecklist(), At: noon, By: "M. Control"}
}

func newComposed(template walkaround.Template) walkaround.Composed {
	return walkaround.Composed{
		Template: template.ID, TemplateVersion: 1, AirframeVersion: 2, Revision: 3, Serial: "D-7", Checklist: template.Checklist,
		Dropped: []walkaround.Dropped{{ID: "heat", Because: "it is not installed"}},
	}
}

// newWalkaround has every field of a walkaround that is open filled.
func newWalkaround(t *testing.T, aircraft, flight techlog.ID, composed walkaround.Composed) walkaround.Walkaround {
	t.Helper()
	digest, err := composed.Digest()
	if err != nil {
		t.Fatal(err)
	}
	return walkaround.Walkaround{
		ID: newID(), Aircraft: aircraft, Flight: flight, Checklist: digest, Place: "north ramp", Moisture: new(false), State: walkaround.Walking,
		StartedBy: "P. Lot", StartedAt: noon, Version: 1,
	}
}

func newResults() []walkaround.Result {
	yes, no := true, false
	first := walkaround.Result{
		ID: newID(), Check: "sump", Outcome: walkaround.Finding, Class: walkaround.Condition, Shows: "there is water in it", MadeAt: noon.Add(-time.Hour),
		Said: walkaround.Answer{Color: "yellow", Water: &yes, Sediment: &no, Note: "a \"drop\" — 水"},
	}
	return []walkaround.Result{
		first,
		{
			ID: newID(), Check: "sump", Outcome: walkaround.Good, MadeAt: noon.Add(-time.Minute),
			Said: walkaround.Answer{Outcome: walkaround.Good, Color: "yellow", Water: &no, Sediment: &no, Replaces: []techlog.ID{first.ID}},
		},
		{ID: newID(), Check: "oil-level", Outcome: walkaround.Good, MadeAt: noon, Said: walkaround.Answer{Value: new(6.1)}},
		{ID: newID(), Check: "door", Outcome: walkaround.Good, MadeAt: noon, Said: walkaround.Answer{Outcome: walkaround.Good}},
		{ID: newID(), Check: "registration", Outcome: walkaround.Good, MadeAt: noon, Said: walkaround.Answer{Present: &yes, Until: "2031-12-31"}},
	}
}

// received is a report with what the store says of its results when it reads them.
func received(r walkaround.Report) walkaround.Report {
	results := make([]walkaround.Result, len(r.Results))
	for i := range r.Results {
		results[i] = r.Results[i]
		results[i].At, results[i].By, results[i].Late = r.At, r.By, r.Late
	}
	r.Results = results
	return r
}

func testChecklists(t *testing.T, c *club) {
	ctx := t.Context()
	other := c.neighbor(t)
	a := c.addAircraft(t)
	first, second := newTemplate(), newTemplate()
	c.must(t, func(tx hangar.Tx) {
		tx.AddChecklistTemplate(first)
		tx.AddChecklistTemplate(second)
	})
	wantKind(t, "the same version again", c.change(t, func(tx hangar.Tx) { tx.AddChecklistTemplate(first) }), techlog.KindStale)
	next := first
	next.Version, next.Type, next.Checklist.Checks = 2, "Tern 2 A", next.Checklist.Checks[:2]
	c.must(t, func(tx hangar.Tx) { tx.AddChecklistTemplate(next) })
	all := func(org techlog.ID, page hangar.Page) []walkaround.Template {
		t.Helper()
		return get[[]walkaround.Template](t)(c.store.ChecklistTemplates(ctx, org, page))
	}
	same(t, "the latest of each", all(c.org, hangar.Page{Limit: 9}), []walkaround.Template{next, second})
	same(t, "the first page", all(c.org, hangar.Page{Limit: 1}), []walkaround.Template{next})
	same(t, "the second page", all(c.org, hangar.Page{Limit: 9, After: first.ID}), []walkaround.Template{second})
	same(t, "the other's", len(all(other.org, hangar.Page{Limit: 9})), 0)
	same(t, "one", get[walkaround.Template](t)(c.store.ChecklistTemplate(ctx, c.org, first.ID)), next)
	_, err := c.store.ChecklistTemplate(ctx, other.org, first.ID)
	wantKind(t, "the other's", err, techlog.KindNotFound)

	same(t, "of nothing", get[walkaround.AirframeChecklist](t)(c.store.AirframeChecklist(ctx, c.org, a.ID)), walkaround.AirframeChecklist{Aircraft: a.ID})
	made := walkaround.AirframeChecklist{
		Aircraft: a.ID, Version: 1, Template: first.ID, TemplateVersion: 2, Serial: "D-7", At: noon, By: "M. Control",
		Changes: walkaround.Changes{Drop: []string{"tach"}, Put: []walkaround.Placed{{After: "registration", Check: newChecklist().Checks[2]}}},
	}
	full(t, made)
	c.must(t, func(tx hangar.Tx) { tx.AddAirframeChecklist(made) })
	wantKind(t, "the same version again", c.change(t, func(tx hangar.Tx) { tx.AddAirframeChecklist(made) }), techlog.KindStale)
	later := made
	later.Version, later.Serial, later.Changes = 2, "", walkaround.Changes{}
	c.must(t, func(tx hangar.Tx) { tx.AddAirframeChecklist(later) })
	same(t, "the latest", get[walkaround.AirframeChecklist](t)(c.store.AirframeChecklist(ctx, c.org, a.ID)), later)
	same(t, "the other's", get[walkaround.AirframeChecklist](t)(c.store.AirframeChecklist(ctx, other.org, a.ID)).Version, 0)
	stray := later
	stray.Version, stray.TemplateVersion = 3, 9
	wantFault(t, "a version that the template does not have", c.change(t, func(tx hangar.Tx) { tx.AddAirframeChecklist(stray) }), "template")
	err = c.within(ctx, func(ctx context.Context, tx hangar.Tx) error {
		template, err := tx.ChecklistTemplate(ctx, first.ID)
		same(t, "the template within a change", template, next)
		if err != nil {
			return err
		}
		in, err := tx.AirframeChecklist(ctx, a.ID)
		same(t, "the airframe's within a change", in, later)
		return err
	})
	if err != nil {
		t.Error(err)
	}
}

func testWalkarounds(t *testing.T, c *club) {
	ctx := t.Context()
	other := c.neighbor(t)
	a, b := c.addAircraft(t), c.addAircraft(t)
	flight := c.addFlight(t, newFlight(c, a.ID))
	squawk := c.addSquawk(t, newSquawk(a.ID, 1))
	composed := newComposed(newTemplate())
	w := newWalkaround(t, a.ID, flight.ID, composed)
	plain := newWalkaround(t, b.ID, techlog.ID{}, composed)
	plain.Moisture = nil
	c.must(t, func(tx hangar.Tx) { tx.AddWalkaround(w, composed) })
	c.must(t, func(tx hangar.Tx) { tx.AddWalkaround(plain, composed) }) // the same checklist is kept once
	read := func(id techlog.ID) hangar.WalkaroundRecord {
		t.Helper()
		return get[hangar.WalkaroundRecord](t)(c.store.Walkaround(ctx, c.org, id))
	}
	same(t, "as it began", read(w.ID), hangar.WalkaroundRecord{
		Walkaround: w, Reports: []walkaround.Report{}, Filed: []walkaround.Filed{}, Flight: &flight, Book: []walkaround.BookEntry{}, Plan: a.PlanVersion,
	})
	same(t, "for no flight", read(plain.ID).Walkaround, plain)
	same(t, "its checklist", get[walkaround.Composed](t)(c.store.Checklist(ctx, c.org, w.Checklist)), composed)
	_, err := c.store.Checklist(ctx, other.org, w.Checklist)
	wantKind(t, "the other's checklist", err, techlog.KindNotFound)
	_, err = c.store.Walkaround(ctx, other.org, w.ID)
	wantKind(t, "the other's", err, techlog.KindNotFound)
	wantKind(t, "the same again", c.change(t, func(tx hangar.Tx) { tx.AddWalkaround(w, composed) }), techlog.KindConflict)

	reports := []walkaround.Report{
		{Walkaround: w.ID, Number: 1, At: noon, By: "P. Lot", Results: newResults()},
		{Walkaround: w.ID, Number: 2, At: noon.Add(time.Minute), By: "C. Opilot", Late: true, Results: newResults()[:1]},
	}
	entry := walkaround.BookEntry{Aircraft: a.ID, Meter: walkaround.Tach, Number: 1, Hours: 1234.56, At: noon, By: "P. Lot", Walkaround: w.ID}
	filed := walkaround.Filed{Walkaround: w.ID, Result: reports[0].Results[0].ID, Squawk: squawk.ID, At: noon, By: "P. Lot"}
	full(t, filed)
	done := w
	done.Version, done.State, done.CompletedBy, done.CompletedAt, done.LeftOpen = 2, walkaround.Completed, "P. Lot", noon.Add(time.Minute), []string{"tach"}
	full(t, done)
	c.must(t, func(tx hangar.Tx) {
		tx.UpdateWalkaround(done)
		tx.AddReport(reports[0])
		tx.AddReport(reports[1])
		tx.AddBookEntry(entry)
		tx.AddFiled(filed)
	})
	want := hangar.WalkaroundRecord{
		Walkaround: done, Reports: []walkaround.Report{received(reports[0]), received(reports[1])}, Filed: []walkaround.Filed{filed}, Flight: &flight,
		Book: []walkaround.BookEntry{entry}, Plan: a.PlanVersion,
	}
	same(t, "as it ended", read(w.ID), want)
	err = c.within(ctx, func(ctx context.Context, tx hangar.Tx) error {
		got, err := tx.Walkaround(ctx, w.ID)
		same(t, "within a change", got, want)
		if err == nil {
			list, listErr := tx.Checklist(ctx, w.Checklist)
			same(t, "its checklist within a change", list, composed)
			err = listErr
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
	begun := func(org, id techlog.ID) (got hangar.WalkaroundRecord, err error) {
		_, err = c.store.Change(ctx, hangar.Scope{Organization: org, At: noon, Walkaround: id}, func(ctx context.Context, tx hangar.Tx) ([]byte, error) {
			got, err = tx.Walkaround(ctx, id)
			return nil, err
		})
		return got, err
	}
	same(t, "as a change begins", get[hangar.WalkaroundRecord](t)(begun(c.org, w.ID)), want)
	for what, org := range map[string]techlog.ID{"that there is not": c.org, "of a neighbor": other.org} {
		id := w.ID
		if org == c.org {
			id = newID()
		}
		_, err := begun(org, id)
		wantKind(t, "a change on a walkaround "+what, err, techlog.KindNotFound)
	}
	if n := len(want.Results()); n != 6 {
		t.Errorf("%d results in all reports", n)
	}
	testWalkaroundLists(t, c, other, done, plain)
	testWalkaroundRefusals(t, c, done, reports[0], filed)
}

func testWalkaroundLists(t *testing.T, c, other *club, w, plain walkaround.Walkaround) {
	t.Helper()
	all := func(org techlog.ID, filter hangar.WalkaroundFilter, page hangar.Page) []walkaround.Walkaround {
		t.Helper()
		return get[[]walkaround.Walkaround](t)(c.store.Walkarounds(t.Context(), org, filter, page))
	}
	page := hangar.Page{Limit: 9}
	same(t, "all", all(c.org, hangar.WalkaroundFilter{}, page), []walkaround.Walkaround{plain, w})
	same(t, "of an aircraft", all(c.org, hangar.WalkaroundFilter{Aircraft: w.Aircraft}, page), []walkaround.Walkaround{w})
	same(t, "for a flight", all(c.org, hangar.WalkaroundFilter{Flight: w.Flight}, page), []walkaround.Walkaround{w})
	same(t, "open", all(c.org, hangar.WalkaroundFilter{State: walkaround.Walking}, page), []walkaround.Walkaround{plain})
	same(t, "the next page", all(c.org, hangar.WalkaroundFilter{}, hangar.Page{Limit: 9, After: plain.ID}), []walkaround.Walkaround{w})
	same(t, "the other's", len(all(other.org, hangar.WalkaroundFilter{}, page)), 0)
}

func testWalkaroundRefusals(t *testing.T, c *club, w walkaround.Walkaround, r walkaround.Report, f walkaround.Filed) {
	t.Helper()
	next := w
	next.Version = 3
	for what, try := range map[string]struct {
		change func(hangar.Tx)
		kind   techlog.Kind
	}{
		"a version that is not the next": {func(tx hangar.Tx) { tx.UpdateWalkaround(w) }, techlog.KindStale},
		"another start":                  {func(tx hangar.Tx) { n := next; n.Place = "south ramp"; tx.UpdateWalkaround(n) }, techlog.KindStale},
		"begun again":                    {func(tx hangar.Tx) { n := next; n.LeftOpen = nil; tx.UpdateWalkaround(n) }, techlog.KindConflict},
		"a result again":                 {func(tx hangar.Tx) { n := r; n.Number = 3; tx.AddReport(n) }, techlog.KindConflict},
		"a number again":                 {func(tx hangar.Tx) { n := r; n.Results = newResults(); tx.AddReport(n) }, techlog.KindConflict},
		"a report on nothing":            {func(tx hangar.Tx) { n := r; n.Walkaround, n.Results = newID(), newResults(); tx.AddReport(n) }, techlog.KindNotFound},
		"a squawk again":                 {func(tx hangar.Tx) { tx.AddFiled(f) }, techlog.KindConflict},
		"a squawk of no result":          {func(tx hangar.Tx) { n := f; n.Result = newID(); tx.AddFiled(n) }, techlog.KindNotFound},
		"a squawk that is none":          {func(tx hangar.Tx) { n := f; n.Result, n.Squawk = r.Results[1].ID, newID(); tx.AddFiled(n) }, techlog.KindNotFound},
	} {
		wantKind(t, what, c.change(t, try.change), try.kind)
	}
	late := next
	c.must(t, func(tx hangar.Tx) { tx.UpdateWalkaround(late) }) // a late report counts the version up
}

func testMeterBook(t *testing.T, c *club) {
	ctx := t.Context()
	other := c.neighbor(t)
	a := c.addAircraft(t)
	flight := c.addFlight(t, newFlight(c, a.ID))
	entry := func(meter walkaround.Meter, number int, hours float64, because string) walkaround.BookEntry {
		return walkaround.BookEntry{Aircraft: a.ID, Meter: meter, Number: number, Hours: hours, At: noon, By: "P. Lot", Flight: flight.ID, Because: because}
	}
	book := func(org techlog.ID) []walkaround.BookEntry {
		t.Helper()
		return get[[]walkaround.BookEntry](t)(c.store.MeterBook(ctx, org, a.ID))
	}
	same(t, "an empty book", len(book(c.org)), 0)
	add := func(e walkaround.BookEntry) error { return c.change(t, func(tx hangar.Tx) { tx.AddBookEntry(e) }) }
	for _, e := range []walkaround.BookEntry{
		entry(walkaround.TimeInService, 1, 4000.25, ""), entry(walkaround.Tach, 1, 100, ""), entry(walkaround.Tach, 2, 101.5, ""), entry(walkaround.Tach, 3, 0, "replaced"),
	} {
		if err := add(e); err != nil {
			t.Fatal(err)
		}
	}
	want := []walkaround.BookEntry{entry(walkaround.Tach, 3, 0, "replaced"), entry(walkaround.TimeInService, 1, 4000.25, "")}
	same(t, "the last entries", book(c.org), want)
	same(t, "the other's", len(book(other.org)), 0)
	err := c.within(ctx, func(ctx context.Context, tx hangar.Tx) error {
		got, err := tx.MeterBook(ctx, a.ID)
		same(t, "within a change", got, want)
		return err
	})
	if err != nil {
		t.Error(err)
	}
	// Every entry of the time in service counts up what a plan is known by, and a snapshot has the first and the last.
	snapshot := func(known int) hangar.Snapshot {
		t.Helper()
		return get[hangar.Snapshot](t)(c.store.Snapshot(ctx, c.org, hangar.Want{Aircraft: a.ID, KnownPlan: known}))
	}
	first := snapshot(0)
	same(t, "the book of a snapshot", first.InService, want[1:])
	for n, hours := range []float64{4001, 4002.5} {
		if err := add(entry(walkaround.TimeInService, n+2, hours, "")); err != nil {
			t.Fatal(err)
		}
	}
	next := snapshot(first.Aircraft.PlanVersion)
	same(t, "first and last of three", next.InService, []walkaround.BookEntry{want[1], entry(walkaround.TimeInService, 3, 4002.5, "")})
	same(t, "the plan is known no longer", next.Aircraft.PlanVersion, first.Aircraft.PlanVersion+2)
	scope := hangar.Scope{Organization: c.org, At: noon, Lock: []hangar.Want{{Aircraft: a.ID, KnownPlan: first.Aircraft.PlanVersion}}}
	_, err = c.store.Change(ctx, scope, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
		same(t, "within a change", tx.Snapshot(0).InService, next.InService)
		return nil, nil
	})
	if err != nil {
		t.Error(err)
	}
	// The whole book of a meter, newest first, by pages.
	entries := func(org techlog.ID, page hangar.Page) []walkaround.BookEntry {
		t.Helper()
		return get[[]walkaround.BookEntry](t)(c.store.MeterEntries(ctx, org, a.ID, walkaround.Tach, page))
	}
	same(t, "the first page", entries(c.org, hangar.Page{Limit: 2}), []walkaround.BookEntry{entry(walkaround.Tach, 3, 0, "replaced"), entry(walkaround.Tach, 2, 101.5, "")})
	same(t, "the second page", entries(c.org, hangar.Page{Limit: 2, AfterRevision: 2}), []walkaround.BookEntry{entry(walkaround.Tach, 1, 100, "")})
	same(t, "the other's book", len(entries(other.org, hangar.Page{Limit: 2})), 0)
	wantKind(t, "a step back without a word", add(entry(walkaround.TimeInService, 4, 4000, "")), techlog.KindConflict)
	wantKind(t, "an entry left out", add(entry(walkaround.Tach, 5, 1, "")), techlog.KindConflict)
	wantFault(t, "hours below nothing", add(entry(walkaround.Tach, 4, -1, "because")), "hours")
}

// testEntriesAtOnce lets several changes follow the same entry: each finds what the other has entered.
func testEntriesAtOnce(t *testing.T, c *club) {
	a := c.addAircraft(t)
	const n = 4
	var group sync.WaitGroup
	for range n {
		group.Go(func() {
			_, err := c.store.Change(t.Context(), hangar.Scope{Organization: c.org, At: noon}, func(ctx context.Context, tx hangar.Tx) ([]byte, error) {
				book, err := tx.MeterBook(ctx, a.ID)
				if err != nil {
					return nil, err
				}
				next := walkaround.BookEntry{Aircraft: a.ID, Meter: walkaround.Hobbs, Number: 1, Hours: 1, At: noon, By: "P. Lot"}
				if len(book) > 0 {
					next.Number, next.Hours = book[0].Number+1, book[0].Hours+1
				}
				tx.AddBookEntry(next)
				return nil, nil
			})
			if err != nil {
				t.Error(err)
			}
		})
	}
	group.Wait()
	book := get[[]walkaround.BookEntry](t)(c.store.MeterBook(t.Context(), c.org, a.ID))
	if len(book) != 1 || book[0].Number != n || book[0].Hours != n {
		t.Errorf("%d entries at once left %+v", n, book)
	}
}

// testReportsAtOnce lets several phones report on one walkaround: each waits for the other and goes on from it.
func testReportsAtOnce(t *testing.T, c *club) {
	a := c.addAircraft(t)
	composed := newComposed(newTemplate())
	w := newWalkaround(t, a.ID, techlog.ID{}, composed)
	c.must(t, func(tx hangar.Tx) { tx.AddWalkaround(w, composed) })
	const phones = 8
	var group sync.WaitGroup
	for phone := range phones {
		scope := hangar.Scope{Organization: c.org, At: noon}
		if phone%2 == 0 { // locked and read as the change begins, or later
			scope.Walkaround = w.ID
		}
		group.Go(func() {
			_, err := c.store.Change(t.Context(), scope, func(ctx context.Context, tx hangar.Tx) ([]byte, error) {
				record, err := tx.Walkaround(ctx, w.ID)
				if err != nil {
					return nil, err
				}
				record.Walkaround.Version++
				tx.UpdateWalkaround(record.Walkaround)
				tx.AddReport(walkaround.Report{Walkaround: w.ID, Number: len(record.Reports) + 1, At: noon, By: "P. Lot", Results: newResults()})
				return nil, nil
			})
			if err != nil {
				t.Error(err)
			}
		})
	}
	group.Wait()
	record := get[hangar.WalkaroundRecord](t)(c.store.Walkaround(t.Context(), c.org, w.ID))
	if len(record.Reports) != phones || len(record.Results()) != 5*phones || record.Walkaround.Version != phones+1 {
		t.Errorf("%d reports, %d results, version %d", len(record.Reports), len(record.Results()), record.Walkaround.Version)
	}
}
