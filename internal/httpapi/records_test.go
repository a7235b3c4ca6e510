package httpapi_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/api/client"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

var nextLink = regexp.MustCompile(`^<(/v1/[^>]+)>; rel="next"$`)

// pages follows the links of a list and returns what stands in the named field of every page.
func (r *rig) pages(t *testing.T, path, field string) []map[string]any {
	t.Helper()
	var all []map[string]any
	for n := 0; path != ""; n++ {
		if n == 50 {
			t.Fatalf("%s: no end of pages", path)
		}
		got := r.ask(t, asked{method: "GET", path: path})
		var page map[string]json.RawMessage
		var records []map[string]any
		if err := json.Unmarshal(got.body, &page); err != nil || got.status != 200 {
			t.Fatalf("%s: %d %s", path, got.status, got.body)
		}
		if err := json.Unmarshal(page[field], &records); err != nil {
			t.Fatal(err)
		}
		all = append(all, records...)
		path = ""
		if link := got.header.Get("Link"); link != "" {
			m := nextLink.FindStringSubmatch(link)
			if m == nil {
				t.Fatalf("Link: %s", link)
			}
			path = m[1]
		}
	}
	return all
}

// TestListsComeInPages holds that following the links gives every record once, in the order of the list.
func TestListsComeInPages(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	for range 3 {
		x.rig.ask(t, x.good["addBase"]())
		x.rig.ask(t, x.good["addAircraft"]())
		x.squawk(t)
		x.flight(t)
		x.walkaround(t)
		x.template(t)
	}
	for version := 1; version <= 4; version++ {
		got := x.rig.ask(t, asked{
			method: "PUT", path: "/v1/aircraft/" + x.fleet.aircraft.Id.String() + "/configuration", header: ifMatch(version),
			body: `{"units": [{"id": "beacon", "item": "beacon"}]}`,
		})
		if got.status != 200 {
			t.Fatalf("%d %s", got.status, got.body)
		}
	}
	aircraft := x.fleet.aircraft.Id.String()
	for _, list := range []struct {
		path, field, key string
		want             int
		newestFirst      bool
	}{
		{"/v1/bases", "bases", "id", 5, false},
		{"/v1/aircraft", "aircraft", "id", 4, false},
		{"/v1/squawks", "squawks", "id", 3, true},
		{"/v1/flights", "flights", "id", 3, false},
		{"/v1/checklist-templates", "templates", "id", 4, false},
		{"/v1/walkarounds", "walkarounds", "id", 3, true},
		{"/v1/walkarounds?state=open&aircraft=" + aircraft, "walkarounds", "id", 3, true},
		{"/v1/walkarounds?flight=" + newID().String(), "walkarounds", "id", 0, true},
		{"/v1/aircraft/" + aircraft + "/configurations", "configurations", "revision", 5, true},
		{"/v1/items", "items", "item", len(book(t).Rules.Items()), false},
		{"/v1/rules", "rules", "id", len(book(t).Rules.Rules()) + len(book(t).Upkeep.Book()), false},
		{"/v1/squawks?aircraft=" + aircraft + "&state=reported", "squawks", "id", 3, true},
		{"/v1/squawks?aircraft=" + newID().String(), "squawks", "id", 0, true},
		{"/v1/squawks?state=closed", "squawks", "id", 0, true},
	} {
		size := 2
		if list.want > 20 {
			size = 50
		}
		joint := "?"
		if strings.Contains(list.path, "?") {
			joint = "&"
		}
		whole := x.rig.pages(t, list.path+joint+"limit=200", list.field)
		if list.want <= 200 && len(whole) != list.want {
			t.Errorf("%s: %d records, want %d", list.path, len(whole), list.want)
		}
		paged := x.rig.pages(t, fmt.Sprintf("%s%slimit=%d", list.path, joint, size), list.field)
		keys := func(records []map[string]any) []string {
			var all []string
			for _, r := range records {
				all = append(all, fmt.Sprint(r[list.key]))
			}
			return all
		}
		if got, want := keys(paged), keys(whole); !slices.Equal(got, want) || len(got) != list.want {
			t.Errorf("%s: page by page %v\nat once %v", list.path, got, want)
		}
		if list.key == "id" && list.field != "rules" {
			order := keys(whole)
			if list.newestFirst {
				slices.Reverse(order)
			}
			if !slices.IsSorted(order) {
				t.Errorf("%s: out of order: %v", list.path, order)
			}
		}
	}
}

