package casefile

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"tiedown/internal/airworthiness"
)

// MEL is the minimum equipment list that governs an aircraft. OnRecord true: Rows is the whole list; false: there is no
// such document; absent: nobody has entered it.
type MEL struct {
	OnRecord     *bool    `json:"on_record,omitempty"`
	Document     string   `json:"document,omitempty"`
	Authority    string   `json:"authority,omitempty"`
	LetterAboard *bool    `json:"letter_aboard,omitempty"`
	Aboard       *bool    `json:"aboard,omitempty"` // the list is in the aircraft
	Rows         []MELRow `json:"rows,omitempty"`
}

// MELRow is what an MEL says of one item. No proviso and no conditions mean that there are none; anything else that is
// absent is unknown.
type MELRow struct {
	Item                 string `json:"item"`
	Installed            *int   `json:"installed,omitempty"`
	Required             *int   `json:"required,omitempty"`
	Category             string `json:"category,omitempty"`
	Days                 *int   `json:"days,omitempty"`
	OperationsProcedure  *bool  `json:"operations_procedure,omitempty"`
	MaintenanceProcedure *bool  `json:"maintenance_procedure,omitempty"`
	Proviso              string `json:"proviso,omitempty"`
	OnlyWhen             string `json:"only_when,omitempty"`
	Document             string `json:"document,omitempty"`
}

// Permit is a special flight permit as the FAA has issued it. Absent fields are unknown, and an unknown field is no
// permission.
type Permit struct {
	Number           string     `json:"number"`
	Issued           string     `json:"issued,omitempty"`
	ValidFrom        *time.Time `json:"valid_from,omitempty"`
	ValidUntil       *time.Time `json:"valid_until,omitempty"`
	Covers           []string   `json:"covers,omitempty"`
	Limitations      []string   `json:"limitations,omitempty"`
	Kinds            *[]string  `json:"kinds,omitempty"`
	OnlyRequiredCrew *bool      `json:"only_required_crew,omitempty"`
}

// Found is what became of a condition. An absent part has not been done.
type Found struct {
	Result   string `json:"result,omitempty"`
	Rated    bool   `json:"rated,omitempty"`
	Data     string `json:"data,omitempty"`
	Approved bool   `json:"approved,omitempty"`
}

func compileMEL(m MEL, rules *airworthiness.Ruleset, prefix string, bad *Faults) airworthiness.MEL {
	compiled := airworthiness.MEL{OnRecord: truth(m.OnRecord), Authority: m.Authority, LetterAboard: truth(m.LetterAboard), Aboard: truth(m.Aboard)}
	if m.Authority != "" {
		checkWord(prefix+"authority", "mel_authority", m.Authority, bad)
	}
	if compiled.OnRecord == airworthiness.No && len(m.Rows) > 0 {
		bad.Add(prefix+"rows", "no-document", "a document that does not exist cannot have rows", "set on_record to true, or remove the rows")
	}
	items := map[string]bool{}
	for i, r := range m.Rows {
		at := fmt.Sprintf("%srows[%d].", prefix, i)
		if items[r.Item] {
			bad.Add(at+"item", "unique", fmt.Sprintf("the item %q stands twice", r.Item), "keep one row an item")
		}
		items[r.Item] = true
		if _, ok := rules.Item(r.Item); !ok {
			bad.Add(at+"item", "known-item", fmt.Sprintf("%q is not in the item catalog", r.Item), "take a key from GET /v1/items")
		}
		if err := rules.FlightClause(r.OnlyWhen); err != nil {
			bad.Add(at+"only_when", "flight-conditions", err.Error(), "give conditions of the flight, such as !ifr !night")
		}
		r.check(at, bad)
		document := r.Document
		if document == "" {
			document = m.Document
		}
		compiled.Rows = append(compiled.Rows, airworthiness.MELRow{
			Item: r.Item, Installed: fact(r.Installed), Required: fact(r.Required), Category: r.Category, Days: fact(r.Days),
			Operations: truth(r.OperationsProcedure), Maintenance: truth(r.MaintenanceProcedure),
			Proviso: r.Proviso, OnlyWhen: r.OnlyWhen, Document: document,
		})
	}
	return compiled
}

