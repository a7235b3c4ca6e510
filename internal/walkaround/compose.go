package walkaround

import (
	"fmt"
	"slices"

	"tiedown/internal/casefile"
)

// Changes are how one airframe's checklist differs from its type's. They stay good when the template gets another
// version: what a check replaced and the template no longer has is added, at the end of its station.
type Changes struct {
	Drop []string `json:"drop,omitempty"` // checks of the template that this airframe does not have
	Put  []Placed `json:"put,omitempty"`  // checks that replace the one of the same name, or are added
}

// Placed is a check with its place.
type Placed struct {
	After string `json:"after,omitempty"` // name of the check before it; empty: at the end of its station
	Check Check  `json:"check"`
}

// Airframe is what decides which checks of a template an airframe has.
type Airframe struct {
	Serial string // empty: not known, so that no check is dropped for it

	Installed Installed
}

// Installed says what is installed in an airframe.
type Installed struct {
	Items    map[string]bool // of the catalog
	Units    map[string]bool
	Complete bool // nothing else is installed; false: what is not named may be installed all the same
}

// InstalledIn reads what a configuration says is installed.
func InstalledIn(c casefile.Configuration) Installed {
	in := Installed{Items: map[string]bool{}, Units: map[string]bool{}, Complete: c.UnitsComplete != nil && *c.UnitsComplete}
	for _, u := range c.Units {
		in.Units[u.ID] = true
		in.Items[u.Item] = true
		for _, also := range u.Also {
			in.Items[also] = true
		}
	}
	return in
}

// Dropped is a check of the template that an airframe does not have, and why.
type Dropped struct {
	ID      string `json:"id"`
	Because string `json:"because"`
}

// Compose makes an airframe's checklist: the template, with the airframe's changes, without what does not apply to its
// serial number or is not installed. It tells what was dropped, in the order of the list. A unit that is not on record
// but may be installed is no longer named: what is found is then about its item.
func Compose(template Checklist, changes Changes, airframe Airframe) (Checklist, []Dropped) {
	all := slices.Clone(template.Checks)
	var dropped []Dropped
	all = slices.DeleteFunc(all, func(c Check) bool {
		if !slices.Contains(changes.Drop, c.ID) {
			return false
		}
		dropped = append(dropped, Dropped{c.ID, "the airframe's own changes drop it"})
		return true
	})
	for _, p := range changes.Put {
		all = put(all, p)
	}
	all = slices.DeleteFunc(all, func(c Check) bool {
		because := airframe.lacks(&c)
		if because != "" {
			dropped = append(dropped, Dropped{c.ID, because})
		}
		return because != ""
	})
	for i := range all {
		if !airframe.Installed.Units[all[i].Unit] {
			all[i].Unit = ""
		}
	}
	return Checklist{all}, dropped
}

// lacks says why a check does not apply to an airframe; empty: it applies.
func (a Airframe) lacks(c *Check) string {
	applies, err := parseSerials(c.Serials)
	switch {
	case err == nil && !applies.apply(a.Serial):
		return fmt.Sprintf("it applies to the serial numbers %s, not to %s", c.Serials, a.Serial)
	case !a.Installed.Complete:
		return ""
	case c.Equipped != "" && !a.Installed.Items[c.Equipped]:
		return fmt.Sprintf("no %s is installed", c.Equipped)
	case c.Unit != "" && !a.Installed.Units[c.Unit]:
		return fmt.Sprintf("the unit %s is not installed", c.Unit)
	}
	return ""
}

// put replaces the check of the same name where it stands, or adds one.
func put(all []Check, p Placed) []Check {
	at := func(id string) int { return slices.IndexFunc(all, func(c Check) bool { return c.ID == id }) }
	i := at(p.Check.ID)
	if i >= 0 && all[i].Station == p.Check.Station && p.After == "" {
		all[i] = p.Check
		return all
	}
	if i >= 0 {
		all = slices.Delete(all, i, i+1)
	}
	if i = at(p.After); i >= 0 && all[i].Station == p.Check.Station {
		return slices.Insert(all, i+1, p.Check)
	}
	return slices.Insert(all, end(all, p.Check.Station), p.Check)
}

// end is the place behind the last check of a station. A station that the list does not have yet comes before the first
// one that is behind it in walking order.
func end(all []Check, station Station) int {
	for i := len(all) - 1; i >= 0; i-- {
		if all[i].Station == station {
			return i + 1
		}
	}
	order := Stations()
	for i := range all {
		if slices.Index(order, all[i].Station) > slices.Index(order, station) {
			return i
		}
	}
	return len(all)
}

// Faults tells what is wrong with changes as they are entered: they may name what the template of that moment has, and
// no more.
func (ch Changes) Faults(template Checklist, known Catalog) casefile.Faults {
	var bad casefile.Faults
	for i, id := range ch.Drop {
		if _, ok := template.Find(id); !ok {
			bad.Add(fmt.Sprintf("changes.drop[%d]", i), "known-check", fmt.Sprintf("the template has no check %q", id), "name a check of the template")
		}
	}
	if i := repeated(ch.Drop); i >= 0 {
		bad.Add(fmt.Sprintf("changes.drop[%d]", i), "unique", "it is dropped already", "name it once")
	}
	seen := map[string]bool{}
	for i := range ch.Put {
		p := &ch.Put[i]
		at := fmt.Sprintf("changes.put[%d].", i)
		p.Check.faults(at+"check.", known, &bad)
		switch {
		case seen[p.Check.ID]:
			bad.Add(at+"check.id", "unique", fmt.Sprintf("%q is put twice", p.Check.ID), "put it once")
		case slices.Contains(ch.Drop, p.Check.ID):
			bad.Add(at+"check.id", "unique", fmt.Sprintf("%q is both dropped and put", p.Check.ID), "put it alone: that replaces the template's")
		}
		if p.After != "" && !ch.stands(template, p.After, p.Check.Station, seen) {
			bad.Add(at+"after", "known-check", fmt.Sprintf("there is no check %q at this station", p.After), "name a check of the same station that comes before it")
		}
		seen[p.Check.ID] = true
	}
	if len(ch.Put) > MaxChecks {
		bad.Add("changes.put", "length", fmt.Sprintf("more than %d checks", MaxChecks), "change the template instead")
	}
	return bad
}

// stands reports whether a check is at a station: in the template and not dropped, or put before.
func (ch Changes) stands(template Checklist, id string, station Station, put map[string]bool) bool {
	if put[id] {
		return slices.ContainsFunc(ch.Put, func(p Placed) bool { return p.Check.ID == id && p.Check.Station == station })
	}
	c, ok := template.Find(id)
	return ok && c.Station == station && !slices.Contains(ch.Drop, id)
}
