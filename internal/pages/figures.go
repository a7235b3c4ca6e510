package pages

import (
	"html/template"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/chart"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// figureRoutes are the pages about figures: what is measured, what comes due, papers and meters.
func (p *pages) figureRoutes() {
	p.acting("GET /aircraft/{aircraft}/trends", p.showTrends)
	p.acting("GET /aircraft/{aircraft}/trends/{check}", p.showTrend)
	p.acting("GET /aircraft/{aircraft}/trends/{check}/measurements.csv", p.sendMeasurements)
	p.acting("GET /aircraft/{aircraft}/due", p.showDue)
	p.acting("GET /aircraft/{aircraft}/papers", p.showPapers)
	p.acting("GET /aircraft/{aircraft}/meters", p.showMeters)
	p.acting("POST /aircraft/{aircraft}/meters", p.enterMeters)
	p.acting("GET /due", p.showFleetDue)
	p.acting("GET /availability", p.showAvailability)
}

// picture puts a picture into a page.
func picture(m chart.Markup) template.HTML {
	return template.HTML(m) //nolint:gosec // the room that draws it escapes whatever words it is given
}

// about is the aircraft that a page is about, with its base.
type about struct {
	Aircraft techlog.Aircraft
	Base     techlog.Base
	Zone     *time.Location // of the base
}

// aboutNamed reads the aircraft that the address names.
func (p *pages) aboutNamed(v *visit) (about, error) {
	a, err := p.aircraftNamed(v)
	if err != nil {
		return about{}, err
	}
	base, err := p.Service.Base(v, v.who, a.Base)
	return about{a, base, zoneOf(base)}, err
}

// decimal writes a number as people do: with thousands apart, and to so many places at most.
func decimal(x float64, places int) string {
	text := strconv.FormatFloat(x, 'f', places, 64)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	whole, rest, _ := strings.Cut(text, ".")
	sign := ""
	if strings.HasPrefix(whole, "-") {
		sign, whole = "−", whole[1:]
	}
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if rest != "" {
		whole += "." + rest
	}
	if whole == "0" {
		sign = "" // it is nothing once it is rounded
	}
	return sign + whole
}

// decimalOf writes a number of a template, to the hundredth, be it there or pointed to.
func decimalOf(x any) string {
	switch x := x.(type) {
	case float64:
		return decimal(x, 2)
	case *float64:
		if x != nil {
			return decimal(*x, 2)
		}
	case int:
		return decimal(float64(x), 0)
	}
	return ""
}

// meterName is a meter as people read it.
func meterName(meter string) string { return upperFirst(walkaround.Meter(meter).Name()) }
