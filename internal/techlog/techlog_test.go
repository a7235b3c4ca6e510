package techlog_test

import (
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// TestAuthority holds the whole table of who may do what.
func TestAuthority(t *testing.T) {
	t.Parallel()
	want := map[techlog.Action]string{
		techlog.FileSquawk:        "pilot mechanic scheduler maintenance-control administrator",
		techlog.AddNote:           "pilot mechanic scheduler maintenance-control administrator",
		techlog.PlanFlight:        "pilot scheduler administrator",
		techlog.KeepAircraft:      "maintenance-control administrator",
		techlog.KeepBases:         "scheduler administrator",
		techlog.CarryOverRecord:   "administrator",
		techlog.KeepCompanyRules:  "maintenance-control administrator",
		techlog.KeepDetermination: "pilot scheduler administrator",
		techlog.KeepPeople:        "administrator",
		techlog.KeepTokens:        "pilot mechanic scheduler maintenance-control administrator",
		techlog.KeepCertificates:  "maintenance-control administrator",
		techlog.ConfirmSquawk:     "mechanic maintenance-control administrator",
		techlog.ReopenSquawk:      "pilot mechanic maintenance-control administrator",
		techlog.KeepChecklists:    "maintenance-control administrator",
		techlog.WalkAround:        "pilot mechanic maintenance-control administrator",
		techlog.EnterMeters:       "pilot mechanic maintenance-control administrator",
		techlog.KeepWebhooks:      "scheduler administrator",
		techlog.KeepBlocks:        "mechanic scheduler maintenance-control administrator",
	}
	for _, action := range techlog.Actions() {
		allowed, known := want[action]
		if !known {
			t.Fatalf("the table says nothing of %s", action)
		}
		for _, role := range techlog.Roles() {
			who := techlog.Principal{Roles: techlog.As(role)}
			err := who.Require(action)
			if may := slices.Contains(strings.Fields(allowed), string(role)); may != (err == nil) {
				t.Errorf("%s, %s: %v, want allowed %v", role, action, err, may)
			}
			if err != nil && techlog.KindOf(err) != techlog.KindForbidden {
				t.Errorf("%s, %s: %v is not of kind forbidden", role, action, err)
			}
		}
	}
	if (techlog.Principal{}).Require(techlog.FileSquawk) == nil {
		t.Error("nobody in particular may file a squawk")
	}
}

// TestListsAreComplete holds that each list names every constant of its type.
func TestListsAreComplete(t *testing.T) {
	t.Parallel()
	lists := map[string][]string{
		"Kind":        strs(techlog.Kinds()),
		"Role":        strs(techlog.Roles()),
		"Action":      strs(techlog.Actions()),
		"SquawkState": strs(techlog.SquawkStates()),
		"SquawkStep":  strs(techlog.SquawkSteps()),

		"SecurityEventKind": strs(techlog.SecurityEventKinds()),
		"CertificateKind":   strs(techlog.CertificateKinds()),
		"StandingKind":      strs(techlog.StandingKinds()),
	}
	found := map[string]int{}
	for _, name := range []string{"account.go", "error.go", "people.go", "squawk.go", "life.go", "certificate.go"} {
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			spec, ok := n.(*ast.ValueSpec)
			if !ok || len(spec.Values) != 1 {
				return true
			}
			typ, ok := spec.Type.(*ast.Ident)
			value, lit := spec.Values[0].(*ast.BasicLit)
			if !ok || !lit {
				return true
			}
			list, listed := lists[typ.Name]
			if !listed {
				return true
			}
			found[typ.Name]++
			if !slices.Contains(list, strings.Trim(value.Value, `"`)) {
				t.Errorf("the list of %s leaves out %s", typ.Name, value.Value)
			}
			return true
		})
	}
	// Only the first constant of a block of the same type needs to name it; here each does or the count shows it.
	for name, list := range lists {
		if found[name] != len(list) {
			t.Errorf("%s: %d constants seen, %d listed", name, found[name], len(list))
		}
	}
}

