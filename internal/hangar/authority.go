package hangar

import (
	"fmt"
	"slices"
	"strings"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// question is what the table of people is asked: may whoever signs do that?
type question struct{ verb, action string }

// questions are what has to be answered with yes before an act is signed: every question of one of the lists. work is
// that of an earlier signature on which the act rests.
func questions(act *casefile.Act, work string, policy casefile.Policy) [][]question {
	all := func(q ...question) [][]question { return [][]question{q} }
	switch techlog.SquawkStep(act.Action) {
	case techlog.StepOutOfUse:
		return all(outOfUse(act, policy))
	case techlog.StepDefer, techlog.StepCarryOn:
		if act.Basis != casefile.ByMEL {
			return all(question{"determine", "hazard-determination"})
		}
		// 91.213(a) asks for an entry and says not whose: the pilot's who flies within the MEL, the operator's who answers
		// for the aircraft, or that of maintenance.
		return [][]question{
			{{"answer-for", "airworthiness"}}, {{"determine", "condition-for-safe-flight"}}, {{"approve", "mel-maintenance-procedure"}},
		}
	case techlog.StepExtend:
		return all(question{"answer-for", "airworthiness"}) // what the approved program decided, the operator enters
	case techlog.StepWork:
		if act.Work == "within-limits" {
			return all(question{"determine", "within-limits"})
		}
		return all(question{"perform", act.Work})
	case techlog.StepReturn:
		return all(question{"approve", work})
	case techlog.StepFlown:
		return all(question{"perform", "check-flight"})
	default:
		return all(inspecting(act.Inspection)...)
	}
}

// outOfUse asks for the approval of who may approve the work; only where the operator goes by the text of the rule, and
// no maintenance is involved, it is enough to be one who may do it.
func outOfUse(act *casefile.Act, policy casefile.Policy) question {
	switch {
	case act.MaintenanceProcedure != nil && *act.MaintenanceProcedure:
		return question{"approve", "mel-maintenance-procedure"}
	case act.Method == "removed":
		return question{"approve", "remove"}
	case policy.Deactivation == "rule-text" && act.InvolvesMaintenance != nil && !*act.InvolvesMaintenance:
		return question{"perform", "deactivate"}
	}
	return question{"approve", "deactivate"}
}

func inspecting(kind string) []question {
	switch kind {
	case "altimeter-and-static-test":
		return []question{{"perform", "static-system-test"}, {"perform", "altimeter-test"}}
	case "static-system-test", "transponder-test", vorCheck:
		return []question{{"perform", kind}}
	case "elt-inspection":
		return []question{{"approve", "within-limits"}} // inspection is maintenance (14 CFR 1.1), and no rule names others for it
	case "condition-inspection":
		return []question{{"perform", kind}, {"approve", kind}}
	}
	return []question{{"perform", kind}, {"approve", kind}}
}

// partInspected is the part of the aircraft that an inspection is of, where nobody has said so.
func partInspected(kind string) string {
	if kind == "elt-inspection" {
		return "airframe"
	}
	return "whole"
}

// holder is whoever would sign: one certificate in force, what goes with it, and how the holder stands to the aircraft.
type holder struct {
	certificate techlog.Certificate
	with        []techlog.Certificate // an inspection authorization and the mechanic certificate on which it rests
	stands      []techlog.StandingKind
}

// hold finds the certificate that is named among those of a person. Kind forbidden unless it is in force on that day.
func hold(id techlog.ID, certificates []techlog.Certificate, standings []techlog.Standing, aircraft techlog.ID, day string) (holder, error) {
	i := slices.IndexFunc(certificates, func(c techlog.Certificate) bool { return c.ID == id })
	if i < 0 {
		return holder{}, techlog.Errorf(techlog.KindForbidden, "this certificate is not on record as yours")
	}
	h := holder{certificate: certificates[i]}
	if !h.certificate.InForce(day) {
		return h, techlog.Errorf(techlog.KindForbidden, "the %s certificate %s is not in force on %s", h.certificate.Kind, h.certificate.Number, day)
	}
	pair := map[techlog.CertificateKind]techlog.CertificateKind{
		techlog.MechanicCertificate: techlog.InspectionAuthorization, techlog.InspectionAuthorization: techlog.MechanicCertificate,
	}
	for _, c := range certificates {
		if c.InForce(day) && (c.ID == id || c.Kind == pair[h.certificate.Kind]) {
			h.with = append(h.with, c)
		}
	}
	for _, s := range standings {
		if s.Covers(aircraft, day) {
			h.stands = append(h.stands, s.Kind)
		}
	}
	return h, nil
}

// person is the holder as the table of people reads it. Whoever signs by one certificate claims nothing by another.
func (h *holder) person(a *airworthiness.Aircraft, day string) airworthiness.Person {
	stands := func(kind techlog.StandingKind) airworthiness.Truth {
		return airworthiness.TruthOf(slices.Contains(h.stands, kind))
	}
	p := airworthiness.Person{
		Pilot: airworthiness.NoPilot, Airframe: airworthiness.No, Powerplant: airworthiness.No, InspectionAuthorization: airworthiness.No,
		Repairman: airworthiness.Given([]string{}), RepairStation: airworthiness.Given([]string{}), Program: airworthiness.No,
		Owns: stands(techlog.Owns), Operates: stands(techlog.Operates), Built: stands(techlog.Built), Manufacturer: stands(techlog.Manufactured),
	}
	for i := range h.with {
		claim(&p, &h.with[i], a, day)
	}
	return p
}

func claim(p *airworthiness.Person, c *techlog.Certificate, a *airworthiness.Aircraft, day string) {
	has := func(rating string) airworthiness.Truth {
		return airworthiness.TruthOf(slices.Contains(c.Ratings, rating))
	}
	switch c.Kind {
	case techlog.PilotCertificate:
		p.Pilot, _ = airworthiness.ParsePilotGrade(c.Grade)
		p.PilotRatings = airworthiness.Given(c.Ratings)
	case techlog.MechanicCertificate:
		p.Airframe, p.Powerplant = p.Airframe.Or(has("airframe")), p.Powerplant.Or(has("powerplant"))
		if c.Recent(day) {
			p.Recent = airworthiness.Yes // outside of the days on record nothing is known of it
		}
	case techlog.InspectionAuthorization:
		p.InspectionAuthorization = airworthiness.Yes
		if ends, ok := airworthiness.ParseDate(c.Until); ok {
			p.InspectionAuthorizationEnds = airworthiness.Given(ends)
		}
	case techlog.RepairStation:
		p.RepairStation = airworthiness.Given(c.Ratings)
	case techlog.Repairman:
		p.Repairman = airworthiness.Given(c.Ratings)
		p.Trained = airworthiness.TruthOf(slices.Contains(c.Trained, strings.TrimSpace(a.Category+" "+a.Class)))
	}
}

// mayWork and mayFly are the standings without which the organization lets nobody sign, whatever the certificate says.
var (
	mayWork = []techlog.StandingKind{techlog.Maintains, techlog.Owns, techlog.Operates, techlog.Built, techlog.Manufactured}
	mayFly  = append([]techlog.StandingKind{techlog.Flies}, mayWork...)
)

// standsFor says whether the organization lets the holder sign such a thing about the aircraft.
func (h *holder) standsFor(q question) bool {
	needed := mayWork
	if q.verb == "determine" && q.action != "within-limits" || q.action == "check-flight" || q.action == vorCheck || q.action == "deactivate" && q.verb == "perform" {
		needed = mayFly
	}
	return slices.ContainsFunc(h.stands, func(k techlog.StandingKind) bool { return slices.Contains(needed, k) })
}

// occasion is the aircraft and the work about which the table is asked.
type occasion struct {
	rules    *airworthiness.Ruleset
	aircraft airworthiness.Aircraft
	work     airworthiness.Work
	declared *casefile.Declared
	day      string
}

// may asks the questions. It gives the rows that permit, or an error of kind forbidden with the rows that say no or
// leave it open, and the facts that are missing. Unknown is never permission.
func (h *holder) may(lists [][]question, o occasion) ([]techlog.Reason, error) {
	var refusal error
	for _, list := range lists {
		rows, err := h.mayAll(list, o)
		if err == nil {
			return rows, nil
		}
		if refusal == nil {
			refusal = err
		}
	}
	return nil, refusal
}

func (h *holder) mayAll(list []question, o occasion) ([]techlog.Reason, error) {
	on, _ := airworthiness.ParseDate(o.day)
	person := h.person(&o.aircraft, o.day)
	o.declared.Person(&person)
	var rows []techlog.Reason
	for _, q := range list {
		answer := o.rules.May(airworthiness.Occasion{
			Verb: q.verb, Action: q.action, Person: &person, Aircraft: &o.aircraft, Work: o.work, On: on,
		})
		said := reasons(answer.Rows)
		if answer.Answer != airworthiness.Yes {
			return nil, &techlog.Error{
				Kind: techlog.KindForbidden, Rows: said, Missing: answer.Missing,
				Says: refusalSays(h, q, answer.Missing, said),
			}
		}
		if !h.standsFor(q) {
			return nil, techlog.Errorf(techlog.KindForbidden,
				"%s may do so by the certificate, but the organization has not entered how %s stands to this aircraft", h.certificate.Name, h.certificate.Name)
		}
		rows = append(rows, said...)
	}
	return rows, nil
}

func refusalSays(h *holder, q question, missing []string, rows []techlog.Reason) string {
	says := fmt.Sprintf("the %s certificate %s does not let you sign this (%s: %s)", h.certificate.Kind, h.certificate.Number, q.verb, q.action)
	if len(missing) > 0 {
		says += "; not known: " + strings.Join(missing, ", ")
	}
	said := []string{says}
	for _, r := range rows {
		said = append(said, r.Words+" ("+r.Citation+")")
	}
	return strings.Join(said, "; ")
}

func reasons(rows []airworthiness.Origin) []techlog.Reason {
	said := make([]techlog.Reason, 0, len(rows))
	for _, r := range rows {
		if !slices.ContainsFunc(said, func(o techlog.Reason) bool { return o.Row == r.ID }) {
			said = append(said, techlog.Reason{Row: r.ID, Citation: r.Citation, Words: r.Words, Status: r.Status})
		}
	}
	return said
}
