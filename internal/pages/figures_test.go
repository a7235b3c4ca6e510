package pages_test

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// figureSights are the pages about figures, by name.
func figureSights(t *testing.T, byMark map[string]techlog.Aircraft) [][2]string {
	t.Helper()
	of := func(mark, page string) string { return "/aircraft/" + byMark[mark].ID.String() + "/" + page }
	return [][2]string{
		{"trends", of("N012TW", "trends")},
		{"trends of nothing", of("N005TW", "trends")},
		{"trend that is flagged", of("N012TW", "trends/tire-pressure-left")},
		{"trend of oil", of("N012TW", "trends/oil-level")},
		{"due", of("N012TW", "due")},
		{"due and not known", of("N005TW", "due")},
		{"papers", of("N012TW", "papers")},
		{"papers of a glider", of("N005TW", "papers")},
		{"meters", of("N012TW", "meters")},
		{"meters without a book", of("N005TW", "meters?entered=yes")},
		{"due in the fleet", "/due"},
		{"availability", "/availability"},
	}
}

// figurePages are their addresses for one aircraft, % for its identifier.
var figurePages = []string{
	"/aircraft/%/trends", "/aircraft/%/trends/oil-level", "/aircraft/%/trends/oil-level/measurements.csv", "/aircraft/%/due",
	"/aircraft/%/papers", "/aircraft/%/meters",
}

// TestFiguresAreTheOrganizations holds that a stranger is asked to sign in before any figure, that those of another
// organization's aircraft are answered like nobody's, and that a club without aircraft is told what will stand there.
func TestFiguresAreTheOrganizations(t *testing.T) {
	t.Parallel()
	c := loaded(t)
	aircraft := c.trainer().ID.String()
	others := newID()
	if err := c.store.AddOrganization(t.Context(), techlog.Organization{ID: others, Name: "Other Club"}); err != nil {
		t.Fatal(err)
	}
	c.join(others, "somebody@other.example", "Somebody Else", techlog.Administrator)
	own, other := c.signIn(pilot), c.signIn("somebody@other.example")
	for _, page := range figurePages {
		of := func(id string) string { return strings.Replace(page, "%", id, 1) }
		if got := c.visitor().get(of(aircraft)); got.status != http.StatusSeeOther || !strings.HasPrefix(got.header.Get("Location"), "/sign-in?") {
			t.Errorf("a stranger at %s: %d", page, got.status)
		}
		if got := own.get(of(aircraft)); got.status != http.StatusOK {
			t.Errorf("%s of one's own: %d %s", page, got.status, got.body)
		}
		theirs, nobodys := other.get(of(aircraft)), other.get(of(newID().String()))
		if theirs.status != http.StatusNotFound || nobodys.status != http.StatusNotFound || without(theirs.body) != without(nobodys.body) {
			t.Errorf("%s: another's %d, nobody's %d", page, theirs.status, nobodys.status)
		}
	}
	for _, page := range figureFleet {
		if got := c.visitor().get(page); got.status != http.StatusSeeOther {
			t.Errorf("a stranger at %s: %d", page, got.status)
		}
		if got := other.get(page); got.status != http.StatusOK || strings.Contains(got.body, "N012TW") || !strings.Contains(got.body, `class="empty"`) {
			t.Errorf("%s of a club without aircraft: %d", page, got.status)
		}
		if got := own.get(page); !strings.Contains(got.body, "N012TW") {
			t.Errorf("%s does not name the trainer", page)
		}
	}
	if got := own.get("/aircraft/" + aircraft + "/trends/never-measured"); got.status != http.StatusNotFound {
		t.Errorf("what nobody has measured: %d", got.status)
	}
}

// figureFleet are the addresses of those across the fleet.
var figureFleet = []string{"/due", "/availability"}

// drawn is one mark of a picture, in shares and pixels.
type drawn struct{ X, Y float64 }

