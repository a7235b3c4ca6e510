package casefile

import (
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"

	"tiedown/internal/airworthiness"
)

// Answer is a determination in words.
type Answer struct {
	Verdict         string       `json:"verdict"`
	Permits         bool         `json:"permits"`
	Summary         string       `json:"summary"` // one paragraph, to be read aloud
	Limitations     []string     `json:"limitations"`
	LimitationsData []Limitation `json:"limitations_data"` // the same, as data
	Missing         []Missing    `json:"missing"`
	Findings        []Finding    `json:"findings"`
	Rules           string       `json:"rules"`
	Caution         string       `json:"caution"`
}

// Finding is one step or row as it came out.
type Finding struct {
	Step           string    `json:"step"`
	Outcome        string    `json:"outcome"`
	Verdict        string    `json:"verdict"`
	Defect         string    `json:"defect,omitempty"`
	Item           string    `json:"item,omitempty"` // of what is due, by the aircraft's own papers
	Row            string    `json:"row"`
	Citation       string    `json:"citation"`
	Words          string    `json:"words"`
	Status         string    `json:"status"`
	Says           string    `json:"says,omitempty"`
	Limitation     string    `json:"limitation,omitempty"`
	Relief         string    `json:"relief,omitempty"`
	ReliefCitation string    `json:"relief_citation,omitempty"`
	Missing        []Missing `json:"missing,omitempty"`
	ToDo           []ToDo    `json:"to_do,omitempty"`
}

// ToDo is one thing to do about a finding. By names who may, with the citation; it is empty where nobody in particular
// is asked for.
type ToDo struct {
	Action   string   `json:"action"`
	By       []string `json:"by,omitempty"`
	Placard  string   `json:"placard,omitempty"`
	Where    string   `json:"where,omitempty"`
	Entry    string   `json:"entry,omitempty"`
	Citation string   `json:"citation"`
	Status   string   `json:"status"`
	Row      string   `json:"row"`
}

// Missing is a fact to supply.
type Missing struct {
	Fact string `json:"fact"`
	Asks string `json:"asks"`
}

// Judge answers a question. digest names the book of rules.
func Judge(q Question, rules *airworthiness.Ruleset, digest string) Answer {
	flight := rules.Prepare(q.Flight)
	var d airworthiness.Determination
	q.Plan.Determine(&d, q.Defects, &flight)
	return InWords(q.Plan, &d, q.Defects, digest)
}

// InWords turns a determination into words.
func InWords(plan *airworthiness.Plan, d *airworthiness.Determination, defects []airworthiness.Defect, digest string) Answer {
	a := Answer{
		Verdict: d.Verdict.String(), Permits: d.Verdict.Permits(), Limitations: []string{}, LimitationsData: []Limitation{}, Missing: []Missing{},
		Findings: make([]Finding, 0, len(d.Findings)), Rules: digest, Caution: plan.Term(airworthiness.TermCaution),
	}
	for i := range d.Findings {
		e := plan.Explain(&d.Findings[i])
		f := Finding{
			Step: e.Step.String(), Outcome: e.Outcome.String(), Verdict: e.Verdict.String(), Item: e.Item, Row: e.Row, Citation: e.Citation,
			Words: e.Words, Status: e.Status, Says: e.Says, Limitation: e.Limitation, Relief: e.Relief, ReliefCitation: e.ReliefCite,
		}
		if at := d.Findings[i].Defect; at >= 0 {
			f.Defect = defects[d.Order[at]].ID
		}
		if other, ok := d.Findings[i].Other(); ok {
			f.Says += " The other is squawk " + defects[d.Order[other]].ID + "."
		}
		for _, t := range plan.ToDo(d, &d.Findings[i], defects) {
			f.ToDo = append(f.ToDo, ToDo(t))
		}
		for _, m := range e.Missing {
			missing := Missing{m.Fact, m.Asks}
			f.Missing = append(f.Missing, missing)
			if !slices.Contains(a.Missing, missing) {
				a.Missing = append(a.Missing, missing)
			}
		}
		if f.Limitation != "" && !slices.Contains(a.Limitations, f.Limitation) {
			a.Limitations = append(a.Limitations, f.Limitation)
		}
		if l := limitationOf(f, plan.Binding(d, &d.Findings[i])); l.Words != "" && !slices.ContainsFunc(a.LimitationsData, l.repeats) {
			a.LimitationsData = append(a.LimitationsData, l)
		}
		a.Findings = append(a.Findings, f)
	}
	if d.Permit != nil {
		a.addPermitLimitations(d.Permit)
	}
	a.Summary = a.summarize()
	return a
}

