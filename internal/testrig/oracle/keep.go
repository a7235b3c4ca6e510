package oracle

import (
	"time"

	"tiedown/internal/casefile"
)

// keepingRules are the rules about what the aircraft's own papers ask for at certain times. The record is taken as it
// stands.
var keepingRules = []rule{
	{"14 CFR 39.7", "directives that are due", directivesDue},
	{"14 CFR 91.403(c)", "life limits", lifeLimits},
	{"14 CFR 91.409(d)", "progressive inspection", progressiveInspection},
	{ownRule, "the organization's own items", ownItems},
}

const ownRule = "the organization's own rule"

// items are those of a kind, and whether nobody has said that all directives and life limits are among them.
func (s *scene) items(kind string) (items []casefile.UpkeepItem, more bool) {
	if s.Upkeep == nil {
		return nil, true
	}
	for _, it := range s.Upkeep.Items {
		if it.Kind == kind {
			items = append(items, it)
		}
	}
	return items, s.Upkeep.Complete == nil || !*s.Upkeep.Complete
}

// 14 CFR 39.7: an aircraft that does not meet a directive is not operated, save under a special flight permit where the
// directive lets it go (39.23).
func directivesDue(s *scene) Verdict {
	items, more := s.items("directive")
	worst := Clear
	if more {
		worst = Undetermined
	}
	for _, it := range items {
		inDays, inHours, inCycles := s.served(it)
		goes := all(not(known(it.PermitBarred)), s.permitGood())
		worst = max(worst, unless(required(yes, all(inDays, inHours, inCycles)), goes))
	}
	return worst
}

// 14 CFR 91.403(c): mandatory replacement times are complied with.
func lifeLimits(s *scene) Verdict {
	items, more := s.items("life-limit")
	worst := Clear
	if more {
		worst = Undetermined
	}
	for _, it := range items {
		inDays, inHours, inCycles := s.served(it)
		worst = max(worst, required(yes, all(inDays, inHours, inCycles)))
	}
	return worst
}

// 14 CFR 91.409(d): the schedule, which may be exceeded by 10 hours on the way to where it can be done, by every part of it.
func progressiveInspection(s *scene) Verdict {
	items, _ := s.items("program")
	within := yes
	for _, it := range items {
		within = all(within, s.hoursLast(it, 10))
	}
	onTheWay := all(certain(s.flight.ToPlaceOfInspection), within)
	// The whole aircraft within each 12 calendar months, and a schedule that says what of it when.
	worst := unless(required(s.progressive(), s.withinMonths(12, s.ProgressiveComplete)), s.permitGood())
	if s.progressive() != no && len(items) == 0 {
		worst = max(worst, unless(Undetermined, s.permitGood()))
	}
	for _, it := range items {
		inDays, inHours, inCycles := s.served(it)
		worst = max(worst, unless(required(yes, all(inDays, inCycles)), s.permitGood()),
			unless(required(yes, inHours), some(onTheWay, s.permitGood())))
	}
	return worst
}

// ownItems are what the organization has set itself, for the flights that it says.
func ownItems(s *scene) Verdict {
	items, _ := s.items("own")
	worst := Clear
	for _, it := range items {
		stopped := certain(len(it.Stops) == 0)
		for _, flights := range it.Stops {
			stopped = some(stopped, map[string]truth{
				"for-hire": known(s.flight.ForHire), "instruction-provided-aircraft": known(s.flight.InstructionProvidedAircraft),
				"ifr": s.ifr(), "night": s.byNight, "over-water": known(s.flight.OverWater),
			}[flights])
		}
		inDays, inHours, inCycles := s.served(it)
		worst = max(worst, required(stopped, all(inDays, inHours, inCycles)))
	}
	return worst
}

// settled says whether an item asks for nothing more: it has ended, or once was enough.
func settled(it casefile.UpkeepItem) bool {
	return it.Ended || it.Every == nil && len(it.Done) > 0
}

