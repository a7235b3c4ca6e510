package airworthiness

import (
	"cmp"
	"errors"
	"fmt"
	"iter"
	"slices"
	"strconv"
	"strings"
)

// Ruleset is the regulation, compiled. It is immutable and safe for concurrent use.
type Ruleset struct {
	items      []ItemRow
	itemIndex  map[string]int
	providers  [][]int // item -> items that do its job, itself first
	words      map[string]Words
	conditions []condition
	index      map[string]int

	steps        [steps]StepRow
	practice     [steps]PracticeRow
	said         map[string]string // the terms in the authority's words
	eligibility  []eligibility
	requirements []requirement
	procedure    []procedure
	reliefs      []relief
	interactions []interaction
	itemSides    []sides // item -> where a squawk on it stands, when no unit is on record
	company      bool    // an organization has added rows of its own
	datedPath    bool    // the classes of eligibility are not the same at all times
	book         []Rule  // the rows as written
	intervals    []IntervalRow
	permits      []permitRow

	preventive []preventive
	who        []who
	tasks      []task
	records    []RecordRow

	byOwner          [owners][]int // conditions by what settles them
	flightConditions mask
	unitConditions   mask
	kinds            [len(kindNames)]int
	melBound         int
	ownKept          int // that the items of an organization's own serve; -1: the rules do not know them
	letterBound      int // whether the repair intervals of an MEL bind: it is used under 91.213(c)
}

type eligibility struct {
	Origin
	when clause
}

// requirement is a row of regulation, or of an aircraft's own documents.
type requirement struct {
	Origin
	step     Step
	barred   Truth // of a directive: a special flight permit does not lift it
	items    []int // any of them will do; none when must is set
	quantity quantity
	count    int
	must     int // -1 when items are set
	when     clause
	lasting  mask // conditions of when that ask for other equipment, and that no defect undoes
	reliefs  []int
	prefill  bool // from a list by certification basis: judged only for items that have failed
}

type relief struct {
	Origin
	when       clause
	limitation string
}

type procedure struct {
	Origin
	step      Step
	when      clause
	must      int
	otherwise Verdict
	mel       bool // of the path under an MEL, not of 91.213(d)
}

type quantity uint8

const (
	countOf quantity = iota
	allOnRecord
	allInstalled
	noteOnly
	eachEngine
	eachTank
	eachSeat
	eachFrontSeat
	eachOccupant
	eachPerson
	eachRequiredCrew
)

var quantityNames = map[string]quantity{
	"all": allOnRecord, "all-installed": allInstalled, "note": noteOnly, "each-engine": eachEngine, "each-tank": eachTank, "each-seat": eachSeat,
	"each-front-seat": eachFrontSeat, "each-occupant": eachOccupant, "each-person": eachPerson,
	"each-required-crew": eachRequiredCrew,
}

// Compile turns tables into a ruleset. It reports every fault at once; a fault names its row.
func Compile(t Tables) (*Ruleset, error) {
	r := &Ruleset{itemIndex: map[string]int{}, words: map[string]Words{}, index: map[string]int{}}
	var faults []error
	collect := func(id string, err error) {
		if err != nil {
			faults = append(faults, fmt.Errorf("%s: %w", id, err))
		}
	}
	r.compileItems(t.Items, collect)
	for _, w := range t.Conditions {
		if _, twice := r.words[w.Key]; twice {
			collect(w.Key, errors.New("the condition stands twice"))
		}
		r.words[w.Key] = w
	}
	for i, k := range kindNames {
		r.kinds[i], _ = r.condition("kind:" + k)
	}
	var err error
	r.melBound, err = r.condition("mel-authorized")
	collect("path", err)
	r.letterBound, err = r.condition("mel-authority:certificate")
	collect("path", err)
	r.ownKept = -1
	if _, ok := r.words[keptUp]; ok {
		r.ownKept, err = r.condition(keptUp + ":" + itemOwn)
		collect(keptUp, err)
	}
	r.compileIntervals(t.Intervals, collect)
	r.compileSteps(t.Steps, collect)
	r.compilePractice(t.Practice, collect)
	r.compileTerms(t.Terms, collect)
	r.compileRows(t, collect)
	r.compilePermits(t.Permits, collect)
	r.compileInteractions(t.Interactions, collect)
	checkVersions(origins(t.Interactions, func(r *InteractionRow) Origin { return r.Origin }), collect)
	r.compilePeople(t, collect)
	if len(faults) == 0 {
		// Tasks name rows of every other table: else each fault of those would be told twice.
		r.keepRules(&t)
		r.compileTasks(t.Tasks, collect)
	}
	r.settleOwners()
	if err := errors.Join(faults...); err != nil {
		return nil, err
	}
	return r, nil
}

// settleOwners sorts the conditions by what settles them.
func (r *Ruleset) settleOwners() {
	r.byOwner, r.flightConditions, r.unitConditions = [owners][]int{}, mask{}, mask{}
	for i, c := range r.conditions {
		r.byOwner[c.owner] = append(r.byOwner[c.owner], i)
		switch c.owner {
		case ofFlight:
			r.flightConditions.set(i)
		case ofUnits:
			r.unitConditions.set(i)
		default:
		}
	}
}