func strs[T ~string](values []T) []string {
	var s []string
	for _, v := range values {
		s = append(s, string(v))
	}
	return s
}

func TestIDsSurviveBeingWritten(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var id techlog.ID
		copy(id[:], rapid.SliceOfN(rapid.Byte(), 16, 16).Draw(t, "bytes"))
		back, ok := techlog.ParseID(id.String())
		if !ok || back != id {
			t.Fatalf("%s came back as %s, %v", id, back, ok)
		}
	})
	for _, bad := range []string{"", "0190", strings.Repeat("0", 36), "zzzzzzzz-0000-7000-8000-000000000000", strings.Repeat("-", 36)} {
		if id, ok := techlog.ParseID(bad); ok {
			t.Errorf("ParseID(%q) = %s", bad, id)
		}
	}
}

func TestKindOf(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		err  error
		want techlog.Kind
	}{
		{nil, ""},
		{errors.New("disk on fire"), ""},
		{fmt.Errorf("while filing: %w", techlog.Errorf(techlog.KindStale, "changed")), techlog.KindStale},
		{fmt.Errorf("while filing: %w", casefile.Faults{{Field: "words"}}), techlog.KindInvalid},
	} {
		if got := techlog.KindOf(tt.err); got != tt.want {
			t.Errorf("KindOf(%v) = %q, want %q", tt.err, got, tt.want)
		}
	}
}

// TestOnlyADeferredSquawkReadsAsDeferred holds that a deferral counts in the state deferred alone.
func TestOnlyADeferredSquawkReadsAsDeferred(t *testing.T) {
	t.Parallel()
	record := &techlog.Deferral{
		Method: "deactivated", Placard: "Inoperative", Entry: "log 12", DeterminedBy: "a rated pilot",
		Until: time.Date(2027, 3, 31, 0, 0, 0, 0, time.UTC),
	}
	for _, state := range techlog.SquawkStates() {
		s := techlog.Squawk{Number: 7, State: state, Deferral: record}
		d := s.Defect()
		if (d.Deferral != nil) != (state == techlog.Deferred) {
			t.Errorf("%s: the engine reads the deferral %+v", state, d.Deferral)
		}
		if s.Open() == (state == techlog.Closed) {
			t.Errorf("%s: open is %v", state, s.Open())
		}
	}
	for _, missing := range []func(*techlog.Deferral){
		func(d *techlog.Deferral) { d.Placard = "" },
		func(d *techlog.Deferral) { d.Entry = "" },
		func(d *techlog.Deferral) { d.DeterminedBy = "" },
	} {
		part := *record
		missing(&part)
		d := (&techlog.Squawk{State: techlog.Deferred, Deferral: &part}).Defect().Deferral
		if d.Placarded && d.Recorded && d.HazardDetermined {
			t.Errorf("%+v reads as complete", part)
		}
	}
}

func TestHoldsAreTheSameOnlyIfEverythingIs(t *testing.T) {
	t.Parallel()
	a := techlog.Hold{Verdict: "grounded", Rows: []string{"x", "y"}, Rules: "1"}
	b := a
	b.Rows = []string{"x", "y"}
	b.At = time.Unix(1, 0)
	if !a.Same(b) {
		t.Error("the instant makes a difference")
	}
	for _, change := range []func(*techlog.Hold){
		func(h *techlog.Hold) { h.Verdict = "clear" },
		func(h *techlog.Hold) { h.Rules = "2" },
		func(h *techlog.Hold) { h.Rows = []string{"x"} },
		func(h *techlog.Hold) { h.Rows = []string{"x", "z"} },
	} {
		c := b
		change(&c)
		if a.Same(c) {
			t.Errorf("%+v is taken for the same", c)
		}
	}
	for verdict, holds := range map[string]bool{
		"clear": false, "limited": false, "defer-first": true, "undetermined": true, "grounded": true, "": true,
	} {
		if (techlog.Hold{Verdict: verdict}).Holds() != holds {
			t.Errorf("%q holds: %v", verdict, !holds)
		}
	}
}
