package upkeep

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"tiedown/internal/airworthiness"
)

// Row is one clause on what has to be done how often.
type Row struct {
	airworthiness.Origin
	Title     string   // in words, without an article
	Record    string   // which record of the aircraft it looks at, such as annual; own: the aircraft's own papers state what and when
	DoneBy    []string // the tasks that count for it
	When      string   // terms of the aircraft that it binds
	Every     Limit
	Allowance float64 // hours by which it may be overflown on the way to where it can be done
	Asks      string  // what to supply if the record is missing
}

// StopRow is one clause on which flights may not be made once something has run out.
type StopRow struct {
	airworthiness.Origin
	Stops   []string // rows of Row, by their ID
	When    string   // terms of the flight that it stops
	Unless  string   // terms of those that it lets go all the same
	Flights string   // those flights in words
}

// ToleranceRow is one kind of check of VOR receivers (14 CFR 91.171(b), (c)).
type ToleranceRow struct {
	airworthiness.Origin
	Check   string
	Degrees float64 // the greatest bearing error with which it passes
}

// Tables are the rows as they are written.
type Tables struct {
	Rows       []Row
	Stops      []StopRow
	Tolerances []ToleranceRow
}

// Rules are the rows as they are read. They do not change.
type Rules struct {
	rows       []rule
	tolerances []ToleranceRow
	book       []airworthiness.Rule
}

type rule struct {
	Row
	when  clause
	stops []Stop
}

// Stop is one kind of flight that an item stops once it has run out.
type Stop struct {
	ID       string
	Citation string
	Flights  string // in words: "every flight", "flights under IFR that navigate by VOR"

	when, unless clause
	from, to     Date
}

// OwnStop is one kind of flight that an item of the organization's own stops: those of which a term holds, or every flight
// where there is none. The term must be one that takes no word: any other stops every flight.
func OwnStop(citation, term, flights string) Stop {
	s := Stop{ID: "own", Citation: citation, Flights: flights, when: clause{{}}}
	if term != "" {
		s.ID += "-" + term
		if when, err := parseClause(term, theFlight); err == nil {
			s.when = when
		}
	}
	return s
}

// RecordsOfAircraft are the records that rows look at. The one named own is the aircraft's own papers.
func RecordsOfAircraft() []string {
	return []string{
		"annual", "condition", "inspection-hours", "progressive", "altimeter", "transponder", "elt", "elt-battery-life", batteryUse, "vor", own,
	}
}

const own = "own"

// Compile reads the tables. The error joins every fault, each naming its row.
func Compile(t Tables) (*Rules, error) {
	r := &Rules{tolerances: t.Tolerances, book: t.book()}
	var faults []error
	collect := func(id string, err error) {
		if err != nil {
			faults = append(faults, fmt.Errorf("%s: %w", id, err))
		}
	}
	for _, row := range t.Rows {
		when, err := parseClause(row.When, theAircraft)
		collect(row.ID, err)
		for _, err := range row.check() {
			collect(row.ID, err)
		}
		r.rows = append(r.rows, rule{Row: row, when: when})
	}
	for _, row := range t.Stops {
		when, err := parseClause(row.When, theAircraft, theFlight)
		collect(row.ID, err)
		stop := Stop{ID: row.ID, Citation: row.Citation, Flights: row.Flights, when: when, from: row.From, to: row.To}
		if row.Unless != "" {
			stop.unless, err = parseClause(row.Unless, theAircraft, theFlight)
			collect(row.ID, err)
			collect(row.ID, permits(row.Origin))
		}
		for _, id := range row.Stops {
			if !r.add(id, stop) {
				collect(row.ID, fmt.Errorf("stops flights for %q, which is no row", id))
			}
		}
	}
	for i := range r.rows {
		if len(r.rows[i].stops) == 0 {
			collect(r.rows[i].ID, errors.New("the row stops no flight"))
		}
	}
	for _, row := range t.Tolerances {
		if !(row.Degrees > 0) {
			collect(row.ID, errors.New("want a number of degrees above 0"))
		}
		collect(row.ID, permits(row.Origin))
	}
	if err := errors.Join(faults...); err != nil {
		return nil, err
	}
	return r, nil
}

// Book lists every row, table by table in the order of the files, for people who browse the book.
func (r *Rules) Book() []airworthiness.Rule { return r.book }

