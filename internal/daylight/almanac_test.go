package daylight_test

import (
	"math"
	"testing"
	"time"
	_ "time/tzdata" // the zones of the tests, whatever the machine has

	"tiedown/internal/daylight"
)

// printed is one date of an almanac: the four times as HHMM, or one of
//
//	""    not in that table
//	none  no such event on that date, though the sun crosses the limit
//	up    the sun is above the limit all day (printed **** or ////)
//	down  the sun is below the limit all day (printed ---- or ====)
type printed struct{ date, dawn, rise, set, dusk string }

const (
	none = "none"
	up   = "up"
	down = "down"
)

// almanac is one published table. Only figures were carried over, and only some.
type almanac struct {
	source string
	place  daylight.Place
	zone   *time.Location
	days   []printed
}

func dm(degrees, minutes float64) float64 { return degrees + minutes/60 }

func hoursEast(hours int) *time.Location { return time.FixedZone("", hours*3600) }

func zone(name string) *time.Location {
	loc, err := time.LoadLocation(name)
	if err != nil {
		panic(err)
	}
	return loc
}

// The U.S. Naval Observatory's tables, which are printed to the minute, as kept in public repositories.
var almanacs = []almanac{
	{
		source: "USNO, Rise and Set for the Sun for 2023, Fredonia AZ; in skyfielders/python-skyfield, design/test_sunrise_moonrise.py",
		place:  daylight.Place{Lat: dm(36, 57), Lon: -dm(112, 31)},
		zone:   hoursEast(-7),
		days: []printed{
			{date: "2023-01-01", rise: "0743", set: "1724"},
			{date: "2023-03-20", rise: "0634", set: "1842"},
			{date: "2023-06-21", rise: "0511", set: "1953"},
			{date: "2023-09-23", rise: "0619", set: "1826"},
			{date: "2023-12-21", rise: "0739", set: "1717"},
		},
	},
	{
		source: "USNO, Rise and Set for the Sun for 2012, San Francisco CA; in shields/clocky, solar/solar.go",
		place:  daylight.Place{Lat: dm(37, 46), Lon: -dm(122, 26)},
		zone:   hoursEast(-8),
		days: []printed{
			{date: "2012-02-29", rise: "0642", set: "1803"},
			{date: "2012-07-04", rise: "0453", set: "1935"},
			{date: "2012-11-04", rise: "0639", set: "1707"},
			{date: "2012-12-31", rise: "0725", set: "1701"},
		},
	},
	{
		source: "USNO, Sun and Moon Data for One Day, Atlanta GA, daylight time; in the PyEphem documentation, rhodesmill.org/pyephem/rise-set.html",
		place:  daylight.Place{Lat: 33.8, Lon: -84.4},
		zone:   zone("America/New_York"),
		days:   []printed{{"2009-09-06", "0650", "0715", "1956", "2021"}},
	},
	{
		source: "USNO, Sun and Moon Data for One Day, Mauna Kea HI; in aallan/perl-modules-for-astronomy, JACH/Astro-Coords-0.07/t/riseset.t",
		place:  daylight.Place{Lat: dm(19, 49), Lon: -dm(155, 29)},
		zone:   zone("Pacific/Honolulu"),
		days:   []printed{{"2003-07-15", "0527", "0551", "1904", "1928"}},
	},
	{
		source: "USNO, Rise and Set for the Sun for 2020, Singapore; in klausbrunner/solarpositioning, src/test/resources/sunrise/raw/singapore.txt",
		place:  daylight.Place{Lat: dm(1, 17), Lon: dm(103, 50)},
		zone:   time.UTC,
		days: []printed{
			{date: "2020-03-20", rise: "2309", set: "1115"},
			{date: "2020-06-21", rise: "2301", set: "1112"},
			{date: "2020-12-21", rise: "2302", set: "1104"},
		},
	},
	{
		source: "USNO, Civil Twilight for 2023, Singapore; in klausbrunner/solarpositioning, src/test/resources/sunrise/raw/singapore-civil.txt",
		place:  daylight.Place{Lat: dm(1, 17), Lon: dm(103, 50)},
		zone:   time.UTC,
		days: []printed{
			{date: "2023-03-20", dawn: "2248", dusk: "1136"},
			{date: "2023-06-21", dawn: "2238", dusk: "1135"},
			{date: "2023-12-21", dawn: "2239", dusk: "1127"},
		},
	},
	{
		source: "USNO, Rise and Set for the Sun for 2020, Brasilia; in klausbrunner/solarpositioning, src/test/resources/sunrise/brasilia.txt",
		place:  daylight.Place{Lat: -dm(15, 48), Lon: -dm(47, 51)},
		zone:   time.UTC,
		days: []printed{
			{date: "2020-01-15", rise: "0852", set: "2150"},
			{date: "2020-07-15", rise: "0939", set: "2056"},
		},
	},
	{
		source: "USNO, Civil Twilight for 2023, Brasilia; in klausbrunner/solarpositioning, src/test/resources/net/e175/klaus/solarpositioning/test/sunrise/raw/brasilia-civil.txt",
		place:  daylight.Place{Lat: -dm(15, 48), Lon: -dm(47, 51)},
		zone:   time.UTC,
		days: []printed{
			{date: "2023-01-15", dawn: "0828", dusk: "2213"},
			{date: "2023-07-15", dawn: "0916", dusk: "2119"},
		},
	},
	{
		source: "USNO, Rise and Set for the Sun for 2020, Auckland; in klausbrunner/solarpositioning, src/test/resources/sunrise/raw/auckland.txt",
		place:  daylight.Place{Lat: -dm(36, 50), Lon: dm(174, 48)},
		zone:   time.UTC,
		days: []printed{
			{date: "2020-01-05", rise: "1709", set: "0744"},
			{date: "2020-03-20", rise: "1825", set: "0632"},
			{date: "2020-06-21", rise: "1934", set: "0512"},
			{date: "2020-09-22", rise: "1809", set: "0617"},
		},
	},
	{
		source: "USNO, Civil Twilight for 2023, Auckland; in klausbrunner/solarpositioning, src/test/resources/sunrise/raw/auckland-civil.txt",
		place:  daylight.Place{Lat: -dm(36, 50), Lon: dm(174, 48)},
		zone:   time.UTC,
		days: []printed{
			{date: "2023-01-05", dawn: "1638", dusk: "0814"},
			{date: "2023-06-21", dawn: "1905", dusk: "0540"},
			{date: "2023-12-21", dawn: "1627", dusk: "0810"},
		},
	},
	{
		source: "USNO, Rise and Set for the Sun and Civil Twilight for 2020, Anchorage; in klausbrunner/solarpositioning, src/test/resources/sunrise/anchorage.txt and .../test/sunrise/raw/anchorage-civil.txt",
		place:  daylight.Place{Lat: dm(61, 13), Lon: -dm(149, 52)},
		zone:   time.UTC,
		days: []printed{
			{"2020-01-05", "1811", "1911", "0057", "0158"},
			{"2020-03-20", "1515", "1558", "0414", "0457"},
			{"2020-06-05", "1024", "1229", "0727", "0932"},
			{"2020-06-20", up, "1220", "0742", up},
			{"2020-07-05", "1021", "1234", "0735", "0948"},
			{"2020-12-21", "1812", "1914", "0041", "0143"},
		},
	},
	{
		source: "USNO, Rise and Set for the Sun for 2020, Longyearbyen; in klausbrunner/solarpositioning, src/test/resources/sunrise/raw/longyearbyen.txt",
		place:  daylight.Place{Lat: dm(78, 13), Lon: dm(15, 38)},
		zone:   time.UTC,
		days: []printed{
			{date: "2020-02-15", rise: down, set: down},
			{date: "2020-02-16", rise: "1032", set: "1154"},
			{date: "2020-03-20", rise: "0448", set: "1725"},
			{date: "2020-04-16", rise: "0020", set: "2155"}, // and rise 2357
			{date: "2020-04-17", rise: "2318", set: "2234"},
			{date: "2020-04-18", rise: up, set: up},
			{date: "2020-06-21", rise: up, set: up},
			{date: "2020-08-23", rise: up, set: up},
			{date: "2020-08-24", rise: "2350", set: "2211"},
			{date: "2020-08-25", rise: none, set: "2145"},
			{date: "2020-10-25", rise: "0950", set: "1131"},
			{date: "2020-10-26", rise: down, set: down},
			{date: "2020-12-21", rise: down, set: down},
		},
	},
	{
		source: "USNO, Civil Twilight for 2023, Longyearbyen; in klausbrunner/solarpositioning, src/test/resources/sunrise/raw/longyearbyen-civil.txt",
		place:  daylight.Place{Lat: dm(78, 13), Lon: dm(15, 39)},
		zone:   time.UTC,
		days: []printed{
			{date: "2023-01-29", dawn: down, dusk: down},
			{date: "2023-01-30", dawn: "1039", dusk: "1144"},
			{date: "2023-04-03", dawn: "0018", dusk: "2208"}, // and dawn 2351
			{date: "2023-04-04", dawn: up, dusk: up},
			{date: "2023-09-07", dawn: up, dusk: up},
			{date: "2023-09-08", dawn: "2346", dusk: "2207"},
			{date: "2023-09-09", dawn: none, dusk: "2139"},
			{date: "2023-11-12", dawn: "1010", dusk: "1111"},
			{date: "2023-11-13", dawn: down, dusk: down},
		},
	},
	{
		source: "USNO, Rise and Set for the Sun for 2020, McMurdo Station; in klausbrunner/solarpositioning, src/test/resources/net/e175/klaus/solarpositioning/test/sunrise/raw/mcmurdo.txt",
		place:  daylight.Place{Lat: -dm(77, 51), Lon: dm(166, 40)},
		zone:   time.UTC,
		days: []printed{
			{date: "2020-02-19", rise: up, set: up},
			{date: "2020-02-20", rise: "1402", set: "1214"},
			{date: "2020-04-23", rise: none, set: "0147"},
			{date: "2020-04-24", rise: "0036", set: "0105"},
			{date: "2020-04-25", rise: down, set: down},
			{date: "2020-08-18", rise: down, set: down},
			{date: "2020-08-19", rise: "0006", set: "0150"}, // and rise 2342
			{date: "2020-10-21", rise: "1333", set: "1141"},
			{date: "2020-10-22", rise: up, set: up},
		},
	},
	{
		source: "USNO, Civil Twilight for 2023, McMurdo Station; in klausbrunner/solarpositioning, src/test/resources/sunrise/raw/mcmurdo-civil.txt",
		place:  daylight.Place{Lat: -dm(77, 51), Lon: dm(166, 40)},
		zone:   time.UTC,
		days: []printed{
			{date: "2023-03-04", dawn: up, dusk: up},
			{date: "2023-03-05", dawn: "1339", dusk: "1233"},
			{date: "2023-05-11", dawn: none, dusk: "0148"},
			{date: "2023-05-12", dawn: "0015", dusk: "0123"},
			{date: "2023-05-13", dawn: down, dusk: down},
			{date: "2023-08-01", dawn: "0045", dusk: "0116"},
			{date: "2023-08-02", dawn: "0010", dusk: "0151"}, // and dawn 2350
			{date: "2023-10-08", dawn: "1327", dusk: "1153"},
			{date: "2023-10-09", dawn: up, dusk: up},
		},
	},
}

