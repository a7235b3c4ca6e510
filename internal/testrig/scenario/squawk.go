package scenario

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"tiedown/internal/casefile"
)

// squawkKinds are the words for what a squawk reports, and what the written form calls them.
var squawkKinds = map[string]string{"inoperative": "inoperative", "condition": "condition", "unstated": ""}

// readGiven reads "SUBJECT KIND, DONE, DONE".
func (s *Story) readGiven(value string) error {
	parts := strings.Split(value, ", ")
	subject, word, _ := strings.Cut(parts[0], " ")
	kind, ok := squawkKinds[word]
	if !ok {
		return fmt.Errorf("want SUBJECT inoperative, condition or unstated, have %q", parts[0])
	}
	q := squawk{subject, casefile.Defect{ID: s.nameSquawk(subject), Kind: kind}}
	if len(parts) > 1 {
		q.defect.Deferral = &casefile.Deferral{}
	}
	for _, part := range parts[1:] {
		if err := readDone(q.defect.Deferral, part); err != nil {
			return err
		}
	}
	s.squawks = append(s.squawks, q)
	return nil
}

func (s *Story) nameSquawk(subject string) string {
	n := 1
	for _, q := range s.squawks {
		if q.subject == subject {
			n++
		}
	}
	if n == 1 {
		return subject
	}
	return fmt.Sprintf("%s-%d", subject, n)
}

// readDone reads one thing that has been done so that the item may stay.
func readDone(d *casefile.Deferral, part string) error {
	switch part {
	case "deactivated":
		d.Method, d.MethodDone = "deactivated", true
		return nil
	case "to be deactivated":
		d.Method = "deactivated"
		return nil
	case "removed":
		d.Method, d.MethodDone = "removed", true
		return nil
	case "to be removed":
		d.Method = "removed"
		return nil
	case "out of use":
		d.MethodDone = true
		return nil
	case "placarded":
		d.Placarded = true
		return nil
	case "recorded":
		d.Recorded = true
		return nil
	case "involves maintenance", "no maintenance":
		d.InvolvesMaintenance = yes(part == "involves maintenance")
		return nil
	case "hazard determined":
		d.HazardDetermined = true
		return nil
	case "maintenance procedure done":
		d.MaintenanceProcedureDone = true
		return nil
	case "extended":
		d.Extended = true
		return nil
	}
	if until, ok := strings.CutPrefix(part, "extended until "); ok {
		d.Extended, d.ExtendedUntil = true, until
		_, err := at(until, 0)
		return err
	}
	word, date, _ := strings.Cut(part, " ")
	day, err := at(date, 0)
	switch {
	case word == "removed" && err == nil:
		d.Method, d.MethodDone, d.RemovedOn = "removed", true, date
	case word == "discovered" && err == nil:
		d.Discovered = date
	case word == "until" && err == nil:
		end := day.Add(24 * time.Hour) // that day included
		d.Until = &end
	default:
		return fmt.Errorf("given: %q is nothing that is done to defer an item", part)
	}
	return nil
}

// defects turns the squawks into the written form, now that the aircraft is known.
func (s *Story) defects(c casefile.Configuration) []casefile.Defect {
	var defects []casefile.Defect
	for _, q := range s.squawks {
		d := q.defect
		if slices.ContainsFunc(c.Units, func(u casefile.Unit) bool { return u.ID == q.subject }) {
			d.Unit = q.subject
		} else {
			d.Item = q.subject
		}
		defects = append(defects, d)
	}
	return defects
}
