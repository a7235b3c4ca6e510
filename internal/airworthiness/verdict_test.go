package airworthiness_test

import (
	"slices"
	"testing"

	"tiedown/internal/airworthiness"
)

func TestTheZeroValuesArePessimists(t *testing.T) {
	t.Parallel()
	var (
		verdict airworthiness.Verdict
		truth   airworthiness.Truth
		outcome airworthiness.Outcome
		kind    airworthiness.DefectKind
		method  airworthiness.Method
	)
	if verdict != airworthiness.Undetermined || verdict.Permits() {
		t.Errorf("the zero verdict is %s", verdict)
	}
	if truth != airworthiness.Unknown {
		t.Errorf("the zero truth is %s", truth)
	}
	if outcome != airworthiness.OutcomeUnknown {
		t.Errorf("the zero outcome is %s", outcome)
	}
	if kind != airworthiness.KindUnstated || method != airworthiness.MethodUnstated {
		t.Error("the zero kind and method are stated")
	}
}

func TestVerdictsAreOrderedBestFirst(t *testing.T) {
	t.Parallel()
	order := airworthiness.Verdicts()
	want := []string{"clear", "limited", "defer-first", "undetermined", "grounded"}
	permits := []bool{true, true, false, false, false}
	if len(order) != len(want) {
		t.Fatalf("%d verdicts, want %d", len(order), len(want))
	}
	for i, v := range order {
		if v.String() != want[i] || v.Permits() != permits[i] {
			t.Errorf("verdict %d is %s and permits %t, want %s and %t", i, v, v.Permits(), want[i], permits[i])
		}
		if parsed, ok := airworthiness.ParseVerdict(v.String()); !ok || parsed != v {
			t.Errorf("%s does not read back", v)
		}
		for j, w := range order {
			if got := v.WorseThan(w); got != (i > j) {
				t.Errorf("%s worse than %s: %t", v, w, got)
			}
			if got := airworthiness.Worst(v, w); got != order[max(i, j)] {
				t.Errorf("the worst of %s and %s is %s", v, w, got)
			}
		}
	}
	if v, ok := airworthiness.ParseVerdict("airworthy"); ok || v.Permits() {
		t.Errorf("what is no verdict reads as %s", v)
	}
}

func TestWhatIsNoVerdictCountsAsUndetermined(t *testing.T) {
	t.Parallel()
	odd := airworthiness.Verdict(200)
	if odd.Permits() || odd.String() != "undetermined" {
		t.Errorf("%s, permits %t", odd, odd.Permits())
	}
	if !odd.WorseThan(airworthiness.DeferFirst) || !airworthiness.Grounded.WorseThan(odd) {
		t.Error("it does not rank with undetermined")
	}
}

func TestTruth(t *testing.T) {
	t.Parallel()
	const no, open, yes = airworthiness.No, airworthiness.Unknown, airworthiness.Yes
	rows := []struct{ a, b, and, or airworthiness.Truth }{
		{no, no, no, no},
		{no, open, no, open},
		{no, yes, no, yes},
		{open, no, no, open},
		{open, open, open, open},
		{open, yes, open, yes},
		{yes, no, no, yes},
		{yes, open, open, yes},
		{yes, yes, yes, yes},
	}
	for _, r := range rows {
		if got := r.a.And(r.b); got != r.and {
			t.Errorf("%s and %s is %s, want %s", r.a, r.b, got, r.and)
		}
		if got := r.a.Or(r.b); got != r.or {
			t.Errorf("%s or %s is %s, want %s", r.a, r.b, got, r.or)
		}
	}
	for truth, not := range map[airworthiness.Truth]airworthiness.Truth{no: yes, open: open, yes: no} {
		if got := truth.Not(); got != not {
			t.Errorf("not %s is %s, want %s", truth, got, not)
		}
	}
	if airworthiness.TruthOf(true) != yes || airworthiness.TruthOf(false) != no {
		t.Error("a bool is not its truth")
	}
	for truth, name := range map[airworthiness.Truth]string{no: "no", open: "unknown", yes: "yes"} {
		if truth.String() != name {
			t.Errorf("%s, want %s", truth, name)
		}
	}
}

func TestNamesAreComplete(t *testing.T) {
	t.Parallel()
	tables := map[string][]string{
		"outcomes": airworthiness.OutcomeNames(), "steps": airworthiness.StepNames(), "kinds": airworthiness.KindNames(),
		"conditions": airworthiness.ConditionNames(),
	}
	for table, names := range tables {
		seen := slices.Clone(names)
		slices.Sort(seen)
		if len(names) == 0 || slices.Contains(names, "") || len(slices.Compact(seen)) != len(names) {
			t.Errorf("%s: a name is missing or stands twice: %q", table, names)
		}
	}
	for i, name := range airworthiness.KindNames() {
		kind, ok := airworthiness.ParseKind(name)
		if !ok || kind != 1<<i {
			t.Errorf("the kind %s reads as %d", name, kind)
		}
	}
	if kind, ok := airworthiness.ParseKind("day"); ok || kind != 0 {
		t.Errorf("what is no kind reads as %d", kind)
	}
	for i, name := range airworthiness.StepNames() {
		if got := airworthiness.Step(i).String(); got != name {
			t.Errorf("step %d is %s, want %s", i, got, name)
		}
	}
	if outcome := airworthiness.OutcomeNoted.String(); outcome != "noted" {
		t.Errorf("the last outcome is %s, want noted", outcome)
	}
}

func TestDates(t *testing.T) {
	t.Parallel()
	for _, s := range []string{"1903-12-17", "1969-12-31", "1970-01-02", "2000-02-29", "2026-06-01"} {
		d, ok := airworthiness.ParseDate(s)
		if !ok || d.String() != s {
			t.Errorf("%s reads back as %s", s, d)
		}
	}
	for _, s := range []string{"", "2026-02-29", "2026-6-1", "01.06.2026", "2026-06-01T00:00:00Z"} {
		if d, ok := airworthiness.ParseDate(s); ok {
			t.Errorf("%q reads as %s", s, d)
		}
	}
	if a, b := day("2026-03-01"), day("2026-02-28"); a-b != 1 {
		t.Errorf("%d days from %s to %s", a-b, b, a)
	}
}
