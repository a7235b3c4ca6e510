package notice_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/notice"
	"tiedown/internal/techlog"
)

// zones change their clocks in spring and autumn, at midnight, by half an hour, or never.
var zones = []string{"America/Chicago", "Europe/Berlin", "Australia/Lord_Howe", "America/Santiago", "Africa/Cairo", "Asia/Kolkata", "UTC"}

func zone(t testing.TB, name string) *time.Location {
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// TestQuietHoursAcrossChangesOfTheClocks is worked out by hand from the changes of America/Chicago in 2027, as the time zone
// database of IANA has them: 14 March at 2:00 to 3:00, 7 November at 2:00 to 1:00.
func TestQuietHoursAcrossChangesOfTheClocks(t *testing.T) {
	t.Parallel()
	chicago := zone(t, "America/Chicago")
	wall := func(s string) notice.Wall {
		w, ok := notice.ParseWall(s)
		if !ok {
			t.Fatalf("%q", s)
		}
		return w
	}
	for _, c := range []struct{ from, until, at, end string }{
		{"22:00", "06:30", "2027-01-10T23:15:20-06:00", "2027-01-11T06:30:00-06:00"},
		{"22:00", "06:30", "2027-01-10T21:59:59-06:00", "2027-01-10T21:59:59-06:00"},
		{"22:00", "06:30", "2027-01-10T06:30:00-06:00", "2027-01-10T06:30:00-06:00"},
		{"13:00", "14:00", "2027-01-10T13:00:00-06:00", "2027-01-10T14:00:00-06:00"},
		{"22:00", "06:30", "2027-03-13T23:00:00-06:00", "2027-03-14T06:30:00-05:00"}, // an hour less
		{"22:00", "02:30", "2027-03-13T23:00:00-06:00", "2027-03-14T03:00:00-05:00"}, // 2:30 does not come
		{"22:00", "06:30", "2027-11-06T23:00:00-05:00", "2027-11-07T06:30:00-06:00"}, // an hour more
		{"22:00", "01:30", "2027-11-06T23:00:00-05:00", "2027-11-07T01:30:00-05:00"}, // the first time that it comes
		{"22:00", "01:30", "2027-11-07T01:10:00-06:00", "2027-11-07T01:30:00-06:00"}, // and the second
		{"22:00", "02:00", "2027-11-07T01:59:00-05:00", "2027-11-07T02:00:00-06:00"}, // 1:59 is followed by 1:00
	} {
		at, err := time.Parse(time.RFC3339, c.at)
		if err != nil {
			t.Fatal(err)
		}
		q := notice.Quiet{From: wall(c.from), Until: wall(c.until)}
		if got := q.End(at.In(chicago)).Format(time.RFC3339); got != c.end {
			t.Errorf("%s to %s, at %s: until %s, want %s", c.from, c.until, c.at, got, c.end)
		}
	}
}

// TestQuietHoursEndAtTheFirstInstantThatIsNotQuiet holds it against the wall looked at minute by minute.
func TestQuietHoursEndAtTheFirstInstantThatIsNotQuiet(t *testing.T) {
	t.Parallel()
	located := map[string]*time.Location{}
	for _, name := range zones {
		located[name] = zone(t, name)
	}
	rapid.Check(t, func(t *rapid.T) {
		q := notice.Quiet{From: notice.Wall(rapid.IntRange(0, 1439).Draw(t, "from")), Until: notice.Wall(rapid.IntRange(0, 1439).Draw(t, "until"))}
		if q.From == q.Until {
			q.Until = (q.Until + 1) % 1440
		}
		z := located[rapid.SampledFrom(zones).Draw(t, "zone")]
		at := time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration(rapid.Int64Range(0, 2*366*24*3600).Draw(t, "second")) * time.Second).In(z)
		if rapid.Bool().Draw(t, "near a change") {
			if _, end := at.ZoneBounds(); !end.IsZero() {
				at = end.Add(time.Duration(rapid.Int64Range(-26*3600, 3*3600).Draw(t, "seconds off"))*time.Second + time.Duration(rapid.IntRange(0, 999).Draw(t, "nanoseconds"))).In(z)
			}
		}
		// The wall, read letter by letter.
		quiet := func(u time.Time) bool {
			w, from, until := u.In(z).Format("15:04"), q.From.String(), q.Until.String()
			if from < until {
				return from <= w && w < until
			}
			return from <= w || w < until
		}
		end := q.End(at)
		switch {
		case !quiet(at) && !end.Equal(at):
			t.Fatalf("%v is not quiet, and put off to %v", at, end)
		case quiet(end):
			t.Fatalf("from %v: %v is quiet", at, end)
		case end.Location() != z:
			t.Fatalf("the end is in %v", end.Location())
		case !end.Equal(at) && (!quiet(end.Add(-1)) || end.Sub(at) > 49*time.Hour): // longer only where the clocks are put forward over all that is not quiet
			t.Fatalf("from %v: %v is not the first", at, end)
		}
		for u := at; u.Before(end); u = u.Add(time.Minute) {
			if !quiet(u) {
				t.Fatalf("from %v to %v: %v is not quiet", at, end, u)
			}
		}
	})
}

