package casefile

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"tiedown/internal/airworthiness"
)

// named is how many findings and facts a summary names; the others it counts. Limits are all named: a pilot has to keep
// every one.
const named = 3

// opening is how a summary begins, for each verdict.
var opening = map[airworthiness.Verdict]string{
	airworthiness.Clear:        "Clear: nothing on record stands in the way of this flight.",
	airworthiness.Limited:      "Limited: the flight may go within its limits.",
	airworthiness.DeferFirst:   "Defer first: the flight may go once the deferral is done and signed.",
	airworthiness.Undetermined: "Undetermined, which counts as no: facts are missing.",
	airworthiness.Grounded:     "Grounded: the aircraft may not make this flight.",
}

// Opening is how a summary begins for a verdict: a sentence that says what the verdict means for the flight. A verdict that
// is none reads as undetermined.
func Opening(verdict string) string {
	v, _ := airworthiness.ParseVerdict(verdict)
	return opening[v]
}

// summarize writes the answer as one paragraph to be read aloud: the verdict, what stands in the way and by which rule,
// what must be done, the limits, and who decides.
func (a *Answer) summarize() string {
	verdict, _ := airworthiness.ParseVerdict(a.Verdict)
	said := []string{opening[verdict]}
	said = append(said, a.inTheWay()...)
	said = append(said, a.toSupply()...)
	said = append(said, a.within()...)
	return strings.Join(append(said, "The pilot in command decides last; this is an aid, not an approval."), " ")
}

// inTheWay names the findings that keep the flight from going, the worst first.
func (a *Answer) inTheWay() []string {
	var said []string
	counted := 0
	for _, v := range slices.Backward(airworthiness.Verdicts()) {
		for _, f := range a.Findings {
			if f.Verdict != v.String() || v.Permits() {
				continue
			}
			sentence := f.aloud()
			switch {
			case slices.Contains(said, sentence):
			case len(said) < named:
				said = append(said, sentence)
			default:
				counted++
			}
		}
	}
	if counted > 0 {
		said = append(said, fmt.Sprintf("And %d more.", counted))
	}
	return said
}

// Blocks says whether the finding keeps the flight from going as it stands.
func (f Finding) Blocks() bool {
	v, ok := airworthiness.ParseVerdict(f.Verdict)
	return !ok || !v.Permits()
}

// aloud is one finding as a sentence.
func (f Finding) aloud() string {
	why := map[string]string{
		"breached": "is not met", "undone": "is still to be done", "unknown": "cannot be decided",
	}[f.Outcome]
	subject := ""
	if f.Defect != "" {
		subject = "Squawk " + f.Defect + ": "
	}
	return fmt.Sprintf("%s%s %s: %s", subject, Spoken(f.Citation), why, sentence(f.Words))
}

// toSupply names the facts that are missing.
func (a *Answer) toSupply() []string {
	var asks []string
	for _, m := range a.Missing {
		if !slices.Contains(asks, m.Asks) {
			asks = append(asks, m.Asks)
		}
	}
	if len(asks) == 0 {
		return nil
	}
	return []string{"Find out " + sentence(list(asks))}
}

// within names the limits.
func (a *Answer) within() []string {
	if len(a.Limitations) == 0 {
		return nil
	}
	return []string{"Limits: " + sentence(strings.Join(a.Limitations, "; "))}
}

// list joins words as they are spoken, and counts those that are too many to name.
func list(words []string) string {
	if more := len(words) - named; more > 0 {
		return strings.Join(words[:named], "; ") + fmt.Sprintf("; and %d more", more)
	}
	return strings.Join(words, "; ")
}

func sentence(s string) string { return strings.TrimRight(s, ". ") + "." }

// reporter is what stands before the number of a section: the number of a title and its short name.
var reporter = regexp.MustCompile(`^\d+ [A-Z]+ (\d+\.\d)`)

var paragraph = regexp.MustCompile(`\(([0-9a-z]+)\)`)

// Spoken is a citation as it is read aloud: the number of its section, without the title that it stands in, and then its
// paragraphs. "14 CFR 91.205(c)(4)" is "91.205, paragraph c 4".
func Spoken(citation string) string {
	parts := strings.Split(citation, "; ")
	for i, part := range parts {
		part = reporter.ReplaceAllString(part, "$1")
		section, rest, found := strings.Cut(part, "(")
		if !found {
			parts[i] = part
			continue
		}
		rest = strings.ReplaceAll(paragraph.ReplaceAllString("("+rest, " $1"), "  ", " ")
		parts[i] = strings.TrimSpace(section) + ", paragraph" + rest
	}
	return strings.Join(parts, " and ")
}
