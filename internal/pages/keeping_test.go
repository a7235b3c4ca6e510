package pages_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"tiedown/internal/demo"
	"tiedown/internal/hangar"
)

// TestTheFleetIsKept enters an aircraft, which permits nothing as nothing is known of it, changes it, and gives it a
// checklist: what the form does not have stays as it was, whoever comes second is told, and faults stand beside their fields.
func TestTheFleetIsKept(t *testing.T) {
	t.Parallel()
	c := walkable(t)
	v := c.signIn(string(demo.Keeper))
	fleet, err := c.service.Fleet(t.Context(), c.who, hangar.Page{Limit: 50})
	if err != nil {
		t.Fatal(err)
	}
	base := fleet[0].Base.String()
	bad := v.submit("/settings/fleet", "/settings/fleet", url.Values{"registration": {"no mark!"}, "type": {""}, "base": {"x"}, "basis": {""}})
	if bad.status != http.StatusUnprocessableEntity || !strings.Contains(bad.body, `value="NO MARK!"`) {
		t.Errorf("a bad aircraft: %d", bad.status)
	}
	for _, field := range []string{"registration", "type", "base", "basis"} {
		if !strings.Contains(bad.body, `id="fault-`+field+`"`) {
			t.Errorf("no fault stands beside %s", field)
		}
	}
	entry := url.Values{"registration": {"n044tw"}, "type": {"Reed 2"}, "base": {base}, "basis": {"part-23"}, "category": {"airplane"}, "certificate": {"standard"}, "engine": {"reciprocating"}}
	made := v.submit("/settings/fleet", "/settings/fleet", entry)
	made.to(t, "/settings/fleet/")
	page := strings.TrimSuffix(made.header.Get("Location"), "?done=entered")
	aircraft := strings.TrimPrefix(page, "/settings/fleet/")
	if got := v.get("/aircraft/" + aircraft); got.status != http.StatusOK || strings.Contains(got.body, "You may take it") || !strings.Contains(got.body, "N044TW") {
		t.Errorf("of an aircraft of which nothing is known it is said: %d %s", got.status, got.body)
	}
	if again := v.submit("/settings/fleet", "/settings/fleet", entry); again.status != http.StatusConflict {
		t.Errorf("the same mark again: %d", again.status)
	}
	trainer := c.trainer()
	kept := "/settings/fleet/" + trainer.ID.String()
	change := url.Values{
		"version": {"1"}, "registration": {"N012TX"}, "type": {trainer.Type}, "base": {base}, "basis": {trainer.Facts.Basis},
		"category": {trainer.Facts.Category}, "certificate": {trainer.Facts.Certificate}, "engine": {trainer.Facts.Engine},
	}
	if form := v.get(kept); !strings.Contains(form.body, `name="version" value="`) || !strings.Contains(form.body, "PATCH /v1/aircraft/") {
		t.Fatalf("%d %s", form.status, form.body)
	}
	change.Set("version", hidden(t, seen{body: between(v.get(kept).body, "Change it")}, "version"))
	v.submit(kept, kept, change).to(t, kept+"?done=changed")
	if second := v.submit(kept, kept, change); second.status != http.StatusConflict || !strings.Contains(second.body, "Somebody has changed this meanwhile") {
		t.Errorf("whoever comes second: %d", second.status)
	}
	id := trainer.ID
	now, err := c.service.Aircraft(t.Context(), c.who, id)
	if err != nil || now.Registration != "N012TX" || now.Revision != trainer.Revision || *now.Facts.Seats != *trainer.Facts.Seats || now.Facts.AnnualInspected != trainer.Facts.AnnualInspected {
		t.Errorf("on record: %+v, %v", now, err)
	}
	list, err := c.service.Checklist(t.Context(), c.who, id)
	if err != nil {
		t.Fatal(err)
	}
	chosen := url.Values{"version": {"0"}, "template": {list.Made.Template.String()}}
	v.submit(page, page+"/checklist", chosen).to(t, page+"?done=checklist")
	if got := v.get(page); !strings.Contains(got.body, "for this airframe") {
		t.Errorf("the checklist is not there: %s", got.body)
	}
	if second := v.submit(page, page+"/checklist", chosen); second.status != http.StatusConflict {
		t.Errorf("the checklist, second: %d", second.status)
	}
	if none := v.submit(page, page+"/checklist", url.Values{"version": {"1"}, "template": {newID().String()}}); none.status != http.StatusUnprocessableEntity || !strings.Contains(none.body, `id="fault-template"`) {
		t.Errorf("no such template: %d", none.status)
	}
	pilots := c.signIn(pilot)
	if got := pilots.get(page); got.status != http.StatusOK || strings.Contains(got.body, "Change it") {
		t.Errorf("a pilot is offered to change it: %d", got.status)
	}
	for path, form := range map[string]url.Values{"/settings/fleet": entry, kept: change, page + "/checklist": chosen} {
		if got := pilots.post(path, form); got.status != http.StatusForbidden {
			t.Errorf("%s by a pilot: %d", path, got.status)
		}
	}
}

// between is what follows a text.
func between(body, text string) string {
	_, rest, _ := strings.Cut(body, text)
	return rest
}