// TestTheTableIsWhatIsDrawn holds in a browser that each measurement on record is one row and one mark, in one order, that
// each mark stands as high as its value says, and that the file has the same.
func TestTheTableIsWhatIsDrawn(t *testing.T) {
	t.Parallel()
	c := loaded(t)
	c.walked(c.trainer().ID) // the oil is low
	aircraft := c.trainer().ID
	b := c.tab(t, look{390, 844, "light", true})
	b.signIn(pilot)
	list, err := c.service.Trends(t.Context(), c.who, aircraft)
	if err != nil || len(list.Trends) < 4 {
		t.Fatalf("%d series, %v", len(list.Trends), err)
	}
	for _, trend := range list.Trends {
		check := trend.Check
		series, err := c.service.Trend(t.Context(), c.who, aircraft, check)
		if err != nil {
			t.Fatal(err)
		}
		path := "/aircraft/" + aircraft.String() + "/trends/" + check
		b.open(path)
		var marks []drawn
		raw := eval[string](b, `JSON.stringify([...document.querySelectorAll(".c-series circle.point, .c-series path.filled, .c-series path.left-out")].map(e => {
			const of = e.tagName === "circle" ? e : e.parentNode, at = e.tagName === "circle" ? "c" : "";
			return {X: parseFloat(of.getAttribute(at + "x")), Y: parseFloat(of.getAttribute(at + "y"))};
		}))`)
		if err := json.Unmarshal([]byte(raw), &marks); err != nil {
			t.Fatal(err)
		}
		var rows []string
		cells := eval[string](b, `JSON.stringify([...document.querySelectorAll("#measurements tbody tr")].map(r => r.cells[1].textContent).reverse())`)
		if err := json.Unmarshal([]byte(cells), &rows); err != nil {
			t.Fatal(err)
		}
		if len(rows) != len(series.Points) || len(marks) != len(series.Points) || len(marks) < 10 {
			t.Fatalf("%s: %d rows and %d marks of %d measurements", check, len(rows), len(marks), len(series.Points))
		}
		least, most := 0, 0
		for i, p := range series.Points {
			if said, err := strconv.ParseFloat(rows[i], 64); err != nil || math.Abs(said-p.Value) > .005 {
				t.Errorf("%s: row %d says %s, on record is %g", check, i+1, rows[i], p.Value)
			}
			if i > 0 && marks[i].X < marks[i-1].X {
				t.Errorf("%s: mark %d stands before the one before", check, i+1)
			}
			if p.Value < series.Points[least].Value {
				least = i
			}
			if p.Value > series.Points[most].Value {
				most = i
			}
		}
		low, high := series.Points[least].Value, series.Points[most].Value
		for i, p := range series.Points {
			share := (p.Value - low) / (high - low)
			if want := marks[least].Y + share*(marks[most].Y-marks[least].Y); high > low && math.Abs(marks[i].Y-want) > .02 {
				t.Errorf("%s: %g stands at %g px, want %g", check, p.Value, marks[i].Y, want)
			}
		}
		file := c.signIn(pilot).get(path + "/measurements.csv")
		lines, err := csv.NewReader(strings.NewReader(file.body)).ReadAll()
		if err != nil || len(lines) != len(series.Points)+1 || !strings.HasPrefix(file.header.Get("Content-Type"), "text/csv") {
			t.Fatalf("%s: %d lines, %v", check, len(lines), err)
		}
		for i, p := range series.Points {
			if said, err := strconv.ParseFloat(lines[i+1][1], 64); err != nil || said != p.Value || lines[i+1][5] != p.Walkaround {
				t.Errorf("%s: line %d is %v", check, i+1, lines[i+1])
			}
		}
	}
}

