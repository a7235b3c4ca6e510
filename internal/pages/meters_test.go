package pages_test

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// TestReadingTheMeters walks the whole job in a browser, with and without script: enter what the meters show, mistype one, be
// asked why, correct it, and see the whole history, what comes due moved, and nothing twice.
func TestReadingTheMeters(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	base := c.base("WILLOW", "Willow")
	for i, l := range []look{{390, 844, "light", true}, {1280, 800, "dark", false}} {
		aircraft := c.enter(base, []string{"N021TW", "N022TW"}[i], "Tansy")
		t.Run(l.String(), func(t *testing.T) {
			t.Parallel()
			b := c.tab(t, l)
			b.signIn(pilot)
			b.open("/aircraft/" + aircraft.String())
			b.press(".figures-of a[href$='/meters']")
			b.says("main", "Nothing is in the book yet")
			b.fill("#hobbs", "2103,4")
			b.fill("#time_in_service", "4400")
			b.press(".meter-form button")
			b.says(".done", "Entered.")
			b.says("#book-hobbs", "2,103.4", "Wren Talbot")
			b.says("#book-time-in-service", "4,400")
			b.fill("#hobbs", "2013.4")
			b.fill("#tach", "many")
			b.press(".meter-form button")
			b.says("#fault-tach", `"many" is no number of hours`)
			if kept := eval[string](b, `document.querySelector("#hobbs").value + " " + document.querySelector("#tach").value`); kept != "2013.4 many" {
				t.Errorf("what was written is lost: %s", kept)
			}
			eval[any](b, `document.querySelector("#tach").value = ""; 0`)
			b.press(".meter-form button")
			b.says("#fault-hobbs", "90 h fewer", "2013.4", "say in because why")
			if !eval[bool](b, `document.querySelector(".why-book").open`) {
				t.Error("nobody is asked why")
			}
			if l.script {
				b.isAccessible("a reading that contradicts the book", l)
			}
			b.shoot("meters contradicted " + l.String())
			b.fill("#because", "Hour meter was changed.")
			b.press(".meter-form button")
			b.says("#book-hobbs", "2,013.4", "−90", "Hour meter was changed.", "2,103.4")
			b.fill("#air_hours", "0.1")
			b.press(".meter-form button")
			b.says("#book-time-in-service", "4,400.1", "+0.1")
			entries, err := c.service.MeterEntries(t.Context(), c.who, aircraft, walkaround.Hobbs, hangar.Page{Limit: 9})
			if err != nil || len(entries) != 2 || entries[0].Hours != 2013.4 || entries[0].Because != "Hour meter was changed." {
				t.Errorf("in the book: %+v, %v", entries, err)
			}
		})
	}
}

// TestAReadingIsEnteredOnce holds that a form that is sent twice is one entry, that one which was changed meanwhile is not taken
// for it, that somebody who may not is offered and granted nothing, and that older entries are led to.
func TestAReadingIsEnteredOnce(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	path := "/aircraft/" + aircraft.String() + "/meters"
	v := c.signIn(pilot)
	form := url.Values{"once": {hidden(t, v.get(path), "once")}, "hobbs": {"100"}}
	for range 2 {
		if got := v.post(path, form); got.status != http.StatusSeeOther {
			t.Fatalf("%d %s", got.status, got.body)
		}
	}
	form.Set("hobbs", "101")
	if got := v.post(path, form); got.status != http.StatusConflict || !strings.Contains(got.body, "sent before with other readings") || !strings.Contains(got.body, `value="101"`) {
		t.Errorf("changed meanwhile: %d", got.status)
	}
	for _, bad := range []url.Values{
		{"hobbs": {"NaN"}},
		{"hobbs": {"1e400"}},
		{"hobbs": {"-3"}},
		{"tach": {"1.23456"}},
		{},
		{"air_hours": {"1"}, "time_in_service": {"3"}},
		{"flight": {"x"}, "hobbs": {"100"}},
		{"hobbs": {"100"}, "because": {strings.Repeat("x", 401)}},
		{"hobbs": {"1"}, "because": {"\x00"}},
	} {
		bad.Set("once", hidden(t, v.get(path), "once"))
		if got := v.post(path, bad); got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, `class="fault"`) {
			t.Errorf("%v: %d %s", bad, got.status, got.body)
		}
	}
	c.join(c.org, "desk@three-willows.example", "Desk Alone", techlog.Scheduler)
	desk := c.signIn("desk@three-willows.example")
	page := desk.get(path)
	if strings.Contains(page.body, `name="hobbs"`) || !strings.Contains(page.body, "Your role does not enter readings") {
		t.Error("a scheduler is offered the form")
	}
	if got := desk.post(path, url.Values{"hobbs": {"100"}, "once": form["once"]}); got.status != http.StatusForbidden {
		t.Errorf("a scheduler enters: %d", got.status)
	}
	for n := range 12 {
		c.mu.Lock()
		c.now = c.now.Add(2 * time.Hour)
		c.mu.Unlock()
		reading := hangar.MeterReading{Aircraft: aircraft, Hobbs: new(101 + float64(n))}
		if _, err := c.service.EnterMeters(t.Context(), c.who, reading, nil, func([]walkaround.BookEntry) ([]byte, error) { return nil, nil }); err != nil {
			t.Fatal(err)
		}
	}
	v = c.signIn(pilot) // the session has ended meanwhile
	page = v.get(path)
	if !strings.Contains(page.body, "hobbs=4#book-hobbs") {
		t.Errorf("older entries are not led to: %s", page.body)
	}
	if older := v.get(path + "?hobbs=4"); strings.Count(older.body, "<tr><td>") != 3 {
		t.Errorf("%d older entries", strings.Count(older.body, "<tr><td>"))
	}
}

