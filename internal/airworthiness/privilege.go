package airworthiness

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// occasionTerm is one condition of a row about people, such as "pilot-at-least:private" or "!pilot:sport".
type occasionTerm struct {
	key      string
	negated  bool
	ofPerson bool // it hangs on who acts, not only on the aircraft and the work
	holds    func(*Occasion) Truth
}

func (t *occasionTerm) truth(o *Occasion) Truth {
	if t.negated {
		return t.holds(o).Not()
	}
	return t.holds(o)
}

// occasionClause is a conjunction of such conditions. Rows about people keep out of the masks of the determination:
// they are asked when somebody signs, not when a flight is judged.
type occasionClause []occasionTerm

func (c occasionClause) holds(o *Occasion) Truth {
	answer := Yes
	for i := range c {
		answer = answer.And(c[i].truth(o))
	}
	return answer
}

// open names the conditions that are not known.
func (c occasionClause) open(o *Occasion) []string {
	var open []string
	for i := range c {
		if c[i].holds(o) == Unknown {
			open = append(open, c[i].key)
		}
	}
	return open
}

// possible says that the aircraft and the work do not rule the row out, whoever acts.
func (c occasionClause) possible(o *Occasion) bool {
	for i := range c {
		if !c[i].ofPerson && c[i].truth(o) == No {
			return false
		}
	}
	return true
}

// occasionClause compiles a conjunction about a person, an aircraft and work.
func (r *Ruleset) occasionClause(s string) (occasionClause, error) {
	var c occasionClause
	for _, word := range strings.Fields(s) {
		key, negated := strings.CutPrefix(word, "!")
		term, err := r.occasionTerm(key)
		if err != nil {
			return nil, wrap(key, err)
		}
		term.negated = negated
		if slices.ContainsFunc(c, func(other occasionTerm) bool { return other.key == key }) {
			return nil, fmt.Errorf("condition %q stands twice", key)
		}
		c = append(c, term)
	}
	return c, nil
}

func (r *Ruleset) occasionTerm(key string) (occasionTerm, error) {
	name, arg, _ := strings.Cut(key, ":")
	term := occasionTerm{key: key}
	switch {
	case personConditions[name] != nil:
		term.ofPerson = true
		f := personConditions[name]
		term.holds = func(o *Occasion) Truth { return f(o.Person) }
		return term, noArgument(arg)
	case workConditions[name] != nil:
		f := workConditions[name]
		term.holds = func(o *Occasion) Truth { return f(&o.Work) }
		return term, noArgument(arg)
	case aircraftConditions[name] != nil:
		f, err := aircraftConditions[name](arg)
		term.holds = func(o *Occasion) Truth { return f(o.Aircraft) }
		return term, err
	case occasionWords[name] != nil:
		term.ofPerson = name != "part" && name != "policy"
		f, err := occasionWords[name](arg)
		term.holds = f
		return term, err
	}
	return r.occasionQuestion(term, name, arg)
}

// occasionQuestion compiles the conditions that need the person together with the aircraft, the work or the book.
func (r *Ruleset) occasionQuestion(term occasionTerm, name, arg string) (occasionTerm, error) {
	term.ofPerson = name != "listed"
	switch name {
	case "listed":
		term.holds = func(o *Occasion) Truth { t, _ := r.listed(o); return t }
	case "rated-for-aircraft":
		term.holds = func(o *Occasion) Truth { return o.Person.ratedFor(o.Aircraft) }
	case "rated-for-part":
		term.holds = func(o *Occasion) Truth { return o.Person.ratedForPart(r.part(o)) }
	case "inspection-authorization":
		term.holds = inspectionAuthorization
	case "supervised":
		term.holds = r.supervised
	default:
		return term, errors.New("it has no meaning")
	}
	return term, noArgument(arg)
}

// personConditions hang on the person alone.
var personConditions = map[string]func(*Person) Truth{
	"mechanic":            (*Person).isMechanic,
	"mechanic-airframe":   func(p *Person) Truth { return p.Airframe },
	"mechanic-powerplant": func(p *Person) Truth { return p.Powerplant },
	"recent":              func(p *Person) Truth { return p.Recent },
	"trained":             func(p *Person) Truth { return p.Trained },
	"rated":               func(p *Person) Truth { return p.Rated },
	"equipped":            func(p *Person) Truth { return p.Equipped },
	"manufacturer":        func(p *Person) Truth { return p.Manufacturer },
	"program":             func(p *Person) Truth { return p.Program },
	"owns":                func(p *Person) Truth { return p.Owns },
	"owns-or-operates":    func(p *Person) Truth { return p.Owns.Or(p.Operates) },
	"built":               func(p *Person) Truth { return p.Built },
	"in-command":          func(p *Person) Truth { return p.InCommand },
	"competent":           func(p *Person) Truth { return p.Competent },
	"understands":         func(p *Person) Truth { return p.Understands },
	"done-before":         func(p *Person) Truth { return p.DoneBefore },
	"did-work":            func(p *Person) Truth { return p.DidWork },
	"under-supervision":   func(p *Person) Truth { return TruthOf(p.Supervisor != nil) },
}

