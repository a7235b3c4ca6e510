package casefile_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/casefile"
)

const companyHeader = "id,citation,item,quantity,must,when,words,from,to\n"

// TestCompanyRulesReadBack holds that what is written is read back as it was.
func TestCompanyRulesReadBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`([a-z"|,;:'é-]([a-z "|,;:'é-]*[a-z"|,;:'é-])?)?`)
		date := rapid.SampledFrom([]string{"", "2027-01-01", "2028-02-29"})
		rules := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) casefile.CompanyRule {
			return casefile.CompanyRule{
				ID: "company-" + text.Draw(t, "id"), Citation: text.Draw(t, "citation"), Item: text.Draw(t, "item"),
				Quantity: text.Draw(t, "quantity"), Must: text.Draw(t, "must"), When: text.Draw(t, "when"),
				Words: text.Draw(t, "words"), From: date.Draw(t, "from"), To: date.Draw(t, "to"),
			}
		}), 0, 4).Draw(t, "rules")
		var written bytes.Buffer
		if err := casefile.WriteCompanyRules(&written, rules); err != nil {
			t.Fatal(err)
		}
		read, err := casefile.ReadCompanyRules(&written)
		if err != nil || len(read) != len(rules) || len(rules) > 0 && !reflect.DeepEqual(read, rules) {
			t.Fatalf("want %+v\nhave %+v, %v", rules, read, err)
		}
	})
}

func TestCompanyRulesAreReadStrictly(t *testing.T) {
	t.Parallel()
	const good = "company-a,manual 1,com-radio,2,,ifr,Two radios.,2027-01-01,\n"
	for _, c := range []struct {
		name, text string
		want       []string // field and line of each fault, in order
	}{
		{"nothing", "", []string{"document 1"}},
		{"another header", "id,citation\n", []string{"document 1"}},
		{"no rules", companyHeader, nil},
		{"one rule", companyHeader + good, nil},
		{"a field too few", companyHeader + "company-a,manual 1\n" + good, []string{"document 2"}},
		{"no date", companyHeader + strings.Replace(good, "2027-01-01", "spring", 1), []string{"from 2"}},
		{"a stray space", companyHeader + good + strings.Replace(good, "manual 1", " manual 1", 1), []string{"citation 3"}},
		{"a line break", companyHeader + strings.Replace(good, "Two radios.", "\"Two\nradios.\"", 1), []string{"words 2"}},
		{"every fault at once", companyHeader + "company-a\n" + strings.Replace(good, "2027-01-01,", "x,y", 1) + "company-b\n", []string{"document 2", "from 3", "to 3", "document 4"}},
		{"a quote out of place", companyHeader + good + "company-b,\"manual\" 1\n", []string{"document 3"}},
		{"broken UTF-8", companyHeader + strings.Replace(good, "radios", "radi\xffs", 1), []string{"document 2"}},
	} {
		_, err := casefile.ReadCompanyRules(strings.NewReader(c.text))
		var faults casefile.Faults
		if err != nil && !errors.As(err, &faults) {
			t.Errorf("%s: %v", c.name, err)
		}
		var told []string
		for _, f := range faults {
			told = append(told, f.Field+" "+string(rune('0'+f.Line)))
			if f.Says == "" || f.Remedy == "" || f.Rule == "" {
				t.Errorf("%s: a fault without words, remedy or rule: %+v", c.name, f)
			}
		}
		if !slices.Equal(told, c.want) {
			t.Errorf("%s: want %v, have %v (%v)", c.name, c.want, told, err)
		}
	}
}

// FuzzReadCompanyRules holds that nothing makes the reader panic, and that what it reads it writes and reads again.
func FuzzReadCompanyRules(f *testing.F) {
	f.Add([]byte(companyHeader + "company-a,manual 1,com-radio,2,,ifr,Two radios.,2027-01-01,\n"))
	f.Add([]byte(companyHeader + "company-a,\"manual\n"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		rules, err := casefile.ReadCompanyRules(bytes.NewReader(raw))
		if err != nil {
			return
		}
		var written bytes.Buffer
		if err := casefile.WriteCompanyRules(&written, rules); err != nil {
			t.Fatal(err)
		}
		again, err := casefile.ReadCompanyRules(&written)
		if err != nil || !reflect.DeepEqual(again, rules) {
			t.Fatalf("%+v is read again as %+v, %v", rules, again, err)
		}
	})
}

// TestEveryFaultyCompanyRuleIsNamed holds that each is named by its field, beside the other faults of the case.
func TestEveryFaultyCompanyRuleIsNamed(t *testing.T) {
	t.Parallel()
	rules := book(t).Ruleset
	c := casefile.Case{CompanyRules: []casefile.CompanyRule{
		{ID: "company-a", Citation: "manual 1", Words: "A radio.", Item: "com-radio", Quantity: "1"},
		{ID: "company-b", Citation: "manual 2", Words: "A dial.", Item: "dial", Quantity: "1"},
		{ID: "house-c", Citation: "manual 3", Words: "A clock.", Item: "clock", Quantity: "1", From: "spring"},
		{Citation: "manual 4", Words: "A clock.", Item: "clock", Quantity: "1"},
	}}
	_, err := casefile.Compile(c, rules)
	var faults casefile.Faults
	if !errors.As(err, &faults) {
		t.Fatal(err)
	}
	var fields []string
	for _, f := range faults {
		fields = append(fields, f.Field)
	}
	for _, want := range []string{"company_rules[1]", "company_rules[2]", "company_rules[2].from", "company_rules[3]", "aircraft.facts.basis", "flight.departs"} {
		if !slices.Contains(fields, want) {
			t.Errorf("%s is not named among %v", want, fields)
		}
	}
	if slices.Contains(fields, "company_rules[0]") {
		t.Errorf("a sound rule is named: %v", err)
	}
	var written bytes.Buffer
	if err := casefile.WriteCompanyRules(&written, nil); err != nil {
		t.Fatal(err)
	}
	if header, err := csv.NewReader(&written).Read(); err != nil || strings.Join(header, ",")+"\n" != companyHeader {
		t.Errorf("the header is %v, %v", header, err)
	}
}
