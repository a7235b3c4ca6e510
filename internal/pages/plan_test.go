package pages_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// onTheWall writes an instant as a form does, in the zone of the tests' base.
func onTheWall(t *testing.T, at time.Time) string {
	t.Helper()
	zone, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	return at.In(zone).Format("2006-01-02T15:04")
}

// planned is the form of an ordinary local flight, so many hours from now.
func (c *club) planned(aircraft techlog.ID, in float64, purpose string) url.Values {
	departs := c.clock().Add(time.Duration(in * float64(time.Hour)))
	return url.Values{
		"aircraft": {aircraft.String()}, "rules": {"vfr"}, "purpose": {purpose}, "from-0": {"willow"}, "to-0": {"WILLOW"},
		"departs-0": {onTheWall(c.t, departs)}, "arrives-0": {onTheWall(c.t, departs.Add(time.Hour))},
		"for_hire": {"no"}, "over_water": {"no"}, "occupants": {"1"}, "persons": {"1"}, "required_crew": {"1"}, "altitude_ft": {"3,500"}, "airspace": {"none"},
	}
}

// judge sends a form to be judged, and makes it ready to be saved.
func (v *visitor) judge(path string, form url.Values) seen {
	v.club.t.Helper()
	form.Set("step", "judge")
	got := v.post(path, form)
	if got.status == http.StatusOK {
		form.Set("judged", hidden(v.club.t, got, "judged"))
	}
	form.Set("once", hidden(v.club.t, got, "once"))
	form.Set("step", "save")
	return got
}

// flights are those on record, in the order of their identifiers.
func (c *club) flights(filter hangar.FlightFilter) []techlog.Flight {
	c.t.Helper()
	all, err := c.service.Flights(c.t.Context(), c.who, filter, hangar.Page{Limit: 500})
	if err != nil {
		c.t.Fatal(err)
	}
	return all
}

// TestAFlightIsJudgedBeforeItIsPlanned holds that a flight is planned as it was judged and only once, that one which was
// changed since is judged first, and that what is not said stays unknown and permits nothing.
func TestAFlightIsJudgedBeforeItIsPlanned(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	v := c.signIn(scheduler)
	v.get("/flights/new?aircraft=" + aircraft.String())
	form := c.planned(aircraft, 20, "Pattern work")
	if got := v.judge("/flights/new", form); got.status != http.StatusOK || !strings.Contains(got.body, "You may take it") || !strings.Contains(got.body, "Nothing is planned yet") {
		t.Fatalf("judged: %d %s", got.status, got.body)
	}
	if n := len(c.flights(hangar.FlightFilter{})); n != 0 {
		t.Fatalf("%d flights are planned by judging", n)
	}
	form.Del("airspace")
	form.Set("altitude_ft", "")
	got := v.post("/flights/new", form)
	if got.status != http.StatusOK || !strings.Contains(got.body, "This is not what was judged") || strings.Contains(got.body, "You may take it") || !strings.Contains(got.body, "Not before a fact is known") {
		t.Errorf("changed since: %d %s", got.status, got.body)
	}
	if n := len(c.flights(hangar.FlightFilter{})); n != 0 {
		t.Fatalf("%d flights are planned otherwise than they were judged", n)
	}
	form.Set("judged", hidden(t, got, "judged"))
	form.Set("once", hidden(t, got, "once"))
	var to string
	for range 2 {
		got := v.post("/flights/new", form)
		if to = got.header.Get("Location"); got.status != http.StatusSeeOther {
			t.Fatalf("planned: %d %s", got.status, got.body)
		}
	}
	all := c.flights(hangar.FlightFilter{})
	if len(all) != 1 || all[0].Purpose != "Pattern work" || all[0].Hold.Verdict != "undetermined" || all[0].Facts.Airspace != nil || all[0].Facts.AltitudeFt != nil ||
		*all[0].Facts.ForHire || all[0].PlannedBy != "Sorrel Finch" || all[0].Facts.Controlled != nil {
		t.Errorf("on record: %+v", all)
	}
	if page := v.get(to); page.status != http.StatusOK || !strings.Contains(page.body, "Planned.") || !strings.Contains(page.body, "Not before a fact is known") {
		t.Errorf("%d %s", page.status, page.body)
	}
}