// TestWhatIsUrgentIsToldAnyway: only where the person asked so, and only of a flight that departs before the end.
func TestWhatIsUrgentIsToldAnyway(t *testing.T) {
	t.Parallel()
	now := time.Date(2027, 1, 10, 23, 0, 0, 0, zone(t, "America/Chicago"))
	end := now.Add(7 * time.Hour)
	quiet := &notice.Quiet{From: 22 * 60, Until: 6 * 60}
	for what, c := range map[string]struct {
		p       notice.Preferences
		departs time.Time
		want    time.Time
	}{
		"no quiet hours":                      {notice.Preferences{}, time.Time{}, now},
		"held, not asked for":                 {notice.Preferences{Quiet: quiet}, now.Add(time.Hour), end},
		"held, departs before the end":        {notice.Preferences{Quiet: quiet, UrgentAnyway: true}, end.Add(-time.Minute), now},
		"held, departs at the end":            {notice.Preferences{Quiet: quiet, UrgentAnyway: true}, end, end},
		"nothing held, urgent ones asked for": {notice.Preferences{Quiet: quiet, UrgentAnyway: true}, time.Time{}, end},
	} {
		if got := c.p.SendAt(now, c.departs); !got.Equal(c.want) {
			t.Errorf("%s: %v, want %v", what, got, c.want)
		}
	}
}

// TestOneDigestADay walks the hours of two years: each day on the wall has its digest once, at the first look from the
// hour on.
func TestOneDigestADay(t *testing.T) {
	t.Parallel()
	for _, name := range zones {
		z := zone(t, name)
		for _, hour := range []int{0, 1, 2, 7, 23} {
			told := map[string]time.Time{}
			start := time.Date(2027, 1, 1, 0, 0, 0, 0, z)
			for at := start; at.Before(start.AddDate(2, 0, 0)); at = at.Add(30 * time.Minute) {
				if day, due := notice.DigestDay(at, hour); due && told[day].IsZero() {
					told[day] = at
				}
			}
			for d := start; d.Before(start.AddDate(2, 0, -1)); d = time.Date(d.Year(), d.Month(), d.Day()+1, 12, 0, 0, 0, z) {
				at, ok := told[d.Format(time.DateOnly)]
				skipped := at.Hour() == hour+1 && at.Minute() == 0 // the clocks were put forward over it
				if !ok || at.Format(time.DateOnly) != d.Format(time.DateOnly) || !skipped && (at.Hour() != hour || at.Minute() != 0) && name != "Australia/Lord_Howe" {
					t.Errorf("%s at %d: the digest of %s is told %v", name, hour, d.Format(time.DateOnly), at)
				}
			}
		}
	}
}

