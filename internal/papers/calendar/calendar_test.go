package calendar_test

import (
	"bytes"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/emersion/go-ical"
	"pgregory.net/rapid"

	"tiedown/internal/papers/calendar"
)

var noon = time.Date(2026, 11, 29, 12, 0, 0, 0, time.UTC)

func sample() calendar.Event {
	return calendar.Event{
		UID: "flight-1@club.example", Sequence: 3, Changed: noon.Add(-time.Hour), From: noon, Until: noon.Add(90 * time.Minute),
		Status: calendar.Confirmed, Busy: true, Summary: "N0ABC", Description: "as planned", Location: "Home",
	}
}

func feed(events ...calendar.Event) calendar.Feed {
	return calendar.Feed{Name: "The fleet", Words: "An aid.", Every: 15 * time.Minute, Events: events}
}

// read reads a calendar with a parser that is not the library that wrote it, and holds its lines against RFC 5545, 3.1:
// each ends with CR LF, has at most 75 octets without that, and is UTF-8 by itself, as letters are not torn apart.
func read(t rapid.TB, raw []byte) *ical.Calendar {
	t.Helper()
	if !bytes.HasSuffix(raw, []byte("\r\n")) {
		t.Fatalf("the last line has no end: %q", raw)
	}
	for line := range strings.SplitSeq(strings.TrimSuffix(string(raw), "\r\n"), "\r\n") {
		if len(line) > 75 || strings.ContainsAny(line, "\r\n") || !utf8.ValidString(line) || line == "" {
			t.Fatalf("a line of %d octets: %q", len(line), line)
		}
	}
	c, err := ical.NewDecoder(bytes.NewReader(raw)).Decode()
	if err != nil {
		t.Fatalf("%v\n%s", err, raw)
	}
	// Its encoder knows which properties a component must have, and which it may have once (RFC 5545, 3.6).
	if err := ical.NewEncoder(&bytes.Buffer{}).Encode(c); err != nil {
		t.Fatalf("%v\n%s", err, raw)
	}
	return c
}