// TestWhatIsWrongWithAPlanStandsBesideIt holds that every fault of a plan is named at its field with nothing lost, that of the
// form as well as that of the use case, and that a flight of nobody's aircraft or over no place is none.
func TestWhatIsWrongWithAPlanStandsBesideIt(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	v := c.signIn(scheduler)
	v.get("/flights/new")
	form := url.Values{
		"step": {"save"}, "purpose": {strings.Repeat("x", 501)}, "from-0": {""}, "to-0": {strings.Repeat("y", 201)}, "departs-0": {"tomorrow"}, "occupants": {"1.5"},
		"persons": {"none"}, "altitude_ft": {"NaN"}, "airspace": {"none", "class-b"}, "for_hire": {"perhaps"}, "every": {"weeks"}, "interval": {"0"}, "weekdays": {"9"},
	}
	got := v.post("/flights/new", form)
	for _, field := range []string{
		"aircraft", "rules", "purpose", "from-0", "to-0", "departs-0", "arrives-0", "occupants", "persons", "altitude_ft", "airspace", "for_hire", "interval", "weekdays",
	} {
		if got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, `id="fault-`+field+`"`) {
			t.Errorf("%d, and no fault at %s", got.status, field)
		}
	}
	if !strings.Contains(got.body, strings.Repeat("x", 501)) || !strings.Contains(got.body, `value="tomorrow"`) {
		t.Error("what was written is lost")
	}
	for field, change := range map[string]url.Values{
		"to-0":      {"to-0": {"NOWHERE"}},
		"from-0":    {"from-0": {"95.5, 10 Beyond the pole"}},
		"airspace":  {"airspace": {"class-z"}},
		"occupants": {"occupants": {"9"}},
		"hours":     {"hours": {"7"}},
		"arrives-0": {"departs-0": {onTheWall(t, c.clock().Add(-5*time.Hour))}, "arrives-0": {onTheWall(t, c.clock().Add(-4*time.Hour))}},
		"departs-1": {"from-1": {"WILLOW"}, "to-1": {"WILLOW"}, "departs-1": {onTheWall(t, c.clock().Add(20*time.Hour))}, "arrives-1": {onTheWall(t, c.clock().Add(23*time.Hour))}},
		"until":     {"every": {"weeks"}, "until": {"whenever"}},
		"skip":      {"every": {"days"}, "until": {onTheWall(t, c.clock().Add(96*time.Hour))[:10]}, "skip": {"2020-01-01"}},
	} {
		form := c.planned(aircraft, 20, "Pattern work")
		for name, said := range change {
			form[name] = said
		}
		if got := v.judge("/flights/new", form); got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, `id="fault-`+field+`"`) || strings.Contains(got.body, "You may take it") {
			t.Errorf("%s: %d %s", field, got.status, got.body)
		}
	}
	if n := len(c.flights(hangar.FlightFilter{})); n != 0 {
		t.Errorf("%d flights are planned", n)
	}
	pilotless := c.signIn(mechanic)
	pilotless.get("/flights/new")
	form = c.planned(aircraft, 20, "Pattern work")
	pilotless.judge("/flights/new", form)
	if got := pilotless.post("/flights/new", form); got.status != http.StatusForbidden {
		t.Errorf("a mechanic plans: %d", got.status)
	}
}

