package hangar

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
	"tiedown/internal/upkeep"
	"tiedown/internal/walkaround"
)

var dawn = time.Date(2031, time.May, 4, 6, 0, 0, 0, time.UTC)

func inService(number int, hours float64, at time.Time) walkaround.BookEntry {
	return walkaround.BookEntry{Meter: walkaround.TimeInService, Number: number, Hours: hours, At: at, By: "P. Lot", Flight: techlog.ID{7}}
}

// TestWhichReadingCounts holds which reading of the time in service is counted with, and what goes on with it.
func TestWhichReadingCounts(t *testing.T) {
	t.Parallel()
	later, earlier := dawn.Add(time.Hour), dawn.Add(-time.Hour)
	hobbs := walkaround.BookEntry{Meter: walkaround.Hobbs, Number: 3, Hours: 9000, At: dawn.Add(2 * time.Hour)}
	said := casefile.Upkeep{ReadAt: &dawn, Hours: new(4000.0), Items: []casefile.UpkeepItem{
		{ID: "hose", Part: &casefile.PartReading{Hours: new(90.0)}}, {ID: "selector", Done: []casefile.WorkDone{{On: "2031-01-01", Hours: new(3990.0)}}},
	}}
	noHours, noInstant := said, said
	noHours.Hours = nil
	noInstant.ReadAt, noInstant.Hours = nil, nil
	first := inService(1, 4001, earlier)
	for what, c := range map[string]struct {
		upkeep      *casefile.Upkeep
		since       *float64
		book        []walkaround.BookEntry
		began       *walkaround.BookEntry
		source      string
		hours       *float64
		at          *time.Time
		sinceNow    *float64
		part        *float64
		says        string
		alsoShowing int
	}{
		"nobody has said anything": {nil, nil, nil, nil, "none", nil, nil, nil, nil, "Nobody has said", 0},
		"the facts alone":          {&said, new(40.0), nil, nil, "facts", new(4000.0), &dawn, new(40.0), new(90.0), "4000 h of time in service, read 2031-05-04T06:00:00Z", 0},
		"a newer entry": {
			&said, new(40.0),
			[]walkaround.BookEntry{inService(2, 4002.5, later)},
			nil, "book", new(4002.5), &later, new(42.5), new(92.5),
			"Entry 2 of the book of time in service: 4002.5 h, read 2031-05-04T07:00:00Z.", 0,
		},
		"an older entry": {&said, new(40.0), []walkaround.BookEntry{inService(2, 3999, earlier)}, nil, "facts", new(4000.0), &dawn, new(40.0), new(90.0), "The aircraft's facts", 0},
		"a book that contradicts": {
			&said, new(40.0), []walkaround.BookEntry{inService(2, 3995, later)}, nil, "facts", new(4000.0), &dawn, new(40.0), new(90.0), "The book contradicts that: 3995 h", 0,
		},
		"the hour meter is not taken for it": {
			&said, new(40.0), []walkaround.BookEntry{hobbs}, nil, "facts", new(4000.0), &dawn, new(40.0), new(90.0), "The hour meter was read later: it is not time in service", 1,
		},
		"the hour meter after the newer entry": {
			&said, new(40.0), []walkaround.BookEntry{hobbs, inService(2, 4001, later)}, nil, "book", new(4001.0), &later, new(41.0), new(91.0), "The hour meter was read later", 1,
		},
		"nobody knows by how much": {&noHours, new(40.0), []walkaround.BookEntry{inService(2, 4002.5, later)}, nil, "book", new(4002.5), &later, nil, nil, "Entry 2", 0},
		"read at no instant": {
			&noInstant, new(40.0),
			[]walkaround.BookEntry{inService(4, 4003, later)},
			&first, "book", new(4003.0), &later, new(42.0), new(92.0),
			"what they count goes on from the first entry, 4001 h of 2031-05-04T05:00:00Z", 0,
		},
		"more since the inspection than all told": {nil, new(40.0), []walkaround.BookEntry{inService(1, 10, later)}, nil, "book", new(10.0), &later, nil, nil, "Entry 1", 0},
	} {
		m := readFrom(casefile.Facts{Upkeep: c.upkeep, HoursSinceInspection: c.since}, c.book, c.began)
		u := m.facts.Upkeep
		if u == nil {
			u = &casefile.Upkeep{}
		}
		if m.reading.Source != c.source || !is(u.Hours, c.hours) || (u.ReadAt == nil) != (c.at == nil) || c.at != nil && !u.ReadAt.Equal(*c.at) ||
			!is(m.facts.HoursSinceInspection, c.sinceNow) || !strings.Contains(m.reading.Says, c.says) || len(m.reading.Later) != c.alsoShowing {
			t.Errorf("%s: %+v, %+v, since %v", what, m.reading, u, m.facts.HoursSinceInspection)
		}
		if len(u.Items) > 0 && !is(u.Items[0].Part.Hours, c.part) {
			t.Errorf("%s: the part has %v", what, u.Items[0].Part.Hours)
		}
	}
	if *said.Items[0].Part.Hours != 90 || *said.Hours != 4000 {
		t.Error("the facts on record were changed")
	}
}

