package pages

import (
	"cmp"
	"net/http"
	"slices"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// startView is where a walkaround begins, or goes on.
type startView struct {
	Aircraft techlog.Aircraft
	Zone     *time.Location
	ID       techlog.ID // that a walkaround gets that begins here
	Checks   int        // of its checklist; 0: it has none
	Stations []walkaround.Station
	Open     []walkaround.Walkaround
	Last     *walkaround.Walkaround // the newest that was completed; nil: none
	Flights  []techlog.Flight       // that it may be for
	Once     string
	May      bool
}

// How far ahead a flight lies that somebody walks around for, and how many earlier walkarounds are looked through.
const (
	walkAhead  = 36 * time.Hour
	walksShown = 20
)

func (p *pages) showStart(v *visit) error {
	a, err := p.aircraftNamed(v)
	if err != nil {
		return err
	}
	id, view := a.ID, startView{Aircraft: a, Once: newOnce(), May: v.who.May(techlog.WalkAround), ID: p.NewID()}
	base, err := p.Service.Base(v, v.who, view.Aircraft.Base)
	if err != nil {
		return err
	}
	view.Zone = zoneOf(base)
	list, err := p.Service.Checklist(v, v.who, id)
	if err != nil {
		return err
	}
	view.Checks = len(list.Composed.Checks)
	for i := range list.Composed.Checks {
		if station := list.Composed.Checks[i].Station; !slices.Contains(view.Stations, station) {
			view.Stations = append(view.Stations, station)
		}
	}
	earlier, err := p.Service.Walkarounds(v, v.who, hangar.WalkaroundFilter{Aircraft: id}, hangar.Page{Limit: walksShown})
	if err != nil {
		return err
	}
	for i := range earlier {
		switch {
		case earlier[i].State == walkaround.Walking:
			view.Open = append(view.Open, earlier[i])
		case view.Last == nil:
			view.Last = &earlier[i]
		}
	}
	now := p.Now()
	view.Flights, err = p.Service.Flights(v, v.who, hangar.FlightFilter{
		Aircraft: id, State: techlog.Planned, EndsAfter: now, DepartBefore: now.Add(walkAhead),
	}, hangar.Page{Limit: 50})
	if err != nil {
		return err
	}
	slices.SortFunc(view.Flights, func(a, b techlog.Flight) int { return a.Departs.Compare(b.Departs) })
	return p.showIn(v, ok, "walkaround-start", frame{Title: "Walk around " + view.Aircraft.Registration, Here: "fleet", Page: &view})
}

func (p *pages) startWalkaround(v *visit) error {
	id, err := v.named("aircraft")
	if err != nil {
		return err
	}
	start := hangar.WalkaroundStart{Aircraft: id, Moisture: answered(v.form.Get("moisture"))}
	if flight := v.form.Get("flight"); flight != "" {
		var valid bool
		if start.Flight, valid = techlog.ParseID(flight); !valid {
			return techlog.Errorf(techlog.KindNotFound, "there is no such flight")
		}
	}
	start.ID, _ = techlog.ParseID(v.form.Get("walkaround")) // none: it gets one
	begun, err := kept[techlog.ID](p.Service.StartWalkaround(v, v.who, start, v.once("", nil), keep(func(w hangar.WalkaroundView) techlog.ID {
		return w.Walkaround.ID
	})))
	if err != nil {
		return err
	}
	return v.goTo("/walkarounds/" + begun.String())
}

// walkView is a walkaround at one of its stations.
type walkView struct {
	Walk     walkaround.Walkaround
	Mark     string // of the aircraft
	Zone     *time.Location
	Stations []stationView
	At       stationView
	Checks   []checkView
	Done     int
	All      int
	Once     string
	Faults   casefile.Faults
	Sent     bool // the form was sent before, with other answers
	Late     bool // the walkaround is completed

	Photos    map[techlog.ID][]techlog.Photo // by result
	PhotoLost string                         // why a photo that was just sent is not there
}

// PhotosOf are those of a result.
func (w *walkView) PhotosOf(result techlog.ID) []techlog.Photo { return w.Photos[result] }

// Left is what is still to do.
func (w *walkView) Left() int { return w.All - w.Done }

// stationView is a station with how far it is done.
type stationView struct {
	Station walkaround.Station
	Name    string
	Done    int
	All     int
	Here    bool
}

// checkView is one check as its form shows it.
type checkView struct {
	walkaround.Standing
	ID       string // of the result that the form would make
	Replaces []walkaround.Result
	Book     *walkaround.BookEntry
	Said     func(field string) string // what was filled in
	Faults   casefile.Faults
	Last     *walkaround.Result // that stands
}

// Fault is what is wrong with a field.
func (c checkView) Fault(field string) *casefile.Fault { return faultOf(c.Faults, field) }

// Name is that of a field of the check in the form.
func (c checkView) Name(field string) string { return fieldOf(c.Check.ID, field) }

func fieldOf(check, field string) string { return check + "." + field }

// walk reads a walkaround for its pages.
func (p *pages) walk(v *visit) (hangar.WalkaroundView, *walkView, error) {
	id, err := v.named("walkaround")
	if err != nil {
		return hangar.WalkaroundView{}, nil, err
	}
	w, err := p.Service.Walkaround(v, v.who, id)
	if err != nil {
		return w, nil, err
	}
	view, err := p.walkView(v, w)
	return w, view, err
}

func (p *pages) walkView(v *visit, w hangar.WalkaroundView) (*walkView, error) {
	a, err := p.Service.Aircraft(v, v.who, w.Walkaround.Aircraft)
	if err != nil {
		return nil, err
	}
	base, err := p.Service.Base(v, v.who, a.Base)
	if err != nil {
		return nil, err
	}
	view := &walkView{
		PhotoLost: photoLost(v.URL.Query().Get("photo")),
		Walk:      w.Walkaround, Mark: a.Registration, Zone: zoneOf(base), Once: newOnce(), Late: w.Walkaround.State == walkaround.Completed,
	}
	if err := p.photosOnWalk(v, w, view); err != nil {
		return nil, err
	}
	for i := range w.Review.Standings {
		s := &w.Review.Standings[i]
		if !s.Applies {
			continue
		}
		at := slices.IndexFunc(view.Stations, func(t stationView) bool { return t.Station == s.Check.Station })
		if at < 0 {
			at = len(view.Stations)
			view.Stations = append(view.Stations, stationView{Station: s.Check.Station, Name: s.Check.Station.Name()})
		}
		view.All++
		view.Stations[at].All++
		if s.State != walkaround.Open && s.State != walkaround.Contested {
			view.Done++
			view.Stations[at].Done++
		}
	}
	return view, nil
}

// showWalkaround shows the station that the address names, or else the first at which something is left.
func (p *pages) showWalkaround(v *visit) error {
	w, view, err := p.walk(v)
	if err != nil {
		return err
	}
	at := slices.IndexFunc(view.Stations, func(s stationView) bool { return string(s.Station) == v.URL.Query().Get("station") })
	if at < 0 {
		at = slices.IndexFunc(view.Stations, func(s stationView) bool { return s.Done < s.All })
	}
	if at < 0 || view.Late {
		return v.goTo("/walkarounds/" + view.Walk.ID.String() + "/review")
	}
	return p.station(v, ok, w, view, view.Stations[at].Station)
}

// station shows the checks of one station, with what the form said if it has been sent.
func (p *pages) station(v *visit, status int, w hangar.WalkaroundView, view *walkView, station walkaround.Station) error {
	book, err := p.Service.Meters(v, v.who, w.Walkaround.Aircraft)
	if err != nil {
		return err
	}
	for i := range view.Stations {
		if view.Stations[i].Here = view.Stations[i].Station == station; view.Stations[i].Here {
			view.At = view.Stations[i]
		}
	}
	for _, s := range w.Review.Standings {
		if !s.Applies || s.Check.Station != station {
			continue
		}
		c := checkView{Standing: s, ID: p.NewID().String(), Replaces: walkaround.Unreplaced(s.Results)}
		if len(c.Replaces) > 0 {
			c.Last = &c.Replaces[len(c.Replaces)-1]
		}
		if sent := v.form.Get(c.Name("id")); sent != "" {
			c.ID = sent
		}
		c.Said = func(field string) string { return v.form.Get(fieldOf(s.Check.ID, field)) }
		if i := slices.IndexFunc(book, func(e walkaround.BookEntry) bool { return e.Meter == s.Check.Meter }); i >= 0 && s.Check.Meter != "" {
			c.Book = &book[i]
		}
		for _, f := range view.Faults {
			if check, field, ok := cutField(f.Field); ok && check == s.Check.ID {
				f.Field = field
				c.Faults = append(c.Faults, f)
			}
		}
		view.Checks = append(view.Checks, c)
	}
	title := view.At.Name + ", " + view.Mark
	return p.showIn(v, status, "walkaround", frame{Title: title, Here: "fleet", Page: view})
}

// saveStation takes down what was said at a station, and leads to the next one at which something is left.
func (p *pages) saveStation(v *visit) error {
	w, view, err := p.walk(v)
	if err != nil {
		return err
	}
	station := walkaround.Station(v.form.Get("station"))
	results, faults := readResults(v, w.Review.Standings, station, v.written(p.Now()))
	photos, astray, err := readPhotos(v, w.Review.Standings, station, results)
	if err != nil {
		return err
	}
	faults = append(faults, astray...)
	if len(results) > 0 && faults == nil {
		_, err = p.Service.ReportResults(v, v.who, hangar.WalkaroundReport{Walkaround: view.Walk.ID, Results: results}, v.once("", nil),
			keep(func(r hangar.ReportedWalkaround) int { return r.Taken }))
		faults = resultFaults(err, results)
	}
	kind := techlog.KindOf(err)
	if kind == techlog.KindReused {
		view.Sent = true
	}
	if faults != nil || view.Sent {
		view.Faults, kind = faults, cmp.Or(kind, techlog.KindInvalid)
		if !view.Sent && v.isOnce() {
			view.Once = v.form.Get("once")
		}
		return p.station(v, problems[kind].status, w, view, station)
	}
	if err != nil {
		return err
	}
	trouble, err := p.keepResultPhotos(v, view.Walk.ID, photos)
	if err != nil {
		return err
	}
	return p.goOn(v, view, station, trouble)
}

// goOn leads to the next station after one at which something is left, and to the review after the last; or back, where a
// photo was not taken. Whoever sends a station later hears what has come of it meanwhile, and is led to that.
func (p *pages) goOn(v *visit, view *walkView, after walkaround.Station, trouble string) error {
	w, now, err := p.walk(v)
	if err != nil {
		return err
	}
	path := "/walkarounds/" + view.Walk.ID.String()
	if v.queued() {
		v.says = meanwhile(w, after, trouble)
	}
	switch {
	case now.Late && trouble != "":
		return v.goTo(path + "/review?photo=" + trouble)
	case now.Late:
		return v.goTo(path + "/review")
	case trouble != "":
		return v.goTo(path + "?station=" + string(after) + "&photo=" + trouble)
	case len(v.says) > 0:
		return v.goTo(path + "?station=" + string(after))
	}
	here := slices.IndexFunc(now.Stations, func(s stationView) bool { return s.Station == after })
	for i := range now.Stations {
		if s := now.Stations[(here+1+i)%len(now.Stations)]; s.Done < s.All {
			return v.goTo(path + "?station=" + string(s.Station))
		}
	}
	return v.goTo(path + "/review")
}

// reviewView ends a walkaround.
type reviewView struct {
	*walkView
	NotDone []walkaround.Standing // skipped, or contested
	Open    []openStation         // of which nobody has said anything
	Found   []foundView
	Faults  casefile.Faults
	May     bool
}

// openStation is a station with the checks of which nobody has said anything.
type openStation struct {
	Name   string
	Checks []walkaround.Check
}

// foundView is one finding, with the squawk that it is proposed as, or that was filed of it.
type foundView struct {
	Result   walkaround.Result
	Check    walkaround.Check
	Proposal walkaround.Proposal
	Squawk   techlog.ID // zero: none was filed
	Once     string
}

func (p *pages) showReview(v *visit) error { return p.review(v, http.StatusOK, nil) }

func (p *pages) review(v *visit, status int, faults casefile.Faults) error {
	w, walk, err := p.walk(v)
	if err != nil {
		return err
	}
	return p.reviewOf(v, status, w, walk, faults)
}

func (p *pages) reviewOf(v *visit, status int, w hangar.WalkaroundView, walk *walkView, faults casefile.Faults) error {
	view := reviewView{walkView: walk, Faults: faults, May: v.who.May(techlog.WalkAround)}
	for _, s := range w.Review.NotDone() {
		if s.State != walkaround.Open {
			view.NotDone = append(view.NotDone, s)
			continue
		}
		name := s.Check.Station.Name()
		if n := len(view.Open); n == 0 || view.Open[n-1].Name != name {
			view.Open = append(view.Open, openStation{Name: name})
		}
		at := &view.Open[len(view.Open)-1]
		at.Checks = append(at.Checks, s.Check)
	}
	checks := map[string]walkaround.Check{}
	for _, s := range w.Review.Standings {
		checks[s.Check.ID] = s.Check
	}
	for _, r := range w.Review.Findings() {
		check := checks[r.Check]
		one := foundView{Result: r, Check: check, Proposal: check.Propose(&r), Once: newOnce()}
		if i := slices.IndexFunc(w.Filed, func(f walkaround.Filed) bool { return f.Result == r.ID }); i >= 0 {
			one.Squawk = w.Filed[i].Squawk
		}
		view.Found = append(view.Found, one)
	}
	return p.showIn(v, status, "walkaround-review", frame{Title: "Review, " + view.Mark, Here: "fleet", Page: &view})
}

// fileFinding files the squawk that a finding is proposed as.
func (p *pages) fileFinding(v *visit) error {
	id, err := v.named("walkaround")
	if err != nil {
		return err
	}
	result, err := v.named("result")
	if err != nil {
		return err
	}
	_, err = p.Service.FileFinding(v, v.who, hangar.FindingReport{Walkaround: id, Result: result}, v.once("", nil), keep(func(f hangar.FiledSquawk) techlog.ID {
		return f.Squawk.ID
	}))
	if err != nil {
		return err
	}
	return v.goTo("/walkarounds/" + id.String() + "/review#found")
}

// completeWalkaround ends a walkaround, or says what keeps it from ending.
func (p *pages) completeWalkaround(v *visit) error {
	id, err := v.named("walkaround")
	if err != nil {
		return err
	}
	_, err = p.Service.ReportResults(v, v.who, hangar.WalkaroundReport{Walkaround: id, Complete: true}, v.once("", nil),
		keep(func(r hangar.ReportedWalkaround) int { return r.Taken }))
	if techlog.KindOf(err) == techlog.KindInvalid {
		return p.review(v, problems[techlog.KindInvalid].status, faultsOf(err))
	}
	if err != nil {
		return err
	}
	return v.goTo("/walkarounds/" + id.String() + "/review")
}
