package casefile

import "fmt"

// Difference is how one answer differs from another to the same question.
type Difference struct {
	Was, Is string    // verdicts
	Gone    []Finding // that the first had and the second has not
	Come    []Finding // that the second has and the first had not
}

// Compare tells how an answer differs from an earlier one. Findings are the same when they are about the same squawk and
// row and came out the same way; how they are worded does not matter.
func Compare(was, is Answer) Difference {
	return Difference{Was: was.Verdict, Is: is.Verdict, Gone: missingFrom(is.Findings, was.Findings), Come: missingFrom(was.Findings, is.Findings)}
}

// None says that verdict and findings are the same.
func (d Difference) None() bool { return d.Was == d.Is && len(d.Gone)+len(d.Come) == 0 }

// outcomeOf is what of a finding makes a difference.
func outcomeOf(f Finding) [7]string {
	return [7]string{f.Step, f.Outcome, f.Verdict, f.Defect, f.Row, f.Limitation, f.Relief}
}

// missingFrom is the multiset of findings that are among others and not among these.
func missingFrom(these, others []Finding) []Finding {
	count := map[[7]string]int{}
	for _, f := range these {
		count[outcomeOf(f)]++
	}
	var missing []Finding
	for _, f := range others {
		key := outcomeOf(f)
		if count[key]--; count[key] < 0 {
			missing = append(missing, f)
		}
	}
	return missing
}

// Line tells a finding in one line.
func (f Finding) Line() string {
	subject := "aircraft and flight"
	if f.Defect != "" {
		subject = "squawk " + f.Defect
	}
	line := fmt.Sprintf("%s: %s %s, %s", subject, f.Row, f.Outcome, f.Citation)
	if f.Limitation != "" {
		line += ": " + f.Limitation
	}
	return line
}