// served says of days, hours and cycles whether the item serves until the flight has ended. What does not limit it serves;
// what nothing limits is unknown by its days.
func (s *scene) served(it casefile.UpkeepItem) (inDays, inHours, inCycles truth) {
	if settled(it) {
		return yes, yes, yes
	}
	return s.daysLast(it), s.hoursLast(it, 0), s.cyclesLast(it)
}

// first says whether the item has yet to be done for the first time, by a limit of its own.
func first(it casefile.UpkeepItem) bool { return len(it.Done) == 0 && it.First != nil }

func (s *scene) daysLast(it casefile.UpkeepItem) truth {
	if first(it) {
		if it.First.Through == "" {
			return yes
		}
		return s.lasts(it.First.Through)
	}
	if it.Every == nil {
		return unknown
	}
	if it.Every.Days == 0 && it.Every.CalendarMonths == 0 {
		return yes
	}
	if len(it.Done) == 0 {
		return unknown
	}
	done, err := time.Parse(time.DateOnly, it.Done[0].On)
	if err != nil {
		return unknown
	}
	last := time.Date(done.Year(), done.Month()+time.Month(it.Every.CalendarMonths)+1, 0, 0, 0, 0, 0, time.UTC)
	if byDays := done.AddDate(0, 0, it.Every.Days); it.Every.CalendarMonths == 0 || it.Every.Days > 0 && byDays.Before(last) {
		last = byDays
	}
	switch {
	case dateOf(s.flight.Arrives).After(last):
		return no
	case dateOf(s.flight.Departs).Before(done):
		return unknown
	}
	return yes
}

// hoursLast says so of the hours, with so many more.
func (s *scene) hoursLast(it casefile.UpkeepItem, more float64) truth {
	if settled(it) {
		return yes
	}
	var due float64
	reads := s.Upkeep.Hours
	if it.Part != nil {
		reads = it.Part.Hours
	}
	switch {
	case first(it) && it.First.Hours == nil, !first(it) && (it.Every == nil || it.Every.Hours == 0):
		return yes
	case reads == nil, !first(it) && (len(it.Done) == 0 || it.Done[0].Hours == nil):
		return unknown
	case first(it):
		due = *it.First.Hours
	default:
		due = *it.Done[0].Hours + it.Every.Hours - min(overflown(it), it.Every.Hours)
	}
	left, takes := due+more-*reads, s.longest()
	switch {
	case s.flight.Hours != nil:
		return certain(*s.flight.Hours <= left)
	case takes <= left:
		return yes
	case left <= 0:
		return no
	}
	return unknown
}

// overflown is by how much a program's item was late, on the way: its next time comes so much earlier.
func overflown(it casefile.UpkeepItem) float64 {
	switch {
	case it.Kind != "program":
		return 0
	case it.Done[0].OverflownHours != nil:
		return *it.Done[0].OverflownHours
	case it.First != nil && it.First.Hours != nil:
		return min(max(*it.Done[0].Hours-*it.First.Hours, 0), 10)
	}
	return 0
}

func (s *scene) cyclesLast(it casefile.UpkeepItem) truth {
	var due int
	reads := s.Upkeep.Cycles
	if it.Part != nil {
		reads = it.Part.Cycles
	}
	switch {
	case first(it) && it.First.Cycles == nil, !first(it) && (it.Every == nil || it.Every.Cycles == 0):
		return yes
	case reads == nil, !first(it) && (len(it.Done) == 0 || it.Done[0].Cycles == nil):
		return unknown
	case first(it):
		due = *it.First.Cycles
	default:
		due = *it.Done[0].Cycles + it.Every.Cycles
	}
	cycles := 1 // each leg is one
	if s.flight.Earlier != nil {
		cycles += s.flight.Earlier.Legs
	}
	return certain(due-*reads >= cycles)
}