func (r *Ruleset) compileItems(rows []ItemRow, collect func(string, error)) {
	r.items = rows
	for i, row := range rows {
		if _, twice := r.itemIndex[row.Item]; twice {
			collect(row.Item, errors.New("the item stands twice"))
		}
		r.itemIndex[row.Item] = i
	}
	r.providers = make([][]int, len(rows))
	for i := range rows {
		r.providers[i] = []int{i}
	}
	for i, row := range rows {
		for _, s := range row.ServesAs {
			j, ok := r.itemIndex[s]
			if !ok {
				collect(row.Item, fmt.Errorf("serves as %q, which is not in the catalog", s))
				continue
			}
			r.providers[j] = append(r.providers[j], i)
		}
	}
}

func (r *Ruleset) compileSteps(rows []StepRow, collect func(string, error)) {
	for _, row := range rows {
		step, err := parseStep(row.Step)
		collect(row.Step, err)
		if err == nil {
			r.steps[step] = row
		}
	}
	for s := range r.steps {
		if r.steps[s].Step == "" {
			collect(stepNames[s], errors.New("the step has no row"))
		}
	}
}

func parseStep(name string) (Step, error) {
	for s, n := range stepNames {
		if n == name {
			return Step(s), nil
		}
	}
	return 0, fmt.Errorf("no such step %q", name)
}

func (r *Ruleset) compileRows(t Tables, collect func(string, error)) {
	for _, row := range t.Eligibility {
		when, err := r.clause(row.When)
		collect(row.ID, err)
		collect(row.ID, row.mayPermit())
		r.eligibility = append(r.eligibility, eligibility{row.Origin, when})
		r.datedPath = r.datedPath || row.From != 0 || row.To != 0
	}
	checkVersions(origins(t.Eligibility, func(r *EligibilityRow) Origin { return r.Origin }), collect)
	index := map[string][]int{} // the versions of each requirement
	add := func(rows []RequirementRow, step Step, prefill bool) {
		checkVersions(origins(rows, func(r *RequirementRow) Origin { return r.Origin }), collect)
		for _, row := range rows {
			q, err := r.requirement(row, step)
			collect(row.ID, err)
			collect(row.ID, r.avoidable(&q))
			q.prefill, q.lasting = prefill, r.lasting(&q)
			if earlier := index[row.ID]; earlier != nil && r.requirements[earlier[0]].prefill != prefill {
				collect(row.ID, errors.New("the row stands twice"))
			}
			index[row.ID] = append(index[row.ID], len(r.requirements))
			r.requirements = append(r.requirements, q)
		}
	}
	add(t.TypeCertification, StepTypeCertification, true)
	add(t.Requirements, StepRegulation, false)
	for _, row := range t.Reliefs {
		when, err := r.clause(row.When)
		collect(row.ID, err)
		collect(row.ID, row.mayPermit())
		if row.Limitation == "" && r.ofFlight(when) {
			collect(row.ID, errors.New("a relief that hangs on the flight must say what it binds the flight to"))
		}
		for _, id := range row.Relieves {
			if index[id] == nil {
				collect(row.ID, fmt.Errorf("relieves %q, which is not a requirement", id))
			}
			for _, i := range index[id] {
				r.requirements[i].reliefs = append(r.requirements[i].reliefs, len(r.reliefs))
			}
		}
		r.reliefs = append(r.reliefs, relief{row.Origin, when, row.Limitation})
	}
	checkVersions(origins(t.Reliefs, func(r *ReliefRow) Origin { return r.Origin }), collect)
	binds := func(relief int) int { return min(len(r.reliefs[relief].limitation), 1) }
	for i := range r.requirements {
		slices.SortStableFunc(r.requirements[i].reliefs, func(a, b int) int { return cmp.Compare(binds(a), binds(b)) })
	}
	for _, row := range t.Procedure {
		p, err := r.compileProcedure(row)
		collect(row.ID, err)
		r.procedure = append(r.procedure, p)
	}
	checkVersions(origins(t.Procedure, func(r *ProcedureRow) Origin { return r.Origin }), collect)
}

// wasRead says whether somebody has read the row in the rule itself, or drawn it from what stands there.
func (o *Origin) wasRead() bool { return o.Status == "verified" || o.Status == "infer" }

// mayPermit says that what nobody has read in the rule itself opens nothing.
func (o *Origin) mayPermit() error {
	switch {
	case o.wasRead():
		return nil
	case o.Status == "memory":
		return errors.New("a row from memory may forbid, never permit")
	case o.Status == "second-hand":
		return errors.New("a row read second-hand may forbid, never permit")
	default:
		return errors.New("what has not been read may forbid, never permit")
	}
}