// addPermitLimitations adds the words of the special flight permit. Each rests on the row by which the permit lifts a
// finding.
func (a *Answer) addPermitLimitations(p *airworthiness.Permit) {
	lifted := slices.IndexFunc(a.Findings, func(f Finding) bool { return f.Limitation == airworthiness.WithinPermit })
	by := a.Findings[lifted]
	for _, words := range p.Limitations {
		if !slices.Contains(a.Limitations, words) {
			a.Limitations = append(a.Limitations, words)
		}
		l := Limitation{Words: words, Row: by.Row, Citation: by.Citation, Relief: by.Relief, ReliefCitation: by.ReliefCitation}
		if !slices.ContainsFunc(a.LimitationsData, l.repeats) {
			a.LimitationsData = append(a.LimitationsData, l)
		}
	}
}

// WithoutPasses leaves out the findings that ask nothing of anybody.
func (a Answer) WithoutPasses() Answer {
	a.Findings = slices.DeleteFunc(slices.Clone(a.Findings), func(f Finding) bool {
		return f.Outcome == airworthiness.OutcomePassed.String() || f.Outcome == airworthiness.OutcomeNoted.String()
	})
	return a
}

// WriteJSON writes the answer as indented JSON.
func (a Answer) WriteJSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(a)
}

// WriteText writes the answer for reading: the verdict first, then why.
func (a Answer) WriteText(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n", strings.ToUpper(a.Verdict))
	for _, l := range a.Limitations {
		fmt.Fprintf(&b, "  limited: %s\n", l)
	}
	for _, m := range a.Missing {
		fmt.Fprintf(&b, "  missing: %s (%s)\n", m.Fact, m.Asks)
	}
	subject := "\x00"
	for _, f := range a.Findings {
		if f.Defect != subject {
			subject = f.Defect
			heading := "the aircraft and the flight"
			if subject != "" {
				heading = "squawk " + subject
			}
			fmt.Fprintf(&b, "\n%s\n", heading)
		}
		fmt.Fprintf(&b, "  %-9s %s  [%s]\n            %s\n", f.Outcome, f.Citation, f.Row, f.Words)
		if f.Says != "" {
			fmt.Fprintf(&b, "            %s\n", f.Says)
		}
		if f.Relief != "" {
			fmt.Fprintf(&b, "            relieved by %s  [%s]\n", f.ReliefCitation, f.Relief)
		}
		if f.Status != "verified" && f.Status != "record" && f.Status != airworthiness.CompanyStatus {
			fmt.Fprintf(&b, "            how well this row has been read: %s\n", f.Status)
		}
		for _, t := range f.ToDo {
			t.writeText(&b)
		}
	}
	fmt.Fprintf(&b, "\n%s\n", a.Caution)
	_, err := io.WriteString(w, b.String())
	return err
}

// unread is how well a row has been read, where that is worth saying.
func unread(status string) string {
	if status == "verified" {
		return ""
	}
	return status
}

func (t ToDo) writeText(b *strings.Builder) {
	fmt.Fprintf(b, "            to do: %s  [%s, %s]\n", t.Action, t.Citation, t.Row)
	for _, line := range []struct{ label, text string }{
		{"by", strings.Join(t.By, "; or ")},
		{"placard", t.Placard},
		{"where", t.Where},
		{"entry", t.Entry},
		{"how well this row has been read", unread(t.Status)},
	} {
		if line.text != "" {
			fmt.Fprintf(b, "              %s: %s\n", line.label, line.text)
		}
	}
}
