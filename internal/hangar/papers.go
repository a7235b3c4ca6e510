package hangar

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// elt is the catalog's name of the item whose removal has a placard of its own (14 CFR 91.207(f)(10)).
const elt = "elt"

// Subject is what a squawk is about, in words.
type Subject struct {
	Item  string // name of the item, or what was reported if nobody knows the item
	Unit  string // installed unit; may be empty
	Place string // where the unit is; may be empty
	ELT   bool   // it is the emergency locator transmitter

	condition bool // no instrument and no item of equipment: the catalog says so
}

// Placard is what the placard of one squawk says.
type Placard struct {
	Squawk       techlog.Squawk
	Registration string
	Subject
	Method string    // removed, deactivated, or empty: not settled yet
	Words  string    // on the placard, as the deferral's record has them; empty if not deferred
	Made   time.Time // in the zone of the aircraft's base
	Until  time.Time // end of the deferral, in that zone; zero if not deferred
}

// Placard says what the placard of an open squawk on inoperative equipment says. method is how the item is put out of
// use, for one that is not deferred yet. Kinds: not-found; conflict (the squawk is closed, or is about a condition,
// which no placard lets stay, or method contradicts the record).
func (s *Service) Placard(ctx context.Context, who techlog.Principal, squawk techlog.ID, method string) (Placard, error) {
	q, err := s.store.Squawk(ctx, who.Organization, squawk)
	if err != nil {
		return Placard{}, err
	}
	a, err := s.store.Aircraft(ctx, who.Organization, q.Aircraft)
	if err != nil {
		return Placard{}, err
	}
	about := s.subject(&q, a.Configuration)
	switch {
	case !q.Open():
		return Placard{}, techlog.Errorf(techlog.KindConflict, "squawk %s is closed: its placard comes off", q.Label())
	case q.Kind != "inoperative" || about.condition:
		return Placard{}, techlog.Errorf(techlog.KindConflict,
			"squawk %s is about a condition: only inoperative equipment may stay under a placard", q.Label())
	case q.Deferral != nil && method != "" && method != q.Deferral.Method:
		return Placard{}, techlog.Errorf(techlog.KindConflict, "the deferral on record says %s", q.Deferral.Method)
	}
	zone, err := s.zoneOf(ctx, who.Organization, a.Base)
	if err != nil {
		return Placard{}, err
	}
	p := Placard{
		Squawk: q, Registration: a.Registration, Subject: about, Method: method, Made: s.now().In(zone),
	}
	if d := q.Deferral; d != nil {
		p.Method, p.Words, p.Until = d.Method, d.Placard, d.Until.In(zone)
	}
	return p, nil
}

// zoneOf is the time zone of a base.
func (s *Service) zoneOf(ctx context.Context, org, base techlog.ID) (*time.Location, error) {
	b, err := s.store.Base(ctx, org, base)
	if err != nil {
		return nil, err
	}
	return s.zone(b.Zone)
}

// subject says in words what a squawk is about.
func (s *Service) subject(q *techlog.Squawk, c casefile.Configuration) Subject {
	sub := Subject{Unit: q.Unit, Item: q.Words}
	item := q.Item
	if i := slices.IndexFunc(c.Units, func(u casefile.Unit) bool { return u.ID == q.Unit }); i >= 0 {
		item, sub.Place = c.Units[i].Item, c.Units[i].Where
	}
	if row, ok := s.book.Rules.Item(item); ok {
		sub.Item, sub.ELT, sub.condition = row.Name, item == elt, row.Nature == "condition"
	}
	return sub
}

// DeferredItem is one deferral of the list that is carried in the aircraft.
type DeferredItem struct {
	Squawk techlog.Squawk
	Subject
	Expired     bool     // the deferral has run out
	Limitations []string // what the squawk rules out or limits, for each kind of operation
}

// DeferredItems is the list of deferred items of an aircraft, with what else is open.
type DeferredItems struct {
	Aircraft    techlog.Aircraft
	AsOf        time.Time
	Zone        *time.Location // of the aircraft's base
	Items       []DeferredItem // in the order of their numbers
	NotDeferred []DeferredItem // open squawks that are not deferred
	Caution     string
}

// DeferredItems lists the deferred items of an aircraft as its records available to the pilot are to describe them
// (14 CFR 91.213(a)(4)). Kind not-found.
func (s *Service) DeferredItems(ctx context.Context, who techlog.Principal, aircraft techlog.ID) (DeferredItems, error) {
	snap, c, err := s.look(ctx, who.Organization, aircraft)
	if err != nil {
		return DeferredItems{}, err
	}
	zone, err := s.zoneOf(ctx, who.Organization, snap.Aircraft.Base)
	if err != nil {
		return DeferredItems{}, err
	}
	at := s.now()
	status, err := s.matrix(&snap, c, at)
	if err != nil {
		return DeferredItems{}, err
	}
	list := DeferredItems{Aircraft: snap.Aircraft, AsOf: at, Zone: zone, Caution: status.Caution}
	slices.SortFunc(snap.Squawks, func(a, b techlog.Squawk) int { return a.Number - b.Number })
	for i := range snap.Squawks {
		q := &snap.Squawks[i]
		item := DeferredItem{Squawk: *q, Subject: s.subject(q, c.config), Limitations: limitations(status, q.Label())}
		if q.State != techlog.Deferred || q.Deferral == nil {
			list.NotDeferred = append(list.NotDeferred, item)
			continue
		}
		item.Expired = !q.Deferral.Until.After(at)
		list.Items = append(list.Items, item)
	}
	return list, nil
}

// limitations says what one squawk rules out or limits. What it does to several kinds of operation is said once.
func limitations(status casefile.Status, squawk string) []string {
	said := []string{} // what, in the order in which it comes up
	kinds := map[string][]string{}
	for _, k := range status.Kinds {
		for _, f := range k.Findings {
			if f.Defect != squawk {
				continue
			}
			what := limitation(f)
			if !slices.Contains(said, what) {
				said = append(said, what)
			}
			if name := kindInWords[k.Kind]; !slices.Contains(kinds[what], name) {
				kinds[what] = append(kinds[what], name)
			}
		}
	}
	for i, what := range said {
		of := strings.Join(kinds[what], ", ")
		if len(kinds[what]) == len(status.Kinds) {
			of = "any kind of operation"
		}
		said[i] = strings.Replace(what, "%", of, 1)
	}
	return said
}

// kindInWords names the kinds of operation as the trade does.
var kindInWords = map[string]string{
	"day-vfr": "day VFR", "night-vfr": "night VFR", "day-ifr": "IFR by day", "night-ifr": "IFR by night",
}

// limitation says what a finding means for the use of the aircraft. % stands for the kinds of operation.
func limitation(f casefile.Finding) string {
	switch f.Verdict {
	case airworthiness.Clear.String(), airworthiness.Limited.String():
		words := f.Limitation
		if words == "" {
			words = f.Words
		}
		return fmt.Sprintf("For %%: %s (%s)", strings.TrimRight(words, "."), f.Citation)
	case airworthiness.DeferFirst.String():
		return fmt.Sprintf("Not for %% until the deferral is complete (%s)", f.Citation)
	case airworthiness.Undetermined.String():
		return fmt.Sprintf("Not for %%: a fact is missing (%s)", f.Citation)
	default:
		return fmt.Sprintf("Not for %% (%s)", f.Citation)
	}
}