// check holds a row by itself, without the book.
func (r *MELRow) check(at string, bad *Faults) {
	if r.Installed != nil && *r.Installed < 1 {
		bad.Add(at+"installed", "range", "an MEL speaks of what is installed", "give the number installed, from 1")
	}
	if r.Required != nil && *r.Required < 0 {
		bad.Add(at+"required", "range", "fewer than none can't be required", "give the number required, from 0")
	}
	if r.Installed != nil && r.Required != nil && *r.Required > *r.Installed {
		bad.Add(at+"required", "at-most-installed", "more are required than are installed", "correct installed or required")
	}
	if r.Category != "" {
		checkWord(at+"category", "mel_category", r.Category, bad)
	}
	if r.Days != nil && r.Category != "A" {
		bad.Add(at+"days", "category-a", "only category A states its own days", "leave days out: the category says how many")
	}
	if r.Days != nil && *r.Days < 1 {
		bad.Add(at+"days", "range", "an interval has at least one day", "give the number of days, from 1")
	}
}

func compilePermit(p *Permit, bad *Faults) *airworthiness.Permit {
	if p == nil {
		return nil
	}
	const at = "flight.special_flight_permit."
	compiled := airworthiness.Permit{
		Number: p.Number, Issued: compileDate(at+"issued", p.Issued, bad), ValidFrom: fact(p.ValidFrom), ValidUntil: fact(p.ValidUntil),
		Covers: p.Covers, OnlyRequiredCrew: truth(p.OnlyRequiredCrew), Limitations: p.Limitations,
	}
	if strings.TrimSpace(p.Number) == "" {
		bad.Add(at+"number", "required", "a permit without a number has not been issued", "give the number that stands on the permit")
	}
	if p.ValidFrom != nil && p.ValidUntil != nil && !p.ValidUntil.After(*p.ValidFrom) {
		bad.Add(at+"valid_until", "after-valid-from", "the permit ends before it begins", "give the times stated in the permit")
	}
	if p.Kinds != nil {
		kinds, ok := compileKinds(*p.Kinds)
		if !ok {
			bad.Add(at+"kinds", "kind-of-operation", "an entry is no kind of operation", "use "+kindList())
		}
		compiled.Kinds = airworthiness.Given(kinds)
	}
	for i, id := range p.Covers {
		if id == "" || slices.Contains(p.Covers[:i], id) {
			bad.Add(fmt.Sprintf("%scovers[%d]", at, i), "unique", fmt.Sprintf("the squawk %q stands twice or has no name", id), "name each squawk once")
		}
	}
	return &compiled
}

func compileFound(f *Found, at string, bad *Faults) *airworthiness.Found {
	if f == nil {
		return nil
	}
	compiled := airworthiness.Found{
		Rated: airworthiness.TruthOf(f.Rated), Data: airworthiness.TruthOf(strings.TrimSpace(f.Data) != ""),
		Approved: airworthiness.TruthOf(f.Approved),
	}
	switch f.Result {
	case "repaired":
		compiled.Result = airworthiness.FoundRepaired
	case "within-limits":
		compiled.Result = airworthiness.FoundWithinLimits
	case "":
	default:
		bad.Add(at+"found.result", "known-result", fmt.Sprintf("%q is no result", f.Result), "use repaired or within-limits")
	}
	return &compiled
}

// checkPutBack refuses a condition that is cleared on a unit that is said to be out of the aircraft: one of the two is no
// longer so.
func checkPutBack(d *Defect, at string, bad *Faults) {
	if d.Found != nil && d.Deferral != nil && d.Deferral.Method == "removed" && d.Deferral.MethodDone {
		bad.Add(at+"found", "put-back", "the unit is said to be removed, and what was wrong with it cleared",
			"leave out the deferral once the unit is back in the aircraft, or else found")
	}
}