// lasting finds the conditions of a row that ask for other equipment than its own to be there. Only where a rule binds
// an aircraft equipped with the very item that it wants does taking that item out leave nothing to want.
func (r *Ruleset) lasting(q *requirement) mask {
	var m mask
	if q.quantity == noteOnly {
		return m
	}
	q.when.all.each(func(i int) {
		c := &r.conditions[i]
		if c.owner != ofUnits || !c.unit.isPresence() || c.unit == installed && slices.Contains(q.items, c.item) {
			return
		}
		m.set(i)
	})
	return m
}

// avoidable holds that a flight can be told how to keep out of a row.
func (r *Ruleset) avoidable(q *requirement) error {
	var err error
	wordless := func(i int, words string) {
		if r.conditions[i].owner == ofFlight && words == "" {
			err = fmt.Errorf("condition %q has no words for a limitation", r.conditions[i].key)
		}
	}
	q.when.all.each(func(i int) { wordless(i, r.conditions[i].words.NotHolding) })
	q.when.none.each(func(i int) { wordless(i, r.conditions[i].words.Holding) })
	return err
}

// ofFlight says whether a clause hangs on the flight.
func (r *Ruleset) ofFlight(c clause) bool {
	hangs := false
	of := c.all.or(c.none)
	of.each(func(i int) { hangs = hangs || r.conditions[i].owner == ofFlight })
	return hangs
}

func (r *Ruleset) compileProcedure(row ProcedureRow) (procedure, error) {
	step, err := parseStep(row.Step)
	if err != nil {
		return procedure{}, err
	}
	if !r.asks(step) {
		return procedure{}, fmt.Errorf("the step %s is not asked", step)
	}
	when, err := r.clause(row.When)
	if err != nil {
		return procedure{}, err
	}
	must, err := r.condition(row.Must)
	if err != nil {
		return procedure{}, err
	}
	if row.Otherwise != DeferFirst && row.Otherwise != Grounded {
		return procedure{}, errors.New("a step left undone must defer or ground")
	}
	return procedure{row.Origin, step, when, must, row.Otherwise, when.all.has(r.melBound)}, nil
}

func (r *Ruleset) requirement(row RequirementRow, step Step) (requirement, error) {
	q := requirement{Origin: row.Origin, step: step, must: -1}
	var err error
	if q.when, err = r.clause(row.When); err != nil {
		return q, err
	}
	switch {
	case row.Must != "" && row.Item == "" && row.Quantity == "":
		q.must, err = r.condition(row.Must)
		q.step = StepAircraft
		return q, err
	case row.Item == "" && row.Quantity == "note" && row.Must == "":
		q.quantity, q.step = noteOnly, StepAircraft
		return q, nil
	case row.Item == "" || row.Must != "":
		return q, errors.New("want an item and a quantity, or a condition that must hold")
	}
	for _, key := range strings.Split(row.Item, "|") {
		item, ok := r.itemIndex[key]
		if !ok {
			return q, fmt.Errorf("item %q is not in the catalog", key)
		}
		q.items = append(q.items, item)
	}
	var ok bool
	if q.quantity, ok = quantityNames[row.Quantity]; ok && q.quantity != noteOnly {
		return q, nil
	}
	q.quantity = countOf
	q.count, err = strconv.Atoi(row.Quantity)
	if err != nil || q.count < 1 {
		return q, fmt.Errorf("quantity %q is neither a number from 1 nor a known word", row.Quantity)
	}
	return q, nil
}

// clause compiles a conjunction: conditions separated by spaces, each possibly negated with a leading "!".
func (r *Ruleset) clause(s string) (clause, error) {
	var c clause
	for key, negated := range termsOf(s) {
		i, err := r.condition(key)
		if err != nil {
			return c, err
		}
		if negated {
			c.none.set(i)
		} else {
			c.all.set(i)
		}
	}
	if !c.all.and(c.none).empty() {
		return c, fmt.Errorf("no case can meet %q", s)
	}
	return c, nil
}

// termsOf yields the terms of a conjunction, and whether each is negated.
func termsOf(s string) iter.Seq2[string, bool] {
	return func(yield func(string, bool) bool) {
		for _, term := range strings.Fields(s) {
			if key, negated := strings.CutPrefix(term, "!"); !yield(key, negated) {
				return
			}
		}
	}
}

// condition returns the index of a condition, compiling it on first use.
func (r *Ruleset) condition(key string) (int, error) {
	if i, ok := r.index[key]; ok {
		return i, nil
	}
	if len(r.conditions) == maxConditions {
		return 0, fmt.Errorf("more than %d distinct conditions", maxConditions)
	}
	c, err := r.parseCondition(key)
	if err != nil {
		return 0, err
	}
	i := len(r.conditions)
	r.conditions, r.index[key] = append(r.conditions, c), i
	return i, nil
}

// inForce reports whether the row is in force on a date.
func (o *Origin) inForce(on Date) bool {
	return (o.From == 0 || on >= o.From) && (o.To == 0 || on < o.To)
}

// Item returns the catalog row of a key.
func (r *Ruleset) Item(key string) (ItemRow, bool) {
	i, ok := r.itemIndex[key]
	if !ok {
		return ItemRow{}, false
	}
	return r.items[i], true
}

// Items lists the catalog in the order of its table.
func (r *Ruleset) Items() []ItemRow { return r.items }