func TestFlightsAreFiltered(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	early := x.flight(t)
	plan := x.fleet.nightFlight()
	plan.Departs, plan.Arrives = plan.Departs.Add(72*time.Hour), plan.Arrives.Add(72*time.Hour)
	late := created[client.Flight](t, x.rig, asked{method: "POST", path: "/v1/flights", body: marshal(t, plan)})
	if got := x.rig.ask(t, asked{method: "POST", path: "/v1/flights/" + late.Id.String() + "/cancellation", header: ifMatch(1)}); got.status != 200 {
		t.Fatalf("%d %s", got.status, got.body)
	}
	between := noon.Add(60 * time.Hour)
	c := x.rig.as(t, techlog.Scheduler)
	for what, f := range map[string]struct {
		p    client.ListFlightsParams
		want []client.ID
	}{
		"all":                {client.ListFlightsParams{}, []client.ID{early.Id, late.Id}},
		"planned":            {client.ListFlightsParams{State: new(client.Planned)}, []client.ID{early.Id}},
		"cancelled":          {client.ListFlightsParams{State: new(client.Cancelled)}, []client.ID{late.Id}},
		"ending later":       {client.ListFlightsParams{EndsAfter: &between}, []client.ID{late.Id}},
		"departing earlier":  {client.ListFlightsParams{DepartsBefore: &between}, []client.ID{early.Id}},
		"of this aircraft":   {client.ListFlightsParams{Aircraft: &x.fleet.aircraft.Id}, []client.ID{early.Id, late.Id}},
		"of no aircraft":     {client.ListFlightsParams{Aircraft: new(client.ID(newID()))}, nil},
		"planned and held":   {client.ListFlightsParams{State: new(client.Planned), Held: new(true)}, nil},
		"planned, held not":  {client.ListFlightsParams{State: new(client.Planned), Held: new(false)}, []client.ID{early.Id}},
		"cancelled and late": {client.ListFlightsParams{State: new(client.Cancelled), DepartsBefore: &between}, nil},
	} {
		got, err := c.ListFlightsWithResponse(t.Context(), &f.p)
		if err != nil || got.JSON200 == nil {
			t.Errorf("%s: %v %s", what, err, got.Body)
			continue
		}
		var ids []client.ID
		for _, flight := range got.JSON200.Flights {
			ids = append(ids, flight.Id)
		}
		if !slices.Equal(ids, f.want) {
			t.Errorf("%s: %v, want %v", what, ids, f.want)
		}
	}
}