// TestWhyTheBookIsWrongStaysText holds that the reason of an entry stands on the page as it was written.
func TestWhyTheBookIsWrongStaysText(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	for _, hours := range []float64{100, 50} {
		_, err := c.service.EnterMeters(t.Context(), c.who, hangar.MeterReading{Aircraft: aircraft, Tach: &hours, Because: markup}, nil,
			func([]walkaround.BookEntry) ([]byte, error) { return nil, nil })
		if err != nil {
			t.Fatal(err)
		}
	}
	b := c.tab(t, look{390, 844, "light", true})
	b.signIn(pilot)
	b.open("/aircraft/" + aircraft.String() + "/meters")
	if text := eval[string](b, `document.querySelector(".because").textContent`); text != markup {
		t.Errorf("it says %s", text)
	}
	if eval[bool](b, `window.ran === 1`) {
		t.Error("what was written is run")
	}
}

// TestPapersStandAsTheyAreJudged holds of every paper that every flight asks for, and of each thing that may be wrong with it,
// that the page calls it in order exactly where no row that asks for it stops a flight.
func TestPapersStandAsTheyAreJudged(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	v := c.signIn(pilot)
	yesterday, tomorrow := today.AddDate(0, 0, -1).Format(time.DateOnly), today.AddDate(0, 0, 1).Format(time.DateOnly)
	good := func() casefile.Papers {
		return casefile.Papers{
			Airworthiness: casefile.Certificate{Aboard: new(true), Displayed: new(true)}, Registration: casefile.Paper{Aboard: new(true), Through: tomorrow},
			Limitations: casefile.Aboard{Aboard: new(true)}, WeightBalance: casefile.WeightBalance{Aboard: new(true), Dated: tomorrow},
		}
	}
	states, must := map[casefile.PaperState]bool{}, map[string]string{}
	for _, rule := range c.service.Book().Rules.Rules() {
		must[rule.ID] = rule.Must
	}
	for name, spoil := range map[string]func(p *casefile.Papers){
		"nothing":                func(*casefile.Papers) {},
		"certificate unknown":    func(p *casefile.Papers) { p.Airworthiness.Aboard = nil },
		"certificate missing":    func(p *casefile.Papers) { p.Airworthiness.Aboard = new(false) },
		"certificate hidden":     func(p *casefile.Papers) { p.Airworthiness.Displayed = new(false) },
		"display unknown":        func(p *casefile.Papers) { p.Airworthiness.Displayed = nil },
		"registration missing":   func(p *casefile.Papers) { p.Registration.Aboard = new(false) },
		"registration run out":   func(p *casefile.Papers) { p.Registration.Through = yesterday },
		"registration undated":   func(p *casefile.Papers) { p.Registration.Through = "" },
		"limitations missing":    func(p *casefile.Papers) { p.Limitations.Aboard = new(false) },
		"limitations unknown":    func(p *casefile.Papers) { p.Limitations.Aboard = nil },
		"weights of other units": func(p *casefile.Papers) { p.WeightBalance.Dated = "2001-01-01" },
		"weights undated":        func(p *casefile.Papers) { p.WeightBalance.Dated = "" },
		"weights missing":        func(p *casefile.Papers) { p.WeightBalance.Aboard = new(false) },
	} {
		a, err := c.service.Aircraft(t.Context(), c.who, aircraft)
		if err != nil {
			t.Fatal(err)
		}
		papers := good()
		spoil(&papers)
		a.Facts.Papers = &papers
		written := casefile.Aircraft{Facts: a.Facts, Configuration: a.Configuration}
		change := hangar.AircraftChange{Aircraft: aircraft, Version: a.Version, Facts: &a.Facts}
		if _, err := c.service.ChangeAircraft(t.Context(), c.who, change, nil, func(techlog.Aircraft) ([]byte, error) { return nil, nil }); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		no, one, low, at := false, 1, 3500.0, c.clock()
		held, err := c.service.Ask(t.Context(), c.who, hangar.FlightPlan{
			Aircraft: aircraft, From: a.Base, To: a.Base, Departs: at, Arrives: at.Add(time.Hour), Rules: "vfr",
			Facts: casefile.FlightFacts{ForHire: &no, OverWater: &no, Occupants: &one, Persons: &one, RequiredCrew: &one, AltitudeFt: &low, Airspace: &[]string{}},
		})
		if err != nil {
			t.Fatal(err)
		}
		page := v.get("/aircraft/" + aircraft.String() + "/papers").body
		for _, paper := range written.PapersOn(today.Format(time.DateOnly)) {
			states[paper.State] = true
			if paper.Abroad {
				continue
			}
			stopped := slices.ContainsFunc(held.Answer().Findings, func(f casefile.Finding) bool { return f.Blocks() && slices.Contains(paper.Musts, must[f.Row]) })
			_, shown, _ := strings.Cut(page, `id="`+paper.Paper+`"`)
			shown, _, _ = strings.Cut(shown, "</li>")
			if good := strings.Contains(shown, "Aboard, in order"); good == stopped || good != (paper.State == casefile.PaperGood) {
				t.Errorf("%s: %s is shown in order: %t; it stops a flight: %t; it is %s", name, paper.Paper, good, stopped, paper.State)
			}
		}
	}
	if len(states) != 4 {
		t.Errorf("only these states were met: %v", states)
	}
}