// workConditions hang on the work alone.
var workConditions = map[string]func(*Work) Truth{
	"within-limits":        func(w *Work) Truth { return w.WithinLimits.And(w.Complex.Not()) },
	"approved-data":        func(w *Work) Truth { return w.ApprovedData },
	"approved-product":     func(w *Work) Truth { return w.ApprovedProduct },
	"authorized-by-maker":  func(w *Work) Truth { return w.AuthorizedByMaker },
	"installed-by-maker":   func(w *Work) Truth { return w.InstalledByMaker },
	"limitations-name":     func(w *Work) Truth { return w.LimitationsName },
	"from-flight-deck":     func(w *Work) Truth { return w.FromFlightDeck },
	"disassembly":          func(w *Work) Truth { return w.Disassembly },
	"tools":                func(w *Work) Truth { return w.Tools },
	"by-instructions":      func(w *Work) Truth { return w.ByInstructions },
	"involves-maintenance": func(w *Work) Truth { return w.InvolvesMaintenance },
}

// occasionWords take a word after the colon.
var occasionWords = map[string]func(arg string) (func(*Occasion) Truth, error){
	"pilot":              pilotIs(func(have, want PilotGrade) bool { return have == want }),
	"pilot-at-least":     pilotIs(func(have, want PilotGrade) bool { return have >= want }),
	"repairman":          holds("repairman", func(p *Person) Fact[[]string] { return p.Repairman }),
	"repair-station":     repairStation,
	"part":               partIs,
	"policy":             policyIs,
	"experimental-under": experimentalUnder,
}

func pilotIs(compare func(have, want PilotGrade) bool) func(string) (func(*Occasion) Truth, error) {
	return func(arg string) (func(*Occasion) Truth, error) {
		want, ok := ParsePilotGrade(arg)
		if !ok || want < StudentPilot {
			return nil, fmt.Errorf("want one of %s after the colon", strings.Join(PilotGrades(), ", "))
		}
		return func(o *Occasion) Truth {
			if o.Person.Pilot == PilotGradeUnknown {
				return Unknown
			}
			return TruthOf(compare(o.Person.Pilot, want))
		}, nil
	}
}

// holds asks for one of a list of certificates or ratings.
func holds(fact string, get func(*Person) Fact[[]string]) func(string) (func(*Occasion) Truth, error) {
	return func(arg string) (func(*Occasion) Truth, error) {
		if !slices.Contains(vocabulary[fact], arg) {
			return nil, fmt.Errorf("want one of %s after the colon", strings.Join(vocabulary[fact], ", "))
		}
		return func(o *Occasion) Truth { return listHas(fact, get(o.Person), arg) }, nil
	}
}

// repairStation asks for a rating or, without a word, for any.
func repairStation(arg string) (func(*Occasion) Truth, error) {
	get := func(p *Person) Fact[[]string] { return p.RepairStation }
	if arg != "" {
		return holds("repair_station", get)(arg)
	}
	return func(o *Occasion) Truth {
		ratings := get(o.Person)
		if !ratings.Known {
			return Unknown
		}
		return TruthOf(len(ratings.Value) > 0)
	}, nil
}

func partIs(arg string) (func(*Occasion) Truth, error) {
	if !slices.Contains(vocabulary["part"], arg) {
		return nil, fmt.Errorf("want one of %s after the colon", strings.Join(vocabulary["part"], ", "))
	}
	return func(o *Occasion) Truth { return wordIs("part", o.Work.Part, arg) }, nil
}

// policyIs reads an unstated policy as the strict one.
func policyIs(arg string) (func(*Occasion) Truth, error) {
	if arg != "strict" && arg != "rule-text" {
		return nil, errors.New("want strict or rule-text after the colon")
	}
	return func(o *Occasion) Truth { return TruthOf((arg == "rule-text") == (o.Work.Policy == "rule-text")) }, nil
}

// experimentalUnder asks for one of several paragraphs of 14 CFR 21.191, written g/i/k/l.
func experimentalUnder(arg string) (func(*Occasion) Truth, error) {
	want := strings.Split(arg, "/")
	for _, letter := range want {
		if !slices.Contains(vocabulary["experimental_under"], letter) {
			return nil, errors.New("want paragraphs of the rule on experimental certificates after the colon, such as g/i")
		}
	}
	return func(o *Occasion) Truth {
		if !slices.Contains(vocabulary["experimental_under"], o.Aircraft.ExperimentalUnder) {
			return Unknown
		}
		return TruthOf(slices.Contains(want, o.Aircraft.ExperimentalUnder))
	}, nil
}

// inspectionAuthorization says whether the authorization is held and has not run out. It always runs out (65.92(a)).
func inspectionAuthorization(o *Occasion) Truth {
	ends := o.Person.InspectionAuthorizationEnds
	if !ends.Known || o.On == 0 {
		return o.Person.InspectionAuthorization.And(Unknown)
	}
	return o.Person.InspectionAuthorization.And(TruthOf(o.On <= ends.Value))
}

// supervised says whether the person works under somebody who may do the work and has done it before, who holds a
// mechanic or repairman certificate, observes the work and is there in person (43.3(d), 65.81(a)).
func (r *Ruleset) supervised(o *Occasion) Truth {
	p := o.Person
	if p.Supervisor == nil {
		return No
	}
	above := *p.Supervisor
	above.Supervisor = nil // the supervisor's own certificate must carry the work
	question := *o
	question.Person = &above
	repairman := Unknown
	if above.Repairman.Known {
		repairman = TruthOf(len(above.Repairman.Value) > 0)
	}
	certificated := above.isMechanic().Or(repairman)
	return certificated.And(above.DoneBefore).And(p.Observed).And(p.Available).And(r.May(question).Answer)
}
