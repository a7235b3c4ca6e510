package messenger_test

import (
	"strings"
	"testing"
	"time"

	"tiedown/internal/notice"
	"tiedown/internal/techlog"
)

// digestsOver looks every so often, from one instant to another, and gives when each digest was sent.
func (c *club) digestsOver(from, to time.Time, every time.Duration) []time.Time {
	c.t.Helper()
	var sent []time.Time
	for at := from; at.Before(to); at = at.Add(every) {
		c.at(at)
		for range c.tell()["pat"] {
			sent = append(sent, at)
		}
	}
	return sent
}

// reads says whom only the digest is told.
func (c *club) reads(name string, hour int, roles ...techlog.Role) techlog.Principal {
	who := c.enroll(name, roles...)
	c.wants(who, func(p *notice.Preferences) { p.Kinds, p.Digest = nil, new(hour) })
	return who
}

// TestWhatADigestSays of the fleet, of squawks, of flights, of what comes due and of deferrals.
func TestWhatADigestSays(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.reads("pat", 7, techlog.Pilot)
	seven := time.Date(2027, 1, 11, 13, 0, 0, 0, time.UTC)
	c.plan(48 * time.Hour)
	c.plan(30 * 24 * time.Hour)
	light, beacon := c.squawk("landing-light"), c.squawk("beacon")
	c.carryOver(light.ID, techlog.StepDefer, &techlog.Deferral{
		Basis: "14 CFR 91.213(d)", Method: "deactivated", Placard: "Inoperative", Entry: "airframe log 12", DeterminedBy: "a rated mechanic",
		DeterminedAt: noon, Until: noon.AddDate(0, 0, 20), Considered: []string{"00001", "00002"},
	})
	c.carryOver(beacon.ID, techlog.StepClose, nil)
	c.squawk("altimeter")
	c.at(seven.Add(-time.Second))
	c.says("a second before the hour", c.tell(), nil)
	c.at(seven)
	told := c.tell()
	c.says("at the hour", told, map[string]string{"pat": "Prairie Club, 11 January 2027: 1 aircraft grounded, 1 flight held"})
	text := told["pat"][0].Text
	for _, words := range []string{
		"How the fleet of Prairie Club stands.",
		"Aircraft that may not make every kind of flight\n- N012TW: no flight at all. ",
		"Squawks filed since the last digest\n- N012TW: Squawk 00001, inoperative landing-light: Dead since the last landing.\n- N012TW: Squawk 00002",
		"Squawks closed since the last digest\n- N012TW: Squawk 00002, inoperative beacon",
		"Flights of the coming 7 days that are held\n- N012TW, Tue 12 Jan 2027, 12:00 to 13:30 CST, HOME to HOME, Pattern work: grounded.\n  Why: ",
		"Deferrals, by the days that are left\n- N012TW: deferral of squawk 00001, 2027-01-30, in 19 days.",
		"No more of the daily digest: ",
	} {
		if !strings.Contains(text, words) {
			t.Errorf("the digest lacks %q:\n%s", words, text)
		}
	}
	if strings.Contains(text, "Feb 2027, 12:00") {
		t.Errorf("a flight of next month is among those of the coming days:\n%s", text)
	}
	c.at(seven.Add(24 * time.Hour))
	next := c.tell()["pat"]
	if len(next) != 1 || strings.Contains(next[0].Text, "since the last digest") || !strings.Contains(next[0].Text, "in 18 days") {
		t.Errorf("the next day nothing is new, and the deferral has a day less: %+v", next)
	}
}

// TestADigestOnceADay at the hour on the wall, over a change of the clocks, late when the server was down at the hour, and
// not at all for a day on which it was down. In America/Chicago the clocks are put forward on 14 March 2027, by the time zone
// database of IANA.
func TestADigestOnceADay(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.reads("pat", 2, techlog.Mechanic)
	c.squawk("altimeter")
	day := func(d, hour, minute int) time.Time { return time.Date(2027, 3, d, hour, minute, 0, 0, time.UTC) }
	sent := c.digestsOver(day(13, 6, 0), day(16, 6, 0), 20*time.Minute)
	want := []time.Time{day(13, 8, 0), day(14, 8, 0), day(15, 7, 0)} // 2:00 CST; 2:00 is 3:00 CDT; 2:00 CDT
	if len(sent) != 3 || !sent[0].Equal(want[0]) || !sent[1].Equal(want[1]) || !sent[2].Equal(want[2]) {
		t.Errorf("sent at %v, want %v", sent, want)
	}
	// The server is down from the 15th to the evening of the 18th.
	if sent := c.digestsOver(day(19, 2, 0), day(20, 6, 0), time.Hour); len(sent) != 2 || !sent[0].Equal(day(19, 2, 0)) || !sent[1].Equal(day(19, 7, 0)) {
		t.Errorf("sent at %v: late on the 18th, then on the 19th", sent)
	}
}

// TestADigestWithNothingToTellIsNotSent, though the day has had it: what happens later comes with the next.
func TestADigestWithNothingToTellIsNotSent(t *testing.T) {
	t.Parallel()
	c := emptyClub(t)
	pat := c.reads("pat", 12, techlog.Mechanic)
	c.says("all is well", c.tell(), nil)
	all, err := c.store.NotesTo(t.Context(), c.who.Organization, pat.Person, 10)
	if err != nil || len(all) != 1 || all[0].State != notice.Empty || all[0].Letter != nil {
		t.Errorf("%+v %v", all, err)
	}
	c.enter()
	c.squawk("altimeter")
	c.wait(time.Hour)
	c.says("later on the same day", c.tell(), nil)
	c.wait(23 * time.Hour)
	if told := c.tell()["pat"]; len(told) != 1 || !strings.Contains(told[0].Text, "Squawks filed since the last digest") {
		t.Errorf("the next day: %+v", told)
	}
}
