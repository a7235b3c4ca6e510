package hangar

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/upkeep"
	"tiedown/internal/walkaround"
)

// metered is an aircraft's facts as of the newest reading of its time in service.
type metered struct {
	facts   casefile.Facts
	reading casefile.DueReading
	cycles  time.Time // when the cycles were read, where that was before the hours; zero: with them
}

// readFrom gives facts as of the book's last entry of time in service, where it is newer than what they say themselves: what
// was counted up to their own reading goes on by as much as the book has. No other meter is taken for time in service
// (14 CFR 1.1). A book that has less than the facts contradicts them, and is not counted with. began is the first entry of
// the book: facts that do not say when they were read are counted on from it, rather too much than too little; nil: they
// are taken to be so now.
func readFrom(facts casefile.Facts, book []walkaround.BookEntry, began *walkaround.BookEntry) metered {
	said := casefile.Upkeep{}
	if facts.Upkeep != nil {
		said = *facts.Upkeep
	}
	m := metered{facts: facts, reading: saysOf(&said)}
	i := slices.IndexFunc(book, func(e walkaround.BookEntry) bool { return e.Meter == walkaround.TimeInService })
	if i < 0 {
		m.later(book, said.ReadAt)
		return m
	}
	entry := book[i]
	switch {
	case said.ReadAt != nil && !entry.At.After(*said.ReadAt):
	case entry.Hours < greatest(&said):
		m.reading.Says += fmt.Sprintf(" The book contradicts that: %s h of %s. Correct one of them.", hours(entry.Hours), entry.At.UTC().Format(time.RFC3339))
	default:
		m.goOn(said, &entry, began)
		m.later(book, &entry.At)
		return m
	}
	m.later(book, said.ReadAt)
	return m
}

// read gives a snapshot's facts as of the newest reading: those that are judged.
func (snap *Snapshot) read() metered {
	if len(snap.InService) == 0 {
		return readFrom(snap.Aircraft.Facts, nil, nil)
	}
	last := len(snap.InService) - 1
	return readFrom(snap.Aircraft.Facts, snap.InService[last:], &snap.InService[0])
}

// Judged is the aircraft in the written form, as it is judged: by the newest reading of its time in service.
func (snap *Snapshot) Judged() casefile.Aircraft {
	return casefile.Aircraft{Facts: snap.read().facts, Configuration: snap.Aircraft.Configuration}
}

// goOn moves what the facts count to an entry of the book.
func (m *metered) goOn(said casefile.Upkeep, entry, began *walkaround.BookEntry) {
	was := said.Hours
	if said.ReadAt == nil {
		if was = &entry.Hours; began != nil {
			was = &began.Hours
		}
	}
	// What was read with the hours goes on with them; without hours nobody knows by how much.
	on := func(count *float64) *float64 {
		if count == nil || was == nil {
			return nil
		}
		return new(max(round(*count+entry.Hours-*was), 0))
	}
	now := said
	now.Hours, now.ReadAt, now.Items = &entry.Hours, &entry.At, slices.Clone(said.Items)
	counts := said.Cycles != nil
	for i := range now.Items {
		if part := now.Items[i].Part; part != nil {
			now.Items[i].Part = &casefile.PartReading{Hours: on(part.Hours), Cycles: part.Cycles}
			counts = counts || part.Cycles != nil
		}
	}
	m.facts.HoursSinceInspection = on(m.facts.HoursSinceInspection)
	if since := m.facts.HoursSinceInspection; since != nil && *since > entry.Hours {
		m.facts.HoursSinceInspection = nil // it cannot be
	}
	m.facts.Upkeep = &now
	m.reading = casefile.DueReading{
		Source: "book", Entry: entry.Number, By: entry.By,
		Says: fmt.Sprintf("Entry %d of the book of time in service: %s h, read %s.", entry.Number, hours(entry.Hours), entry.At.UTC().Format(time.RFC3339)),
	}
	if said.ReadAt == nil && began != nil && m.facts.HoursSinceInspection != nil {
		m.reading.Says += fmt.Sprintf(" The facts do not say when they were read: what they count goes on from the first entry, %s h of %s.",
			hours(began.Hours), began.At.UTC().Format(time.RFC3339))
	}
	if !entry.Flight.IsZero() {
		m.reading.Flight = entry.Flight.String()
	}
	if counts && said.ReadAt != nil {
		m.cycles = *said.ReadAt
		m.reading.Says += fmt.Sprintf(" Cycles are those of the aircraft's facts, read %s, and go on with the flights since.", said.ReadAt.UTC().Format(time.RFC3339))
	}
}

// alsoRead notes the meters of a book that were read after the time in service was.
func (m *metered) alsoRead(book []walkaround.BookEntry) {
	if u := m.facts.Upkeep; u != nil {
		m.later(book, u.ReadAt)
		return
	}
	m.later(book, nil)
}

// later notes the other meters that were read after an instant: hours may have been flown that nobody has entered.
func (m *metered) later(book []walkaround.BookEntry, than *time.Time) {
	m.reading.Later = []casefile.LaterReading{}
	for _, e := range book {
		if e.Meter != walkaround.TimeInService && (than == nil || e.At.After(*than)) {
			m.reading.Later = append(m.reading.Later, casefile.LaterReading{Meter: string(e.Meter), Hours: e.Hours, At: e.At})
			m.reading.Says += fmt.Sprintf(" The %s was read later: it is not time in service, which has to be entered.", e.Meter.Name())
		}
	}
}

// from is the instant after which flights count.
func (m *metered) from(now time.Time) time.Time {
	from := now
	if u := m.facts.Upkeep; u != nil && u.ReadAt != nil && u.ReadAt.Before(from) {
		from = *u.ReadAt
	}
	if !m.cycles.IsZero() && m.cycles.Before(from) {
		from = m.cycles
	}
	return from
}

// countOnce takes out the hours of flights that the reading has already: what they add is cycles.
func (m *metered) countOnce(flights []upkeep.Flight) {
	if m.cycles.IsZero() {
		return
	}
	for i := range flights {
		if !flights[i].Ends.After(*m.facts.Upkeep.ReadAt) {
			flights[i].Hours, flights[i].WindowHours = airworthiness.Given(0.0), airworthiness.Given(0.0)
		}
	}
}

// saysOf is the reading that the facts have themselves.
func saysOf(u *casefile.Upkeep) casefile.DueReading {
	switch {
	case u.ReadAt == nil:
		return casefile.DueReading{Source: "none", Says: "Nobody has said how much time in service the aircraft has."}
	case u.Hours == nil:
		return casefile.DueReading{Source: "facts", Says: fmt.Sprintf("The aircraft's facts, read %s, without time in service.", u.ReadAt.UTC().Format(time.RFC3339))}
	default:
		return casefile.DueReading{
			Source: "facts",
			Says:   fmt.Sprintf("The aircraft's facts: %s h of time in service, read %s.", hours(*u.Hours), u.ReadAt.UTC().Format(time.RFC3339)),
		}
	}
}

// greatest is the most time in service that the facts speak of.
func greatest(u *casefile.Upkeep) float64 {
	most := 0.0
	if u.Hours != nil {
		most = *u.Hours
	}
	for i := range u.Items {
		for _, w := range u.Items[i].Done {
			if u.Items[i].Part == nil && w.Hours != nil {
				most = max(most, *w.Hours)
			}
		}
	}
	return most
}

// round takes out what adding hundredths in binary puts in.
func round(hours float64) float64 { return math.Round(hours*1e6) / 1e6 }

func hours(h float64) string { return strconv.FormatFloat(round(h), 'f', -1, 64) }
