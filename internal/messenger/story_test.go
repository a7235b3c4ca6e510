package messenger_test

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/notice"
	"tiedown/internal/techlog"
)

// TestWhoIsToldOfASquawk: schedulers of what is held and released, mechanics of the squawk, pilots of the aircraft that
// they follow, each in one letter, and nobody of another club.
func TestWhoIsToldOfASquawk(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.enroll("pat", techlog.Scheduler)
	c.enroll("sam", techlog.Mechanic)
	kim, lee := c.enroll("kim", techlog.Pilot), c.enroll("lee", techlog.Pilot)
	c.wants(kim, func(p *notice.Preferences) { p.Follows = []techlog.ID{c.aircraft} })
	c.wants(lee, func(p *notice.Preferences) { p.Fleet, p.Mail = true, false })
	c.plan(24 * time.Hour)
	c.says("a flight that may go", c.tell(), nil)

	altimeter := c.squawk("altimeter")
	told := c.tell()
	c.says("a squawk that grounds", told, map[string]string{
		"pat": "N012TW: 1 flight is held", "kim": "N012TW: 1 flight is held",
		"sam": "N012TW: squawk 00001, Dead since the last landing.",
	})
	for _, words := range []string{
		"Mon 11 Jan 2027, 12:00 to 13:30 CST, HOME to HOME, Pattern work: ", "(was clear)", "Why: Grounded: ", "An altimeter.", "What releases it: squawk 00001 repaired",
		"91.7(b)", "as a member of Prairie Club", "https://club.example/v1/unsubscribe/",
	} {
		if !strings.Contains(told["pat"][0].Text, words) {
			t.Errorf("the letter lacks %q:\n%s", words, told["pat"][0].Text)
		}
	}
	if !strings.Contains(told["kim"][0].Text, "Squawk 00001, inoperative altimeter: Dead since the last landing.") || strings.Contains(told["pat"][0].Text, "Squawk 00001, inoperative") {
		t.Errorf("kim wants to hear of squawks too, pat does not:\n%s\n%s", told["kim"][0].Text, told["pat"][0].Text)
	}
	c.says("nothing new", c.tell(), nil)

	c.carryOver(altimeter.ID, techlog.StepClose, nil)
	c.says("it was repaired", c.tell(), map[string]string{"pat": "N012TW: 1 flight is released", "kim": "N012TW: 1 flight is released"})
	c.squawk("landing-light")
	told = c.tell()
	c.says("a squawk that is to be deferred first", told, map[string]string{
		"pat": "N012TW: 1 flight is held", "kim": "N012TW: 1 flight is held", "sam": "N012TW: squawk 00002, Dead since the last landing.",
	})
	if text := told["pat"][0].Text; !strings.Contains(text, "defer-first (was clear)") || !strings.Contains(text, "What releases it: Deactivate the item") {
		t.Errorf("what releases it:\n%s", text)
	}
}

// TestNobodyIsToldInQuietHours, but of what departs before they end, if the person has asked so. What somebody has heard
// of nothing of meanwhile comes when they are over, in order.
func TestNobodyIsToldInQuietHours(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	quiet := &notice.Quiet{From: 22 * 60, Until: 6*60 + 30}
	pat, sam := c.enroll("pat", techlog.Scheduler), c.enroll("sam", techlog.Scheduler)
	c.wants(pat, func(p *notice.Preferences) { p.Quiet = quiet })
	c.wants(sam, func(p *notice.Preferences) { p.Quiet, p.UrgentAnyway = quiet, true })
	c.at(time.Date(2027, 1, 11, 5, 0, 0, 0, time.UTC)) // 23:00 in Chicago
	c.plan(7 * time.Hour)                              // 6:00
	altimeter := c.squawk("altimeter")
	c.says("at night", c.tell(), map[string]string{"sam": "N012TW: 1 flight is held"})
	c.wait(time.Hour)
	c.carryOver(altimeter.ID, techlog.StepClose, nil)
	c.says("that it is released is not urgent", c.tell(), nil)
	c.at(time.Date(2027, 1, 11, 12, 29, 59, 0, time.UTC))
	c.says("a second before the end", c.tell(), nil)
	c.wait(time.Second)
	told := c.tell()
	if len(told["pat"]) != 2 || !strings.Contains(told["pat"][0].Subject, "held") || !strings.Contains(told["pat"][1].Subject, "released") || len(told["sam"]) != 1 {
		t.Errorf("in the morning: %+v", told)
	}

	// Whoever turns quiet hours on after a note was written has them.
	c.squawk("altimeter")
	if _, err := c.messenger.Relay(t.Context()); err != nil {
		t.Fatal(err)
	}
	c.wants(pat, func(p *notice.Preferences) { p.Quiet = &notice.Quiet{From: 0, Until: 7 * 60} })
	c.says("quiet until seven", c.tell(), map[string]string{"sam": "N012TW: 1 flight is held"})
	c.wait(30 * time.Minute)
	if told := c.tell(); len(told["pat"]) != 1 {
		t.Errorf("at seven: %+v", told)
	}
}