// keepsAboard deals the papers of an aircraft.
func (d *Dealer) keepsAboard(a *casefile.Aircraft) {
	aboard := func() *bool { return maybe(d, usual(d, true, true, true, false)) }
	day := func() string {
		return d.word(usual(d, "2031-05-31", "2031-05-31", "2026-06-01", "2026-05-31", "2026-06-02"))
	}
	c := &a.Configuration
	c.EquipmentChanged, c.EquipmentRevision = d.word("2020-05-04"), d.word("7")
	p := casefile.Papers{
		Airworthiness: casefile.Certificate{Aboard: aboard(), Displayed: aboard()},
		Registration:  casefile.Paper{Aboard: aboard(), Through: day()},
		Limitations:   casefile.Aboard{Aboard: aboard()},
		WeightBalance: casefile.WeightBalance{Aboard: aboard(), Dated: d.word(usual(d, "2020-05-04", "2021-01-01", "2020-05-03"))},
		RadioLicence:  casefile.Paper{Aboard: aboard(), Through: day()},
	}
	if d.chance(20) {
		p.WeightBalance.ForRevision = usual(d, "7", "7", "6")
	}
	if d.calm || d.chance(97) {
		a.Facts.Papers = &p
	}
}

// upkeep deals what the aircraft's own papers ask for.
func (d *Dealer) upkeep(f *casefile.Facts) {
	if !d.calm && d.chance(3) {
		return
	}
	read := time.Date(2026, 5, 31, 12, 0, 0, 0, time.UTC)
	u := casefile.Upkeep{ReadAt: &read, Hours: maybe(d, 1000.0), Cycles: maybe(d, 1000), Complete: maybe(d, usual(d, true, true, true, false))}
	if d.chance(30) {
		for i := range 1 + d.intN(3) {
			u.Items = append(u.Items, d.upkeepItem("item-"+string(rune('a'+i)), &u))
		}
	}
	f.Upkeep = &u
}

func (d *Dealer) upkeepItem(id string, u *casefile.Upkeep) casefile.UpkeepItem {
	it := casefile.UpkeepItem{ID: id, Kind: pick(d, "directive", "life-limit", "program", "own"), What: "the work", Ended: d.chance(5)}
	left := func() float64 { return usual(d, 100.0, 0.5, 1, 1.5, 2, 3, 0, -5, -9, -10.5) }
	if d.chance(50) {
		it.First = &casefile.DueAt{Through: usual(d, "2027-01-31", "2026-05-31", "2026-06-01", "2026-06-02")}
		if d.chance(50) {
			it.First.Hours = new(1000 + left())
		}
		if d.chance(20) {
			it.First.Cycles = new(1000 + usual(d, 50, 0, 1, -1))
		}
	}
	if it.First == nil || d.chance(50) {
		it.Every = &casefile.Every{Days: pick(d, 0, 30), CalendarMonths: pick(d, 0, 1, 12), Hours: pick(d, 0, 0, 100.0), Cycles: pick(d, 0, 0, 20)}
		if *it.Every == (casefile.Every{}) {
			it.Every.Days = 30
		}
	}
	if d.chance(60) {
		w := casefile.WorkDone{On: usual(d, "2026-05-20", "2026-05-20", "2026-05-02", "2026-05-01", "2025-05-31", "2026-06-02")}
		w.Hours, w.Cycles = maybe(d, min(900+left(), 1000)), maybe(d, 980+usual(d, 10, 0, 1, 2))
		if it.Kind == "program" && it.Every != nil && it.Every.Hours > 0 && d.chance(40) {
			w.OverflownHours = new(pick(d, 0.0, 2, 10))
		}
		it.Done = append(it.Done, w)
	}
	switch it.Kind {
	case "directive":
		it.Citation, it.PermitBarred = "directive "+id, maybe(d, d.chance(30))
	case "own":
		it.Stops = subset(d, 25, "for-hire", "instruction-provided-aircraft", "ifr", "night", "over-water")
	}
	if d.chance(15) {
		it.Part = &casefile.PartReading{Hours: u.Hours, Cycles: u.Cycles}
	}
	return it
}