// The height in degrees by which sun and place may be out against a printed table: the 0.01 that Meeus gives for the
// method, and half a minute of arc each way in the printed latitude and longitude.
const printedHeight = 0.01 + 0.5*math.Sqrt2/60

// tolerance is how long the sun takes, at a crossing at instant at, to pass through height degrees: seconds at
// middle latitudes and many minutes at the poles.
func tolerance(p daylight.Place, at time.Time, height float64) time.Duration {
	const step = time.Minute
	slope := math.Abs(daylight.Altitude(p, at.Add(step))-daylight.Altitude(p, at.Add(-step))) / (2 * step.Seconds())
	return time.Duration(height / slope * float64(time.Second))
}

func TestAlmanac(t *testing.T) {
	t.Parallel()
	for _, table := range almanacs {
		for _, want := range table.days {
			t.Run(table.source+" "+want.date, func(t *testing.T) {
				t.Parallel()
				date, err := time.ParseInLocation(time.DateOnly, want.date, table.zone)
				if err != nil {
					t.Fatal(err)
				}
				got := daylight.Of(table.place, date.Year(), date.Month(), date.Day(), table.zone)
				checkState(t, "sun", got.Sun, want.rise)
				checkState(t, "civil", got.Civil, want.dawn)
				table.check(t, "civil dawn", got.CivilDawn, want.date, want.dawn)
				table.check(t, "sunrise", got.Sunrise, want.date, want.rise)
				table.check(t, "sunset", got.Sunset, want.date, want.set)
				table.check(t, "civil dusk", got.CivilDusk, want.date, want.dusk)
			})
		}
	}
}

func checkState(t *testing.T, name string, got daylight.State, entry string) {
	t.Helper()
	want := daylight.Crosses
	switch entry {
	case "":
		return
	case up:
		want = daylight.UpAllDay
	case down:
		want = daylight.DownAllDay
	}
	if got != want {
		t.Errorf("%s: %v, printed %v", name, got, want)
	}
}

func (a almanac) check(t *testing.T, name string, got time.Time, date, entry string) {
	t.Helper()
	switch entry {
	case "":
		return
	case none, up, down:
		if !got.IsZero() {
			t.Errorf("%s at %v, printed none", name, got)
		}
		return
	}
	want, err := time.ParseInLocation(time.DateOnly+" 1504", date+" "+entry, a.zone)
	if err != nil {
		t.Fatal(err)
	}
	const rounding = 30 * time.Second
	most := time.Minute
	if math.Abs(a.place.Lat) > 60 {
		most = 2 * time.Minute
	}
	allowed := min(most, rounding+tolerance(a.place, want, printedHeight))
	if off := got.Sub(want); got.IsZero() || off.Abs() > allowed {
		t.Errorf("%s at %v, printed %v: %v apart, allowed %v", name, got, want, off, allowed)
	}
}