// TestALetterIsTriedAgain, less and less often, under one identifier, and is given up after a day, with what the server
// said; at once if the server says that it will never take it.
func TestALetterIsTriedAgain(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	pat := c.enroll("pat", techlog.Mechanic)
	var tried []time.Time
	ids := map[string]bool{}
	c.box.fail = func(m notice.Mail) error {
		tried = append(tried, c.clock())
		ids[m.ID] = true
		return errors.New("451 come\r\nagain")
	}
	c.squawk("landing-light")
	for range 60 * 26 {
		c.tell()
		c.wait(time.Minute)
	}
	last := tried[len(tried)-1].Sub(tried[0])
	if len(tried) < 20 || len(tried) > 32 || len(ids) != 1 || last < 22*time.Hour || last > 24*time.Hour {
		t.Errorf("tried %d times within %v, as %v", len(tried), last, ids)
	}
	for i := 2; i < len(tried); i++ {
		if tried[i].Sub(tried[i-1]) < tried[i-1].Sub(tried[i-2]) {
			t.Errorf("attempt %d comes sooner than the one before: %v", i, tried[:i+1])
		}
	}
	state := func() notice.Note {
		t.Helper()
		all, err := c.store.NotesTo(t.Context(), c.who.Organization, pat.Person, 10)
		if err != nil || len(all) == 0 {
			t.Fatal(err)
		}
		return all[0]
	}
	if n := state(); n.State != notice.Dead || !strings.Contains(n.Trace, "451 come again") {
		t.Errorf("%+v", n)
	}
	tried = nil
	c.box.fail = func(notice.Mail) error {
		tried = append(tried, c.clock())
		return fmt.Errorf("%w: 550 nobody of that name", notice.ErrRefused)
	}
	c.squawk("beacon")
	for range 100 {
		c.tell()
		c.wait(time.Hour)
	}
	if n := state(); len(tried) != 1 || n.State != notice.Dead || !strings.Contains(n.Trace, "550") {
		t.Errorf("tried %d times: %+v", len(tried), n)
	}
	if len(c.gaveUp) != 2 || !strings.Contains(c.gaveUp[0], "451") || !strings.Contains(c.gaveUp[1], "550") {
		t.Errorf("given up: %q", c.gaveUp)
	}
	// A server that stood still tells nobody the news of the day before.
	c.box.fail = nil
	c.squawk("landing-light")
	if _, err := c.messenger.Relay(t.Context()); err != nil {
		t.Fatal(err)
	}
	c.wait(25 * time.Hour)
	c.squawk("beacon")
	c.wait(25 * time.Hour)
	c.says("two days later", c.tell(), nil)
}

