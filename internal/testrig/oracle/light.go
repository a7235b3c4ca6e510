package oracle

import (
	"tiedown/internal/casefile"
	"tiedown/internal/daylight"
)

// lightAlong is the light of a flight whose route is known. The sun is not the oracle's to compute.
func lightAlong(f casefile.Flight) (casefile.Light, *bool) {
	route := make([]daylight.Place, 0, len(f.Route))
	for _, p := range f.Route {
		if p.Lat == nil || p.Lon == nil {
			return casefile.Light{}, nil
		}
		route = append(route, daylight.Place{Lat: *p.Lat, Lon: *p.Lon})
	}
	return casefile.LightAlong(route, f.Departs, f.Arrives)
}
