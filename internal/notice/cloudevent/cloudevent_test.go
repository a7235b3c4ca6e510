package cloudevent_test

import (
	"strings"
	"testing"
	"time"

	"tiedown/internal/notice/cloudevent"
	"tiedown/internal/techlog"
)

// TestEnvelope holds an event against what CloudEvents 1.0 asks (the JSON event format, 2 and 3): the attributes that must be
// there, their types, and data as JSON by itself.
func TestEnvelope(t *testing.T) {
	t.Parallel()
	id := func(n byte) techlog.ID { return techlog.ID{15: n} }
	e := techlog.Event{
		ID: id(1), Place: 42, Kind: "squawk.filed", Aircraft: id(2), Subject: id(3), By: `P. "Lot"`,
		At:      time.Date(2031, 5, 4, 12, 0, 0, 123456000, time.FixedZone("", 3600)),
		Changes: []techlog.HoldChange{{Flight: id(4), Was: "clear", Is: "grounded"}},
	}
	raw, err := cloudevent.Envelope(id(9), e)
	if err != nil {
		t.Fatal(err)
	}
	const zeros = "00000000-0000-0000-0000-0000000000"
	want := `{"specversion":"1.0","id":"` + zeros + `01","source":"urn:uuid:` + zeros + `09","type":"tiedown.squawk.filed","subject":"` + zeros + `03",` +
		`"time":"2031-05-04T11:00:00.123456Z","datacontenttype":"application/json","sequence":"00000000000000000042",` +
		`"data":{"kind":"squawk.filed","place":42,"aircraft":"` + zeros + `02","subject":"` + zeros + `03","by":"P. \"Lot\"",` +
		`"changes":[{"flight":"` + zeros + `04","was":"clear","is":"grounded"}]}}`
	if string(raw) != want {
		t.Errorf("%s\nwant\n%s", raw, want)
	}
	bare, err := cloudevent.Envelope(id(9), techlog.Event{ID: id(1), Place: 1, Kind: "base.added", Subject: id(3)})
	if err != nil || strings.Contains(string(bare), `"aircraft"`) || !strings.Contains(string(bare), `"changes":[]`) {
		t.Errorf("%s, %v", bare, err)
	}
	if strings.ContainsAny(string(raw), "\n\r") {
		t.Error("an event stands on more lines than one, which a stream has no room for")
	}
}