// TestClocksAreChanged: in the United States clocks go forward on the second Sunday of March at 2 h and back on the first
// Sunday of November (15 U.S.C. 260a). A time that they skip is refused at its field, one that they show twice is asked
// about, and a flight over the change lasts as long as it does.
func TestClocksAreChanged(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	v := c.signIn(scheduler)
	v.get("/flights/new")
	sunday := func(month time.Month, nth int) string {
		at := time.Date(c.clock().Year()+1, month, 1, 0, 0, 0, 0, time.UTC)
		return at.AddDate(0, 0, (7-int(at.Weekday()))%7+7*(nth-1)).Format(time.DateOnly)
	}
	march, november := sunday(time.March, 2), sunday(time.November, 1)
	form := c.planned(aircraft, 20, "Over the change")
	form["departs-0"], form["arrives-0"] = []string{march + "T02:30"}, []string{march + "T04:00"}
	if got := v.judge("/flights/new", form); got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, "the clocks of America/Chicago skip 02:30") {
		t.Errorf("a time that there is not: %d", got.status)
	}
	form.Set("departs-0", march+"T01:30")
	if got := v.judge("/flights/new", form); got.status != http.StatusOK || !strings.Contains(got.body, "01:30 CST") || !strings.Contains(got.body, "04:00") {
		t.Errorf("over the change: %d %s", got.status, got.body)
	}
	if got := v.post("/flights/new", form); got.status != http.StatusSeeOther {
		t.Fatalf("%d %s", got.status, got.body)
	}
	if f := c.flights(hangar.FlightFilter{})[0]; f.Arrives.Sub(f.Departs) != 90*time.Minute {
		t.Errorf("it lasts %v", f.Arrives.Sub(f.Departs))
	}
	form["departs-0"], form["arrives-0"] = []string{november + "T01:30"}, []string{november + "T03:00"}
	got := v.judge("/flights/new", form)
	for _, want := range []string{"show 01:30", "twice", `name="departs-0-which" value="first"`, "01:30 CDT", "01:30 CST"} {
		if got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, want) {
			t.Errorf("a time that is twice: %d, without %s", got.status, want)
		}
	}
	form.Set("departs-0-which", "second")
	form.Del("judged")
	v.judge("/flights/new", form)
	if got := v.post("/flights/new", form); got.status != http.StatusSeeOther {
		t.Fatalf("%d %s", got.status, got.body)
	}
	f := c.flights(hangar.FlightFilter{})[1]
	if f.Arrives.Sub(f.Departs) != 90*time.Minute || f.Departs.Format("15:04") != "07:30" {
		t.Errorf("the second 01:30 is %v, and it lasts %v", f.Departs, f.Arrives.Sub(f.Departs))
	}
	again := v.get("/flights/" + f.ID.String() + "/change")
	if !strings.Contains(again.body, november+"T01:30") {
		t.Error("the form to change it has another time")
	}
	form.Set("version", hidden(t, again, "version"))
	form.Set("purpose", "Still the second")
	form.Del("judged")
	v.judge("/flights/"+f.ID.String()+"/change", form)
	if got := v.post("/flights/"+f.ID.String()+"/change", form); got.status != http.StatusSeeOther {
		t.Fatalf("%d %s", got.status, got.body)
	}
	if now := c.flights(hangar.FlightFilter{})[1]; !now.Departs.Equal(f.Departs) || now.Purpose != "Still the second" {
		t.Errorf("changed, it departs at %v", now.Departs)
	}
}