// TestASlowLeakIsShown holds that the demo club's leak stands first and says when it reaches its limit, while what is steady
// says so, and that of a few measurements nothing is said.
func TestASlowLeakIsShown(t *testing.T) {
	t.Parallel()
	c := loaded(t)
	v, aircraft := c.signIn(pilot), c.trainer().ID.String()
	list := v.get("/aircraft/" + aircraft + "/trends").body
	leak, steady := strings.Index(list, "trends/tire-pressure-left"), strings.Index(list, "trends/nose-strut")
	if leak < 0 || steady < leak || !strings.Contains(list[leak:steady], "Reaches its limit soon") || !strings.Contains(list[steady:], "Steady") {
		t.Error("the leak does not stand before what is steady, or neither says what it is")
	}
	page := v.get("/aircraft/" + aircraft + "/trends/tire-pressure-left").body
	for _, want := range []string{"It reaches the limit of 26 psi in about", "at the earliest", "At the pace of these measurements", `class="reach"`, `class="filled"`, `class="band"`} {
		if !strings.Contains(page, want) {
			t.Errorf("the leak's page has no %s", want)
		}
	}
	few := walkable(t)
	few.walked(few.trainer().ID)
	page = few.signIn(pilot).get("/aircraft/" + few.trainer().ID.String() + "/trends/oil-level").body
	if !strings.Contains(page, "Not enough measurements yet") || !strings.Contains(page, "Too few to say") || strings.Contains(page, `class="slope"`) {
		t.Error("something is said of one measurement")
	}
}

// TestWordsOfAMeasurementStayText holds that what a checklist says of a measurement is text on its pages, and no formula in the
// file.
func TestWordsOfAMeasurementStayText(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N077TW", "Tansy")
	const unit = "=1+2<b>"
	c.checklist(aircraft, hangar.ChecklistEntry{Type: "Tansy", Checks: []walkaround.Check{
		{ID: "level", Station: walkaround.Nose, Way: walkaround.Measure, Words: markup, In: unit, AtLeast: new(1.0), Means: walkaround.Servicing},
	}})
	walk := newID()
	if _, err := c.service.StartWalkaround(t.Context(), c.who, hangar.WalkaroundStart{ID: walk, Aircraft: aircraft}, nil,
		func(hangar.WalkaroundView) ([]byte, error) { return nil, nil }); err != nil {
		t.Fatal(err)
	}
	if _, err := c.service.ReportResults(t.Context(), c.who, hangar.WalkaroundReport{Walkaround: walk, Results: []walkaround.Result{
		{ID: newID(), Check: "level", Said: walkaround.Answer{Value: new(2.0)}, MadeAt: c.clock()},
	}}, nil, func(hangar.ReportedWalkaround) ([]byte, error) { return nil, nil }); err != nil {
		t.Fatal(err)
	}
	b := c.tab(t, look{390, 844, "light", true})
	b.signIn(pilot)
	path := "/aircraft/" + aircraft.String() + "/trends"
	for _, page := range []string{path, path + "/level"} {
		b.open(page)
		if eval[bool](b, `window.ran === 1 || document.querySelector("main script, main img[src=x], main svg[onload], main b b") !== null`) {
			t.Errorf("%s: what was written is run", page)
		}
		if text := eval[string](b, `document.querySelector("main").textContent`); !strings.Contains(text, markup) || !strings.Contains(text, unit) {
			t.Errorf("%s: it does not stand there as it was written", page)
		}
	}
	if file := c.signIn(pilot).get(path + "/level/measurements.csv").body; !strings.Contains(file, ",'=1+2<b>,") {
		t.Errorf("a formula gets into the file: %s", file)
	}
}

// TestWhatComesDueIsListedOnce holds that each item of the list stands on the page once, under how it stands, the most
// pressing first, with as much of its bar full as is left; and that, once everything has run out, nothing is said to serve.
func TestWhatComesDueIsListedOnce(t *testing.T) {
	t.Parallel()
	c := loaded(t)
	aircraft := c.trainer().ID
	fleet, err := c.service.Fleet(t.Context(), c.who, hangar.Page{Limit: 50})
	if err != nil {
		t.Fatal(err)
	}
	met := map[string]bool{}
	for _, a := range fleet {
		c.mayBeDue(a.ID, met)
	}
	list, err := c.service.Due(t.Context(), c.who, aircraft)
	if err != nil {
		t.Fatal(err)
	}
	if i := slices.IndexFunc(list.Items, func(i casefile.DueItem) bool { return i.RunsOut != nil }); i < 0 {
		t.Error("nothing runs out on a planned flight of the demo club")
	}
	c.mu.Lock()
	c.now = today.AddDate(9, 0, 0)
	c.mu.Unlock()
	c.mayBeDue(aircraft, met)
	if !met["serves"] || !met["not-known"] || !met["due"] {
		t.Errorf("only these states were met: %v", met)
	}
	page := c.signIn(pilot).get("/aircraft/" + aircraft.String() + "/due").body
	if !strings.Contains(page, `class="frame-over"`) || !strings.Contains(page, "over.") {
		t.Error("what has fallen due is not drawn as over")
	}
	all := c.signIn(pilot).get("/due").body
	if due, comes := strings.Index(all, "Has fallen due"), strings.Index(all, "Comes due"); due < 0 || comes < due {
		t.Error("what has fallen due does not stand first in the fleet")
	}
}

