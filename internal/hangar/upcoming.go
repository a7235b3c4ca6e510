package hangar

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
	"tiedown/internal/upkeep"
)

// Upcoming lists what comes due on an aircraft and still serves: what is kept up by days or by hours (which fall due on the
// planned flight that uses them up), papers, deferrals, and rows of the book that are not in force today and hold planned
// flights already. The next first. Kind not-found.
func (s *Service) Upcoming(ctx context.Context, who techlog.Principal, aircraft techlog.ID) ([]techlog.Upcoming, error) {
	all, _, err := s.upcoming(ctx, who, aircraft)
	return all, err
}

// upcoming gives today as well, at the aircraft's base.
func (s *Service) upcoming(ctx context.Context, who techlog.Principal, aircraft techlog.ID) ([]techlog.Upcoming, string, error) {
	list, err := s.Due(ctx, who, aircraft)
	if err != nil {
		return nil, "", err
	}
	snap, c, err := s.look(ctx, who.Organization, aircraft)
	if err != nil {
		return nil, "", err
	}
	zone, err := s.zone(list.Zone)
	if err != nil {
		return nil, "", err
	}
	l := ahead{aircraft: aircraft, registration: list.Registration, today: list.On, zone: zone}
	for i := range list.Items {
		l.item(&list.Items[i])
	}
	l.papers(c.facts.Papers)
	for i := range snap.Squawks {
		l.deferral(&snap.Squawks[i])
	}
	if err := s.rowsToCome(ctx, who.Organization, c, &l); err != nil {
		return nil, "", err
	}
	slices.SortStableFunc(l.all, func(a, b techlog.Upcoming) int {
		return cmp.Or(cmp.Compare(a.Due, b.Due), cmp.Compare(a.Thing, b.Thing))
	})
	return l.all, list.On, nil
}

// ahead is what comes due on one aircraft, as it is gathered.
type ahead struct {
	aircraft     techlog.ID
	registration string
	today        string
	zone         *time.Location
	all          []techlog.Upcoming
}

// add takes in a thing that is due on a day, unless that has passed.
func (l *ahead) add(u techlog.Upcoming) {
	days, ok := daysBetween(l.today, u.Due)
	if !ok || days < 0 {
		return
	}
	u.Aircraft, u.Registration, u.Days = l.aircraft, l.registration, days
	l.all = append(l.all, u)
}

// daysBetween counts the days from one date to another.
func daysBetween(from, to string) (int, bool) {
	a, err := time.Parse(time.DateOnly, from)
	b, errTo := time.Parse(time.DateOnly, to)
	return int(b.Sub(a).Hours()) / 24, err == nil && errTo == nil
}

// item takes in what is kept up, by whichever comes first: its last day, or the planned flight on which it runs out.
func (l *ahead) item(i *casefile.DueItem) {
	if i.State != upkeep.Serves.String() {
		return
	}
	due, says := i.Due.Through, i.Says
	if out := i.RunsOut; out != nil && (due == "" || out.On < due) {
		due, says = out.On, out.Says
	}
	if due == "" {
		return
	}
	l.add(techlog.Upcoming{Thing: "upkeep:" + i.ID, What: i.What, Says: says + " (" + i.Citation + ")", Due: due})
}

// papers takes in those that run out.
func (l *ahead) papers(p *casefile.Papers) {
	if p == nil {
		return
	}
	for _, paper := range []struct{ thing, what, through string }{
		{"paper:registration", "registration", p.Registration.Through},
		{"paper:radio-licence", "radio station licence", p.RadioLicence.Through},
	} {
		if paper.through != "" {
			l.add(techlog.Upcoming{
				Thing: paper.thing, What: paper.what, Due: paper.through, Says: fmt.Sprintf("The %s runs out: its last day is %s.", paper.what, paper.through),
			})
		}
	}
}

// deferral takes in one that ends. Its last day is the one that its end is the end of, at the base.
func (l *ahead) deferral(q *techlog.Squawk) {
	if q.State != techlog.Deferred || q.Deferral == nil {
		return
	}
	last := q.Deferral.Until.Add(-time.Microsecond).In(l.zone).Format(time.DateOnly)
	l.add(techlog.Upcoming{
		Thing: "deferral:" + q.ID.String(), What: "deferral of squawk " + q.Label(), Due: last, Squawk: q.ID,
		Says: fmt.Sprintf("%s (%s) The deferral is good through %s (%s).", strings.TrimSpace(q.Words), cmp.Or(q.Unit, q.Item, "a condition"), last, q.Deferral.Basis),
	})
}

// rowsToCome takes in rows of the book that are not in force today, by which planned flights are held that leave once they
// are: a flight is judged by the rows of its own date, and so is right when it is planned; people are told before the day.
func (s *Service) rowsToCome(ctx context.Context, org techlog.ID, c compiled, l *ahead) error {
	coming := map[string]airworthiness.Rule{}
	for _, rule := range c.book.Rules.Rules() {
		if rule.From != 0 && rule.From.String() > l.today {
			coming[rule.ID+rule.From.String()] = rule
		}
	}
	if len(coming) == 0 {
		return nil
	}
	held := map[string]*techlog.Upcoming{}
	filter := FlightFilter{Aircraft: l.aircraft, State: techlog.Planned, EndsAfter: s.now(), Held: new(true)}
	for f, err := range WholePlan(flightPage, func(p Page) ([]techlog.Flight, error) { return s.store.Flights(ctx, org, filter, p) }) {
		if err != nil {
			return err
		}
		if err := s.heldBy(f, coming, held); err != nil {
			return err
		}
	}
	for _, u := range held {
		u.Says += fmt.Sprintf(" By it %s held.", countOf(len(u.Flights), "planned flight is", "planned flights are"))
		l.add(*u)
	}
	return nil
}

// heldBy notes the rows to come that hold a flight.
func (s *Service) heldBy(f *techlog.Flight, coming map[string]airworthiness.Rule, held map[string]*techlog.Upcoming) error {
	zone, err := s.zone(f.Zone)
	if err != nil {
		return fmt.Errorf("flight %s: %w", f.ID, err)
	}
	day := f.Legs[len(f.Legs)-1].Departs.In(zone).Format(time.DateOnly)
	for key, rule := range coming {
		if !slices.Contains(f.Hold.Rows, rule.ID) || rule.From.String() > day || rule.To != 0 && rule.To.String() <= day {
			continue
		}
		u, ok := held[key]
		if !ok {
			u = &techlog.Upcoming{
				Thing: "row:" + rule.ID, What: "a rule that comes into force", Due: rule.From.String(),
				Says: fmt.Sprintf("%s comes into force on %s: %s", rule.Citation, rule.From, rule.Words),
			}
			held[key] = u
		}
		u.Flights = append(u.Flights, f.ID)
	}
	return nil
}

func countOf(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
