package httpapi_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/api/client"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/papers"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/printed"
)

// deferLight files a squawk on the landing light and carries over its deferral from paper.
func (x *exercise) deferLight(t *testing.T, until time.Time) techlog.ID {
	t.Helper()
	filed := created[client.FiledSquawk](t, x.rig, asked{
		method: "POST", path: "/v1/aircraft/" + x.fleet.aircraft.Id.String() + "/squawks",
		body: `{"kind": "inoperative", "unit": "ldg", "words": "landing light is dark"}`,
	})
	id := techlog.ID(filed.Squawk.Id)
	who, err := x.rig.store.Authenticate(t.Context(), digest(x.rig.tokens[techlog.Administrator]))
	if err != nil {
		t.Fatal(err)
	}
	err = x.rig.service.CarryOver(t.Context(), who, hangar.CarriedOver{
		Squawk: id, Step: techlog.StepDefer, Words: "From the paper log.",
		Deferral: &techlog.Deferral{
			Basis: "14 CFR 91.213(d)", Method: "deactivated", Placard: "Landing light inoperative", Entry: "airframe log, page 44",
			DeterminedBy: "J. Larkspur, mechanic, certificate 0000001", DeterminedAt: noon, Until: until,
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	return id
}

func (x *exercise) printed(t *testing.T, path string, header map[string]string) *printed.Document {
	t.Helper()
	got := x.rig.ask(t, asked{method: "GET", path: path, header: header})
	if got.status != http.StatusOK || got.header.Get("Content-Type") != "application/pdf" ||
		!strings.HasPrefix(got.header.Get("Content-Disposition"), "inline; filename=") {
		t.Fatalf("%s: %d %v %.300s", path, got.status, got.header, got.body)
	}
	return printed.Open(t, got.body)
}

func says(t *testing.T, d *printed.Document, words ...string) {
	t.Helper()
	all := strings.Join(strings.Fields(d.Text()), "")
	for _, w := range words {
		if !strings.Contains(all, strings.ReplaceAll(w, " ", "")) {
			t.Errorf("%q is not on the paper:\n%s", w, d.Text())
		}
	}
}

// TestAPlacardSaysWhatIsOnRecord prints the placard of a deferred squawk, of one that is not deferred, and of an ELT.
func TestAPlacardSaysWhatIsOnRecord(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	id := x.deferLight(t, noon.AddDate(0, 2, 0))
	d := x.printed(t, "/v1/squawks/"+id.String()+"/placard", nil)
	says(t, d, "INOPERATIVE", "Landing light", "N0TRN", "Squawk 00001", "Made out 2026-11-25", "Expires 2027-01-25 07:00 EST")
	if code := d.Code(1, printed.Area{W: 76.2, H: 50.8}); code != publicURL+"/squawks/"+id.String() {
		t.Errorf("the code leads to %q", code)
	}
	d = x.printed(t, "/v1/squawks/"+id.String()+"/placard?label=a4-21&start=21&method=deactivated", nil)
	if page := d.Pages(25)[0]; page.Rect.Dx() < 200 || page.Rect.Dy() < 290 {
		t.Errorf("a sheet of A4 is %v dots large, with 25 an inch", page.Rect)
	}
	open := created[client.FiledSquawk](t, x.rig, asked{
		method: "POST", path: "/v1/aircraft/" + x.fleet.aircraft.Id.String() + "/squawks",
		body: `{"kind": "inoperative", "unit": "elt", "words": "fails its self-test"}`,
	}).Squawk.Id.String()
	says(t, x.printed(t, "/v1/squawks/"+open+"/placard", nil), "INOPERATIVE", "Emergency locator transmitter", "Expires ____-__-__")
	says(t, x.printed(t, "/v1/squawks/"+open+"/placard?method=removed", nil), "ELT not installed.", "Put in view of the pilot")
}

func TestPlacardsThatAreNotPrinted(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	id := x.deferLight(t, noon.AddDate(0, 2, 0)).String()
	long := created[client.FiledSquawk](t, x.rig, asked{
		method: "POST", path: "/v1/aircraft/" + x.fleet.aircraft.Id.String() + "/squawks",
		body: fmt.Sprintf(`{"kind": "inoperative", "words": %q}`, strings.Repeat("dead ", 700)),
	}).Squawk.Id.String()
	for _, tt := range []struct {
		path   string
		status int
		faults []string
	}{
		{id + "/placard?method=removed", http.StatusConflict, nil},
		{id + "/placard?start=2", http.StatusUnprocessableEntity, []string{"range query.start"}},
		{id + "/placard?label=letter-10&start=11", http.StatusUnprocessableEntity, []string{"range query.start"}},
		{id + "/placard?start=0", http.StatusUnprocessableEntity, []string{"range query.start"}},
		{id + "/placard?label=51x25", http.StatusUnprocessableEntity, []string{"enum query.label"}},
		{id + "/placard?method=painted", http.StatusUnprocessableEntity, []string{"enum query.method"}},
		{long + "/placard", http.StatusUnprocessableEntity, []string{"fits query.label"}},
	} {
		got := x.rig.ask(t, asked{method: "GET", path: "/v1/squawks/" + tt.path})
		if got.status != tt.status || !slices.Equal(got.faults(t), tt.faults) {
			t.Errorf("%s: %d %s, want %d %v", tt.path, got.status, got.body, tt.status, tt.faults)
		}
	}
	who, err := x.rig.store.Authenticate(t.Context(), digest(x.rig.tokens[techlog.Administrator]))
	if err != nil {
		t.Fatal(err)
	}
	squawk, _ := techlog.ParseID(id)
	if err := x.rig.service.CarryOver(t.Context(), who, hangar.CarriedOver{Squawk: squawk, Step: techlog.StepClose, Words: "Lamp replaced."}); err != nil {
		t.Fatal(err)
	}
	if got := x.rig.ask(t, asked{method: "GET", path: "/v1/squawks/" + id + "/placard"}); got.status != http.StatusConflict {
		t.Errorf("a closed squawk: %d %s", got.status, got.body)
	}
}

// TestDeferredItemsInBothForms holds that the list says the same as JSON and on paper, and that the form follows format
// and Accept.
func TestDeferredItemsInBothForms(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	id := x.deferLight(t, noon.AddDate(0, 2, 0))
	x.squawk(t)
	path := "/v1/aircraft/" + x.fleet.aircraft.Id.String() + "/deferred-items"
	list, err := x.rig.as(t, techlog.Pilot).ListDeferredItemsWithResponse(t.Context(), x.fleet.aircraft.Id, nil)
	if err != nil || list.JSON200 == nil {
		t.Fatalf("%v %s", err, list.Body)
	}
	l := list.JSON200
	if len(l.Items) != 1 || techlog.ID(l.Items[0].Squawk) != id || l.Items[0].Item != "Landing light" || l.Items[0].Expired ||
		len(l.NotDeferred) != 1 || l.NotDeferred[0].Item != "Beacon" || l.Caution != book(t).Rules.Term("caution") || l.Zone != "America/New_York" {
		t.Fatalf("%s", list.Body)
	}
	// At night for hire the landing light is required (14 CFR 91.205(c)(4)): for night VFR that is a limitation.
	if limits := strings.Join(l.Items[0].Limitations, "\n"); !strings.Contains(limits, "91.205(c)(4)") || !strings.Contains(limits, "night VFR") {
		t.Errorf("limitations: %s", limits)
	}
	words := append(slices.Clone(l.Items[0].Limitations),
		"N0TRN", "Tern 2", "2026-11-25 07:00 EST", "00001", "Landing light", "ldg", "14 CFR 91.213(d)", "deactivated", "Landing light inoperative",
		"airframe log, page 44", "J. Larkspur, mechanic, certificate 0000001", "2027-01-25 07:00 EST", "00002 Beacon", l.Caution, "Page 1 of 1")
	for _, form := range []struct {
		path   string
		accept string
	}{
		{path + "?format=pdf", "application/json"},
		{path, "application/pdf"},
		{path + "?paper=a4", "application/json;q=0.5, application/pdf"},
		{path, "application/*;q=0.1, application/pdf;q=0.9"},
	} {
		says(t, x.printed(t, form.path, map[string]string{"Accept": form.accept}), words...)
	}
	for _, form := range []struct {
		path   string
		accept string
	}{
		{path + "?format=json", "application/pdf"},
		{path, "*/*"},
		{path, "text/html, */*;q=0.8"},
		{path, "application/pdf;q=0.3, application/json"},
		{path, "application/pdf;q=none"},
		{path, ";;"},
	} {
		got := x.rig.ask(t, asked{method: "GET", path: form.path, header: map[string]string{"Accept": form.accept}})
		if got.status != http.StatusOK || !json.Valid(got.body) || got.header.Get("Vary") != "Accept" {
			t.Errorf("Accept %s: %d %v", form.accept, got.status, got.header)
		}
	}
}

// TestADeferralThatHasRunOutIsShown holds that the list of today does not read like that of yesterday.
func TestADeferralThatHasRunOutIsShown(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	x.deferLight(t, noon.Add(time.Hour))
	x.rig.clock.advance(time.Hour + time.Second)
	path := "/v1/aircraft/" + x.fleet.aircraft.Id.String() + "/deferred-items"
	d := x.printed(t, path+"?format=pdf", nil)
	says(t, d, "EXPIRED", "Not for any kind of operation (14 CFR 91.405(c))")
	got := x.rig.ask(t, asked{method: "GET", path: path})
	if !strings.Contains(string(got.body), `"expired":true`) {
		t.Errorf("%s", got.body)
	}
}

// TestEveryRolePrintsItsOwnPapers holds that reading papers is open to every role of the organization and to nobody else.
func TestEveryRolePrintsItsOwnPapers(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	id := x.deferLight(t, noon.AddDate(0, 2, 0))
	for _, path := range []string{"/v1/squawks/" + id.String() + "/placard", "/v1/aircraft/" + x.fleet.aircraft.Id.String() + "/deferred-items"} {
		for _, role := range techlog.Roles() {
			if got := x.rig.ask(t, asked{method: "GET", path: path, token: x.rig.tokens[role]}); got.status != http.StatusOK {
				t.Errorf("%s as %s: %d %s", path, role, got.status, got.body)
			}
		}
		if got := x.rig.ask(t, asked{method: "GET", path: path, token: x.rig.other}); got.status != http.StatusNotFound {
			t.Errorf("%s of another organization: %d %s", path, got.status, got.body)
		}
	}
}

// TestTheContractListsTheLabels holds that the labels and papers of the contract are those that can be printed, with
// their measures in both units.
func TestTheContractListsTheLabels(t *testing.T) {
	t.Parallel()
	doc := strictContract(t)
	label := doc.Paths.Find("/v1/squawks/{squawk}/placard").Get.Parameters.GetByInAndName("query", "label")
	paper := doc.Paths.Find("/v1/aircraft/{aircraft}/deferred-items").Get.Parameters.GetByInAndName("query", "paper")
	var labels, sheets []any
	largest := 1
	about := strings.Join(strings.Fields(label.Description), " ")
	for _, l := range papers.Labels() {
		labels = append(labels, l.Name)
		if l.Sheet != nil {
			largest = max(largest, l.Sheet.Places())
		}
		const half = 1e-6 // halves are rounded up
		inches := func(in float64) string {
			return strings.TrimRight(strings.TrimRight(fmt.Sprintf("%.2f", in+half), "0"), ".")
		}
		want := fmt.Sprintf("`%s` (%.1f x %.1f mm, %s x %s in)", l.Name, l.Width+half, l.Height+half, inches(l.WidthIn()), inches(l.HeightIn()))
		if !strings.Contains(about, want) {
			t.Errorf("the contract does not say %s", want)
		}
	}
	for _, p := range papers.Papers() {
		sheets = append(sheets, p.Name)
	}
	if !slices.Equal(label.Schema.Value.Enum, labels) || !slices.Equal(paper.Schema.Value.Enum, sheets) {
		t.Errorf("the contract has labels %v and papers %v, want %v and %v", label.Schema.Value.Enum, paper.Schema.Value.Enum, labels, sheets)
	}
	start := doc.Paths.Find("/v1/squawks/{squawk}/placard").Get.Parameters.GetByInAndName("query", "start")
	if *start.Schema.Value.Max != float64(largest) {
		t.Errorf("start goes up to %v, want %d", *start.Schema.Value.Max, largest)
	}
}

// TestAMaintenanceEntrySaysWhatWasSigned prints the entry of a squawk before any work, and after work that was approved
// and corrected.
func TestAMaintenanceEntrySaysWhatWasSigned(t *testing.T) {
	t.Parallel()
	c := newRig(t).crew(t)
	x := &exercise{rig: c.rig}
	s := c.confirmed(t, dark)
	page := func() *printed.Document { return x.printed(t, at(s)+"/maintenance-entry?paper=a4", nil) }
	before := page()
	says(t, before, "MAINTENANCE ENTRY", "N0TRN", "beacon is dark", "Not an approval until it is signed by hand", "43.9(a)(4)")
	if strings.Contains(before.Text(), "M-0000002") {
		t.Error("somebody is named who has signed nothing")
	}
	s = *c.sign(t, techlog.Mechanic, s, c.byMechanic(repaired())).Squawk
	signed := c.sign(t, techlog.Mechanic, s, c.byMechanic(returning()))
	s = *signed.Squawk
	c.sign(t, techlog.Mechanic, s, c.byMechanic(casefile.Act{Action: "correct", Corrects: signed.Signature.Id.String(), Words: "The lamp was an L-1."}))
	says(t, page(), "Filament open.", "Lamp replaced, ground check good.", "maintenance manual 33-40", "Part used: lamp L-0", "2026-11-25",
		"test mechanic", "M-0000002", "mechanic, airframe, powerplant", "The lamp was an L-1.")
}