// TestWhoeverChangesAFlightSecond holds that a stale form changes nothing, shows what the flight has become beside what was
// written, and may be sent again to it; and that calling off and moving look at the version, too.
func TestWhoeverChangesAFlightSecond(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	base := c.base("WILLOW", "Willow")
	aircraft, other := c.enter(base, "N012TW", "Tansy"), c.enter(base, "N014TW", "Tansy")
	flight := c.plan(aircraft, base, 20, "Pattern work")
	path := "/flights/" + flight.String()
	one, two := c.signIn(scheduler), c.signIn(scheduler)
	two.get(path + "/change")
	late := c.planned(aircraft, 22, "I was second")
	late.Set("version", "1")
	two.judge(path+"/change", late)
	move := url.Values{"aircraft": {other.String()}, "version": {"1"}, "once": {hidden(t, one.get(path), "once")}}
	got := one.post(path+"/move", move)
	if got.status != http.StatusSeeOther {
		t.Fatalf("move: %d %s", got.status, got.body)
	}
	if page := one.get(got.header.Get("Location")); !strings.Contains(page.body, "Moved to N014TW") || !strings.Contains(page.body, "Undo: back to N012TW") {
		t.Errorf("moved: %s", page.body)
	}
	stale := two.post(path+"/change", late)
	for _, want := range []string{"Somebody has changed this flight meanwhile", "N014TW", "I was second", `name="version" value="2"`} {
		if stale.status != http.StatusConflict || !strings.Contains(stale.body, want) {
			t.Errorf("whoever is second: %d, without %s", stale.status, want)
		}
	}
	for _, step := range []string{"cancel", "move", "shown"} {
		form := url.Values{"version": {"1"}, "aircraft": {aircraft.String()}, "once": {hidden(t, two.get(path), "once")}}
		if got := two.post(path+"/"+step, form); got.status != http.StatusConflict || !strings.Contains(got.body, "Somebody has changed it meanwhile") {
			t.Errorf("%s: %d %s", step, got.status, got.body)
		}
	}
	late.Set("version", hidden(t, stale, "version"))
	late.Del("judged")
	two.judge(path+"/change", late)
	if got := two.post(path+"/change", late); got.status != http.StatusSeeOther {
		t.Fatalf("again: %d %s", got.status, got.body)
	}
	f := c.flights(hangar.FlightFilter{})[0]
	if f.Version != 3 || f.Purpose != "I was second" || f.Aircraft != aircraft {
		t.Errorf("%+v", f)
	}
}

// TestAFlightIsCalledOffAndPutBack holds that a flight that was called off is put back as it was, judged as things stand then,
// and only once.
func TestAFlightIsCalledOffAndPutBack(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	base := c.base("WILLOW", "Willow")
	aircraft := c.enter(base, "N012TW", "Tansy")
	flight := c.plan(aircraft, base, 20, "Pattern work")
	path := "/flights/" + flight.String()
	v := c.signIn(scheduler)
	form := url.Values{"version": {"1"}, "once": {hidden(t, v.get(path), "once")}}
	for range 2 {
		if got := v.post(path+"/cancel", form); got.status != http.StatusSeeOther {
			t.Fatalf("call off: %d %s", got.status, got.body)
		}
	}
	page := v.get(path + "?done=cancelled")
	if !strings.Contains(page.body, "Called off") || strings.Contains(page.body, "You may take it") || !strings.Contains(page.body, "Undo: put it back on the plan") {
		t.Errorf("%s", page.body)
	}
	if got := v.get(path + "/change"); got.status != http.StatusConflict {
		t.Errorf("a flight that is off is changed: %d", got.status)
	}
	c.squawk(aircraft, "position-left", "Dark.")
	form = url.Values{"version": {hidden(t, page, "version")}, "once": {hidden(t, page, "once")}}
	for range 2 {
		if got := v.post(path+"/restore", form); got.status != http.StatusSeeOther {
			t.Fatalf("put back: %d %s", got.status, got.body)
		}
	}
	form.Set("once", hidden(t, v.get("/flights/new"), "once"))
	if got := v.post(path+"/restore", form); got.status != http.StatusConflict {
		t.Errorf("put back twice: %d", got.status)
	}
	f := c.flights(hangar.FlightFilter{})[0]
	if f.State != techlog.Planned || f.Version != 3 || f.Hold.Verdict != "defer-first" || f.Purpose != "Pattern work" {
		t.Errorf("%+v", f)
	}
}