// TestBadRecordsAreRefusedAndNothingIsWritten sends what must not get on record, and looks whether anything did.
func TestBadRecordsAreRefusedAndNothingIsWritten(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	aircraft, home := x.fleet.aircraft.Id.String(), x.fleet.home.Id.String()
	entry := func(piece, by string) string {
		raw := strings.Replace(marshal(t, trainer(x.fleet.home.Id)), "N0TRN", "N0BAD", 1)
		if strings.Count(raw, piece) != 1 {
			t.Fatalf("%q is not once in %s", piece, raw)
		}
		return strings.Replace(raw, piece, by, 1)
	}
	plan := func(change func(*client.FlightPlan)) string {
		p := x.fleet.nightFlight()
		change(&p)
		return marshal(t, p)
	}
	before := x.rig.everything(t)
	for _, c := range []struct {
		what         string
		method, path string
		body         string
		status       int
		faults       []string
	}{
		{"a registration that is taken", "POST", "/v1/aircraft", marshal(t, trainer(x.fleet.home.Id)), 409, nil},
		{"a registration that is none", "POST", "/v1/aircraft", entry("N0BAD", "n0 bad"), 422, []string{"form registration"}},
		{"no certification basis", "POST", "/v1/aircraft", entry(`"basis":"part-23-before-64",`, ``), 422, []string{"required facts.basis"}},
		{"an unknown item", "POST", "/v1/aircraft", entry(`"item":"beacon"`, `"item":"bacon"`), 422, []string{"known-item configuration.units"}},
		{"an unknown base", "POST", "/v1/aircraft", entry(home, newID().String()), 422, []string{"known-base base"}},
		{"a weight out of range", "POST", "/v1/aircraft", entry(`1700`, `17e9`), 422, []string{"range facts.max_takeoff_weight_lb"}},
		{"an unknown unit in a configuration", "PUT", "/v1/aircraft/" + aircraft + "/configuration", `{"units": [{"id": "a", "item": "clock", "needs": ["b"]}]}`, 422, []string{"installed units[0].needs[0]"}},
		{"facts without basis", "PATCH", "/v1/aircraft/" + aircraft, `{"facts": {"category": "glider", "certificate": "standard"}}`, 422, []string{"required facts.basis"}},
		{"nothing to change", "PATCH", "/v1/aircraft/" + aircraft, `{}`, 422, []string{"length document"}},
		{"a code that is taken", "POST", "/v1/bases", `{"code": "HOM", "name": "Twin", "lat": 1, "lon": 1, "zone": "UTC"}`, 409, nil},
		{"a zone that is none", "POST", "/v1/bases", `{"code": "N", "name": "Nowhere", "lat": 1, "lon": 1, "zone": "Mars/Olympus"}`, 422, []string{"time-zone zone"}},
		{"a zone that is a path", "POST", "/v1/bases", `{"code": "N", "name": "Nowhere", "lat": 1, "lon": 1, "zone": "../../etc/passwd"}`, 422, []string{"time-zone zone"}},
		{"a name of blanks", "POST", "/v1/bases", `{"code": "N", "name": "  ", "lat": 1, "lon": 1, "zone": "UTC"}`, 422, []string{"required name"}},
		{"a latitude beyond the pole", "POST", "/v1/bases", `{"code": "N", "name": "Nowhere", "lat": 91, "lon": 1, "zone": "UTC"}`, 422, []string{"range lat"}},
		{"a squawk on a unit that is not installed", "POST", "/v1/aircraft/" + aircraft + "/squawks", `{"kind": "inoperative", "unit": "adf", "words": "dead"}`, 422, []string{"installed unit"}},
		{"a squawk on an unknown item", "POST", "/v1/aircraft/" + aircraft + "/squawks", `{"kind": "inoperative", "item": "teapot", "words": "cold"}`, 422, []string{"known-item item"}},
		{"a squawk on two things", "POST", "/v1/aircraft/" + aircraft + "/squawks", `{"kind": "inoperative", "unit": "ldg", "item": "beacon", "words": "dark"}`, 422, []string{"one-subject item"}},
		{"a squawk without words", "POST", "/v1/aircraft/" + aircraft + "/squawks", `{"kind": "condition", "words": " \n "}`, 422, []string{"required words"}},
		{"a squawk of too many bytes", "POST", "/v1/aircraft/" + aircraft + "/squawks", `{"kind": "condition", "words": "` + strings.Repeat("ü", 2001) + `"}`, 422, []string{"length words"}},
		{"a squawk with a null character", "POST", "/v1/aircraft/" + aircraft + "/squawks", `{"kind": "condition", "words": "a\u0000b"}`, 422, []string{"characters words"}},
		{"a flight that ends before it starts", "POST", "/v1/flights", plan(func(p *client.FlightPlan) { p.Arrives = p.Departs.Add(-time.Hour) }), 422, []string{"after-departs arrives"}},
		{"a flight that has ended", "POST", "/v1/flights", plan(func(p *client.FlightPlan) { p.Departs, p.Arrives = noon.Add(-2*time.Hour), noon.Add(-time.Hour) }), 422, []string{"future arrives"}},
		{"a flight of a month and more", "POST", "/v1/flights", plan(func(p *client.FlightPlan) { p.Arrives = p.Departs.Add(32 * 24 * time.Hour) }), 422, []string{"window arrives"}},
		{"a flight from nowhere", "POST", "/v1/flights", plan(func(p *client.FlightPlan) { p.From = client.ID(newID()) }), 422, []string{"known-base from"}},
		{"a flight to nowhere", "POST", "/v1/flights", plan(func(p *client.FlightPlan) { p.To = client.ID(newID()) }), 422, []string{"known-base to"}},
		{"a flight of no aircraft", "POST", "/v1/flights", plan(func(p *client.FlightPlan) { p.Aircraft = client.ID(newID()) }), 404, nil},
		{"nobody aboard", "POST", "/v1/flights", plan(func(p *client.FlightPlan) { p.Facts.Persons = new(0) }), 422, []string{"range facts.persons"}},
		{"more aboard than seats", "POST", "/v1/flights", plan(func(p *client.FlightPlan) { p.Facts.Occupants = new(3) }), 422, []string{"at-most-seats facts.occupants"}},
		{"a date before dates", "POST", "/v1/flights", strings.Replace(plan(func(*client.FlightPlan) {}), "2026-", "0026-", 1), 422, []string{"range arrives"}},
	} {
		q := asked{method: c.method, path: c.path, body: c.body}
		if c.method != "POST" {
			q.header = ifMatch(1)
		}
		got := x.rig.ask(t, q)
		faults := got.faults(t)
		if c.what == "an unknown item" && len(faults) == 1 { // units stand in no order
			faults[0], _, _ = strings.Cut(faults[0], "[")
		}
		if got.status != c.status || !slices.Equal(faults, c.faults) {
			t.Errorf("%s: %d %v, want %d %v\n%s", c.what, got.status, faults, c.status, c.faults, got.body)
		}
	}
	if after := x.rig.everything(t); after != before {
		t.Errorf("before\n%s\nafter\n%s", before, after)
	}
}

