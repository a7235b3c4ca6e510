package daylight_test

import (
	"testing"
	"time"

	"tiedown/internal/daylight"
)

// Instants to the second from a full ephemeris, where the almanac's minutes can't show an error or its tables don't
// reach: JPL DE440s through Skyfield 1.55, as recorded in klausbrunner/solarpositioning,
// src/test/resources/net/e175/klaus/solarpositioning/test/sunrise/jpl_events.csv. An empty entry is one that
// doesn't occur on the date. Dates are in UTC.
var ephemeris = []struct {
	name                  string
	place                 daylight.Place
	date                  string
	dawn, rise, set, dusk string
	sun, civil            daylight.State
}{
	{
		"Colorado",
		daylight.Place{Lat: 39.742476, Lon: -105.1786},
		"2003-10-17",
		"12:45:29", "13:12:44", "00:20:18", "00:47:30", daylight.Crosses, daylight.Crosses,
	},
	{
		"Vienna at the equinox",
		daylight.Place{Lat: 48.21, Lon: 16.37},
		"2024-03-20",
		"04:25:44", "04:56:48", "17:07:47", "17:38:56", daylight.Crosses, daylight.Crosses,
	},
	{
		"Auckland in summer",
		daylight.Place{Lat: -36.84, Lon: 174.74},
		"2024-12-21",
		"16:28:02", "16:58:49", "07:39:51", "08:10:38", daylight.Crosses, daylight.Crosses,
	},
	{
		"equator beside the date line",
		daylight.Place{Lat: 0, Lon: 179.9},
		"2020-06-10",
		"17:33:55", "17:56:23", "06:03:31", "06:25:59", daylight.Crosses, daylight.Crosses,
	},
	{
		"Anchorage in summer",
		daylight.Place{Lat: dm(61, 13), Lon: -dm(149, 52)},
		"2020-07-05",
		"10:21:04", "12:33:48", "07:34:47", "09:47:30", daylight.Crosses, daylight.Crosses,
	},
	{
		"Longyearbyen, two sunrises",
		daylight.Place{Lat: 78.216667, Lon: 15.633333},
		"2020-04-16",
		"", "00:19:45", "21:54:55", "", daylight.Crosses, daylight.UpAllDay,
	},
	{
		"Longyearbyen, sunset only",
		daylight.Place{Lat: 78.216667, Lon: 15.633333},
		"2020-08-25",
		"", "", "21:45:08", "", daylight.Crosses, daylight.UpAllDay,
	},
	{
		"Longyearbyen, first sunrise",
		daylight.Place{Lat: 78.216667, Lon: 15.633333},
		"2020-02-16",
		"07:21:35", "10:31:29", "11:53:50", "15:04:05", daylight.Crosses, daylight.Crosses,
	},
	{
		"antarctic circle, sunset only",
		daylight.Place{Lat: -66.566667, Lon: 0},
		"2025-01-05",
		"", "", "23:42:12", "", daylight.Crosses, daylight.UpAllDay,
	},
	{
		"north pole, sunrise of the year",
		daylight.Place{Lat: 90, Lon: 0},
		"2024-03-18",
		"", "00:39:48", "", "", daylight.Crosses, daylight.UpAllDay,
	},
	{
		"south pole, sunrise of the year",
		daylight.Place{Lat: -90, Lon: 0},
		"2024-09-20",
		"", "09:26:22", "", "", daylight.Crosses, daylight.UpAllDay,
	},
	{
		"north pole in summer",
		daylight.Place{Lat: 90, Lon: 0},
		"2024-06-21",
		"", "", "", "", daylight.UpAllDay, daylight.UpAllDay,
	},
	{
		"south pole in summer",
		daylight.Place{Lat: -90, Lon: 0},
		"2024-12-21",
		"", "", "", "", daylight.UpAllDay, daylight.UpAllDay,
	},
}

func TestEphemeris(t *testing.T) {
	t.Parallel()
	for _, want := range ephemeris {
		t.Run(want.name, func(t *testing.T) {
			t.Parallel()
			date, err := time.Parse(time.DateOnly, want.date)
			if err != nil {
				t.Fatal(err)
			}
			got := daylight.Of(want.place, date.Year(), date.Month(), date.Day(), time.UTC)
			if got.Sun != want.sun || got.Civil != want.civil {
				t.Errorf("sun %v, civil %v; want %v, %v", got.Sun, got.Civil, want.sun, want.civil)
			}
			for _, event := range []struct {
				name string
				got  time.Time
				want string
			}{
				{"civil dawn", got.CivilDawn, want.dawn},
				{"sunrise", got.Sunrise, want.rise},
				{"sunset", got.Sunset, want.set},
				{"civil dusk", got.CivilDusk, want.dusk},
			} {
				checkInstant(t, event.name, want.place, event.got, want.date, event.want)
			}
		})
	}
}

// checkInstant allows for the method's 0.01 degree, for the sun's parallax of 8.8 seconds of arc, which the
// ephemeris has and the almanac's definition leaves out, and for figures rounded to the second.
func checkInstant(t *testing.T, name string, p daylight.Place, got time.Time, date, entry string) {
	t.Helper()
	if entry == "" {
		if !got.IsZero() {
			t.Errorf("%s at %v, want none", name, got)
		}
		return
	}
	want, err := time.Parse(time.DateTime, date+" "+entry)
	if err != nil {
		t.Fatal(err)
	}
	allowed := time.Second + tolerance(p, want, 0.01+8.8/3600)
	if off := got.Sub(want); got.IsZero() || off.Abs() > allowed {
		t.Errorf("%s at %v, want %v: %v apart, allowed %v", name, got, want, off, allowed)
	}
}