// TestASeriesIsMadeAndCalledOff holds that a series is planned as it was judged, without the dates that are left out; that one
// flight and the rest are called off, and put back together.
func TestASeriesIsMadeAndCalledOff(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	base := c.base("WILLOW", "Willow")
	aircraft := c.enter(base, "N012TW", "Tansy")
	v := c.signIn(scheduler)
	v.get("/flights/new")
	form := c.planned(aircraft, 20, "Every week")
	date := func(weeks int) string { return onTheWall(t, c.clock().Add(20*time.Hour).AddDate(0, 0, 7*weeks))[:10] }
	for field, said := range map[string]string{"every": "weeks", "interval": "1", "until": date(5), "skip": date(2)} {
		form.Set(field, said)
	}
	if got := v.judge("/flights/new", form); got.status != http.StatusOK || !strings.Contains(got.body, "Plan 5 flights") {
		t.Fatalf("judged: %d %s", got.status, got.body)
	}
	got := v.post("/flights/new", form)
	path, _, _ := strings.Cut(got.header.Get("Location"), "?")
	if got.status != http.StatusSeeOther || !strings.HasPrefix(path, "/series/") {
		t.Fatalf("planned: %d %s", got.status, got.body)
	}
	page := v.get(path + "?done=planned")
	if !strings.Contains(page.body, "5 flights to come, 0 held") || strings.Count(page.body, ">Leave out<") != 5 {
		t.Fatalf("%d %s", page.status, page.body)
	}
	planned := func() (n int) { return len(c.flights(hangar.FlightFilter{State: techlog.Planned})) }
	one := c.flights(hangar.FlightFilter{})[1]
	off := url.Values{"version": {"1"}, "series": {one.Series.String()}, "once": {hidden(t, page, "once")}}
	if got := v.post("/flights/"+one.ID.String()+"/cancel", off); got.status != http.StatusSeeOther || !strings.HasPrefix(got.header.Get("Location"), path) || planned() != 4 {
		t.Fatalf("one is left out: %d, %d are left", got.status, planned())
	}
	c.later(time.Minute)
	wrong := url.Values{"from": {"soon"}, "once": {hidden(t, v.get(path), "once")}}
	if got := v.post(path+"/cancel", wrong); got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, `id="fault-from"`) || !strings.Contains(got.body, `value="soon"`) {
		t.Errorf("%d %s", got.status, got.body)
	}
	rest := url.Values{"from": {date(3)}, "once": {hidden(t, v.get(path), "once")}}
	for range 2 {
		if got := v.post(path+"/cancel", rest); got.status != http.StatusSeeOther || planned() != 1 {
			t.Fatalf("the rest: %d, %d are left", got.status, planned())
		}
	}
	page = v.get(path)
	if !strings.Contains(page.body, "3 flights called off.") {
		t.Errorf("%s", page.body)
	}
	back := url.Values{"at": {hidden(t, page, "at")}, "once": {hidden(t, page, "once")}}
	for range 2 {
		if got := v.post(path+"/restore", back); got.status != http.StatusSeeOther || planned() != 4 {
			t.Fatalf("back: %d, %d are planned", got.status, planned())
		}
	}
	back.Set("once", hidden(t, v.get(path), "once"))
	if got := v.post(path+"/restore", back); got.status != http.StatusConflict || planned() != 4 {
		t.Errorf("back twice: %d, %d are planned", got.status, planned())
	}
}