func (t *Tables) book() []airworthiness.Rule {
	var book []airworthiness.Rule
	add := func(table string, o airworthiness.Origin, when string) {
		if strings.Contains(when, "|") {
			when = "" // the notation of rules knows no alternatives: the row's words say them
		}
		book = append(book, airworthiness.Rule{Table: table, Origin: o, When: when})
	}
	for _, row := range t.Rows {
		add("upkeep", row.Origin, row.When)
	}
	for _, row := range t.Stops {
		add("upkeep_stops", row.Origin, row.When)
	}
	for _, row := range t.Tolerances {
		add("vor_checks", row.Origin, "")
	}
	return book
}

func (r *Row) check() []error {
	var faults []error
	if !slices.Contains(RecordsOfAircraft(), r.Record) {
		faults = append(faults, fmt.Errorf("there is no record %q", r.Record))
	}
	if r.Record == own && r.Every.Given() || r.Record != own && !r.Every.Given() {
		faults = append(faults, errors.New("want an interval, or own papers that state one"))
	}
	if _, ok := ParseKind(r.ID); r.Record == own && !ok {
		faults = append(faults, errors.New("want one of "+strings.Join(Kinds(), ", ")+" as the name of a row on own papers"))
	}
	if r.Record != own && len(r.DoneBy) == 0 {
		faults = append(faults, errors.New("no task counts for it"))
	}
	if r.Allowance > 0 {
		faults = append(faults, permits(r.Origin))
		if r.Record != own && r.Allowance >= r.Every.Hours {
			faults = append(faults, errors.New("the allowance is not smaller than the interval"))
		}
	}
	return faults
}

// permits refuses what has not been read: it may forbid, never permit.
func permits(o airworthiness.Origin) error {
	if o.Status != "verified" && o.Status != "infer" {
		return fmt.Errorf("a row that permits must be verified or inferred, and is %s", o.Status)
	}
	return nil
}

func (r *Rules) add(id string, s Stop) bool {
	found := false
	for i := range r.rows {
		if r.rows[i].ID == id {
			r.rows[i].stops = append(r.rows[i].stops, s)
			found = true
		}
	}
	return found
}

// Tolerates says whether VOR receivers that were checked in such a way, with such an error, may be used under IFR. Unknown:
// there is no such check.
func (r *Rules) Tolerates(check string, degrees float64, on Date) Truth {
	for _, row := range r.tolerances {
		if row.Check == check && inForce(row.From, row.To, on) {
			return airworthiness.TruthOf(degrees <= row.Degrees)
		}
	}
	return airworthiness.Unknown
}

// Checks lists the kinds of check of VOR receivers.
func (r *Rules) Checks() []string {
	var checks []string
	for _, row := range r.tolerances {
		if !slices.Contains(checks, row.Check) {
			checks = append(checks, row.Check)
		}
	}
	return checks
}

// counting picks what counts for the row out of a log. A check of VOR receivers that was out of tolerance, or of a kind that
// there is not, is none.
func (r *Rules) counting(row *rule, log []Work) []Work {
	var work []Work
	for _, w := range log {
		failed := (w.Check != "" || w.ErrorDegrees.Known) &&
			(!w.ErrorDegrees.Known || r.Tolerates(w.Check, w.ErrorDegrees.Value, w.On.Value) != airworthiness.Yes)
		if slices.Contains(row.DoneBy, w.Task) && !failed {
			work = append(work, w)
		}
	}
	return work
}

// Tasks lists the tasks that count for some row, in the order of the rows.
func (r *Rules) Tasks() []string {
	var tasks []string
	for i := range r.rows {
		for _, task := range r.rows[i].DoneBy {
			if !slices.Contains(tasks, task) {
				tasks = append(tasks, task)
			}
		}
	}
	return tasks
}

// ownRow finds the row on the aircraft's own papers of a kind.
func (r *Rules) ownRow(k Kind, on Date) (*rule, bool) {
	for i := range r.rows {
		if row := &r.rows[i]; row.Record == own && row.ID == k.String() && inForce(row.From, row.To, on) {
			return row, true
		}
	}
	return nil, false
}

func inForce(from, to, on Date) bool { return (from == 0 || on >= from) && (to == 0 || on < to) }