// mayBeDue holds the page of an aircraft against the list of what comes due, and notes the states that are met.
func (c *club) mayBeDue(aircraft techlog.ID, met map[string]bool) {
	c.t.Helper()
	under := map[string]string{"serves": "Comes due", "not-known": "Not known", "due": "Has fallen due", "done": "Done for good"}
	list, err := c.service.Due(c.t.Context(), c.who, aircraft)
	if err != nil {
		c.t.Fatal(err)
	}
	page := c.signIn(pilot).get("/aircraft/" + aircraft.String() + "/due").body
	last := ""
	for _, item := range list.Items {
		at := strings.Index(page, `id="`+item.ID+`"`)
		if at < 0 || strings.Count(page, `id="`+item.ID+`"`) != 1 {
			c.t.Errorf("%s stands there %d times", item.ID, strings.Count(page, `id="`+item.ID+`"`))
			continue
		}
		heading := ""
		for _, h := range []string{"Has fallen due", "Comes due", "Not known", "Done for good"} {
			if i := strings.Index(page, "<h2>"+h); i >= 0 && i < at {
				heading = h
			}
		}
		met[item.State] = true
		if want := under[item.State]; heading != want {
			c.t.Errorf("%s, which is %s, stands under %q", item.ID, item.State, heading)
		}
		whole, _, _ := strings.Cut(page[at:], `<li class="card due-item"`)
		if !strings.Contains(whole, item.Citation) {
			c.t.Errorf("%s has no citation", item.ID)
		}
		left := regexp.MustCompile(`<strong>(\d+) days of (\d+) left\.</strong>`).FindStringSubmatch(whole)
		bar := regexp.MustCompile(`<rect class="left[^"]*" x="[^"]*" y="[^"]*" width="([0-9.]+)%"`).FindStringSubmatch(whole)
		if item.State != "serves" || left == nil {
			if item.State != "serves" && bar != nil {
				c.t.Errorf("%s, which is %s, has something left", item.ID, item.State)
			}
			continue
		}
		days, _ := strconv.ParseFloat(left[1], 64)
		of, _ := strconv.ParseFloat(left[2], 64)
		if full, _ := strconv.ParseFloat(bar[1], 64); days != float64(*item.Left.Days) || math.Abs(full-99.2*min(days/of, 1)) > .02 {
			c.t.Errorf("%s: %s, and the bar is full to %s %%", item.ID, left[0], bar[1])
		}
	}
	for _, m := range regexp.MustCompile(`(?s)<h2>Comes due.*`).FindAllString(page, 1) {
		m, _, _ = strings.Cut(m, "<h2>Not known")
		for _, row := range regexp.MustCompile(`card due-item" id="([^"]+)"`).FindAllStringSubmatch(m, -1) {
			i := slices.IndexFunc(list.Items, func(i casefile.DueItem) bool { return i.ID == row[1] })
			by := list.Items[i].Due.Through
			if out := list.Items[i].RunsOut; out != nil && (by == "" || out.On < by) {
				by = out.On
			}
			if by == "" {
				by = "9999"
			}
			if by < last {
				c.t.Errorf("%s is due %s, and stands after %s", row[1], by, last)
			}
			last = by
		}
	}
}
