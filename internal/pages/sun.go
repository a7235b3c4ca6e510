package pages

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/chart"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// sunView is how light it is where a flight departs, on its day, with the flight in it.
type sunView struct {
	Place   string
	Picture template.HTML
	Says    string
	Spans   []hangar.LitSpan
}

// longestSun is the longest flight whose days are drawn. Beyond it a picture of hours says nothing.
const longestSun = 48 * time.Hour

// sunOf is the day of a leg, from the midnight before it departs to the one after it arrives, in a zone; nil for one that
// takes days.
func sunOf(leg *techlog.Leg, zone *time.Location, number int) *sunView {
	departs, arrives := leg.Departs.In(zone), leg.Arrives.In(zone)
	if arrives.Sub(departs) > longestSun {
		return nil
	}
	midnight := func(at time.Time, days int) time.Time {
		return time.Date(at.Year(), at.Month(), at.Day()+days, 0, 0, 0, 0, zone)
	}
	from, until := midnight(departs, 0), midnight(arrives.Add(-time.Nanosecond), 1)
	s := &sunView{Place: placeOf(leg.From), Spans: hangar.LitBetween(leg.From, from, until)}
	s.Says = s.says(departs, dark(leg.Light))
	hour := func(at time.Time) float64 { return at.Sub(from).Hours() }
	drawn := chart.Day{
		Words: chart.Words{
			ID: "sun-" + strconv.Itoa(number), Title: "The light of " + departs.Format("Mon 2 Jan") + " at " + s.Place + ", with the flight from " + clockOf(departs) + " to " + clockOf(arrives),
			Says: s.Says,
		},
		Hours: hour(until), Flight: chart.Window{From: hour(departs), To: hour(arrives)}, Naming: "flight " + clockOf(departs) + " to " + clockOf(arrives),
	}
	for i, l := range s.Spans {
		drawn.Lit = append(drawn.Lit, chart.Lit{From: hour(l.From), To: hour(l.Until), Light: string(l.Light)})
		if i > 0 && (l.Light == hangar.Night || s.Spans[i-1].Light == hangar.Night) { // where night ends or begins
			drawn.Ticks = append(drawn.Ticks, chart.Tick{X: hour(l.From), Words: clockOf(l.From)})
		}
	}
	for at, every := from, everyHours(drawn.Hours); !at.After(until); at = time.Date(at.Year(), at.Month(), at.Day(), at.Hour()+every, 0, 0, 0, zone) {
		words := at.Format("15")
		if at.Equal(until) {
			words = "24"
		}
		drawn.Clock = append(drawn.Clock, chart.Tick{X: hour(at), Words: words})
	}
	s.Picture = picture(drawn.Draw())
	return s
}

// everyHours is how far the hours that are named lie apart.
func everyHours(hours float64) int {
	if hours > 30 {
		return 12
	}
	return 6
}

func clockOf(at time.Time) string { return at.Format("15:04") }

// says is what the light means for the flight: until when it is day, as night is the line between day VFR and night VFR.
func (s *sunView) says(departs time.Time, part string) string {
	var words []string
	i := 0
	for i+1 < len(s.Spans) && !departs.Before(s.Spans[i].Until) {
		i++
	}
	if len(s.Spans) > 0 {
		words = append(words, s.nextNight(i))
	}
	switch part {
	case "":
		words = append(words, "No part of the flight is night, nor after sunset or before sunrise.")
	case "night":
		words = append(words, "All of the flight is night.")
	default:
		words = append(words, "The flight is "+part+".")
	}
	return strings.Join(words, " ")
}

// nextNight says how the night stands to the span in which the flight departs.
func (s *sunView) nextNight(i int) string {
	at := s.Spans[i]
	end := len(s.Spans) - 1
	if at.Light == hangar.Night {
		if i == end {
			return fmt.Sprintf("At %s night has begun when it departs, at %s.", s.Place, clockOf(at.From))
		}
		return fmt.Sprintf("At %s it is night until %s.", s.Place, zoned(at.Until))
	}
	for _, l := range s.Spans[i:] {
		if l.Light == hangar.Night {
			return fmt.Sprintf("At %s it is day VFR until %s, when night begins%s.", s.Place, zoned(l.From), s.sunset(i))
		}
	}
	return fmt.Sprintf("At %s night does not fall on that day.", s.Place)
}

// sunset is when the sun sets after the flight departs, as far as it does.
func (s *sunView) sunset(i int) string {
	for n := i; n+1 < len(s.Spans); n++ {
		if s.Spans[n].Light == hangar.Day && s.Spans[n+1].Light != hangar.Day {
			return "; the sun sets at " + clockOf(s.Spans[n].Until)
		}
	}
	return ""
}

func zoned(at time.Time) string { return at.Format("15:04 MST") }
