package httpapi_test

import (
	"bytes"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-ical"

	"tiedown/api/client"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// subscribe makes a calendar as somebody and gives its path.
func (x *exercise) subscribe(t *testing.T, b *browser, aircraft *client.ID) (client.MadeCalendarFeed, string) {
	t.Helper()
	made := created[client.MadeCalendarFeed](t, x.rig, asked{
		method: "POST", path: "/v1/calendar-feeds", browser: b,
		body: marshal(t, client.CalendarFeedEntry{Name: "Board, by the door; “überall” 🛩️", Aircraft: aircraft}),
	})
	return made, strings.TrimPrefix(made.Url, publicURL)
}

// fetch reads a calendar as a program does that has nothing but its address, and the independent parser.
func (r *rig) fetch(t *testing.T, path string) (*ical.Calendar, answered) {
	t.Helper()
	got := r.ask(t, asked{method: "GET", path: path, token: "none"})
	if got.status != http.StatusOK {
		t.Fatalf("%s: %d %s", path, got.status, got.body)
	}
	c, err := ical.NewDecoder(bytes.NewReader(got.body)).Decode()
	if err != nil {
		t.Fatalf("%v\n%s", err, got.body)
	}
	if err := ical.NewEncoder(&bytes.Buffer{}).Encode(c); err != nil {
		t.Fatalf("%v\n%s", err, got.body)
	}
	return c, got
}

// value is a property of an event as it is written.
func value(e *ical.Event, name string) string {
	if p := e.Props.Get(name); p != nil {
		return p.Value
	}
	return ""
}

func words(t *testing.T, e *ical.Event, name string) string {
	t.Helper()
	s, err := e.Props.Text(name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// eventOf finds the event of a flight.
func eventOf(t *testing.T, c *ical.Calendar, flight client.ID) *ical.Event {
	t.Helper()
	for _, e := range c.Events() {
		if value(&e, "UID") == "flight-"+flight.String()+"@hangar.example" {
			return &e
		}
	}
	return nil
}

// TestTheStoryOfAFlightInACalendar follows one flight through everything that becomes of it, as a program sees it that
// asks for the calendar again and again: it is one event, which counts up, is tentative while it is held, and is taken out.
func TestTheStoryOfAFlightInACalendar(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	_, path := x.subscribe(t, x.rig.somebody(t, techlog.Pilot), &x.fleet.aircraft.Id)
	empty, _ := x.rig.fetch(t, path)
	for _, e := range empty.Events() {
		if strings.HasPrefix(value(&e, "UID"), "flight-") {
			t.Errorf("a flight before there is one: %s", value(&e, "UID"))
		}
	}
	if name, err := empty.Props.Text("NAME"); err != nil || name != "Board, by the door; “überall” 🛩️" {
		t.Errorf("%q, %v", name, err)
	}
	flight := x.flight(t)
	counted := 0
	see := func(what, status, transparency, summary string) *ical.Event {
		t.Helper()
		c, _ := x.rig.fetch(t, path)
		e := eventOf(t, c, flight.Id)
		if e == nil {
			t.Fatalf("%s: the flight has no event", what)
		}
		if value(e, "STATUS") != status || value(e, "TRANSP") != transparency || words(t, e, "SUMMARY") != summary {
			t.Errorf("%s: %s, %s, %s", what, value(e, "STATUS"), value(e, "TRANSP"), words(t, e, "SUMMARY"))
		}
		n, err := strconv.Atoi(value(e, "SEQUENCE"))
		if err != nil || n <= counted {
			t.Errorf("%s: sequence %d after %d, %v", what, n, counted, err)
		}
		counted = n
		if !strings.Contains(words(t, e, "DESCRIPTION"), "14 CFR 91.7(b)") {
			t.Errorf("%s: nobody is told who decides: %s", what, words(t, e, "DESCRIPTION"))
		}
		return e
	}
	planned := see("planned", "CONFIRMED", "OPAQUE", "N0TRN "+string(flight.Hold.Verdict))
	if start, err := planned.DateTimeStart(time.UTC); err != nil || !start.Equal(flight.Departs) {
		t.Errorf("%v, %v, want %v", start, err, flight.Departs)
	}
	x.rig.clock.advance(time.Minute)
	x.squawk(t) // the beacon is dark
	held := decoded[client.Flight](t, x.rig.ask(t, asked{method: "GET", path: "/v1/flights/" + flight.Id.String()}), 200)
	if !held.Hold.Holds {
		t.Fatalf("the flight is not held: %+v", held.Hold)
	}
	e := see("held", "TENTATIVE", "OPAQUE", "N0TRN "+strings.ReplaceAll(string(held.Hold.Verdict), "-", " "))
	if got, want := value(e, "LAST-MODIFIED"), noon.Add(time.Minute).Format("20060102T150405Z"); got != want || value(e, "DTSTAMP") != want {
		t.Errorf("it changed at %s, want %s", got, want)
	}
	for _, row := range held.Hold.Rows {
		if said := words(t, e, "DESCRIPTION"); !strings.Contains(said, row.Citation) {
			t.Errorf("%s is not cited in\n%s", row.Citation, said)
		}
	}
	plan := x.fleet.nightFlight()
	plan.Departs, plan.Arrives, plan.Purpose = plan.Departs.Add(time.Hour), plan.Arrives.Add(time.Hour), new("to the coast,\nand back; \\o/")
	if got := x.rig.ask(t, asked{method: "PUT", path: "/v1/flights/" + flight.Id.String(), body: marshal(t, plan), header: ifMatch(1)}); got.status != 200 {
		t.Fatalf("%d %s", got.status, got.body)
	}
	moved := see("moved", "TENTATIVE", "OPAQUE", "N0TRN "+strings.ReplaceAll(string(held.Hold.Verdict), "-", " "))
	if start, err := moved.DateTimeStart(time.UTC); err != nil || !start.Equal(plan.Departs) || !strings.Contains(words(t, moved, "DESCRIPTION"), *plan.Purpose) {
		t.Errorf("%v, %v: %s", start, err, words(t, moved, "DESCRIPTION"))
	}
	if got := x.rig.ask(t, asked{method: "POST", path: "/v1/flights/" + flight.Id.String() + "/cancellation", header: ifMatch(2)}); got.status != 200 {
		t.Fatalf("%d %s", got.status, got.body)
	}
	see("called off", "CANCELLED", "TRANSPARENT", "N0TRN called off")
	x.rig.clock.advance(40 * 24 * time.Hour)
	if c, _ := x.rig.fetch(t, path); eventOf(t, c, flight.Id) != nil {
		t.Error("a flight of long ago is still in the calendar")
	}
}

// TestACalendarIsAskedForAgain holds that what has not changed is not sent again, and whatever changes is.
func TestACalendarIsAskedForAgain(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	_, path := x.subscribe(t, x.rig.somebody(t, techlog.Pilot), nil)
	_, first := x.rig.fetch(t, path)
	tag := first.header.Get("ETag")
	if tag == "" || first.header.Get("Cache-Control") != "private, no-cache" || first.header.Get("Content-Type") != "text/calendar; charset=utf-8" {
		t.Errorf("%v", first.header)
	}
	again := func() answered {
		return x.rig.ask(t, asked{method: "GET", path: path, token: "none", header: map[string]string{"If-None-Match": tag}})
	}
	if got := again(); got.status != http.StatusNotModified || len(got.body) > 0 || got.header.Get("ETag") != tag {
		t.Errorf("%d %s", got.status, got.body)
	}
	flight := x.flight(t)
	if got := again(); got.status != http.StatusOK || !strings.Contains(string(got.body), flight.Id.String()) {
		t.Errorf("%d %s", got.status, got.body)
	}
}

// TestWhoSeesACalendar holds that an address is good until it is taken back or its maker has left, and that nobody else's
// calendars are told or taken back.
func TestWhoSeesACalendar(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	pilot, mechanic := x.rig.somebody(t, techlog.Pilot), x.rig.somebody(t, techlog.Mechanic)
	mine, path := x.subscribe(t, pilot, nil)
	_, theirs := x.subscribe(t, mechanic, nil)
	list := func(b *browser, token string) int {
		t.Helper()
		got := x.rig.ask(t, asked{method: "GET", path: "/v1/calendar-feeds", browser: b, token: token})
		if strings.Contains(string(got.body), "/v1/calendars/") {
			t.Errorf("an address is told again: %s", got.body)
		}
		return len(decoded[client.CalendarFeeds](t, got, 200).Feeds)
	}
	if n := list(pilot, ""); n != 1 {
		t.Errorf("the pilot is told of %d calendars", n)
	}
	if n := list(nil, x.rig.tokens[techlog.Pilot]); n != 0 {
		t.Errorf("a program is told of %d calendars", n)
	}
	if n := list(x.rig.somebody(t, techlog.Administrator), ""); n != 2 {
		t.Errorf("an administrator is told of %d calendars", n)
	}
	revoke := asked{method: "POST", path: "/v1/calendar-feeds/" + mine.Feed.Id.String() + "/revocation"}
	revoke.browser = mechanic
	if got := x.rig.ask(t, revoke); got.status != http.StatusNotFound {
		t.Errorf("somebody else takes it back: %d %s", got.status, got.body)
	}
	revoke.browser = pilot
	if got := x.rig.ask(t, revoke); got.status != http.StatusOK || !strings.Contains(string(got.body), `"revoked"`) {
		t.Errorf("%d %s", got.status, got.body)
	}
	gone := func(path string) {
		t.Helper()
		got := x.rig.ask(t, asked{method: "GET", path: path, token: "none"})
		none := x.rig.ask(t, asked{method: "GET", path: "/v1/calendars/nothing.ics", token: "none"})
		if got.status != http.StatusNotFound || got.problem(t).Title != none.problem(t).Title {
			t.Errorf("%d %s, of none %s", got.status, got.body, none.body)
		}
	}
	gone(path)
	gone(strings.TrimSuffix(theirs, ".ics"))
	gone("/v1/calendars/" + hangar.NewSecret() + ".ics")
	x.rig.fetch(t, theirs)
	ending := asked{method: "POST", path: "/v1/members/" + mechanic.person.ID.String() + "/ending", header: ifMatch(1)}
	if got := x.rig.ask(t, ending); got.status != http.StatusOK {
		t.Fatalf("%d %s", got.status, got.body)
	}
	gone(theirs)
}

// TestAnAircraftThatIsOut holds what is said of an aircraft to which no kind of operation is open: today in a calendar, and
// from now on, as long as was asked, where it is asked when it is free.
func TestAnAircraftThatIsOut(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	aircraft := x.fleet.aircraft.Id.String()
	_, path := x.subscribe(t, x.rig.somebody(t, techlog.Pilot), &x.fleet.aircraft.Id)
	flight := x.flight(t)
	busy := "/v1/aircraft/" + aircraft + "/free-busy?from=2026-11-25T00:00:00Z&until=2026-11-30T00:00:00Z"
	outs := func() []ical.Event {
		c, _ := x.rig.fetch(t, path)
		var out []ical.Event
		for _, e := range c.Events() {
			if strings.HasPrefix(value(&e, "UID"), "out-"+aircraft) {
				out = append(out, e)
			}
		}
		return out
	}
	if out := outs(); len(out) != 0 {
		t.Fatalf("out before anything is wrong: %v", out)
	}
	got := decoded[client.FreeBusy](t, x.rig.ask(t, asked{method: "GET", path: busy}), 200)
	if len(got.Busy) != 1 || got.Busy[0].Kind != "taken" || *got.Busy[0].Flight != flight.Id || !got.Busy[0].From.Equal(flight.Departs) || len(got.Busy[0].Citations) != 0 {
		t.Errorf("%+v", got.Busy)
	}
	worn := asked{method: "POST", path: "/v1/aircraft/" + aircraft + "/squawks", body: `{"kind": "condition", "item": "tire", "words": "worn to the cord"}`}
	created[client.FiledSquawk](t, x.rig, worn)
	out := outs()
	if len(out) != 1 {
		t.Fatalf("%d events of an aircraft that is out", len(out))
	}
	e := &out[0]
	if value(e, "DTSTART") != "20261125" || value(e, "DTEND") != "20261126" || value(e, "TRANSP") != "OPAQUE" || words(t, e, "SUMMARY") != "N0TRN not available" {
		t.Errorf("%+v", e.Props)
	}
	if said := words(t, e, "DESCRIPTION"); !strings.Contains(said, "Until when is not known") || !strings.Contains(said, "14 CFR 91.7") {
		t.Errorf("%s", said)
	}
	got = decoded[client.FreeBusy](t, x.rig.ask(t, asked{method: "GET", path: busy}), 200)
	if len(got.Busy) != 2 {
		t.Fatalf("%+v", got.Busy)
	}
	first, second := got.Busy[0], got.Busy[1]
	if first.Kind != "unavailable" || !first.From.Equal(noon) || !first.Until.Equal(noon.Add(4*24*time.Hour+12*time.Hour)) || !first.OpenEnded || len(first.Citations) == 0 {
		t.Errorf("%+v", first)
	}
	if second.Kind != "held" || *second.Flight != flight.Id || len(second.Citations) == 0 {
		t.Errorf("%+v", second)
	}
	times := x.rig.ask(t, asked{method: "GET", path: strings.Replace(busy, "free-busy", "free-busy.ics", 1)})
	same := x.rig.ask(t, asked{method: "GET", path: busy, header: map[string]string{"Accept": "text/calendar"}})
	if !bytes.Equal(times.body, same.body) || same.header.Get("Vary") != "Accept" {
		t.Errorf("%s\nby its name\n%s", same.body, times.body)
	}
	c, err := ical.NewDecoder(bytes.NewReader(times.body)).Decode()
	if err != nil {
		t.Fatal(err)
	}
	var said []string
	for _, p := range c.Children[0].Props.Values("FREEBUSY") {
		said = append(said, p.Params.Get("FBTYPE")+" "+p.Value)
	}
	stamp := func(at time.Time) string { return at.UTC().Format("20060102T150405Z") }
	want := "BUSY-UNAVAILABLE 20261125T120000Z/20261130T000000Z|BUSY-TENTATIVE " + stamp(flight.Departs) + "/" + stamp(flight.Arrives)
	if strings.Join(said, "|") != want {
		t.Errorf("%s\nwant\n%s", strings.Join(said, "|"), want)
	}
}

func TestTimesThatAreNone(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	path := "/v1/aircraft/" + x.fleet.aircraft.Id.String() + "/free-busy"
	for query, want := range map[string]string{
		"?until=2026-11-25T12:00:00Z":                           "after-from query.until",
		"?from=2026-11-25T12:00:00Z&until=2026-11-24T12:00:00Z": "after-from query.until",
		"?from=2026-11-25T12:00:00Z&until=2027-11-27T12:00:00Z": "within-a-year query.until",
		"?from=yesterday": "format query.from",
	} {
		for _, path := range []string{path, path + ".ics"} {
			if got := x.rig.ask(t, asked{method: "GET", path: path + query}); got.status != 422 || strings.Join(got.faults(t), "|") != want {
				t.Errorf("%s: %d %s, want %s", query, got.status, got.body, want)
			}
		}
	}
}

// TestACalendarSaysWhichLegIsHeld holds that of a flight out by day and home by night, without a landing light, the calendar says
// where it leads, and of each leg what holds it.
func TestACalendarSaysWhichLegIsHeld(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	_, path := x.subscribe(t, x.rig.somebody(t, techlog.Pilot), &x.fleet.aircraft.Id)
	flight := created[client.Flight](t, x.rig, asked{method: "POST", path: "/v1/flights", body: marshal(t, x.fleet.outAndBack(noon.Add(36*time.Hour)))})
	created[client.FiledSquawk](t, x.rig, asked{
		method: "POST", path: "/v1/aircraft/" + x.fleet.aircraft.Id.String() + "/squawks", body: `{"kind": "inoperative", "unit": "ldg", "words": "stays dark"}`,
	})
	flight = decoded[client.Flight](t, x.rig.ask(t, asked{method: "GET", path: "/v1/flights/" + flight.Id.String()}), 200)
	c, _ := x.rig.fetch(t, path)
	e := eventOf(t, c, flight.Id)
	if e == nil || words(t, e, "LOCATION") != "Home Field – Lake – Home Field" || value(e, "STATUS") != "TENTATIVE" {
		t.Fatalf("%+v", e)
	}
	lines := strings.Split(words(t, e, "DESCRIPTION"), "\n")
	for _, leg := range flight.Legs {
		want := leg.Departs.UTC().Format("2006-01-02 15:04 UTC") + ", " + leg.From.Name + " – " + leg.To.Name + ": " + strings.ReplaceAll(string(leg.Verdict), "-", " ")
		if !slices.ContainsFunc(lines, func(line string) bool {
			return strings.HasPrefix(line, want) && (len(leg.Rows) == 0 || strings.Contains(line, leg.Rows[0].Citation))
		}) {
			t.Errorf("nothing says %q in\n%s", want, strings.Join(lines, "\n"))
		}
	}
	if flight.Legs[0].Verdict == flight.Legs[1].Verdict {
		t.Errorf("both legs are %s", flight.Legs[0].Verdict)
	}
}

// TestABlockInACalendar holds that a block is an event, is followed by the flight that it holds, keeps the aircraft from being free
// without an end where none is given, and is taken out when it is cancelled.
func TestABlockInACalendar(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	aircraft := "/v1/aircraft/" + x.fleet.aircraft.Id.String()
	_, path := x.subscribe(t, x.rig.somebody(t, techlog.Pilot), &x.fleet.aircraft.Id)
	flight := x.flight(t)
	made := created[client.BlockedAircraft](t, x.rig, asked{
		method: "POST", path: aircraft + "/blocks", body: marshal(t, client.BlockEntry{From: noon.Add(time.Hour), Kind: "maintenance", Words: "engine out, in parts; over there"}),
	})
	event := func() *ical.Event {
		t.Helper()
		c, _ := x.rig.fetch(t, path)
		if e := eventOf(t, c, flight.Id); e == nil || made.Block.Cancelled == (value(e, "STATUS") == "TENTATIVE") || made.Block.Cancelled == strings.HasSuffix(words(t, e, "SUMMARY"), ", blocked") {
			t.Errorf("the flight: %+v", e)
		}
		for _, e := range c.Events() {
			if value(&e, "UID") == "block-"+made.Block.Id.String()+"@hangar.example" {
				return &e
			}
		}
		t.Fatal("the block has no event")
		return nil
	}
	e := event()
	if value(e, "DTSTART") != "20261125T130000Z" || value(e, "STATUS") != "CONFIRMED" || value(e, "TRANSP") != "OPAQUE" || words(t, e, "SUMMARY") != "N0TRN blocked: maintenance" ||
		!strings.Contains(words(t, e, "DESCRIPTION"), "engine out, in parts; over there\nUntil further notice") {
		t.Errorf("%+v", e.Props)
	}
	got := decoded[client.FreeBusy](t, x.rig.ask(t, asked{method: "GET", path: aircraft + "/free-busy?until=2026-12-24T00:00:00Z"}), 200)
	if len(got.Busy) != 2 || got.Busy[0].Kind != "unavailable" || *got.Busy[0].Block != made.Block.Id || !got.Busy[0].OpenEnded || !got.Busy[0].From.Equal(noon.Add(time.Hour)) ||
		!got.Busy[0].Until.Equal(got.Until) || got.Busy[1].Kind != "held" {
		t.Errorf("%+v", got.Busy)
	}
	cancelled := x.rig.ask(t, asked{method: "POST", path: "/v1/blocks/" + made.Block.Id.String() + "/cancellation", header: ifMatch(1)})
	if cancelled.status != 200 {
		t.Fatalf("%d %s", cancelled.status, cancelled.body)
	}
	made.Block.Cancelled = true
	if e := event(); value(e, "STATUS") != "CANCELLED" || value(e, "TRANSP") != "TRANSPARENT" || value(e, "SEQUENCE") != "2" {
		t.Errorf("%+v", e.Props)
	}
	got = decoded[client.FreeBusy](t, x.rig.ask(t, asked{method: "GET", path: aircraft + "/free-busy"}), 200)
	if len(got.Busy) != 1 || got.Busy[0].Kind != "taken" {
		t.Errorf("%+v", got.Busy)
	}
}
