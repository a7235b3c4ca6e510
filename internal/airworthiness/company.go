package airworthiness

import (
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
)

// companyID is how the rows of an organization are named, so that nobody takes one for a row of regulation.
var companyID = regexp.MustCompile(`^company-[a-z0-9][a-z0-9.-]*$`)

// CompanyStatus is the status of a row that an organization has made for itself.
const CompanyStatus = "company"

// WithCompany is the ruleset with an organization's own rows beside those of regulation. Such a row can only restrict: it
// asks for equipment or for a condition, and neither relieves, nor opens the path to a class of aircraft, nor is relieved.
// A row carries an id that begins with "company-", a citation of the organization's own document and its own words. The
// error names every faulty row. The receiver stays as it is.
func (r *Ruleset) WithCompany(rows []RequirementRow) (*Ruleset, error) {
	if len(rows) == 0 {
		return r, nil
	}
	c := r.clone()
	var faults []error
	collect := func(id string, err error) {
		if err != nil {
			faults = append(faults, fmt.Errorf("%s: %w", id, err))
		}
	}
	company := make([]RequirementRow, len(rows))
	for i, row := range rows {
		row.Status, row.Source = CompanyStatus, row.Citation
		company[i] = row
		name := row.ID
		if name == "" {
			name = fmt.Sprintf("row %d", i+1)
		}
		collect(name, c.addCompanyRow(row))
	}
	var all []Origin
	for i := range c.requirements {
		if c.requirements[i].step == StepCompany {
			all = append(all, c.requirements[i].Origin)
		}
	}
	checkVersions(all, collect)
	if err := errors.Join(faults...); err != nil {
		return nil, err
	}
	c.keepRequirements("company", company)
	c.company = true
	c.settleOwners()
	return c, nil
}

// clone copies what a company row adds to.
func (r *Ruleset) clone() *Ruleset {
	c := *r
	c.conditions, c.index = slices.Clone(r.conditions), maps.Clone(r.index)
	c.requirements, c.book = slices.Clone(r.requirements), slices.Clone(r.book)
	return &c
}

func (r *Ruleset) addCompanyRow(row RequirementRow) error {
	q, err := r.requirement(row, StepCompany)
	if err != nil {
		return err
	}
	q.step = StepCompany // a condition that must hold is the organization's, too
	q.lasting = r.lasting(&q)
	r.requirements = append(r.requirements, q)
	return errors.Join(r.avoidable(&q), r.restricts(&q), restrictsInName(&row.Origin))
}

func restrictsInName(o *Origin) error {
	var faults []error
	if !companyID.MatchString(o.ID) {
		faults = append(faults, errors.New(`the id must be "company-" and then small letters, digits, dots or hyphens`))
	}
	if o.Citation == "" || o.Words == "" {
		faults = append(faults, errors.New("the row wants a citation of the organization's document, and its own words"))
	}
	if o.From != 0 && o.To != 0 && o.From >= o.To {
		faults = append(faults, errors.New("the row ends before it is in force"))
	}
	return errors.Join(faults...)
}

// restricts refuses what no requirement can hang on, and what one more squawk could undo: that a unit has been removed
// would then let a flight go.
func (r *Ruleset) restricts(q *requirement) error {
	asks := q.when.all.or(q.when.none)
	if q.must >= 0 {
		asks.set(q.must)
	}
	var faults []error
	asks.each(func(i int) {
		c := &r.conditions[i]
		of := c.owner == ofAircraft || c.owner == ofFlight || c.owner == ofUnits
		if !of || c.unit == removedWithin && c.owner == ofUnits {
			faults = append(faults, fmt.Errorf("condition %q is about a deferral: a rule of the organization's asks about the aircraft, the flight and the equipment", c.key))
		}
	})
	return errors.Join(faults...)
}
