package airworthiness_test

import (
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
)

// mel draws an MEL that lists much of what a flight can do without.
func (c care) mel(t *rapid.T) airworthiness.MEL {
	m := airworthiness.MEL{
		OnRecord: c.truth(t, 97, "mel on record"), LetterAboard: c.truth(t, 95, "letter aboard"), Aboard: c.truth(t, 98, "mel aboard"),
		Authority: c.word(t, "mel_authority", "letter", "certificate"),
	}
	for _, item := range []string{
		"intercom", "cabin-heater", "autopilot", "hour-meter", "dme", "vacuum-pump", "attitude-indicator", "heading-indicator",
		"landing-light", "elt", "transponder", "altitude-encoder", "ads-b-out", "nav-com-radio", "com-radio", "safety-belt",
	} {
		if !c.bad(t, 20, item+" unlisted") {
			m.Rows = append(m.Rows, c.melRow(t, item))
		}
	}
	return m
}

func (c care) melRow(t *rapid.T, item string) airworthiness.MELRow {
	return airworthiness.MELRow{
		Item: item, Installed: drawFact(t, c, "installed", 1, 2), Required: drawFact(t, c, "required", 0, 1, 2),
		Category: c.word(t, "mel_category", "B", "C", "D", "A"), Days: drawFact(t, c, "days", 5, 1, 100),
		Operations: c.truth(t, 20, "operations"), Maintenance: c.truth(t, 20, "maintenance"),
		Proviso:  rapid.SampledFrom([]string{"", "", "", "not in company"}).Draw(t, "proviso"),
		OnlyWhen: rapid.SampledFrom([]string{"", "", "", "!night", "!ifr !night", "for-hire", "!altitude-above:9000"}).Draw(t, "only when"),
		Document: "page of " + item,
	}
}

// permit draws a special flight permit that mostly covers what may be wrong, and mostly serves the flight.
func (c care) permit(t *rapid.T) *airworthiness.Permit {
	p := &airworthiness.Permit{
		Number: "SF-0001", Issued: drawFact(t, c, "issued", day("2026-05-30"), day("2026-06-02")),
		ValidFrom:        drawFact(t, c, "valid from", time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC), time.Date(2026, 6, 1, 16, 0, 0, 0, time.UTC)),
		ValidUntil:       drawFact(t, c, "valid until", time.Date(2026, 6, 1, 18, 0, 0, 0, time.UTC), time.Date(2026, 6, 1, 17, 0, 0, 0, time.UTC)),
		Kinds:            drawFact(t, c, "kinds", airworthiness.Kinds(15), airworthiness.DayVFR, airworthiness.DayVFR|airworthiness.NightVFR),
		OnlyRequiredCrew: c.truth(t, 20, "only required crew"), Limitations: []string{"direct"},
	}
	for _, id := range []string{"first", "squawk-a", "squawk-b", "squawk-b2", "squawk-c", "squawk-d", "zz"} {
		if !c.bad(t, 30, "uncovered") {
			p.Covers = append(p.Covers, id)
		}
	}
	return p
}

// found draws what became of a condition, mostly all that it takes.
func (c care) found(t *rapid.T) *airworthiness.Found {
	return &airworthiness.Found{
		Result: rapid.SampledFrom([]airworthiness.FoundResult{
			airworthiness.FoundRepaired, airworthiness.FoundWithinLimits, airworthiness.FoundUnstated,
		}).Draw(t, "result"),
		Rated: c.truth(t, 95, "rated"), Data: c.truth(t, 95, "data"), Approved: c.truth(t, 95, "approved"),
	}
}
