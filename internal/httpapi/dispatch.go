package httpapi

import (
	"context"

	"tiedown/api/server"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// ShowFlightOutlook implements server.StrictServerInterface.
func (h *handlers) ShowFlightOutlook(ctx context.Context, r server.ShowFlightOutlookRequestObject) (server.ShowFlightOutlookResponseObject, error) {
	o, err := h.service.FlightOutlook(ctx, callOf(ctx).who, techlog.ID(r.Flight))
	if err != nil {
		return nil, err
	}
	return server.ShowFlightOutlook200JSONResponse(o), nil
}

// ListAlternatives implements server.StrictServerInterface.
func (h *handlers) ListAlternatives(ctx context.Context, r server.ListAlternativesRequestObject) (server.ListAlternativesResponseObject, error) {
	a, err := h.service.Alternatives(ctx, callOf(ctx).who, techlog.ID(r.Flight))
	if err != nil {
		return nil, err
	}
	return server.ListAlternatives200JSONResponse(a), nil
}

// JudgeFlights implements server.StrictServerInterface.
func (h *handlers) JudgeFlights(ctx context.Context, r server.JudgeFlightsRequestObject) (server.JudgeFlightsResponseObject, error) {
	asked := r.Body.Flights
	plans, faults := make([]hangar.FlightPlan, 0, len(asked)), make([]casefile.Faults, len(asked))
	places := make([]int, 0, len(asked)) // of the plans among what was asked
	for i := range asked {
		f := &asked[i]
		p, err := plan(&server.FlightPlan{
			Aircraft: f.Aircraft, From: f.From, To: f.To, Departs: f.Departs, Arrives: f.Arrives, Legs: f.Legs, Rules: f.Rules, Facts: f.Facts,
		})
		if err != nil {
			faults[i], _ = casefile.AsFaults(err)
			continue
		}
		plans, places = append(plans, p), append(places, i)
	}
	judged, err := h.service.JudgeFlights(ctx, callOf(ctx).who, plans)
	if err != nil {
		return nil, err
	}
	shown := server.Judgements{
		Judgements: make([]server.Judgement, len(asked)), AsOf: judged.At, Rules: judged.Rules, Caution: judged.Caution, Rows: []server.HoldRow{},
	}
	for i := range asked {
		shown.Judgements[i].Ref = asked[i].Ref
		if faults[i] != nil {
			shown.Judgements[i].Faults = showFaults(faults[i])
		}
	}
	named := map[string]bool{}
	for i := range judged.Flights {
		showJudgement(&shown.Judgements[places[i]], &judged.Flights[i])
		for _, row := range judged.Flights[i].Hold.Rows {
			if !named[row] {
				named[row] = true
				shown.Rows = append(shown.Rows, h.showRow(row))
			}
		}
	}
	return server.JudgeFlights200JSONResponse(shown), nil
}

func showFaults(faults casefile.Faults) *[]server.Fault { return new([]server.Fault(faults)) }

func showJudgement(shown *server.Judgement, j *hangar.Judgement) {
	if j.Faults != nil {
		shown.Faults = showFaults(j.Faults.Renamed(planField))
		return
	}
	hold := &j.Hold
	shown.Verdict, shown.Holds, shown.Rows = new(server.Verdict(hold.Verdict)), new(hold.Holds()), new(filledRows(hold.Rows))
	shown.Blocks = idsOf(hold.Blocks)
	if len(hold.Legs) > 1 {
		shown.Legs = new(each(hold.Legs, func(l techlog.LegHold) server.LegJudgement {
			return server.LegJudgement{Verdict: server.Verdict(l.Verdict), Rows: filledRows(l.Rows)}
		}))
	}
}

// idsOf are the identifiers of records; nil where there are none.
func idsOf(ids []techlog.ID) *[]server.ID {
	if len(ids) == 0 {
		return nil
	}
	return new(each(ids, func(id techlog.ID) server.ID { return server.ID(id) }))
}

// filledRows is never nil: no rows are an empty list.
func filledRows(rows []string) []string {
	if rows == nil {
		return []string{}
	}
	return rows
}
