package inquiry_test

import (
	"encoding/json"
	"maps"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/inquiry"
)

func settle(t fataler, c casefile.Case, rules *airworthiness.Ruleset) inquiry.Settling {
	t.Helper()
	s, err := inquiry.Settle(c, rules)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// enter writes a value into a case at the place that its fact names, by way of JSON: what anybody could do by hand.
func enter(t fataler, c casefile.Case, fact, value string) casefile.Case {
	t.Helper()
	raw, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	var whole map[string]any
	var v any
	if json.Unmarshal(raw, &whole) != nil || json.Unmarshal([]byte(value), &v) != nil {
		t.Fatal("no JSON: ", value)
	}
	object, _ := v.(map[string]any)
	if further, ok := object["further_units"]; ok {
		config := at(t, whole, "aircraft.configuration")
		config["units_complete"] = true
		units, _ := config["units"].([]any)
		config["units"] = append(units, further.([]any)...)
	} else if further, ok := object["further_items"]; ok {
		record, _ := at(t, whole, "aircraft.facts")["upkeep"].(map[string]any)
		if record == nil {
			record = map[string]any{}
			at(t, whole, "aircraft.facts")["upkeep"] = record
		}
		record["complete"] = true
		items, _ := record["items"].([]any)
		record["items"] = append(items, further.([]any)...)
	} else if strings.HasSuffix(fact, "]") {
		member := at(t, whole, fact)
		clear(member)
		maps.Copy(member, object)
	} else {
		group, field := fact[:strings.LastIndex(fact, ".")], fact[strings.LastIndex(fact, ".")+1:]
		place := at(t, whole, group)
		place[field] = v
		if field == "unit" {
			delete(place, "item")
		}
	}
	raw, err = json.Marshal(whole)
	if err != nil {
		t.Fatal(err)
	}
	c, err = casefile.Decode(raw)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// at finds the object at a path; a member of a list is named by its id: "defects[beacon].deferral".
func at(t fataler, whole map[string]any, path string) map[string]any {
	t.Helper()
	here := whole
	for path != "" {
		var step string
		if open := strings.IndexByte(path, '['); open >= 0 && !strings.Contains(path[:open], ".") {
			id := path[open+1 : strings.IndexByte(path, ']')]
			list, _ := here[path[:open]].([]any)
			i := slices.IndexFunc(list, func(m any) bool { return m.(map[string]any)["id"] == id || m.(map[string]any)["item"] == id })
			if n, err := strconv.Atoi(id); err == nil {
				i = n
			}
			if i < 0 {
				t.Fatal("no member ", path)
			}
			here = list[i].(map[string]any)
			path = strings.TrimPrefix(path[strings.IndexByte(path, ']')+1:], ".")
			continue
		}
		step, path, _ = strings.Cut(path, ".")
		next, ok := here[step].(map[string]any)
		if !ok {
			next = map[string]any{}
			here[step] = next
		}
		here = next
	}
	return here
}

// verdictWith is what the engine says of a case with values entered; false if there can be no such case.
func verdictWith(t fataler, c casefile.Case, values []inquiry.Answered, rules *airworthiness.Ruleset) (string, bool) {
	t.Helper()
	for _, v := range values {
		c = enter(t, c, v.Fact, v.Value)
	}
	q, err := casefile.Compile(c, rules)
	if err != nil {
		return "", false
	}
	return casefile.Judge(q, rules, "").Verdict, true
}

// assignments are every way to give values to facts.
func assignments(names []string, values map[string][]inquiry.FactValue) [][]inquiry.Answered {
	all := [][]inquiry.Answered{nil}
	for _, name := range names {
		var longer [][]inquiry.Answered
		for _, a := range all {
			for _, v := range values[name] {
				longer = append(longer, append(slices.Clone(a), inquiry.Answered{Fact: name, FactValue: v}))
			}
		}
		all = longer
	}
	return all
}

// settles says whether some of the assignments can be entered and whichever is leaves nothing open. Facts that only
// make sense together with another, such as the days of a category that is not known, settle nothing by themselves.
func settles(t fataler, c casefile.Case, all [][]inquiry.Answered, rules *airworthiness.Ruleset) bool {
	t.Helper()
	entered := 0
	for _, a := range all {
		verdict, ok := verdictWith(t, c, a, rules)
		if ok && verdict == "undetermined" {
			return false
		}
		if ok {
			entered++
		}
	}
	return entered > 0
}

// mostTried bounds the assignments of one set that a test enters by hand.
const mostTried = 500

// holdSettling holds everything that a settling says against the engine.
func holdSettling(t fataler, c casefile.Case, s inquiry.Settling, rules *airworthiness.Ruleset) {
	t.Helper()
	values := map[string][]inquiry.FactValue{}
	for _, f := range s.Facts {
		values[f.Fact] = f.Values
	}
	if s.Verdict != "undetermined" && len(s.Sets)+len(s.Facts) > 0 {
		t.Fatal("nothing was open, but it is settled by ", tell(s))
	}
	for _, set := range s.Sets {
		if set.Tried > mostTried {
			continue // its outcomes are listed, but there are too many to enter each by hand
		}
		tried := 0
		for _, a := range assignments(set.Facts, values) {
			verdict, ok := verdictWith(t, c, a, rules)
			if !ok {
				continue
			}
			tried++
			if verdict == "undetermined" {
				t.Fatal("it settles nothing: ", tell(a))
			}
			if !slices.ContainsFunc(set.Outcomes, func(o inquiry.Outcome) bool { return o.Verdict == verdict }) {
				t.Fatal("the verdict ", verdict, " is not among the outcomes of ", tell(set))
			}
		}
		if tried != set.Tried {
			t.Fatal(tried, " assignments, but it says ", set.Tried)
		}
		for _, o := range set.Outcomes {
			if verdict, ok := verdictWith(t, c, o.Values, rules); !ok || verdict != o.Verdict {
				t.Fatal("it says ", o.Verdict, ", the engine ", verdict, " of ", tell(o))
			}
		}
		for i := range set.Facts {
			fewer := slices.Delete(slices.Clone(set.Facts), i, i+1)
			if settles(t, c, assignments(fewer, values), rules) {
				t.Fatal("without ", set.Facts[i], " the others settle it: ", tell(set.Facts))
			}
		}
	}
	if s.AllOfThese == nil {
		return
	}
	for _, o := range []inquiry.Outcome{s.AllOfThese.Best, s.AllOfThese.Worst} {
		if verdict, ok := verdictWith(t, c, o.Values, rules); !ok || verdict != o.Verdict || verdict == "undetermined" {
			t.Fatal("it says ", o.Verdict, ", the engine ", verdict, " of ", tell(o))
		}
	}
}

// TestEverySetSettles holds of random cases that each set which is said to settle one does, whatever comes out, and that
// none of its parts does.
func TestEverySetSettles(t *testing.T) {
	t.Parallel()
	rules := book(t).Ruleset
	fleet := aircraft(t)
	settled, together, open := 0, 0, 0
	rapid.Check(t, func(t *rapid.T) {
		c := drawOpenCase(t, fleet, rules)
		s := settle(t, c, rules)
		holdSettling(t, c, s, rules)
		switch {
		case len(s.Sets) > 0:
			settled++
		case s.AllOfThese != nil:
			together++
		case s.Verdict == "undetermined":
			open++
		}
	})
	t.Logf("%d settled by sets, %d by all together, %d not at all", settled, together, open)
	if settled < 5 {
		t.Errorf("only %d cases are settled by sets", settled)
	}
}

// drawOpenCase draws a case that lacks a few facts.
func drawOpenCase(t *rapid.T, fleet []casefile.Aircraft, rules *airworthiness.Ruleset) casefile.Case {
	c := drawCase(t, fleet, rules)
	c.Flight = drawFlight(t, c.Aircraft)
	f := &c.Flight.FlightFacts
	for range rapid.IntRange(0, 3).Draw(t, "flight facts missing") {
		*rapid.SampledFrom([]**bool{&f.ForHire, &f.OverWater, &f.InAlaska, &f.Dark, &f.Over30MinAbove12500}).Draw(t, "missing") = nil
	}
	if chance(t, 30, "no altitude") {
		f.AltitudeFt, f.CabinFt = nil, nil
	}
	if chance(t, 30, "no light") {
		c.Flight.Light = nil
	}
	if chance(t, 20, "no list") {
		c.Aircraft.Configuration.Directives.OnRecord = nil
	}
	if chance(t, 20, "no confirmation") {
		c.Aircraft.Configuration.TypeCertification.OnRecord = nil
	}
	return c
}

// TestSettlingIsTheSameInAnyOrder holds that the order of squawks and units is no part of the answer.
func TestSettlingIsTheSameInAnyOrder(t *testing.T) {
	t.Parallel()
	rules := book(t).Ruleset
	fleet := aircraft(t)
	rapid.Check(t, func(t *rapid.T) {
		c := drawOpenCase(t, fleet, rules)
		shuffled := c
		shuffled.Defects = rapid.Permutation(c.Defects).Draw(t, "defects")
		shuffled.Aircraft.Configuration.Units = rapid.Permutation(c.Aircraft.Configuration.Units).Draw(t, "units")
		if a, b := tell(settle(t, c, rules)), tell(settle(t, shuffled, rules)); a != b {
			t.Fatalf("in one order\n%s\nin another\n%s", a, b)
		}
	})
}

// TestSettlingOfWrittenCases goes through cases of the folder. What settles each is read from the regulation that the
// case names as its source.
func TestSettlingOfWrittenCases(t *testing.T) {
	t.Parallel()
	rules := book(t).Ruleset
	all := written(t)
	for name, want := range map[string][]string{
		// 91.213(d)(2)(i), (iv): both lists must be known to hold nothing of the item, and somebody must have confirmed the
		// first; eCFR title 14 issue 2026-08-24.
		"trainer-lists-not-looked-at": {
			"aircraft.configuration.directives aircraft.configuration.type_certification aircraft.configuration.type_certification.confirmed: clear grounded",
		},
		// 91.213(a)(1) to (3): the MEL itself, the letter, and what it says of the item; eCFR title 14 issue 2026-08-24. Under
		// 91.213(c) the day of discovery counts, too; PL-25, second-hand.
		"mel-autopilot": {
			"aircraft.configuration.mel aircraft.configuration.mel.aboard aircraft.configuration.mel.authority aircraft.configuration.mel.letter_aboard defects[autopilot].deferral.discovered: clear grounded",
		},
		// 91.209(a) binds in Alaska otherwise than elsewhere; eCFR title 14 issue 2026-08-24.
		"daylight-alaska-state-not-said": {"flight.dark flight.in_alaska: clear grounded"},
	} {
		c := all[name]
		s := settle(t, c, rules)
		var got []string
		for _, set := range s.Sets {
			verdicts := map[string]bool{}
			for _, o := range set.Outcomes {
				verdicts[o.Verdict] = true
			}
			got = append(got, strings.Join(set.Facts, " ")+": "+strings.Join(slices.Sorted(maps.Keys(verdicts)), " "))
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s: settled by\n%q, want\n%q", name, got, want)
		}
		holdSettling(t, c, s, rules)
	}
	// 91.213(a): an MEL governs, and there is none: nothing that can be entered settles it.
	none := all["mel-autopilot"].Copy()
	none.Aircraft.Configuration.MEL.OnRecord = new(bool)
	if s := settle(t, none, rules); s.Verdict != "undetermined" || len(s.Sets) != 0 || s.AllOfThese != nil {
		t.Errorf("under an MEL that is not kept: %s", tell(s))
	}
	for name, c := range all {
		s := settle(t, c, rules)
		if (s.Verdict == "undetermined") != (c.Expect.Verdict == "undetermined") {
			t.Errorf("%s: %s", name, s.Verdict)
		}
		holdSettling(t, c, s, rules)
	}
}

// FuzzSettle holds that settling any case that compiles comes to an end within its bounds, and changes nothing.
func FuzzSettle(f *testing.F) {
	rules := book(f).Ruleset
	for _, c := range written(f) {
		f.Add([]byte(tell(c)))
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		c, err := casefile.Decode(raw)
		if err != nil {
			return
		}
		before := tell(c)
		s, err := inquiry.Settle(c, rules)
		if _, refused := casefile.Compile(c, rules); (err == nil) != (refused == nil) {
			t.Fatalf("settled with %v, compiled with %v", err, refused)
		}
		if s.Judged > 2000 || len(s.Facts) > 24 || len(s.Sets) > 12 {
			t.Fatalf("beyond its bounds: %d judged, %d facts, %d sets", s.Judged, len(s.Facts), len(s.Sets))
		}
		if after := tell(c); after != before {
			t.Fatalf("the case was changed:\n%s\n%s", before, after)
		}
	})
}

// BenchmarkSettle shows what it costs to settle cases that miss little, and one that misses more than is searched through.
func BenchmarkSettle(b *testing.B) {
	rules := book(b).Ruleset
	all := written(b)
	much := all["trainer-lists-not-looked-at"]
	much.Aircraft.Facts = casefile.Facts{Basis: much.Aircraft.Facts.Basis}
	all["too-much-is-missing"] = much
	for _, name := range []string{"trainer-lists-not-looked-at", "mel-autopilot", "light-sport-list-not-entered", "too-much-is-missing"} {
		c := all[name]
		b.Run(name, func(b *testing.B) {
			n := 0
			for b.Loop() {
				n = settle(b, c, rules).Judged
			}
			b.ReportMetric(float64(n), "cases/op")
		})
	}
}

func BenchmarkEnvelope(b *testing.B) {
	rules := book(b).Ruleset
	c := written(b)["trainer-landing-light-by-day"]
	size := 0
	for b.Loop() {
		size = len(tell(envelope(b, c, rules)))
	}
	b.ReportMetric(float64(size), "bytes")
}
