package httpapi_test

import (
	"net/http"
	"slices"
	"strings"
	"testing"

	"tiedown/api/client"
	"tiedown/internal/audit"
	"tiedown/internal/techlog"
)

// receipt downloads a receipt and checks it as a stranger would, by the key that the server hands out.
func (x *exercise) receipt(t *testing.T, path string) (audit.Receipt, audit.Checkpoint) {
	t.Helper()
	got := x.rig.ask(t, asked{method: "GET", path: path, token: x.rig.tokens[techlog.Mechanic]})
	if got.status != http.StatusOK || got.header.Get("Content-Type") != "text/plain; charset=utf-8" ||
		!strings.HasPrefix(got.header.Get("Content-Disposition"), `attachment; filename="receipt-`) {
		t.Fatalf("%s: %d %v %s", path, got.status, got.header, got.body)
	}
	receipt, err := audit.ParseReceipt(string(got.body))
	if err != nil {
		t.Fatal(err)
	}
	key, err := audit.ParsePublicKey(string(x.rig.ask(t, asked{method: "GET", path: "/audit/key", token: "none"}).body))
	if err != nil {
		t.Fatal(err)
	}
	checkpoint, err := receipt.Check(key)
	if err != nil {
		t.Fatalf("%s: %v\n%s", path, err, got.body)
	}
	return receipt, checkpoint
}

// TestReceiptsAreChecked downloads the receipt of each kind of record that has one.
func TestReceiptsAreChecked(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	id := x.deferLight(t, noon.AddDate(0, 2, 0))
	kept := created[client.Determination](t, x.rig, x.good["keepDetermination"]())
	walked := x.walkaround(t).Walkaround.Id.String()
	created[client.ReportedResults](t, x.rig, asked{
		method: "POST", path: "/v1/walkarounds/" + walked + "/results", body: `{"results": [` + result("oil", `"value": 6.25`) + `]}`,
	})
	for path, says := range map[string]string{
		"squawk-entry/" + id.String() + "?number=1":     "landing light is dark",
		"squawk-entry/" + id.String() + "?number=2":     "From the paper log.",
		"deferral/" + deferralOf(t, x, id).String():     "J. Larkspur, mechanic, certificate 0000001",
		"determination/" + techlog.ID(kept.Id).String(): "91.7(b)",
		"walkaround/" + walked:                          "open",
		"walkaround-report/" + walked + "?number=1":     "6.25",
	} {
		receipt, checkpoint := x.receipt(t, "/v1/receipts/"+path)
		if !strings.Contains(receipt.Record, says) || !checkpoint.At.Equal(noon) || receipt.Entry.By != "test administrator" {
			t.Errorf("%s: signed at %s\n%s%s", path, checkpoint.At, receipt.Record, receipt.Entry.Text())
		}
	}
}

func deferralOf(t *testing.T, x *exercise, squawk techlog.ID) techlog.ID {
	t.Helper()
	who, err := x.rig.store.Authenticate(t.Context(), digest(x.rig.tokens[techlog.Administrator]))
	if err != nil {
		t.Fatal(err)
	}
	s, err := x.rig.store.Squawk(t.Context(), who.Organization, squawk)
	if err != nil || s.Deferral == nil {
		t.Fatalf("%+v, %v", s, err)
	}
	return s.Deferral.ID
}

// TestAReceiptNamesOneRecord asks for receipts that cannot be given, and for another organization's.
func TestAReceiptNamesOneRecord(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	squawk := x.squawk(t).Squawk.Id.String()
	for path, want := range map[string]string{
		"squawk-entry/" + squawk:                    "required query.number",
		"squawk-entry/" + squawk + "?number=0":      "range query.number",
		"deferral/" + squawk + "?number=1":          "unwanted query.number",
		"walkaround/" + squawk + "?number=1":        "unwanted query.number",
		"walkaround-report/" + squawk:               "required query.number",
		"squawk/" + squawk:                          "enum path.kind",
		"deferral/17":                               "format path.record",
		"squawk-entry/" + squawk + "?number=1&all=": "unknown-parameter query.all",
	} {
		got := x.rig.ask(t, asked{method: "GET", path: "/v1/receipts/" + path})
		if got.status != http.StatusUnprocessableEntity || !slices.Contains(got.faults(t), want) {
			t.Errorf("%s: %d %v, want %s", path, got.status, got.faults(t), want)
		}
	}
	for path, token := range map[string]string{
		"squawk-entry/" + squawk + "?number=2": "",
		"squawk-entry/" + squawk + "?number=1": x.rig.other,
		"deferral/" + squawk:                   "",
		"determination/" + squawk:              x.rig.other,
	} {
		if got := x.rig.ask(t, asked{method: "GET", path: "/v1/receipts/" + path, token: token}); got.status != http.StatusNotFound {
			t.Errorf("%s: %d %s", path, got.status, got.body)
		}
	}
}

// TestACheckpointGrowsWithTheLog: the same log has the same checkpoint, and each organization its own.
func TestACheckpointGrowsWithTheLog(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	take := func(token string) (audit.Checkpoint, string) {
		got := x.rig.ask(t, asked{method: "GET", path: "/v1/audit/checkpoint", token: token})
		c, _, err := audit.OpenCheckpoint(string(got.body), logKey(t).Public())
		if err != nil {
			t.Fatalf("%v: %d %s", err, got.status, got.body)
		}
		return c, string(got.body)
	}
	first, written := take("")
	if _, again := take(""); again != written {
		t.Errorf("the log has not grown, and two checkpoints say\n%s%s", written, again)
	}
	x.squawk(t)
	second, _ := take("")
	if second.Size != first.Size+2 || second.Root == first.Root || second.Organization != first.Organization {
		t.Errorf("after a squawk and its entry: %+v, before: %+v", second, first)
	}
	if others, _ := take(x.rig.other); others.Organization == first.Organization || others.Size != 4 {
		t.Errorf("the other organization, with a member, the history of the membership and a token: %+v", others)
	}
}
