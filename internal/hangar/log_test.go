package hangar_test

import (
	"strings"
	"testing"
	"time"

	"tiedown/internal/audit"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// TestLogsAreSealedWhenTheyHaveGrown: each organization's, and none twice.
func TestLogsAreSealedWhenTheyHaveGrown(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	other := c.join("The second club")
	seal := func(want int) {
		t.Helper()
		if n, err := c.service.SealLogs(t.Context(), c.store); err != nil || n != want {
			t.Errorf("%d logs are sealed, want %d (%v)", n, want, err)
		}
	}
	seal(2)
	seal(0)
	sealed, err := c.service.Checkpoint(t.Context(), other)
	if err != nil {
		t.Fatal(err)
	}
	c.wait(time.Hour)
	var filed hangar.FiledSquawk
	report := hangar.SquawkReport{Aircraft: c.aircraft, Kind: "condition", Item: "tire", Words: "worn to the cord"}
	if _, err := c.service.FileSquawk(t.Context(), c.who, report, nil, keep(&filed)); err != nil {
		t.Fatal(err)
	}
	seal(1)
	seal(0)
	if again, err := c.service.Checkpoint(t.Context(), other); err != nil || again != sealed {
		t.Errorf("the log has not grown, and two checkpoints say\n%s%s (%v)", sealed, again, err)
	}
	written, err := c.service.Receipt(t.Context(), c.who, hangar.ReceiptOfSquawkEntry, filed.Squawk.ID, 1)
	if err != nil {
		t.Fatal(err)
	}
	receipt, err := audit.ParseReceipt(written)
	if err != nil {
		t.Fatal(err)
	}
	checkpoint, err := receipt.Check(logKey(t).Public())
	if err != nil || !checkpoint.At.Equal(noon.Add(time.Hour)) || receipt.Entry.By != c.who.Name || !strings.Contains(receipt.Record, "worn to the cord") {
		t.Errorf("%v\n%s", err, written)
	}
	if c.service.LogKey() != logKey(t).Public().String() {
		t.Errorf("the key is %s", c.service.LogKey())
	}
	for of, number := range map[hangar.Receiptable]int{hangar.ReceiptOfSquawkEntry: 1, hangar.ReceiptOfDeferral: 0, hangar.ReceiptOfDetermination: 0} {
		if _, err := c.service.Receipt(t.Context(), other, of, filed.Squawk.ID, number); techlog.KindOf(err) != techlog.KindNotFound {
			t.Errorf("%s of another organization: %v", of, err)
		}
	}
}