// TestWhoeverHasTheLetterStopsIt, without signing in, for its kind or for all, and for nobody else.
func TestWhoeverHasTheLetterStopsIt(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	pat := c.enroll("pat", techlog.MaintenanceControl, techlog.Scheduler)
	c.enroll("sam", techlog.Mechanic)
	c.plan(24 * time.Hour)
	c.squawk("landing-light")
	letter := c.tell()["pat"][0]
	links := regexp.MustCompile(`https://club\.example/v1/unsubscribe/(\S+)`).FindAllStringSubmatch(letter.Text, -1)
	if len(links) != 2 || letter.Stop != links[0][0] {
		t.Fatalf("%v in %s", links, letter.Text)
	}
	one, all := links[0][1], links[1][1]
	what, err := c.messenger.WhatStops(t.Context(), one)
	if err != nil || what.Kind != notice.FlightHeld || what.Organization != "Prairie Club" || what.Stopped {
		t.Errorf("%+v %v", what, err)
	}
	for range 2 { // again changes nothing
		if what, err = c.messenger.Stop(t.Context(), one); err != nil || !what.Stopped {
			t.Errorf("%+v %v", what, err)
		}
	}
	if p := c.wants(pat, func(*notice.Preferences) {}); !p.WantsKind(notice.SquawkFiled) || p.WantsKind(notice.FlightHeld) || p.Version != 2 {
		t.Errorf("%+v", p)
	}
	c.squawk("altimeter")
	squawked := "N012TW: squawk 00002, Dead since the last landing."
	c.says("what is held was stopped, squawks were not", c.tell(), map[string]string{"pat": squawked, "sam": squawked})

	// What was written before it was stopped is not sent after.
	c.squawk("beacon")
	if _, err := c.messenger.Relay(t.Context()); err != nil {
		t.Fatal(err)
	}
	if what, err = c.messenger.Stop(t.Context(), all); err != nil || what.Kind != "" || !what.Stopped {
		t.Errorf("%+v %v", what, err)
	}
	c.squawk("transponder")
	for name := range c.tell() {
		if name != "sam" {
			t.Errorf("%s is told", name)
		}
	}
	for _, secret := range []string{"", "nonsense", hangar.NewSecret()} {
		if _, err := c.messenger.Stop(t.Context(), secret); techlog.KindOf(err) != techlog.KindNotFound {
			t.Errorf("%q: %v", secret, err)
		}
	}
}

// TestWhoHasLeftIsToldNothing, not even what was written before.
func TestWhoHasLeftIsToldNothing(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	pat := c.enroll("pat", techlog.Mechanic)
	c.squawk("landing-light")
	if _, err := c.messenger.Relay(t.Context()); err != nil {
		t.Fatal(err)
	}
	c.must(c.service.EndMember(t.Context(), c.who, pat.Person, 1, nil, keep(&techlog.Member{})))
	c.squawk("beacon")
	c.says("after the end", c.tell(), nil)
}

// TestWhatSomebodyWantsIsKept, for persons alone, checked, and by versions.
func TestWhatSomebodyWantsIsKept(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	pat := c.enroll("pat", techlog.Pilot)
	p, err := c.messenger.Preferences(t.Context(), pat)
	if err != nil || p.Version != 0 || p.Zone != "America/Chicago" || p.Fleet || !p.Mail {
		t.Errorf("%+v %v", p, err)
	}
	p.Follows, p.Digest, p.Quiet = []techlog.ID{c.aircraft, c.aircraft}, new(6), &notice.Quiet{From: 60, Until: 120}
	p.Kinds = []notice.Kind{notice.DueAhead, notice.FlightHeld, notice.DueAhead}
	if p, err = c.messenger.SetPreferences(t.Context(), pat, p); err != nil {
		t.Fatal(err)
	}
	read, err := c.messenger.Preferences(t.Context(), pat)
	if err != nil || !reflect.DeepEqual(read, p) || read.Version != 1 || len(read.Follows) != 1 || len(read.Kinds) != 2 {
		t.Errorf("%+v, want %+v, %v", read, p, err)
	}
	p.Version = 0
	if _, err := c.messenger.SetPreferences(t.Context(), pat, p); techlog.KindOf(err) != techlog.KindStale {
		t.Errorf("an old version: %v", err)
	}
	p.Version, p.Follows = 1, []techlog.ID{newID()}
	if _, err := c.messenger.SetPreferences(t.Context(), pat, p); techlog.KindOf(err) != techlog.KindInvalid {
		t.Errorf("an aircraft of nobody: %v", err)
	}
	if _, err := c.messenger.Preferences(t.Context(), c.who); techlog.KindOf(err) != techlog.KindForbidden {
		t.Errorf("a program: %v", err)
	}
	if _, err := c.messenger.SetPreferences(t.Context(), c.who, p); techlog.KindOf(err) != techlog.KindForbidden {
		t.Errorf("a program: %v", err)
	}
}

