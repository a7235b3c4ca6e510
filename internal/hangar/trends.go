package hangar

import (
	"context"
	"slices"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// How much is looked through for trends: the newest walkarounds, and the newest entries of the book of time in service.
const (
	trendWalkarounds = 400
	trendReadings    = 2000
)

// Stamp tells whether anything that a status says has changed since.
type Stamp struct {
	Version int    // state version of the aircraft
	Walked  string // its newest walkaround with its version, and the last entry of its time in service
}

// Measured is what trends are worked out from.
type Measured struct {
	Measurements []walkaround.Measurement
	InService    []walkaround.BookEntry // the book of time in service, in the order of its entries
}

// Trends says how what is measured on an aircraft's walkarounds drifts, a series a check in the order of their names. Kind
// not-found (the aircraft).
func (s *Service) Trends(ctx context.Context, who techlog.Principal, aircraft techlog.ID) (casefile.TrendList, error) {
	a, series, at, err := s.trendsOf(ctx, who, aircraft)
	if err != nil {
		return casefile.TrendList{}, err
	}
	list := casefile.TrendList{Aircraft: aircraft.String(), Registration: a.Registration, AsOf: at, Trends: []casefile.Trend{}}
	for i := range series {
		list.Trends = append(list.Trends, series[i].Written())
	}
	return list, nil
}

// Trend shows one series with its measurements. Kind not-found: there is no such aircraft, or nobody has measured that.
func (s *Service) Trend(ctx context.Context, who techlog.Principal, aircraft techlog.ID, check string) (casefile.TrendSeries, error) {
	a, series, at, err := s.trendsOf(ctx, who, aircraft)
	if err != nil {
		return casefile.TrendSeries{}, err
	}
	i := slices.IndexFunc(series, func(s walkaround.Series) bool { return s.Check.ID == check })
	if i < 0 {
		return casefile.TrendSeries{}, techlog.Errorf(techlog.KindNotFound, "nobody has measured that on a walkaround of this aircraft")
	}
	return casefile.TrendSeries{
		Aircraft: aircraft.String(), Registration: a.Registration, AsOf: at, Trend: series[i].Written(), Points: series[i].WrittenPoints(),
	}, nil
}

// MeasuredOn gives every series of an aircraft with its measurements, in the order of the names of their checks. Kind
// not-found (the aircraft).
func (s *Service) MeasuredOn(ctx context.Context, who techlog.Principal, aircraft techlog.ID) ([]casefile.TrendSeries, error) {
	a, series, at, err := s.trendsOf(ctx, who, aircraft)
	all := make([]casefile.TrendSeries, len(series))
	for i := range series {
		all[i] = casefile.TrendSeries{
			Aircraft: aircraft.String(), Registration: a.Registration, AsOf: at, Trend: series[i].Written(), Points: series[i].WrittenPoints(),
		}
	}
	return all, err
}

func (s *Service) trendsOf(ctx context.Context, who techlog.Principal, aircraft techlog.ID) (techlog.Aircraft, []walkaround.Series, time.Time, error) {
	at := s.now()
	a, err := s.store.Aircraft(ctx, who.Organization, aircraft)
	if err != nil {
		return a, nil, at, err
	}
	series, err := s.series(ctx, who.Organization, aircraft, at)
	return a, series, at, err
}

// series are what an aircraft's measurements come to.
func (s *Service) series(ctx context.Context, org, aircraft techlog.ID, at time.Time) ([]walkaround.Series, error) {
	m, err := s.store.Measured(ctx, org, aircraft, trendWalkarounds, trendReadings)
	if err != nil {
		return nil, err
	}
	lists := map[[32]byte]walkaround.Checklist{}
	read := func(ctx context.Context, digest [32]byte) (walkaround.Composed, error) {
		return s.store.Checklist(ctx, org, digest)
	}
	for i := range m.Measurements {
		digest := m.Measurements[i].Checklist
		if _, known := lists[digest]; known {
			continue
		}
		composed, err := s.checklist(ctx, read, org, digest)
		if err != nil {
			return nil, err
		}
		lists[digest] = composed.Checklist
	}
	return walkaround.Measured(m.Measurements, lists, m.InService, at), nil
}

// notes are what is worth knowing about an aircraft and changes no verdict: a slow leak that is flagged.
func (s *Service) notes(ctx context.Context, org, aircraft techlog.ID, at time.Time) ([]casefile.Note, error) {
	notes := []casefile.Note{}
	series, err := s.series(ctx, org, aircraft, at)
	for i := range series {
		if t := series[i].Written(); t.Flagged {
			notes = append(notes, casefile.Note{Kind: "trend", Says: t.Words + ": " + t.Says, Trend: &t})
		}
	}
	return notes, err
}
