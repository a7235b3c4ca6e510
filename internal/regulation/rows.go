package regulation

import (
	"errors"
	"slices"
	"strings"

	"tiedown/internal/airworthiness"
)

// statuses say how well a row has been read. From memory and second-hand rows may forbid; Compile refuses a relief
// from memory.
var statuses = []string{"verified", "second-hand", "infer", "memory"}

var natures = []string{"equipment", "condition", "furnishing"}

// rows turns the parsed tables into the engine's words, collecting every fault.
func rows(tables map[string]table) (airworthiness.Tables, error) {
	var (
		all    airworthiness.Tables
		faults []error
		err    error
	)
	all.Items, err = items(tables["items"], tables["jasc"])
	faults = append(faults, err)
	for _, r := range tables["conditions"].rows {
		all.Conditions = append(all.Conditions, airworthiness.Words{
			Key: r.get("key"), Holds: r.get("holds"), NotHolding: r.get("not_holding"), Holding: r.get("holding"), Fact: r.get("fact"),
		})
	}
	for _, r := range tables["steps"].rows {
		all.Steps = append(all.Steps, airworthiness.StepRow{Step: r.get("step"), Citation: r.get("citation"), Words: r.get("words")})
	}
	for _, r := range tables["practice"].rows {
		all.Practice = append(all.Practice, airworthiness.PracticeRow{
			Step: r.get("step"), Asked: r.get("asked"), Passed: r.get("passed"), Breached: r.get("breached"), Unknown: r.get("unknown"),
		})
	}
	for _, r := range tables["terms"].rows {
		all.Terms = append(all.Terms, airworthiness.TermRow{Term: r.get("term"), Words: r.get("words")})
	}
	for _, r := range tables["eligibility"].rows {
		o, err := origin(r)
		faults = append(faults, err)
		all.Eligibility = append(all.Eligibility, airworthiness.EligibilityRow{Origin: o, When: r.get("when")})
	}
	all.TypeCertification, err = requirements(tables["type_certification"])
	faults = append(faults, err)
	all.Requirements, err = requirements(tables["requirements"])
	faults = append(faults, err)
	for _, r := range tables["reliefs"].rows {
		o, err := origin(r)
		faults = append(faults, err)
		all.Reliefs = append(all.Reliefs, airworthiness.ReliefRow{
			Origin: o, Relieves: strings.Fields(r.get("relieves")), When: r.get("when"), Limitation: r.get("limitation"),
		})
	}
	for _, r := range tables["procedure"].rows {
		o, err := origin(r)
		otherwise, ok := airworthiness.ParseVerdict(r.get("otherwise"))
		if !ok {
			err = errors.Join(err, r.fault("column otherwise: no such verdict %q", r.get("otherwise")))
		}
		faults = append(faults, err)
		all.Procedure = append(all.Procedure, airworthiness.ProcedureRow{
			Origin: o, Step: r.get("step"), When: r.get("when"), Must: r.get("must"), Otherwise: otherwise,
		})
	}
	for _, r := range tables["interactions"].rows {
		o, err := origin(r)
		faults = append(faults, err)
		all.Interactions = append(all.Interactions, airworthiness.InteractionRow{
			Origin: o, First: r.get("first"), Second: r.get("second"), When: r.get("when"), Limitation: r.get("limitation"),
		})
	}
	all.Intervals, err = intervals(tables["intervals"])
	faults = append(faults, err)
	all.Permits, err = permits(tables["permits"])
	faults = append(faults, err)
	faults = append(faults, people(tables, &all))
	return all, errors.Join(append(faults, versions(tables, decisionTables()))...)
}

// versions holds the rows of one name in each table against one another: each must take up where the one before it ends.
func versions(tables map[string]table, names []string) error {
	var faults []error
	for _, name := range names {
		t := tables[name]
		if headers[name][0] != "id" {
			continue
		}
		for _, d := range airworthiness.Discords(origins(t)) {
			later := t.rows[d.Later]
			faults = append(faults, later.fault("id %q %s: the other is on line %d", later.get("id"), d.Says, t.rows[d.Earlier].line))
		}
	}
	return errors.Join(faults...)
}

func requirements(t table) ([]airworthiness.RequirementRow, error) {
	var (
		rows   []airworthiness.RequirementRow
		faults []error
	)
	for _, r := range t.rows {
		o, err := origin(r)
		faults = append(faults, err)
		rows = append(rows, airworthiness.RequirementRow{
			Origin: o, Item: r.get("item"), Quantity: r.get("quantity"), Must: r.get("must"), When: r.get("when"),
		})
	}
	return rows, errors.Join(faults...)
}

func origin(r row) (airworthiness.Origin, error) {
	o := airworthiness.Origin{
		ID: r.get("id"), Citation: r.get("citation"), Words: r.get("words"), Status: r.get("status"), Source: r.get("source"),
	}
	var faults []error
	if !slices.Contains(statuses, o.Status) {
		faults = append(faults, r.fault("column status: %q is none of %s", o.Status, strings.Join(statuses, ", ")))
	}
	date := func(column string) airworthiness.Date {
		value := r.get(column)
		if value == "" {
			return 0
		}
		d, ok := airworthiness.ParseDate(value)
		if !ok {
			faults = append(faults, r.fault("column %s: want a date YYYY-MM-DD", column))
		}
		return d
	}
	o.From, o.To = date("from"), date("to")
	if o.From != 0 && o.To != 0 && o.From >= o.To {
		faults = append(faults, r.fault("the row ends before it is in force"))
	}
	return o, errors.Join(faults...)
}

// items reads the catalog and holds it against the table of codes.
func items(t, codes table) ([]airworthiness.ItemRow, error) {
	known := map[string]bool{}
	used := map[string]bool{}
	var faults []error
	for _, r := range codes.rows {
		known[r.get("code")] = true
		if code := r.get("code"); len(code) != 4 || r.get("chapter") != code[:2] {
			faults = append(faults, r.fault("a code has four digits and begins with its chapter"))
		}
	}
	var rows []airworthiness.ItemRow
	names := map[string]bool{}
	claim := func(r row, name string) {
		key := strings.ToLower(name)
		if names[key] {
			faults = append(faults, r.fault("the name %q is used twice", name))
		}
		names[key] = true
	}
	for _, r := range t.rows {
		item := airworthiness.ItemRow{
			Item: r.get("item"), Name: r.get("name"), JASC: r.get("jasc"), Nature: r.get("nature"),
			ServesAs: strings.Fields(r.get("serves_as")), Source: r.get("source"),
		}
		if s := r.get("synonyms"); s != "" {
			item.Synonyms = strings.Split(s, "; ")
		}
		for _, name := range append([]string{item.Name}, item.Synonyms...) {
			claim(r, name)
		}
		used[item.JASC] = true
		if !known[item.JASC] {
			faults = append(faults, r.fault("code %s is not in the table of codes", item.JASC))
		}
		if !slices.Contains(natures, item.Nature) {
			faults = append(faults, r.fault("column nature: %q is none of %s", item.Nature, strings.Join(natures, ", ")))
		}
		rows = append(rows, item)
	}
	for _, r := range codes.rows {
		if !used[r.get("code")] {
			faults = append(faults, r.fault("no item uses code %s", r.get("code")))
		}
	}
	return rows, errors.Join(faults...)
}