func is(a, b *float64) bool { return (a == nil) == (b == nil) && (a == nil || *a == *b) }

// TestCyclesGoOnWithFlights holds that where the hours were read after the cycles, the flights between add cycles alone.
func TestCyclesGoOnWithFlights(t *testing.T) {
	t.Parallel()
	later := dawn.Add(3 * time.Hour)
	said := casefile.Upkeep{ReadAt: &dawn, Hours: new(4000.0), Cycles: new(5000)}
	m := readFrom(casefile.Facts{Upkeep: &said}, []walkaround.BookEntry{inService(2, 4001, later)}, nil)
	if from := m.from(later.Add(time.Hour)); !from.Equal(dawn) || !strings.Contains(m.reading.Says, "Cycles are those of the aircraft's facts") {
		t.Errorf("flights from %s: %s", from, m.reading.Says)
	}
	flight := func(ends time.Time) upkeep.Flight {
		return upkeep.Flight{Flight: airworthiness.Flight{Ends: ends, Hours: airworthiness.Given(1.5)}}
	}
	flights := []upkeep.Flight{flight(later), flight(later.Add(time.Minute))}
	m.countOnce(flights)
	if flights[0].Hours.Value != 0 || !flights[0].Hours.Known || flights[1].Hours.Value != 1.5 {
		t.Errorf("%+v", flights)
	}
	said.Cycles = nil
	m = readFrom(casefile.Facts{Upkeep: &said}, []walkaround.BookEntry{inService(2, 4001, later)}, nil)
	if from := m.from(later.Add(time.Hour)); !from.Equal(later) {
		t.Errorf("without cycles, flights from %s", from)
	}
}

// TestANewerReadingNeverGivesMoreTime holds that whatever is entered later, no fewer hours count since the inspection than the
// facts have, unless nobody knows.
func TestANewerReadingNeverGivesMoreTime(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		since := float64(rapid.IntRange(0, 2000).Draw(t, "since")) / 10
		facts := casefile.Facts{HoursSinceInspection: &since}
		if rapid.Bool().Draw(t, "read") {
			facts.Upkeep = &casefile.Upkeep{ReadAt: &dawn}
			if rapid.Bool().Draw(t, "hours") {
				facts.Upkeep.Hours = new(since + float64(rapid.IntRange(0, 500).Draw(t, "total"))/10)
			}
		}
		entry := inService(2, float64(rapid.IntRange(0, 5000).Draw(t, "book"))/10, dawn.Add(time.Duration(rapid.IntRange(-5, 5).Draw(t, "later"))*time.Hour))
		first := inService(1, entry.Hours-float64(rapid.IntRange(0, 100).Draw(t, "began"))/10, dawn)
		m := readFrom(facts, []walkaround.BookEntry{entry}, &first)
		if now := m.facts.HoursSinceInspection; now != nil && *now < since-1e-6 {
			t.Errorf("%v h since the inspection, %v of the facts: %+v", *now, since, m.reading)
		}
	})
}
