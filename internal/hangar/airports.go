package hangar

import (
	"context"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// AirportFilter picks airports: those whose identifiers begin with Prefix, after the identifier After, in their order; or those
// around a place, nearest first. Zero fields pick all.
type AirportFilter struct {
	Prefix, After string
	Near          *techlog.Spot
	WithinNM      float64 // with Near
}

// ImportAirports takes in a list of airports as CSV: each replaces the one of its identifier, others stay. There is no import of a
// part: a list with faults changes nothing. Flights that are planned keep the places that they have. Kinds forbidden, invalid.
func (s *Service) ImportAirports(ctx context.Context, who techlog.Principal, raw []byte, once *Once, render Render[int]) ([]byte, error) {
	if err := who.Require(techlog.KeepBases); err != nil {
		return nil, err
	}
	at := s.now()
	return s.store.Change(ctx, Scope{Organization: who.Organization, By: who.Name, At: at, Once: once}, func(_ context.Context, tx Tx) ([]byte, error) {
		airports, err := casefile.ReadAirports(raw)
		if err != nil {
			return nil, err
		}
		tx.PutAirports(airports)
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "airport.imported", Subject: who.Organization, At: at})
		return render(len(airports))
	})
}

// Airports lists the airports that the organization has taken in, up to a limit.
func (s *Service) Airports(ctx context.Context, who techlog.Principal, f AirportFilter, limit int) ([]casefile.Airport, error) {
	return s.store.Airports(ctx, who.Organization, f, limit)
}

// Airport shows one airport.
func (s *Service) Airport(ctx context.Context, who techlog.Principal, ident string) (casefile.Airport, error) {
	return s.store.Airport(ctx, who.Organization, ident)
}