func wordsOf(t rapid.TB, props ical.Props, name string) string {
	t.Helper()
	s, err := props.Text(name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestTheOtherParserReadsTheStandard holds that the parser which judges here reads what RFC 5545 gives as examples: of a
// folded line in 3.1, and of a text in 3.3.11.
func TestTheOtherParserReadsTheStandard(t *testing.T) {
	t.Parallel()
	raw := "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//x//EN\r\nBEGIN:VEVENT\r\nUID:1\r\nDTSTAMP:20260101T000000Z\r\nDTSTART:20260101T000000Z\r\n" +
		"SUMMARY:This is a lo\r\n ng description\r\n  that exists on a long line.\r\n" +
		"DESCRIPTION:Project XYZ Final Review\\nConference Room - 3B\\nCome Prepared.\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
	e := read(t, []byte(raw)).Events()[0]
	if got := wordsOf(t, e.Props, "SUMMARY"); got != "This is a long description that exists on a long line." {
		t.Errorf("%q", got)
	}
	if got := wordsOf(t, e.Props, "DESCRIPTION"); got != "Project XYZ Final Review\nConference Room - 3B\nCome Prepared." {
		t.Errorf("%q", got)
	}
}

func TestAnEventReadsBack(t *testing.T) {
	t.Parallel()
	cancelled := sample()
	cancelled.UID, cancelled.Status, cancelled.Busy, cancelled.Location = "flight-2@club.example", calendar.Cancelled, false, ""
	day := sample()
	day.UID, day.WholeDays, day.From, day.Until = "day@club.example", true, noon.Truncate(24*time.Hour), noon.Truncate(24*time.Hour).AddDate(0, 0, 1)
	c := read(t, feed(sample(), cancelled, day).ICS())
	if name, refresh := wordsOf(t, c.Props, "NAME"), c.Props.Get("REFRESH-INTERVAL"); name != "The fleet" || refresh == nil || refresh.ValueType() != "DURATION" {
		t.Errorf("%q, %+v", name, refresh)
	} else if every, err := refresh.Duration(); err != nil || every != 15*time.Minute {
		t.Errorf("%v, %v", every, err)
	}
	events := c.Events()
	if len(events) != 3 {
		t.Fatalf("%d events", len(events))
	}
	for i, want := range []map[string]string{
		{"UID": "flight-1@club.example", "SEQUENCE": "3", "DTSTAMP": "20261129T110000Z", "LAST-MODIFIED": "20261129T110000Z", "DTSTART": "20261129T120000Z", "DTEND": "20261129T133000Z", "STATUS": "CONFIRMED", "TRANSP": "OPAQUE", "SUMMARY": "N0ABC", "DESCRIPTION": "as planned", "LOCATION": "Home"},
		{"UID": "flight-2@club.example", "STATUS": "CANCELLED", "TRANSP": "TRANSPARENT"},
		{"UID": "day@club.example", "DTSTART": "20261129", "DTEND": "20261130"},
	} {
		for name, value := range want {
			if got := events[i].Props.Get(name); got == nil || got.Value != value {
				t.Errorf("event %d: %s is %+v, want %s", i, name, got, value)
			}
		}
	}
	if events[1].Props.Get("LOCATION") != nil {
		t.Error("a place that was not given")
	}
	if start := events[2].Props.Get("DTSTART"); start.ValueType() != "DATE" {
		t.Errorf("%+v", start)
	}
}

// TestAnyWordsReadBack holds that whatever words are written come back out as they were: with commas, backslashes, ends of
// lines, and letters of several octets wherever a line has to be folded.
func TestAnyWordsReadBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		pieces := rapid.SliceOfN(rapid.OneOf(
			rapid.SampledFrom([]string{",", ";", ":", `\`, `\n`, "\n", "\"", " ", "  ", "\t", "é", "🛩️", "👩‍✈️", "日本", "<", ">", "=", "BEGIN:VEVENT", "\nEND:VCALENDAR\n", "\u2028", "N0ABC"}),
			rapid.StringN(0, 120, -1)), 0, 40)
		words := func(label string) string {
			s := strings.Join(pieces.Draw(t, label), "")
			return strings.Map(func(r rune) rune { // what the form has no room for: see TestWhatHasNoRoom
				if r < ' ' && r != '\n' && r != '\t' || r == 0x7f || r == utf8.RuneError {
					return -1
				}
				return r
			}, s)
		}
		e := sample()
		e.Summary, e.Description, e.Location = words("summary"), words("description"), words("location")
		f := feed(e)
		f.Name, f.Words = words("name"), words("words")
		c := read(t, f.ICS())
		got := c.Events()[0].Props
		for name, want := range map[string]string{"SUMMARY": e.Summary, "DESCRIPTION": e.Description} {
			if text := wordsOf(t, got, name); text != want {
				t.Fatalf("%s\n%q\nwant\n%q", name, text, want)
			}
		}
		if e.Location != "" && wordsOf(t, got, "LOCATION") != e.Location {
			t.Fatalf("%q, want %q", wordsOf(t, got, "LOCATION"), e.Location)
		}
		if wordsOf(t, c.Props, "NAME") != f.Name || wordsOf(t, c.Props, "DESCRIPTION") != f.Words {
			t.Fatalf("%q %q", f.Name, f.Words)
		}
		if n := len(c.Events()); n != 1 {
			t.Fatalf("words made %d events of one", n)
		}
	})
}

// TestWhatHasNoRoom holds what becomes of what a text cannot have (RFC 5545, 3.3.11).
func TestWhatHasNoRoom(t *testing.T) {
	t.Parallel()
	for words, want := range map[string]string{
		"one\r\ntwo\rthree\nfour": "one\ntwo\nthree\nfour",
		"a\x00b\x1b[31mc\x7fd":    "ab[31mcd",
		"broken\xff":              "broken\uFFFD",
		"\ttab":                   "\ttab",
	} {
		e := sample()
		e.Summary = words
		if got := wordsOf(t, read(t, feed(e).ICS()).Events()[0].Props, "SUMMARY"); got != want {
			t.Errorf("%q comes back as %q, want %q", words, got, want)
		}
	}
}

func TestTimesReadBack(t *testing.T) {
	t.Parallel()
	busy := []calendar.Period{
		{From: noon, Until: noon.Add(time.Hour), Kind: calendar.Taken},
		{From: noon.Add(2 * time.Hour), Until: noon.Add(3 * time.Hour), Kind: calendar.Held},
		{From: noon.Add(5 * time.Hour), Until: noon.Add(48 * time.Hour), Kind: calendar.Unavailable},
	}
	c := read(t, calendar.FreeBusy{
		UID: "a@club.example", Made: noon, From: noon, Until: noon.Add(48 * time.Hour), Busy: busy, Words: "An aid, not an approval; ask.",
	}.ICS())
	if len(c.Children) != 1 || c.Children[0].Name != "VFREEBUSY" {
		t.Fatalf("%+v", c.Children)
	}
	props := c.Children[0].Props
	if got := wordsOf(t, props, "COMMENT"); got != "An aid, not an approval; ask." {
		t.Errorf("%q", got)
	}
	var got []string
	for _, p := range props.Values("FREEBUSY") {
		got = append(got, p.Params.Get("FBTYPE")+" "+p.Value)
	}
	want := "BUSY 20261129T120000Z/20261129T130000Z|BUSY-TENTATIVE 20261129T140000Z/20261129T150000Z|BUSY-UNAVAILABLE 20261129T170000Z/20261201T120000Z"
	if strings.Join(got, "|") != want {
		t.Errorf("%s\nwant\n%s", strings.Join(got, "|"), want)
	}
}

// TestNothingIsACalendarToo holds that a feed without an event is a calendar by the standard.
func TestNothingIsACalendarToo(t *testing.T) {
	t.Parallel()
	if c := read(t, feed().ICS()); len(c.Events()) != 0 {
		t.Errorf("%+v", c.Events())
	}
}

// TestTheSameFeedGivesTheSameBytes holds that nothing of a feed hangs on when it is written.
func TestTheSameFeedGivesTheSameBytes(t *testing.T) {
	t.Parallel()
	if !bytes.Equal(feed(sample()).ICS(), feed(sample()).ICS()) {
		t.Error("two ways of writing one feed")
	}
}
