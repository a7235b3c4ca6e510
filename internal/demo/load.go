package demo

import (
	"context"
	"crypto/sha256"
	"fmt"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// loader loads the club for one principal, each step once however often it is run.
type loader struct {
	service *hangar.Service
	earlier func(time.Time) *hangar.Service // the service as it would have been then
	who     techlog.Principal
	people  map[techlog.Email]techlog.ID
	now     time.Time

	bases    map[string]techlog.ID
	aircraft map[string]techlog.ID
}

// Load enters the club's bases, aircraft and squawks, its flights for the week after now, and what it keeps of its people.
// people are its people as they are known to the server; of those who are not, nothing is kept. It may be interrupted and run again: what has been
// entered is not entered twice. earlier gives the service with its clock at an instant: of the trainer the club has two
// months of walkarounds.
func Load(ctx context.Context, service *hangar.Service, earlier func(time.Time) *hangar.Service, who techlog.Principal, people map[techlog.Email]techlog.ID, now time.Time) error {
	l := loader{service, earlier, who, people, now, map[string]techlog.ID{}, map[string]techlog.ID{}}
	for _, step := range []func(context.Context) error{l.loadBases, l.loadAircraft, l.loadChecklists, l.loadHistory, l.loadPeople, l.loadSquawks, l.loadAirports, l.loadFlights, l.loadSchedule} {
		if err := step(ctx); err != nil {
			return err
		}
	}
	return nil
}

// once names a step, so that a second run finds its answer.
func (l *loader) once(format string, args ...any) *hangar.Once {
	key := "demo " + fmt.Sprintf(format, args...)
	return &hangar.Once{Token: l.who.Token, Key: key, Digest: sha256.Sum256([]byte(key))}
}

// id keeps the identifier of what was made as the answer.
func id(id techlog.ID) ([]byte, error) { return []byte(id.String()), nil }

func parse(answer []byte, err error) (techlog.ID, error) {
	if err != nil {
		return techlog.ID{}, err
	}
	made, ok := techlog.ParseID(string(answer))
	if !ok {
		return made, fmt.Errorf("the answer %q is no identifier", answer)
	}
	return made, nil
}

func (l *loader) loadBases(ctx context.Context) error {
	for _, b := range bases {
		made, err := parse(l.service.AddBase(ctx, l.who, b, l.once("base %s", b.Code), func(b techlog.Base) ([]byte, error) { return id(b.ID) }))
		if err != nil {
			return fmt.Errorf("base %s: %w", b.Code, err)
		}
		l.bases[b.Code] = made
	}
	return nil
}

func (l *loader) loadAircraft(ctx context.Context) error {
	for _, f := range fleet {
		written, err := Aircraft(f.file)
		if err != nil {
			return err
		}
		Inspect(&written.Facts, l.now)
		made, err := parse(l.service.AddAircraft(ctx, l.who, techlog.Aircraft{
			Registration: f.registration, Type: f.typ, Base: l.bases["WILLOW"], Facts: written.Facts, Configuration: written.Configuration,
		}, l.once("aircraft %s", f.file), func(a techlog.Aircraft) ([]byte, error) { return id(a.ID) }))
		if err != nil {
			return fmt.Errorf("aircraft %s: %w", f.file, err)
		}
		l.aircraft[f.file] = made
	}
	return nil
}

// loadPeople enters certificates and standings. The mechanic's experience was seen on the day before, which is over at every
// base, and the inspection authorization lasts to the March that ends it (14 CFR 65.83, 65.92(a)).
func (l *loader) loadPeople(ctx context.Context) error {
	for i, c := range certificates {
		person, known := l.people[c.of]
		if !known {
			continue
		}
		k := c.Certificate
		k.Person, k.From = person, l.now.AddDate(-2, 0, 0).Format(time.DateOnly)
		switch k.Kind {
		case techlog.MechanicCertificate:
			k.RecentFrom, k.RecentUntil = l.now.AddDate(0, 0, -1).Format(time.DateOnly), l.now.AddDate(0, 17, 0).Format(time.DateOnly)
		case techlog.InspectionAuthorization:
			k.Until = authorizationEnds(l.now)
		default: // a pilot certificate does not run out
		}
		if _, err := l.service.KeepCertificate(ctx, l.who, k, l.once("certificate %d", i), func(k techlog.Certificate) ([]byte, error) { return id(k.ID) }); err != nil {
			return fmt.Errorf("certificate %d: %w", i+1, err)
		}
	}
	for i, s := range standings {
		person, known := l.people[s.of]
		if !known {
			continue
		}
		st := s.Standing
		st.Person, st.From = person, l.now.AddDate(-1, 0, 0).Format(time.DateOnly)
		if _, err := l.service.KeepStanding(ctx, l.who, st, l.once("standing %d", i), func(s techlog.Standing) ([]byte, error) { return id(s.ID) }); err != nil {
			return fmt.Errorf("standing %d: %w", i+1, err)
		}
	}
	return nil
}

// authorizationEnds is the last day of the next March of an odd-numbered year.
func authorizationEnds(now time.Time) string {
	ends := time.Date(now.Year(), time.March, 31, 0, 0, 0, 0, time.UTC)
	for ends.Before(now) || ends.Year()%2 == 0 {
		ends = ends.AddDate(1, 0, 0)
	}
	return ends.Format(time.DateOnly)
}

func (l *loader) loadSquawks(ctx context.Context) error {
	for i, s := range squawks {
		filed, err := parse(l.service.FileSquawk(ctx, l.who, hangar.SquawkReport{
			Aircraft: l.aircraft[s.aircraft], Kind: s.kind, Unit: s.unit, Item: s.item, Words: s.words,
		}, l.once("squawk %d", i), func(f hangar.FiledSquawk) ([]byte, error) { return id(f.Squawk.ID) }))
		if err == nil {
			err = l.carryOver(ctx, filed, s)
		}
		if err != nil {
			return fmt.Errorf("squawk %d: %w", i+1, err)
		}
	}
	return nil
}

// carryOver takes a squawk to where the club's paper log has it, unless an earlier run has done so.
func (l *loader) carryOver(ctx context.Context, filed techlog.ID, s squawk) error {
	c := hangar.CarriedOver{Squawk: filed}
	switch {
	case s.deferral != nil:
		d := *s.deferral
		d.DeterminedAt, d.Until, d.Considered = l.now.Add(-s.stood), l.now.Add(s.lasts), besides(s)
		if d.Method == "removed" {
			d.RemovedOn = l.now.Add(-5 * day).Format(time.DateOnly)
		}
		c.Step, c.Deferral, c.Words = techlog.StepDefer, &d, "Deferral carried over from the paper log: "+d.Entry+"."
	case s.closed != "":
		c.Step, c.Words = techlog.StepClose, "Closed in the paper log: "+s.closed
	default:
		return nil
	}
	story, err := l.service.Squawk(ctx, l.who, filed)
	if err != nil || story.Squawk.State != techlog.Reported {
		return err
	}
	return l.service.CarryOver(ctx, l.who, c)
}

// besides names the other squawks of the aircraft, by the labels that they are given in the order of the table: whoever
// signed the paper log looked at all of them.
func besides(s squawk) []string {
	var labels []string
	number := 0
	for _, other := range squawks {
		if other.aircraft != s.aircraft {
			continue
		}
		number++
		if other.words != s.words {
			labels = append(labels, (&techlog.Squawk{Number: number}).Label())
		}
	}
	return labels
}

func (l *loader) loadFlights(ctx context.Context) error {
	zones := map[string]*time.Location{}
	for _, b := range bases {
		zone, err := time.LoadLocation(b.Zone)
		if err != nil {
			return err
		}
		zones[b.Code] = zone
	}
	for i, f := range flights {
		today := l.now.In(zones[f.from])
		departs := time.Date(today.Year(), today.Month(), today.Day()+f.day, 0, 0, 0, 0, zones[f.from]).
			Add(time.Duration(f.hour * float64(time.Hour)))
		_, err := l.service.PlanFlight(ctx, l.who, hangar.FlightPlan{
			Aircraft: l.aircraft[f.aircraft], From: l.bases[f.from], To: l.bases[f.to], Departs: departs,
			Arrives: departs.Add(time.Duration(f.hours * float64(time.Hour))), Rules: f.rules, Facts: f.written(), Purpose: f.purpose,
		}, l.once("flight %d of %s", i, l.now.Format(time.DateOnly)), func(h hangar.HeldFlight) ([]byte, error) { return id(h.Flight.ID) })
		if err != nil {
			return fmt.Errorf("flight %d, %s: %w", i+1, f.purpose, err)
		}
	}
	return nil
}

// written is the flight's facts: an ordinary local flight, with what this one changes.
func (f flight) written() casefile.FlightFacts {
	no, crew, low := false, 1, 3500.0
	facts := casefile.FlightFacts{
		ForHire: &no, OverWater: &no, Controlled: yes(), RequiredCrew: &crew, AltitudeFt: &low, Airspace: &[]string{},
	}
	f.facts(&facts)
	return facts
}
