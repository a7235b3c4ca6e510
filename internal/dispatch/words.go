package dispatch

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/casefile"
)

// clock writes a time in a zone, and names the zone.
func clock(at time.Time, zone *time.Location) string {
	return at.In(zone).Format("15:04 on 2 January 2006") + " (" + zone.String() + ")"
}

func hoursFlown(hours float64) string {
	return strconv.FormatFloat(hours, 'f', 1, 64) + " h of time in service have been flown"
}

func (s *Stop) say(leg int, zone *time.Location) string {
	why := ""
	if len(s.Findings) > 0 {
		why = " " + because(s.Findings[0])
	}
	if !s.Part {
		return fmt.Sprintf("Leg %d may not depart.%s", leg, why)
	}
	return fmt.Sprintf("Leg %d is permitted until %s: then %s.%s", leg, clock(s.At, zone), strings.Join(s.Becomes, ", and "), why)
}

// because is why a finding stands in the way, as a sentence.
func because(f casefile.Finding) string {
	subject := ""
	if f.Defect != "" {
		subject = "Squawk " + f.Defect + ": "
	}
	return fmt.Sprintf("%s%s: %s.", subject, f.Citation, strings.TrimRight(f.Words, ". "))
}

func (p *Part) say(legs []Leg) string {
	switch {
	case p.Legs == len(legs):
		return "The whole flight is permitted."
	case p.Until == nil && p.Last == 0:
		return "No part of the flight is permitted."
	case p.Until == nil:
		return fmt.Sprintf("No part from the first leg on is permitted; by itself, %s is.", run(p.First, p.Last))
	}
	last := &legs[max(p.Legs, p.PartOf)-1]
	said := fmt.Sprintf("The part until %s is permitted", clock(*p.Until, last.Departs.Location()))
	switch {
	case p.PartOf > 0 && p.Legs > 0:
		said += fmt.Sprintf(": %s, and a part of leg %d.", run(1, p.Legs), p.PartOf)
	case p.PartOf > 0:
		said += fmt.Sprintf(": a part of leg %d.", p.PartOf)
	default:
		said += ": " + run(1, p.Legs) + "."
	}
	return said
}

func run(first, last int) string {
	if first == last {
		return fmt.Sprintf("leg %d", first)
	}
	return fmt.Sprintf("legs %d to %d", first, last)
}

func (d *Departures) say(planned time.Time) string {
	zone := planned.Location()
	switch {
	case d.Permits && d.Planned.OpenEnd:
		return "The flight may leave as planned, and at any later time that was looked at."
	case d.Permits:
		return fmt.Sprintf("The flight may leave as planned. Leave by %s.", clock(d.Planned.To, zone))
	case d.Before != nil && d.After != nil:
		return fmt.Sprintf("Leave by %s, or not before %s.", clock(d.Before.To, zone), clock(d.After.From, zone))
	case d.Before != nil:
		return fmt.Sprintf("Leave by %s.", clock(d.Before.To, zone))
	case d.After != nil:
		return fmt.Sprintf("Leave not before %s.", clock(d.After.From, zone))
	default:
		return fmt.Sprintf("At no time from %s to %s may the flight leave.", clock(d.From, zone), clock(d.To, zone))
	}
}

func (r *Release) say(zone *time.Location) string {
	var said []string
	switch {
	case r.Beside:
		said = append(said, "The flight is held whatever becomes of its aircraft's squawks.")
	case len(r.Sets) == 1:
		said = append(said, "The flight is released once "+squawks(r.Sets[0])+" is out of the way.")
	case len(r.Sets) > 1:
		ways := make([]string, len(r.Sets))
		for i, set := range r.Sets {
			ways[i] = squawks(set)
		}
		said = append(said, "The flight is released once one of these is out of the way: "+strings.Join(ways, "; or ")+".")
	}
	if r.Earliest != nil {
		said = append(said, fmt.Sprintf("Not before %s, as things are expected.", clock(*r.Earliest, zone)))
	}
	for _, what := range r.NotKnown {
		said = append(said, "Not known: "+what+".")
	}
	return strings.Join(append(said, "Nothing is released by itself: what is done has to be signed or entered."), " ")
}

func squawks(set []string) string {
	if len(set) == 1 {
		return "squawk " + set[0]
	}
	return "the set of squawks " + strings.Join(set, ", ")
}