// TestWithoutMailNothingIsSent: everything else goes on.
func TestWithoutMailNothingIsSent(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.enroll("pat", techlog.Mechanic)
	c.squawk("landing-light")
	if _, err := c.messenger.Relay(t.Context()); err != nil {
		t.Fatal(err)
	}
	c.box.fail = func(notice.Mail) error { return context.Canceled }
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if n, err := c.messenger.Send(ctx); n != 0 || err == nil {
		t.Errorf("stopped: %d %v", n, err)
	}
}

// TestNobodyIsToldOfLongAgo: whoever turns mail on hears of the last day alone.
func TestNobodyIsToldOfLongAgo(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.enroll("pat", techlog.Mechanic)
	c.squawk("beacon")
	c.wait(25 * time.Hour)
	c.squawk("landing-light")
	c.wait(time.Hour)
	c.says("for the first time", c.tell(), map[string]string{"pat": "N012TW: squawk 00002, Dead since the last landing."})
}

// TestWaitingForTheMorningIsNoAttempt: who is not to be told at night is told in the morning, though the server of mail is
// away then for hours.
func TestWaitingForTheMorningIsNoAttempt(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	pat := c.enroll("pat", techlog.Mechanic)
	c.at(time.Date(2027, 1, 11, 5, 0, 0, 0, time.UTC)) // 23:00 in Chicago
	c.squawk("landing-light")
	if _, err := c.messenger.Relay(t.Context()); err != nil {
		t.Fatal(err)
	}
	c.wants(pat, func(p *notice.Preferences) { p.Quiet = &notice.Quiet{From: 22 * 60, Until: 21 * 60} }) // but for an hour
	for range 23 * 6 {
		c.tell()
		c.wait(10 * time.Minute)
	}
	all, err := c.store.NotesTo(t.Context(), c.who.Organization, pat.Person, 10)
	if err != nil || len(all) != 1 || all[0].Attempts != 1 || all[0].State != notice.Sent || !all[0].DueAt.Equal(time.Date(2027, 1, 12, 3, 0, 0, 0, time.UTC)) {
		t.Errorf("%+v %v", all, err)
	}
}

// TestABlockIsToldLikeAHold: whoever schedules hears of flights that somebody's block holds, with its words, and of their
// release when it is taken back.
func TestABlockIsToldLikeAHold(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.enroll("pat", techlog.Scheduler)
	c.plan(24 * time.Hour)
	var b hangar.BlockedAircraft
	c.must(c.service.BlockAircraft(t.Context(), c.who, c.aircraft, hangar.BlockPlan{
		From: noon, Until: noon.Add(48 * time.Hour), Kind: "maintenance", Words: "In the shop for its annual.",
	}, nil, keep(&b)))
	told := c.tell()
	c.says("it is blocked", told, map[string]string{"pat": "N012TW: 1 flight is held"})
	for _, words := range []string{"blocked (was clear).", "Blocked until Tue 12 Jan 2027, 12:00 CST (maintenance): In the shop for its annual."} {
		if !strings.Contains(told["pat"][0].Text, words) {
			t.Errorf("the letter lacks %q:\n%s", words, told["pat"][0].Text)
		}
	}
	c.must(c.service.CancelBlock(t.Context(), c.who, b.Block.ID, b.Block.Version, nil, keep(&b)))
	c.says("it is not any more", c.tell(), map[string]string{"pat": "N012TW: 1 flight is released"})
}