// everything is what an organization has on record, as an administrator sees it.
func (r *rig) everything(t *testing.T) string {
	t.Helper()
	var b strings.Builder
	for _, path := range []string{"/v1/bases", "/v1/aircraft", "/v1/squawks", "/v1/flights", "/v1/checklist-templates", "/v1/walkarounds"} {
		got := r.ask(t, asked{method: "GET", path: path + "?limit=200"})
		if got.status != 200 {
			t.Fatalf("%s: %d", path, got.status)
		}
		b.Write(got.body)
	}
	return b.String()
}

// identifier is how a path names a record.
var identifier = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-7`)

// TestAnotherOrganizationsRecordsDoNotExist asks for every record with a token of another organization.
func TestAnotherOrganizationsRecordsDoNotExist(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	n := 0
	for operation, good := range x.good {
		q := good()
		if q.path == "/v1/checklist-templates" || q.browser != nil || q.token == "none" { // each organization has its own, or a person has: TestAnotherPersonsThingsDoNotExist
			continue
		}
		if !identifier.MatchString(q.path) && operation != "planFlight" && operation != "addAircraft" {
			continue
		}
		n++
		q.token = x.rig.other
		want := http.StatusNotFound
		if operation == "addAircraft" {
			want = http.StatusUnprocessableEntity // its base does not exist
		}
		if got := x.rig.ask(t, q); got.status != want {
			t.Errorf("%s: %d %s, want %d", operation, got.status, got.body, want)
		}
	}
	if n != 86 {
		t.Errorf("%d operations name a record, want 86", n)
	}
	for _, path := range []string{"/v1/bases", "/v1/aircraft", "/v1/squawks", "/v1/flights", "/v1/checklist-templates", "/v1/walkarounds"} {
		if got := x.rig.ask(t, asked{method: "GET", path: path, token: x.rig.other}); strings.Contains(string(got.body), "id") {
			t.Errorf("%s: %s", path, got.body)
		}
	}
}

// TestRolesMayDoWhatTheTableSays holds every write to the table of authority, role by role.
func TestRolesMayDoWhatTheTableSays(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	for operation, action := range map[string]techlog.Action{
		"addBase": techlog.KeepBases, "changeBase": techlog.KeepBases,
		"addAircraft": techlog.KeepAircraft, "changeAircraft": techlog.KeepAircraft, "changeConfiguration": techlog.KeepAircraft,
		"fileSquawk": techlog.FileSquawk, "addNote": techlog.AddNote,
		"importMEL": techlog.KeepAircraft, "changeCompanyRules": techlog.KeepCompanyRules, "keepDetermination": techlog.KeepDetermination,
		"addMember": techlog.KeepPeople, "changeMember": techlog.KeepPeople, "endMember": techlog.KeepPeople,
		"resetPassword": techlog.KeepPeople, "listSecurityEvents": techlog.KeepPeople,
		"planFlight": techlog.PlanFlight, "changeFlight": techlog.PlanFlight, "cancelFlight": techlog.PlanFlight,
		"addChecklistTemplate": techlog.KeepChecklists, "changeChecklistTemplate": techlog.KeepChecklists, "changeChecklist": techlog.KeepChecklists,
		"startWalkaround": techlog.WalkAround, "reportResults": techlog.WalkAround, "fileFinding": techlog.FileSquawk, "enterMeters": techlog.EnterMeters,
		"importAirports": techlog.KeepBases, "planSeries": techlog.PlanFlight, "cancelSeries": techlog.PlanFlight,
		"blockAircraft": techlog.KeepBlocks, "changeBlock": techlog.KeepBlocks, "cancelBlock": techlog.KeepBlocks, "recordShown": techlog.KeepDetermination,
		"addSquawkPhoto": techlog.AddNote, "addResultPhoto": techlog.WalkAround, "addSignaturePhoto": techlog.AddNote,
		"makeWebhook": techlog.KeepWebhooks, "changeWebhook": techlog.KeepWebhooks, "renewWebhookSecret": techlog.KeepWebhooks,
		"revokeOlderWebhookSecrets": techlog.KeepWebhooks, "pingWebhook": techlog.KeepWebhooks, "replayDeliveries": techlog.KeepWebhooks,
	} {
		for _, role := range techlog.Roles() {
			q := x.good[operation]()
			q.token = x.rig.tokens[role]
			got := x.rig.ask(t, q)
			if may := role.May(action); (got.status < 300) != may || !may && got.status != http.StatusForbidden {
				t.Errorf("%s as %s: %d %s", operation, role, got.status, got.body)
			}
		}
	}
}

func TestTheStoryOfASquawk(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	filed := x.squawk(t).Squawk
	c := x.rig.as(t, techlog.Mechanic)
	note, err := c.AddNoteWithResponse(t.Context(), filed.Id, nil, client.Note{Words: " lamp ordered\n"})
	if err != nil || note.JSON201 == nil || note.JSON201.Words != "lamp ordered" || note.JSON201.By != "test mechanic" {
		t.Fatalf("%v %s", err, note.Body)
	}
	// What was signed on paper is entered by the service; here it shows that a deferral is told whole.
	who, err := x.rig.store.Authenticate(t.Context(), digest(x.rig.tokens[techlog.Administrator]))
	if err != nil {
		t.Fatal(err)
	}
	until := noon.Add(30 * 24 * time.Hour)
	err = x.rig.service.CarryOver(t.Context(), who, hangar.CarriedOver{
		Squawk: techlog.ID(filed.Id), Step: techlog.StepDefer, Words: "as page 12 of the log says", Deferral: &techlog.Deferral{
			Basis: "14 CFR 91.213(d)", Method: "removed", Placard: "BEACON INOPERATIVE", Entry: "log page 12",
			DeterminedBy: "test mechanic, A&P 0000", DeterminedAt: noon.Add(-time.Hour), RemovedOn: "2026-11-25", Until: until,
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	story, err := c.ShowSquawkWithResponse(t.Context(), filed.Id)
	if err != nil || story.JSON200 == nil {
		t.Fatalf("%v %s", err, story.Body)
	}
	s := story.JSON200
	if d := s.Squawk.Deferral; s.Squawk.State != "deferred" || d == nil || d.Method != "removed" || d.RemovedOn == nil || *d.RemovedOn != "2026-11-25" || !d.Until.Equal(until) {
		t.Errorf("squawk %s", story.Body)
	}
	var steps []string
	for _, e := range s.History {
		steps = append(steps, fmt.Sprint(e.Number, " ", e.Step, " ", e.State))
	}
	if got, want := strings.Join(steps, ", "), "1 report reported, 2 note reported, 3 defer deferred"; got != want {
		t.Errorf("history %s, want %s", got, want)
	}
}

func TestItemsAreFoundByAnyName(t *testing.T) {
	t.Parallel()
	r := newBareRig(t)
	c := r.as(t, techlog.Administrator)
	for like, want := range map[string]string{"landing-light": "landing-light", "LANDING LIGHT": "landing-light", "ndb rec": "adf", "1090es": "ads-b-out"} {
		got, err := c.ListItemsWithResponse(t.Context(), &client.ListItemsParams{Like: &like})
		if err != nil || got.JSON200 == nil || !slices.ContainsFunc(got.JSON200.Items, func(i client.Item) bool { return i.Item == want }) {
			t.Errorf("%s: %v, %s; want %s", like, err, got.Body, want)
		}
	}
	if got, err := c.ListItemsWithResponse(t.Context(), &client.ListItemsParams{Like: new("no such thing")}); err != nil || got.JSON200 == nil || len(got.JSON200.Items) != 0 {
		t.Errorf("nothing: %v %s", err, got.Body)
	}
}

func TestRulesAreFoundByTableAndName(t *testing.T) {
	t.Parallel()
	r := newBareRig(t)
	c := r.as(t, techlog.Administrator)
	for _, table := range []client.RuleTable{
		client.Eligibility, client.TypeCertification, client.Requirements, client.Reliefs, client.Procedure,
		client.PreventiveMaintenance, client.Who, client.Tasks, client.Records, client.Upkeep, client.UpkeepStops, client.VorChecks,
	} {
		got, err := c.ListRulesWithResponse(t.Context(), &client.ListRulesParams{Table: &table, Limit: new(200)})
		if err != nil || got.JSON200 == nil || len(got.JSON200.Rules) == 0 || got.JSON200.Digest != book(t).Digest {
			t.Fatalf("%s: %v %s", table, err, got.Body)
		}
		first := got.JSON200.Rules[0]
		one, err := c.ListRulesWithResponse(t.Context(), &client.ListRulesParams{Id: &first.Id})
		if err != nil || one.JSON200 == nil || len(one.JSON200.Rules) != 1 || one.JSON200.Rules[0].Table != table {
			t.Errorf("%s %s: %v %s", table, first.Id, err, one.Body)
		}
		for _, rule := range got.JSON200.Rules {
			if rule.Table != table || rule.Citation == "" || rule.Words == "" {
				t.Errorf("%s: %+v", table, rule)
			}
		}
	}
}