// TestTheStrictestLead: of those that a thing has come to, one.
func TestTheStrictestLead(t *testing.T) {
	t.Parallel()
	leads := notice.Usually()
	for days, want := range map[int]int{31: -1, 30: 30, 8: 30, 7: 7, 2: 7, 1: 1, 0: 1, -1: -1} {
		got, ok := leads.Strictest(days)
		if !ok {
			got = -1
		}
		if got != want {
			t.Errorf("%d days: %d, want %d", days, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		leads := notice.Leads(rapid.SliceOfN(rapid.IntRange(0, 365), 0, 10).Draw(t, "leads"))
		days := rapid.IntRange(-3, 400).Draw(t, "days")
		got, ok := leads.Strictest(days)
		again, okAgain := leads.Sorted().Strictest(days)
		if got != again || ok != okAgain {
			t.Fatalf("%v: %d, sorted %d", leads, got, again)
		}
		for _, l := range leads {
			if days >= 0 && days <= l && (!ok || l < got) {
				t.Fatalf("%d days of %v: %d is stricter than %d", days, leads, l, got)
			}
		}
	})
	if leads.Check() != nil || (notice.Leads{366}).Check() == nil || (notice.Leads{-1}).Check() == nil || make(notice.Leads, 11).Check() == nil {
		t.Error("which leads are taken")
	}
}

// TestWhatSomebodyWants: the kind, of the fleet or of what is followed, unless all mail is off.
func TestWhatSomebodyWants(t *testing.T) {
	t.Parallel()
	mine, other := techlog.ID{1}, techlog.ID{2}
	pilot := notice.Usual(techlog.As(techlog.Pilot), "UTC")
	if pilot.Wants(notice.SquawkFiled, mine) {
		t.Error("a pilot hears of aircraft that nobody follows")
	}
	pilot.Follows = []techlog.ID{mine}
	if !pilot.Wants(notice.SquawkFiled, mine) || pilot.Wants(notice.SquawkFiled, other) || pilot.Wants(notice.DueAhead, mine) || pilot.WantsKind(notice.Digest) {
		t.Error("a pilot hears of what is followed, as pilots do")
	}
	both := notice.Usual(techlog.As(techlog.Pilot, techlog.Scheduler), "UTC")
	if !both.Wants(notice.SquawkFiled, other) || !both.Wants(notice.DueAhead, other) {
		t.Error("roles add up")
	}
	for _, k := range notice.Kinds() {
		p := notice.Usual(techlog.Roles(), "UTC")
		p.Digest = new(7)
		if without := p.Without(k); !p.WantsKind(k) || without.WantsKind(k) || slices.ContainsFunc(notice.Kinds(), func(o notice.Kind) bool { return o != k && !without.WantsKind(o) }) {
			t.Errorf("without %s: %+v", k, without)
		}
		if nothing := p.Without(""); nothing.WantsKind(k) {
			t.Errorf("without any mail, %s is wanted", k)
		}
		if k.Words() == "" {
			t.Errorf("%s has no words", k)
		}
	}
}

func TestPreferencesAreChecked(t *testing.T) {
	t.Parallel()
	known := func(z string) bool { _, err := time.LoadLocation(z); return err == nil }
	good := notice.Usual(techlog.Roles(), "Europe/Berlin")
	if err := good.Check(known); err != nil {
		t.Error(err)
	}
	bad := notice.Preferences{Kinds: []notice.Kind{notice.Digest}, Follows: make([]techlog.ID, 501), Digest: new(24), Quiet: &notice.Quiet{}, Zone: "Local"}
	err := bad.Check(known)
	if err == nil {
		t.Fatal("everything is taken")
	}
	for _, field := range []string{"kinds", "follows", "digest_hour", "quiet", "zone"} {
		if !strings.Contains(err.Error(), field) {
			t.Errorf("nothing is said of %s: %v", field, err)
		}
	}
	for _, s := range []string{"24:00", "7:00", "07:60", "07:00:00", "", "０７:00"} {
		if _, ok := notice.ParseWall(s); ok {
			t.Errorf("%q is taken for a time", s)
		}
	}
	var q notice.Quiet
	if err := json.Unmarshal([]byte(`{"from":"22:00","until":"06:30"}`), &q); err != nil || q.From != 22*60 || q.Until != 6*60+30 {
		t.Errorf("%+v %v", q, err)
	}
	if raw, err := json.Marshal(q); err != nil || string(raw) != `{"from":"22:00","until":"06:30"}` {
		t.Errorf("%s %v", raw, err)
	}
}

// TestALetterHidesNothing: text and HTML say the same, and neither takes what people wrote for markup.
func TestALetterHidesNothing(t *testing.T) {
	t.Parallel()
	l := notice.Letter{
		Subject: "s", Opening: "An <opening>.", Caution: "An aid & no approval.",
		Sections: []notice.Section{{Title: "Flights", Lines: []string{`<script>alert("x")</script>`, "two\nlines"}}},
	}
	links := notice.Links{Why: "A member.", Stop: "https://c.example/1?a=b&c=d", StopAll: "https://c.example/2", Kind: notice.Digest}
	text, page := l.Text(links), l.HTML(links)
	for _, s := range []string{"An <opening>.", "Flights", `- <script>alert("x")</script>`, "- two\n  lines", l.Caution, "\n-- \n", links.Why, links.Stop, links.StopAll, "the daily digest"} {
		if !strings.Contains(text, s) {
			t.Errorf("text lacks %q:\n%s", s, text)
		}
	}
	for _, s := range []string{"An &lt;opening&gt;.", "Flights", "&lt;script&gt;", "two<br>\nlines", "An aid &amp; no approval.", "a=b&amp;c=d", links.StopAll} {
		if !strings.Contains(page, s) {
			t.Errorf("HTML lacks %q:\n%s", s, page)
		}
	}
	if strings.Contains(page, "<script") || strings.Contains(page, "src=") {
		t.Errorf("HTML runs or loads something:\n%s", page)
	}
}

func FuzzOneLine(f *testing.F) {
	f.Add("a\r\nb", 10)
	f.Add("ééééé", 4)
	f.Add("\u2028\u0000\xff", 7)
	f.Fuzz(func(t *testing.T, s string, most int) {
		most = 4 + (most&0xff+0xff)%200
		got := notice.OneLine(s, most)
		if len(got) > most || strings.ContainsAny(got, "\r\n\x00\u2028") || got != notice.OneLine(got, most) {
			t.Errorf("%q: %q", s, got)
		}
	})
}
