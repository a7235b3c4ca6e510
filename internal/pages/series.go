package pages

import (
	"errors"
	"net/http"
	"slices"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// seriesView is a flight that is flown again and again.
type seriesView struct {
	ID       techlog.ID
	Purpose  string
	Marks    []string
	Dates    []seriesDate
	Left     int // still to come and on the plan
	Held     int
	From     string // from which date on it is to be called off, as somebody wrote it
	Today    string
	Undo     int       // flights that were called off together last, and may be put back
	UndoAt   time.Time // when that was
	May      bool
	Once     string
	Done     string
	Faults   casefile.Faults
	Conflict string
}

// Fault is what is wrong with a field.
func (s *seriesView) Fault(field string) *casefile.Fault { return faultOf(s.Faults, field) }

// seriesDate is one flight of a series.
type seriesDate struct {
	weekFlight
	Off  bool
	Over bool
}

func (p *pages) seriesDate(f *techlog.Flight) seriesDate {
	return seriesDate{p.weekFlight(*f), f.State != techlog.Planned, !f.Departs.After(p.Now())}
}

func (p *pages) showSeries(v *visit) error {
	id, err := v.named("series")
	if err != nil {
		return err
	}
	return p.seriesPage(v, http.StatusOK, &seriesView{ID: id, Done: v.URL.Query().Get("done")})
}

func (p *pages) seriesPage(v *visit, status int, view *seriesView) error {
	flights, err := p.Service.Flights(v, v.who, hangar.FlightFilter{Series: view.ID}, hangar.Page{Limit: hangar.MaxSeries})
	if err != nil {
		return err
	}
	if len(flights) == 0 {
		return techlog.Errorf(techlog.KindNotFound, "there is no such series")
	}
	view.May, view.Once = v.who.May(techlog.PlanFlight), newOnce()
	inOrder(flights)
	marks := map[techlog.ID]string{}
	for i := range flights {
		f := &flights[i]
		if _, known := marks[f.Aircraft]; !known {
			a, err := p.Service.Aircraft(v, v.who, f.Aircraft)
			if err != nil {
				return err
			}
			marks[f.Aircraft] = a.Registration
			view.Marks = append(view.Marks, a.Registration)
		}
		d := p.seriesDate(f)
		d.Registration = marks[f.Aircraft]
		view.Dates = append(view.Dates, d)
		switch {
		case d.Off && !d.Over && f.ChangedAt.After(view.UndoAt):
			view.Undo, view.UndoAt = 1, f.ChangedAt
		case d.Off && !d.Over && f.ChangedAt.Equal(view.UndoAt):
			view.Undo++
		}
		if !d.Off && !d.Over {
			view.Left++
			if f.Hold.Holds() {
				view.Held++
			}
		}
	}
	view.Purpose, view.Today = flights[0].Purpose, p.Now().In(zoneNamed(flights[0].Zone)).Format(time.DateOnly)
	return p.showIn(v, status, "series", frame{Title: "Series", Here: "week", Page: view, Live: announced, About: flights[0].Aircraft.String()})
}

// cancelSeries calls off what is still to come of a series, from a date on.
func (p *pages) cancelSeries(v *visit) error {
	id, err := v.named("series")
	if err != nil {
		return err
	}
	view := seriesView{ID: id, From: strings.TrimSpace(v.form.Get("from"))}
	_, err = p.Service.CancelSeries(v, v.who, id, view.From, v.once("", nil), keep(func(all []techlog.Flight) int { return len(all) }))
	return p.afterSeries(v, &view, err, "cancelled")
}

// restoreSeries puts those back that were called off together.
func (p *pages) restoreSeries(v *visit) error {
	id, err := v.named("series")
	if err != nil {
		return err
	}
	at, err := time.Parse(time.RFC3339Nano, v.form.Get("at"))
	if err != nil {
		return &techlog.Error{Kind: kindSyntax, Says: "the form does not say what was called off", Cause: err}
	}
	view := seriesView{ID: id}
	_, err = p.Service.RestoreSeries(v, v.who, id, at, v.once("", nil), keep(func(all []techlog.Flight) int { return len(all) }))
	return p.afterSeries(v, &view, err, "restored")
}

func (p *pages) afterSeries(v *visit, view *seriesView, err error, done string) error {
	var faults casefile.Faults
	switch kind := techlog.KindOf(err); {
	case err == nil:
		return v.goTo("/series/" + view.ID.String() + "?done=" + done)
	case errors.As(err, &faults):
		view.Faults = faults
		return p.seriesPage(v, http.StatusUnprocessableEntity, view)
	case kind == techlog.KindConflict, kind == techlog.KindReused:
		view.Conflict = problems[kind].title + ": " + strings.TrimSuffix(err.Error(), ".") + "."
		return p.seriesPage(v, http.StatusConflict, view)
	}
	return err
}

// At is when flights were called off, as the form says it.
func (s *seriesView) At() string { return s.UndoAt.UTC().Format(time.RFC3339Nano) }

// inOrder puts flights into the order of their departure.
func inOrder(flights []techlog.Flight) {
	slices.SortStableFunc(flights, func(a, b techlog.Flight) int { return a.Departs.Compare(b.Departs) })
}
