package main

import (
	"encoding/json"
	"strings"
	"testing"

	"tiedown/internal/casefile"
)

// TestCompanyRulesComeFromCSV holds that rules are read strictly and printed as the server takes them.
func TestCompanyRulesComeFromCSV(t *testing.T) {
	t.Parallel()
	const header = "id,citation,item,quantity,must,when,words,from,to\n"
	code, out, stderr := call(t, header+"company-clock,\"club rules, 7\",clock,1,,night,A clock at night.,2027-01-01,\n", []string{"rules", "company", "-"})
	var printed struct{ Rules []casefile.CompanyRule }
	if err := json.Unmarshal([]byte(out), &printed); err != nil || code != exitOK || len(printed.Rules) != 1 || printed.Rules[0].When != "night" {
		t.Errorf("exit %d, %v, %s %s", code, err, out, stderr)
	}
	for csv, says := range map[string]string{
		"id,citation\n": "header",
		header + "clock,club rules,clock,1,,,A clock.,,\n":                                 "company-",
		header + "company-clock,club rules,no-such,1,,,A clock.,,\n":                       "no-such",
		header + "company-a,x,clock,0,,,Words.,,\ncompany-b,x,clock,1,,no-such,Words.,,\n": "no-such",
	} {
		code, out, stderr := call(t, csv, []string{"rules", "company", "-"})
		if code != exitUsage || out != "" || !strings.Contains(stderr, says) {
			t.Errorf("%q: exit %d, %s%s; want %s", csv, code, out, stderr, says)
		}
	}
	if code, _, _ := call(t, "", []string{"rules", "company"}); code != exitUsage {
		t.Errorf("without a file: exit %d", code)
	}
}
