package httpapi

import (
	"context"
	"net/http"
	"strings"
	"time"

	"tiedown/api/server"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// PlanSeries implements server.StrictServerInterface.
func (h *handlers) PlanSeries(ctx context.Context, r server.PlanSeriesRequestObject) (server.PlanSeriesResponseObject, error) {
	intended, err := plan(&r.Body.Flight)
	if err != nil {
		return nil, casefile.Renamed(err, seriesField)
	}
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.PlanSeries(ctx, c.who, hangar.SeriesPlan{Flight: intended, Repeat: repeat(&r.Body.Repeat)}, c.once,
		render(&made, http.StatusCreated, func(p hangar.PlannedSeries) shown {
			return shown{body: server.FlightSeries{Series: server.ID(p.Series), Flights: each(p.Flights, h.showFlight)}}
		}))
	return replay(frame, made, casefile.Renamed(err, seriesField))
}

// seriesField is the name that a field of a plan has where the plan is a part of a series.
func seriesField(field string) string {
	if strings.HasPrefix(field, "repeat.") {
		return field
	}
	return "flight." + planField(field)
}

func repeat(r *server.Repeat) hangar.Repeat {
	made := hangar.Repeat{Every: string(r.Every), Interval: 1, Until: r.Until}
	if r.Interval != nil {
		made.Interval = *r.Interval
	}
	for _, day := range given(r.Weekdays) {
		for d := range 7 {
			if strings.EqualFold(time.Weekday(d).String(), string(day)) {
				made.Weekdays = append(made.Weekdays, time.Weekday(d))
			}
		}
	}
	made.Skip = append(made.Skip, given(r.Skip)...)
	return made
}

// CancelSeries implements server.StrictServerInterface.
func (h *handlers) CancelSeries(ctx context.Context, r server.CancelSeriesRequestObject) (server.CancelSeriesResponseObject, error) {
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.CancelSeries(ctx, c.who, techlog.ID(r.Series), given(r.Body.From), c.once,
		render(&made, http.StatusOK, func(flights []techlog.Flight) shown {
			return shown{body: server.Flights{Flights: each(flights, h.showFlight)}}
		}))
	return replay(frame, made, err)
}
