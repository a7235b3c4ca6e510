package pages

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/casefile"
)

// TestTimesOnTheWall: in the United States clocks go forward at 2 h on the second Sunday of March and back at 2 h on the first
// Sunday of November (15 U.S.C. 260a): 14 March and 7 November 2027. A time that they skip is refused, and one that they show
// twice asks which is meant.
func TestTimesOnTheWall(t *testing.T) {
	t.Parallel()
	chicago, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		said, which, want, rule string
		twice                   bool
	}{
		{"2027-03-14T01:59", "", "2027-03-14T07:59:00Z", "", false},
		{"2027-03-14T02:30", "", "", "clock-change", false},
		{"2027-03-14T03:00", "", "2027-03-14T08:00:00Z", "", false},
		{"2027-11-07T00:59", "", "2027-11-07T05:59:00Z", "", false},
		{"2027-11-07T01:30", "", "", "clock-change", true},
		{"2027-11-07T01:30", "first", "2027-11-07T06:30:00Z", "", true},
		{"2027-11-07T01:30", "second", "2027-11-07T07:30:00Z", "", true},
		{"2027-11-07T02:00", "first", "2027-11-07T08:00:00Z", "", false},
		{"2027-06-01T12:00:00", "", "2027-06-01T17:00:00Z", "", false},
		{"tomorrow", "", "", "form", false},
		{"9999-01-01T00:00", "", "", "form", false},
		{"", "", "", "required", false},
	} {
		var bad casefile.Faults
		at, twice := readWall("departs", c.said, c.which, chicago, &bad)
		rule := ""
		if len(bad) > 0 {
			rule = bad[0].Rule
		}
		if rule != c.rule || (twice != nil) != c.twice || c.want != "" && at.UTC().Format(time.RFC3339) != c.want || (c.want == "") != at.IsZero() {
			t.Errorf("%s %s: %v, twice %v, %v", c.said, c.which, at, twice, bad)
		}
	}
}

// TestEveryInstantIsOnTheWall holds of any instant in any zone that it is one of those at which the clocks show its time, and
// that they show it at no more than two.
func TestEveryInstantIsOnTheWall(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		zone, err := time.LoadLocation(rapid.SampledFrom([]string{"America/Chicago", "Australia/Lord_Howe", "Asia/Kathmandu", "Africa/Casablanca", "UTC"}).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		at := time.Unix(60*rapid.Int64Range(28_000_000, 40_000_000).Draw(t, "minute"), 0).In(zone)
		_, offset := at.Zone()
		wall := at.Add(time.Duration(offset) * time.Second).UTC()
		all := onTheWall(wall, zone)
		found := false
		for i, o := range all {
			found = found || o.Equal(at)
			if o.Format(atForm) != wall.Format(atForm) || i > 0 && !o.After(all[i-1]) {
				t.Fatalf("%v is among those of %v", o, wall)
			}
		}
		if !found || len(all) > 2 {
			t.Fatalf("%v is not among %v", at, all)
		}
	})
}
