package postgres_test

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// TestWhateverIsWrittenReadsBackAsEntered writes records with whatever texts, numbers, instants and documents there can
// be: what the program enters is what it reads when it verifies.
func TestWhateverIsWrittenReadsBackAsEntered(t *testing.T) {
	t.Parallel()
	l := newLogged(t)
	text := rapid.Map(rapid.String(), func(s string) string { return "." + strings.ReplaceAll(s, "\x00", "") }) // which no database keeps
	number := rapid.OneOf(rapid.Float64(), rapid.Map(rapid.IntRange(-1e9, 1e9), func(n int) float64 { return float64(n) / 1000 }), rapid.Just(0.0))
	finite := number.Filter(func(f float64) bool { return f-f == 0 })
	instant := rapid.Map(rapid.Int64Range(-5e9, 5e9), func(n int64) time.Time { return time.Unix(n, n&0x3fffffff%1e9) })
	squawks := 1
	rapid.Check(t, func(rt *rapid.T) {
		base, aircraft, squawk := newID(), newID(), newID()
		b := baseOf(base, base.String())
		b.Name, b.Zone = text.Draw(rt, "name"), text.Draw(rt, "zone")
		b.Lat, b.Lon = rapid.Float64Range(-90, 90).Draw(rt, "lat"), rapid.Float64Range(-180, 180).Draw(rt, "lon")
		a := aircraftOf(aircraft, base, aircraft.String())
		a.Facts = casefile.Facts{
			Category: text.Draw(rt, "category"), MaxTakeoffWeightLb: new(finite.Draw(rt, "weight")), HoursSinceInspection: new(finite.Draw(rt, "hours")),
		}
		a.Configuration = casefile.Configuration{Units: []casefile.Unit{{ID: text.Draw(rt, "unit"), Serves: rapid.SliceOf(rapid.Int()).Draw(rt, "serves")}}}
		squawks++
		s := squawkOf(squawk, l.aircraft, squawks)
		s.Unit, s.Item, s.Words, s.ReportedAt = text.Draw(rt, "on"), text.Draw(rt, "item"), text.Draw(rt, "words"), instant.Draw(rt, "at")
		if err := l.change(t, func(tx hangar.Tx) {
			tx.AddBase(b)
			tx.AddAircraft(a)
			tx.AddConfiguration(techlog.ConfigurationRevision{Aircraft: aircraft, Revision: 1, At: s.ReportedAt, By: text.Draw(rt, "by"), Configuration: a.Configuration})
			tx.AddSquawk(s)
			tx.AddHistory(entryOf(s, techlog.StepReport))
		}); err != nil {
			rt.Fatal(err)
		}
	})
	if faults := l.verify(t); len(faults) > 0 {
		t.Errorf("%.3000q", faults)
	}
}