// later moves the clock on.
func (c *club) later(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

// TestWhatIsAssumedIsSaidToBe holds that what a visitor has not said of a flight stands as an assumption beside the answer
// until it is said, and that none of it goes into the form to plan it.
func TestWhatIsAssumedIsSaidToBe(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	v := c.signIn(pilot)
	assumed := func(path string) string {
		page := v.get(path)
		_, rest, _ := strings.Cut(page.body, "Assumed:</b> ")
		said, _, _ := strings.Cut(rest, "</span>")
		if beside := strings.Contains(page.body, "<b>assumed</b>, not said"); beside != (said != "") {
			t.Errorf("%s: the answer says that something is assumed: %v", path, beside)
		}
		return said
	}
	path := "/aircraft/" + aircraft.String()
	for _, want := range []string{"VFR", "leaving now", "2 h", "1 aboard", "not for hire", "not over water", "up to 3,500 ft", "in controlled airspace", "no special airspace", "back to its base"} {
		if said := assumed(path); !strings.Contains(said, want) {
			t.Errorf("that it is %s is not said to be assumed: %s", want, said)
		}
	}
	if said := assumed(path + "?rules=vfr&hours=2&at="); strings.Contains(said, "VFR") || strings.Contains(said, "2 h") || strings.Contains(said, "leaving now") || !strings.Contains(said, "1 aboard") {
		t.Errorf("what was said is said to be assumed: %s", said)
	}
	page := v.get(path)
	_, rest, _ := strings.Cut(page.body, `class="elsewhere" href="?`)
	all, _, _ := strings.Cut(rest, `"`)
	all = strings.ReplaceAll(all, "&amp;", "&")
	if said := assumed(path + "?" + all); all == "" || said != "" {
		t.Errorf("of a flight that was confirmed, %s is assumed", said)
	}
	if got := v.get(path + "?controlled=perhaps"); !strings.Contains(got.body, `id="fault-controlled"`) {
		t.Error("no fault at controlled")
	}
	form := func(query string) string {
		got := v.get("/flights/new?aircraft=" + aircraft.String() + query)
		if got.status != http.StatusOK {
			t.Fatalf("%d %s", got.status, got.body)
		}
		return got.body
	}
	for _, not := range []string{`value="vfr" checked`, `name="persons" inputmode="decimal" value="1"`, `value="3500"`, `<option value="no" selected>`, `value="none" checked`} {
		if strings.Contains(form(""), not) {
			t.Errorf("nobody has said %s", not)
		}
		if !strings.Contains(form("&"+all), not) {
			t.Errorf("it was said, and %s does not stand in the form", not)
		}
	}
	if !strings.Contains(form("&"+all), fmt.Sprintf(`value=%q`, onTheWall(t, c.clock().Add(2*time.Hour)))) {
		t.Error("the end of the flight is not filled in")
	}
}

// weekly plans a series of two flights.
func (c *club) weekly(aircraft, base techlog.ID) techlog.ID {
	c.t.Helper()
	departs := c.clock().Add(21 * time.Hour)
	answer, err := c.service.PlanSeries(c.t.Context(), c.who, hangar.SeriesPlan{
		Flight: hangar.FlightPlan{Aircraft: aircraft, From: base, To: base, Departs: departs, Arrives: departs.Add(time.Hour), Rules: "vfr"},
		Repeat: hangar.Repeat{Every: "weeks", Interval: 1, Until: departs.AddDate(0, 0, 8).Format(time.DateOnly)},
	}, nil, func(s hangar.PlannedSeries) ([]byte, error) { return json.Marshal(s.Series) })
	return parsed(c.t, answer, err)
}

// TestBytesThatAreNoText holds that bytes that no record can keep are refused or taken as text in every field, and nothing fails.
func TestBytesThatAreNoText(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	v := c.signIn(scheduler)
	for _, odd := range []string{"a\x00b", "a\xffb", "\xed\xa0\x80"} {
		for _, field := range []string{"purpose", "from-0", "to-0", "to-0 named", "departs-0", "aircraft", "rules", "airspace", "occupants", "until", "skip"} {
			v.get("/flights/new")
			form := c.planned(aircraft, 20, "Pattern work")
			name, named, _ := strings.Cut(field, " ")
			form.Set(name, map[bool]string{true: "41.21, -95.48 " + odd, false: odd}[named != ""])
			if name == "until" || name == "skip" {
				form.Set("every", "weeks")
			}
			v.judge("/flights/new", form)
			if got := v.post("/flights/new", form); got.status >= 500 || got.status == http.StatusSeeOther && name != "purpose" && name != "to-0" {
				t.Errorf("%s: %q: %d %s", field, odd, got.status, got.body)
			}
		}
		path := "/aircraft/" + aircraft.String() + "/blocks"
		form := url.Values{"once": {hidden(t, v.get(path), "once")}, "kind": {"away"}, "words": {odd}, "from": {onTheWall(t, c.clock())}}
		if got := v.post(path, form); got.status >= 500 {
			t.Errorf("words of a block: %q: %d", odd, got.status)
		}
		for _, query := range []string{"/week?base=", "/week?from=", "/week?aircraft=", "/week?after=", "/board?base=", "/board?after=", "/flights/new?aircraft=", "/flights/new?rules="} {
			if got := v.get(query + url.QueryEscape(odd)); got.status != http.StatusOK {
				t.Errorf("%s%q: %d", query, odd, got.status)
			}
		}
	}
}
