package oracle

import "tiedown/internal/casefile"

// Oracle judges cases with one catalog of items.
type Oracle struct {
	catalog Catalog
	off     string // name of a rule or step that is left out
}

// New is an oracle that knows the items of a catalog.
func New(catalog Catalog) Oracle { return Oracle{catalog: catalog} }

// Without is an oracle that has forgotten one rule, named as in Names.
func (o Oracle) Without(name string) Oracle { return Oracle{catalog: o.catalog, off: name} }

// Names lists all rules and steps, in the order in which they are asked.
func Names() []string {
	var names []string
	for _, st := range steps {
		names = append(names, st.name)
	}
	for _, r := range rules {
		names = append(names, r.name)
	}
	return names
}

// Judge answers a case.
func (o Oracle) Judge(c casefile.Case) Answer {
	s := look(c, o.catalog)
	a := Answer{Blocks: map[string]Verdict{}}
	for _, d := range s.defects {
		s.judgeSquawk(d, o.off, &a)
	}
	for _, r := range rules {
		if r.name != o.off {
			a.note(r.citation, r.judge(s))
		}
	}
	return a
}
